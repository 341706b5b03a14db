"""The board in a real browser (Debian's Chromium, driven by Playwright): sizes, keys, large text, the link lost and
found, two tablets, and axe-core's rules where that package is installed."""

import json
import re
import time

import pytest

pytest.importorskip("starlette", reason="the board's libraries are not installed: pip install 'callout[board]'")

from callout.values import Callout
from tests.board_browser import PHONE, TABLET, browser, morning_yard, yard
from tests.dialogue_kit import ELEVEN_SIXTY, ft

TARGET = 80  # px: MIL-STD-1472E asks 19 mm of a key for mittens, which is 72 px at 96 dpi
VIEWS = ("yard", "measurer", "overview")
LAPTOP = (1440, 900)


@pytest.fixture(scope="module")
def chromium():
    with browser() as window:
        yield window


def tablet(window, there, size=PHONE, scheme="light", scale=None):
    """A page on its own device."""
    context = window.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    page = context.new_page()
    page.problems = []
    page.on("pageerror", lambda problem: page.problems.append(str(problem)))
    page.on("console", lambda line: page.problems.append(line.text) if "Content Security" in line.text else None)
    page.goto(there.url)
    page.wait_for_selector("main section")
    if scale:
        page.evaluate("scale => { document.documentElement.style.fontSize = scale }", scale)
    return page


def pair(page, there):
    page.click("#pair")
    page.click("#pairing-ask")
    page.wait_for_selector("#pairing-why:not(:empty)")
    page.fill("#code", there.codes[-1])
    page.click("#pairing-yes")
    page.wait_for_selector("#acts:not([hidden]) #ready:enabled")


def boxes(page, selector):
    return page.eval_on_selector_all(
        selector,
        "nodes => nodes.filter(n => n.offsetParent !== null).map(n => { const b = n.getBoundingClientRect();"
        " return [n.textContent, b.left, b.top, b.right, b.bottom] })",
    )


def assert_targets_are_large_and_on_the_screen(page, size):
    found = boxes(page, "nav button, footer button")
    assert found
    for name, left, top, right, bottom in found:
        assert right - left >= TARGET, name
        assert bottom - top >= TARGET, name
        assert left >= 0, name
        assert top >= 0, name
        assert right <= size[0], name
        assert bottom <= size[1], name
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0], "nothing runs off the side"


@pytest.mark.slow
@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (TABLET, "dark")])
def test_every_view_fits_with_its_buttons_on_the_screen(chromium, size, scheme):
    with morning_yard(read_only=False) as there:
        page = tablet(chromium, there, size, scheme)
        pair(page, there)
        for view in VIEWS:
            page.click(f"[data-view={view}]")
            assert_targets_are_large_and_on_the_screen(page, size)
            for name, left, top, right, bottom in boxes(page, "main button"):
                assert right - left >= TARGET, name
                assert bottom - top >= TARGET, name
            text = page.inner_text("main")
            for called in ("11 ft @ 60°", "9 ft @ 45°", "13 ft @ 60°", "7 ft @ 45°", "8 ft @ 45°"):
                assert called in text
            assert "SHORT" in text
        assert re.search(r"2: 11 ft @ 60° .*3 of 19 items, by measurer, picked by logistics", text), "overview"
        assert re.search(r"3: 9 ft @ 45° .*0 of 18 items, by measurer", text), "overview"
        page.click("[data-view=yard]")
        short = page.get_by_text("! SHORT build 5: 7 ft @ 45°").bounding_box()
        room = page.locator("main").bounding_box()
        assert short["y"] + short["height"] <= room["y"] + room["height"], "seen without scrolling"
        page.click("[data-view=measurer]")
        text = page.inner_text("main")
        assert "12 ft 6 in" in text.replace("\u00a0", " ")
        assert "SAY: affirm, or correction" in text
        assert "affirm" not in page.inner_text("#acts").lower()
        assert page.problems == []


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_text_at_twice_its_size_still_fits(chromium, size):
    with morning_yard(read_only=False) as there:
        page = tablet(chromium, there, size, "light")
        pair(page, there)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        for view in VIEWS:
            page.click(f"[data-view={view}]")
            assert_targets_are_large_and_on_the_screen(page, size)
        main = page.locator("main").bounding_box()
        assert main["height"] >= size[1] * 0.3, "what is in hand has room"


