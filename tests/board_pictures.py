"""The pictures of docs/screen.md, made from an invented morning: `python -m tests.board_pictures`. Look at each."""

from pathlib import Path

from tests.board_browser import PHONE, TABLET, browser, morning_yard

FOLDER = Path(__file__).parents[1] / "docs" / "pictures"
#: name -> view, size, colours.
PICTURES = {
    "board-yard-phone-light": ("yard", PHONE, "light"),
    "board-measurer-tablet-dark": ("measurer", TABLET, "dark"),
    "board-overview-tablet-light": ("overview", TABLET, "light"),
}


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    with browser() as window, morning_yard(read_only=False) as there:
        for name, (view, size, scheme) in PICTURES.items():
            context = window.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
            page = context.new_page()
            page.goto(there.url)
            page.wait_for_selector("main section")
            page.click("#pair")
            there.server.pairing._asked = None  # pictures need not wait half a minute for the next code
            page.click("#pairing-ask")
            page.wait_for_selector("#pairing-why:not(:empty)")
            page.fill("#code", there.codes[-1])
            page.click("#pairing-yes")
            page.wait_for_selector("#acts:not([hidden])")
            page.click(f"[data-view={view}]")
            page.screenshot(path=FOLDER / f"{name}.png")
        there.end()
        page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
        page.click("[data-view=yard]")
        page.wait_for_selector("#banner:not([hidden])")
        page.screenshot(path=FOLDER / "board-lost-phone-light.png")


if __name__ == "__main__":
    main()
