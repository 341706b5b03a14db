"""The pictures of docs/screen.md, made from an invented morning: `python -m tests.board_pictures`. Look at each."""

import asyncio
import tempfile
from pathlib import Path

from callout.console.screen import ScreenConsole
from tests.board_browser import PHONE, TABLET, browser, morning_yard
from tests.board_scene import followed, morning

FOLDER = Path(__file__).parents[1] / "docs" / "pictures"
#: name -> view, size, colours.
PICTURES = {
    "board-yard-phone-light": ("yard", PHONE, "light"),
    "board-measurer-tablet-dark": ("measurer", TABLET, "dark"),
    "board-overview-tablet-light": ("overview", TABLET, "light"),
}


#: name -> view, size of the terminal, colours.
SCREENS = {
    "screen-yard-40x20-sun": ("yard", (40, 20), "sun"),
    "screen-measurer-80x24-night-red": ("measurer", (80, 24), "night-red"),
    "screen-overview-100x36-dark": ("overview", (100, 36), "dark"),
}


async def draw_screen(view: str, size: tuple[int, int], light: str) -> str:
    """The large screen as SVG."""
    console = ScreenConsole(lambda: followed().board(), first=view, light=light)
    async with console.app.run_test(size=size) as pilot:
        console.level("measurer", "mic", -22.0, False)
        for record in morning()[-30:]:
            console.show(record)
        await pilot.pause(0.5)
        drawn: str = console.app.export_screenshot(title="callout")
        return drawn


def screens() -> None:
    """Pictures of the large screen, by way of a browser; drawn before it is open, because their loops do not mix."""
    drawn = {name: asyncio.run(draw_screen(*how)) for name, how in SCREENS.items()}
    with tempfile.TemporaryDirectory() as folder, browser() as window:
        for name, svg in drawn.items():
            path = Path(folder) / f"{name}.svg"
            path.write_text(svg, encoding="utf-8")
            page = window.new_page()
            page.goto(path.as_uri())
            page.locator("svg").first.screenshot(path=FOLDER / f"{name}.png")


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    screens()
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