@pytest.mark.slow
def test_words_on_buttons_are_not_cut(chromium):
    """A word that is wider than its button would be broken in two lines: no letter may stand alone."""
    with morning_yard(read_only=False) as there:
        page = tablet(chromium, there, PHONE)
        pair(page, there)
        for scale in ("100%", "200%"):
            page.evaluate("scale => { document.documentElement.style.fontSize = scale }", scale)
            wide = page.eval_on_selector_all(
                "nav button, #acts button",
                "nodes => nodes.map(n => { const was = n.style.overflowWrap; n.style.overflowWrap = 'normal';"
                " const cut = n.scrollWidth > n.clientWidth + 1; n.style.overflowWrap = was;"
                " return cut ? n.textContent : '' }).filter(Boolean)",
            )
            assert wide == []


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, TABLET])
@pytest.mark.parametrize("scale", ["100%", "200%"])
def test_a_number_stays_with_its_unit_and_a_mark_with_its_word(chromium, size, scale):
    """One line for each of "12 ft", "6 in", "60°", and for the name of the view that is open."""
    with morning_yard(read_only=False) as there:
        page = tablet(chromium, there, size, "light", scale)
        page.click("[data-view=measurer]")
        heights = page.eval_on_selector_all(
            "p.figure",
            "nodes => nodes.map(n => n.getBoundingClientRect().height / parseFloat(getComputedStyle(n).lineHeight))",
        )
        assert len(heights) == 2
        assert all(lines < 1.5 for lines in heights), heights
        assert "12\u00a0ft 6\u00a0in" in page.inner_text("main")
        button = page.locator("nav [aria-pressed=true]")
        words = button.evaluate(
            "n => { const r = document.createRange(); r.selectNodeContents(n);"
            " return new Set([...r.getClientRects()].map(b => Math.round(b.top))).size }"
        )
        assert words == 1


@pytest.mark.slow
def test_by_keyboard_alone(chromium):
    with yard(ELEVEN_SIXTY) as there:
        page = tablet(chromium, there, TABLET)
        names = []
        for _ in range(12):
            page.keyboard.press("Tab")
            names.append(page.evaluate("document.activeElement.textContent.slice(0, 30)"))
            if names[-1] == "Pair for the yard":
                break
        assert names[:3] == ["Yard", "Measurer", "Overview"]
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "pairing-ask", "first the code, then where it goes"
        page.keyboard.press("Enter")
        page.wait_for_selector("#pairing-why:not(:empty)")
        page.keyboard.type(there.codes[-1])
        page.keyboard.press("Enter")
        page.wait_for_selector("#ready:enabled")
        page.locator("#ready").focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("text=brick anchor >> nth=0")
        page.wait_for_selector("#ready:enabled")
        assert there.desk.followed.board().walked.card == "item two"
        page.locator("#ready").focus()
        page.keyboard.press("Tab")
        focused = page.evaluate(
            "(() => { const s = getComputedStyle(document.activeElement); return [s.outlineStyle, s.outlineWidth] })()"
        )
        assert focused == ["solid", "5px"], "where the keyboard is can be seen"
        assert page.problems == []


@pytest.mark.slow
def test_short_is_asked_once_more_and_no_means_no(chromium):
    with yard(ELEVEN_SIXTY) as there:
        page = tablet(chromium, there)
        pair(page, there)
        page.click("text=Short")
        assert "2 × six foot strut: not there?" in page.inner_text("#sure")
        assert page.evaluate("document.activeElement.id") == "sure-no", "Enter alone does nothing"
        page.click("#sure-no")
        time.sleep(0.3)
        assert not any(record.event == "stock_changed" for record in there.desk._store.records())
        page.click("text=Short")
        there.desk.press("ready", "logistics")
        page.wait_for_selector("text=brick anchor >> nth=0")
        time.sleep(0.4)
        page.click("#sure-yes")
        assert "too late" in page.inner_text("#answer")
        assert not any(record.event == "stock_changed" for record in there.desk._store.records())


def test_a_press_that_is_refused_tells_why_and_leaves_the_buttons_alive(chromium):
    """Ready, back, short at an item that is booked already: the walk stays, and every button lives on."""
    with yard(ELEVEN_SIXTY) as there:
        page = tablet(chromium, there, TABLET)
        pair(page, there)
        for name in ("Ready", "Back"):
            page.get_by_role("button", name=name, exact=True).click()
            page.wait_for_selector("#ready:enabled")
        assert page.inner_text("#answer") == ""
        page.click("text=Short")
        page.click("#sure-yes")
        page.wait_for_selector("#answer:has-text('item one is booked as picked')")
        page.wait_for_selector("#ready:enabled")
        for n in range(5):
            assert page.locator("#acts button").nth(n).is_enabled()
        page.click("#ready")
        page.wait_for_selector("p.big:has-text('4 × brick anchor')")
        page.wait_for_selector("#answer:empty", state="attached")
        page.get_by_role("button", name="Back", exact=True).click()
        page.wait_for_selector("p.big:has-text('2 × six foot strut')")
        page.wait_for_selector("#ready:enabled")
        page.get_by_role("button", name="Back", exact=True).click()
        page.wait_for_selector("#answer:has-text('that is the first item')")
        page.wait_for_selector("#ready:enabled")
        assert page.problems == []


def test_the_parts_list_of_a_tablet_follows_the_item_in_hand(chromium):
    """And stays where it was scrolled to while the item stays the same."""
    with morning_yard(read_only=False) as there:
        page = tablet(chromium, there, TABLET)

        def shown():
            now, room = page.locator(".parts li.now").bounding_box(), page.locator(".parts").bounding_box()
            main = page.locator("main").bounding_box()
            inside = room["y"] <= now["y"] and now["y"] + now["height"] <= room["y"] + room["height"] + 1
            return inside and now["y"] + now["height"] <= main["y"] + main["height"]

        items = len(there.desk.followed.board().walked.items)
        for _ in range(items - 5):
            there.desk.press("ready", "logistics")
        page.wait_for_selector(f".parts[data-now$=' {there.desk.followed.board().walked.now.item}']")
        assert shown()
        page.eval_on_selector(".parts", "list => { list.scrollTop = 0 }")
        there.say(Callout(insertion=ft(8), angle_deg=60))
        page.wait_for_function("() => state.board.waiting.some(wait => wait.text.includes('eight feet'))")
        assert page.eval_on_selector(".parts", "list => list.scrollTop") == 0
        assert page.problems == []


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_what_is_short_does_not_crowd_out_the_parts(chromium, size):
    with morning_yard() as there:
        page = tablet(chromium, there, size)
        page.evaluate(
            "() => { walked(state.board).short = [...Array(9).keys()].map(n => `2 thing ${n}: none left`); draw() }"
        )
        text = page.inner_text("main section >> nth=0")
        assert text.count("! SHORT 2 thing") == 2
        assert "! SHORT and 7 more" in text


def test_a_look_is_told_as_due_when_it_is_and_not_before(chromium):
    with morning_yard() as there:
        page = tablet(chromium, there, TABLET)
        page.click("[data-view=overview]")
        set_look = (
            "minutes => { const build = state.board.standing[0]; build.look_why = 'once a shift';"
            " build.next_look = new Date(now() + minutes * 60000).toISOString(); draw(); }"
        )
        page.evaluate(set_look, 20)
        assert re.search(r"next look at [\d: -]+, once a shift", page.inner_text("main"))
        assert "LOOK AT IT NOW" not in page.inner_text("main")
        page.evaluate(set_look, 0.02)
        page.wait_for_selector("main:has-text('LOOK AT IT NOW, due since')", timeout=5000)
        assert page.problems == []


def test_two_tablets_see_the_same_and_a_double_tap_books_once(chromium):
    with yard(ELEVEN_SIXTY) as there:
        one, two = tablet(chromium, there), tablet(chromium, there, TABLET, "dark")
        pair(one, there)
        one.dblclick("#ready")
        for page in (one, two):
            page.wait_for_selector("p.big:has-text('4 × brick anchor')")
        time.sleep(0.4)
        assert there.desk.followed.board().walked.pieces_picked == 2
        assert two.is_hidden("#acts"), "the other is not paired"
        assert one.problems == two.problems == []


def test_the_link_lost_and_found_again(chromium):
    with yard(ELEVEN_SIXTY) as there:
        page = tablet(chromium, there, PHONE)
        pair(page, there)
        there.end()
        page.wait_for_selector("#banner:has-text('no link, ask by radio')", timeout=8000)
        assert re.search(r"last seen \d\d:\d\d:\d\d", page.inner_text("#banner"))
        assert page.evaluate("document.body.classList.contains('lost')")
        assert all(page.locator("#acts button").nth(n).is_disabled() for n in range(5)), "buttons are dead"
        assert_targets_are_large_and_on_the_screen(page, PHONE)
        there.desk.press("ready", "logistics")
        there.begin()
        page.wait_for_selector("p.big:has-text('4 × brick anchor')", timeout=10000)
        assert page.is_hidden("#banner")
        assert page.is_hidden("#acts"), "a new start knows no pairing"


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_a_board_on_a_journal_that_nobody_writes_says_so(chromium, size):
    """And every board has a clock, which a picture that stands still has not."""
    with morning_yard() as there:
        page = tablet(chromium, there, size)
        first = page.inner_text("#clock")
        assert re.match(r"\d\d:\d\d:\d\d, last line 2031-05-04 10:4\d$", first)
        page.wait_for_function("first => document.getElementById('clock').textContent !== first", arg=first)
        assert page.is_hidden("#banner")
        there.end()
        there.live = False
        there.begin(read_only=True)
        page.wait_for_selector("#banner:has-text('nobody writes this journal; last written 2031-05-04 10:4')")
        box = page.locator("#banner").bounding_box()
        assert box["y"] + box["height"] <= size[1]
        assert_targets_are_large_and_on_the_screen(page, size)


@pytest.mark.slow
def test_revoked_by_a_stop_word(chromium):
    with yard(ELEVEN_SIXTY) as there:
        page = tablet(chromium, there, PHONE)
        pair(page, there)
        there.say("evacuate")
        page.wait_for_selector("#banner:has-text('SILENT SINCE EVACUATE')")
        page.wait_for_selector("#acts", state="hidden")
        assert_targets_are_large_and_on_the_screen(page, PHONE)


@pytest.mark.slow
def test_hostile_names_are_text(chromium):
    evil = "<img src=x onerror=\"document.title='gone'\"><script>document.title='gone'</script>" + "w" * 300
    with yard(ELEVEN_SIXTY.merged(Callout(for_whom=evil))) as there:
        page = tablet(chromium, there)
        for view in VIEWS:
            page.click(f"[data-view={view}]")
            assert "<img src=x" in page.inner_text("main")
            assert page.locator("main img, main script").count() == 0
        assert page.title() == "callout board: test yard"
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
        assert page.problems == []


@pytest.mark.slow
def test_the_drawing_is_one_tap_away(chromium):
    with morning_yard() as there:
        page = tablet(chromium, there, TABLET, "dark")
        page.click("main button >> nth=0")
        end = time.monotonic() + 5
        while not page.eval_on_selector("#picture", "picture => picture.complete && picture.naturalWidth > 0"):
            assert time.monotonic() < end
            time.sleep(0.1)
        assert "11 ft @ 60°" in page.get_attribute("#picture", "alt")
        page.keyboard.press("Escape")
        assert page.is_hidden("#drawing")


#: axe-core's impacts that count as serious.
SERIOUS = ("serious", "critical")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "scheme", "light"), [(PHONE, "light", ""), (TABLET, "dark", ""), (LAPTOP, "light", "night red")]
)
def test_axe_finds_nothing_serious(chromium, size, scheme, light):
    """The rules of axe-core (Deque), WCAG 2.2 A and AA with contrast AAA."""
    missing = "axe-core is not installed: pip install axe-playwright-python"
    axe = pytest.importorskip("axe_playwright_python.base", reason=missing)
    script = axe.AXE_FILE_PATH.read_text(encoding="utf-8")
    with morning_yard(read_only=False) as there:
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, bypass_csp=True
        )
        page = context.new_page()
        page.goto(there.url)
        page.wait_for_selector("main section")
        if light:
            page.evaluate("name => setLight(name)", light)
        page.add_script_tag(content=script)
        options = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "wcag2aaa", "best-practice"]}
        for view in VIEWS:
            page.click(f"[data-view={view}]")
            found = page.evaluate("options => axe.run(document, options)", options)
            serious = [one for one in found["violations"] if one["impact"] in SERIOUS]
            bad = [(one["id"], one["nodes"][0]["html"][:120]) for one in serious]
            assert bad == [], json.dumps(bad, indent=1)
            assert len(found["passes"]) > 10, "the rules were really run"


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_papers_fit_a_phone(chromium, tmp_path, scheme):
    """Card, log, hand-over and activity log on 360 px: nothing runs off the side, nothing is asked from elsewhere."""
    from click.testing import CliRunner

    from callout.cli import group

    journal = str(tmp_path / "day.journal")
    lines = "insertion eleven feet sixty position two for team alpha\naffirm\nready\nready\n"
    papers = {
        "card": ["card", "--html"], "log": ["log", journal, "--html"], "activity": ["log", journal, "--ics214"],
        "handover": ["log", journal, "--handover", "--html"],
    }  # fmt: skip
    run = CliRunner().invoke
    assert run(group, ["listen", "--typed", "--mute", "--journal", journal], input=lines).exit_code == 0
    context = chromium.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, color_scheme=scheme)
    for name, command in papers.items():
        path = tmp_path / f"{name}.html"
        assert run(group, [*command, str(path)]).exit_code == 0
        page = context.new_page()
        asked = []
        page.on("request", lambda request, asked=asked: asked.append(request.url))
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], name
        assert asked == [path.as_uri()], name
