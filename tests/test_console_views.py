"""The three views of the large screen: whole at every size, readable from three metres, nothing told by a colour alone.

Sizes of letters: US FAA human factors guidance on visual displays, 20 minutes of arc preferred and 16 the least
(tan 20' at 3 m is 17.5 mm). Contrast: WCAG 2.2, 1.4.6, with the formula of its glossary ("relative luminance").
"""

import math
import re
from dataclasses import replace
from datetime import timedelta

import pytest

from callout.console.frame import EarSign
from callout.console.letters import DOT_ROWS, DOTS, cells, draw, large
from callout.console.letters import width as large_width
from callout.console.screen import MEASURER_KEYS, TYPING
from callout.console.themes import ROLES, THEMES, paint, plain
from callout.console.views import VIEWS, view, yard
from callout.dialogue.board import Board
from callout.dialogue.following import board, follow
from callout.values import Callout
from tests.board_scene import SCREENS, SIZES, face, followed, long_names, morning, screen, written, yard_stock
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock

EVERY = [(name, size) for name in VIEWS for size in SIZES]


def lines_of(name, size, shown=None, seen=None):
    return view(name, shown or followed().board(), seen or face(name), *size)


@pytest.mark.parametrize(("name", "size"), EVERY)
def test_each_view_is_as_it_was_looked_at(name, size):
    kept = (SCREENS / f"{name}-{size[0]}x{size[1]}.txt").read_text(encoding="utf-8")
    assert screen(name, size) == kept, "if this is better: python -m tests.board_scene, and look at each"


@pytest.mark.parametrize(("name", "size"), EVERY)
def test_each_view_is_whole(name, size):
    """Five builds of which one is short: every one is there, no line is wider or lower than the screen."""
    columns, height = size
    text = plain(lines_of(name, size))
    assert len(lines_of(name, size)) == height
    assert max(len(line) for line in text.splitlines()) <= columns
    assert "more on a larger screen" not in text
    for called in ("11 ft @ 60°", "9 ft @ 45°", "13 ft @ 60°", "7 ft @ 45°", "8 ft @ 45°"):
        assert called in text
    short = text[text.index("7 ft @ 45°") :]
    assert "SHORT" in short.splitlines()[0] + short.splitlines()[1]
    assert ("F8 twice affirm" if name == "measurer" else "any key ready") in text, "the keys are told"
    assert "^Q end" in text
    assert "mic ###.." in text, "the microphone's sign"


@pytest.mark.parametrize("size", SIZES)
def test_the_item_in_hand_is_never_scrolled_out_and_has_its_noun_and_place(size):
    talk_board = followed().board()
    item = talk_board.walked.now
    text = plain(lines_of("yard", size))
    assert f"at {item.where}" in text
    assert talk_board.walked.next.name in text
    drawn, scale = _in_large("yard", size, f"{item.quantity} × {item.name}")
    assert scale >= 1
    assert drawn


def _in_large(name, size, wanted):
    """The size at which `wanted` stands in a name, found by drawing it again and looking for the rows."""
    text = plain(lines_of(name, size)).splitlines()
    words = wanted.split()
    for scale in range(6, 0, -1):
        first = draw(words[0], scale)
        places = range(len(text) - len(first))
        if any(all(text[at + n].startswith(row) for n, row in enumerate(first)) for at in places):
            return first, scale
    return [], 0


#: A laptop's screen of 15.6 inches across, 16:9, filled by the terminal: 194 mm high.
SCREEN_MM = 194.0
NEEDED_MM = 2 * 3000 * math.tan(math.radians(20 / 60 / 2))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("name", "wanted"), [("yard", "2 × thirty inch brace"), ("measurer", "12 ft")])
def test_what_is_large_can_be_read_from_three_metres(name, wanted, size):
    assert round(NEEDED_MM, 1) == 17.5, "the figure of the source"
    _, scale = _in_large(name, size, wanted)
    assert cells(scale) * SCREEN_MM / size[1] >= NEEDED_MM


def test_where_there_is_room_the_place_can_be_read_from_three_metres_too():
    """It is where somebody goes next; beside it stands nothing larger than the item."""
    _, item = _in_large("yard", (160, 50), "2 × thirty inch brace")
    _, place = _in_large("yard", (160, 50), "at rack C")
    assert cells(place) * SCREEN_MM / 50 >= NEEDED_MM
    assert place <= item


#: The least height of a letter that an eye reads at two metres, with the same 20 minutes of arc: 11.6 mm.
AT_TWO_METRES_MM = 2 * 2000 * math.tan(math.radians(20 / 60 / 2))


@pytest.mark.parametrize("shown", ["morning", "long names"])
@pytest.mark.parametrize("size", [(80, 24), (80, 23), (120, 40)])
def test_where_it_lies_can_be_read_from_two_metres(shown, size):
    """Beside an item whose name takes two lines and three, too; the item keeps its 17.5 mm."""
    seen = followed().board() if shown == "morning" else long_names().board()
    rows = plain(lines_of("yard", size, seen)).splitlines()
    scales = [s for s in (2, 1) for row in rows if row.startswith(draw("at", s)[0]) and row[: large_width("at", s) + 1]]
    where = f"at {seen.walked.now.where}"
    drawn = [s for s in (2, 1) if draw(where, s)[0] in rows or any(row.startswith(draw(where, s)[0]) for row in rows)]
    assert drawn, "\n".join(rows)
    assert scales
    assert cells(drawn[0]) * SCREEN_MM / size[1] >= AT_TWO_METRES_MM
    assert where in plain(lines_of("yard", size, seen)), "and once more in small print"


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("size", SIZES)
def test_no_word_is_cut(name, size):
    """Every word in small print is a word of what is shown: a cut word would be none."""
    shown, seen = followed().board(), face()
    known = plain(lines_of(name, (400, 200), shown, seen)) + " ".join(seen.log) + repr(shown) + " ".join(
        (shown.heard.text, *(f"{key} {does}" for key, does in (*seen.keys, *MEASURER_KEYS)))
    )
    known += " pos. see the overview and before after more record lines said heard item items pieces " + plain(
        [line for other in VIEWS for line in lines_of(other, (400, 200), shown, seen)]
    )
    words = set(re.findall(r"[a-z]{3,}", known.lower()))
    for word in re.findall(r"[a-z]{3,}", plain(lines_of(name, size)).lower()):
        assert word in words, word


@pytest.mark.parametrize("size", SIZES)
def test_long_names_push_no_build_and_no_figure_out(size):
    shown = long_names().board()
    for name in VIEWS:
        lines = plain(lines_of(name, size, shown))
        assert len(lines.splitlines()) <= size[1]
        assert max(map(len, lines.splitlines())) <= size[0]
    overview = plain(lines_of("overview", size, shown))
    for called, position in (("8 ft @ 45°", 1), ("11 ft 6 in @ 60°", 2), ("9 ft @ 45°", 3), ("13 ft 11 in @ 60°", 14)):
        assert called in overview
        assert f"pos. {position}" in overview or f"position {position}" in overview
    assert "SHORT" in overview[overview.index("7 ft @ 45°") :]
    assert "more on a larger screen" not in overview
    text = plain(lines_of("measurer", size, shown)).splitlines()
    scale = next(s for s in range(6, -1, -1) if s == 0 or text[1].startswith(draw("12", s)[0]))
    assert cells(scale) * SCREEN_MM / size[1] >= NEEDED_MM, "the figures are large all the same"
    assert "the stock is short of eight pickets" in re.sub(r"\s+", " ", " ".join(text)), "what comes beside the figures"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", VIEWS)
def test_what_was_heard_keeps_who_said_it_and_its_end(name, size):
    """The figures come last in a callout: what does not fit goes from between."""
    text = re.sub(r"\s+", " ", plain(lines_of(name, size, long_names().board())))
    assert re.search(r"measurer: (\.\.\. )?[a-z ,]*for rescue company twenty alpha", text)
    said = replace(face(), heard="insertion eleven feet " * 12 + "sixty", sure=False)
    text = re.sub(r"\s+", " ", plain(lines_of(name, size, seen=said)))
    assert re.search(r"\.\.\. [a-z ]*feet sixty", text)


@pytest.mark.parametrize("size", SIZES)
def test_the_overview_tells_when_the_last_word_was_said(size):
    lines = screen("overview", size).splitlines()
    assert sum("10:41:24 measurer:" in line for line in lines[-5:]) == 1, lines
    assert "twelve feet six inches six" in " ".join(" ".join(lines[-5:]).split()), "no figure is cut in two"


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("size", SIZES)
def test_the_microphone_its_level_the_voice_and_the_radio_have_a_sign_at_every_size(name, size):
    head = screen(name, size).splitlines()[0]
    assert "mic ###.." in head
    assert "voice on" in head
    assert "radio" in head
    two = replace(face(name), ears=(EarSign("measurer", "line", -22.0), EarSign("logistics", "mic", -41.0)))
    head = plain(VIEWS[name](followed().board(), two, *size)).splitlines()[0]
    assert "line ###.." in head
    assert "mic #...." in head


@pytest.mark.parametrize("size", [(80, 22), (80, 23), (60, 24), (100, 30)])
def test_the_place_is_never_written_larger_than_the_item(size):
    rows = plain(yard(followed().board(), face(), *size))
    larger = "████" in rows.partition("at rack C")[0].split("\n\n")[-1]
    assert not larger or "██████  ██  ██" in rows, "THIRTY stands in letters of the same size"


@pytest.mark.parametrize(
    ("size", "letters"), [((40, 19), "▀▀▄   ▄ ▄   ▀█▀"), ((80, 23), "████                    ██████")]
)
def test_a_line_for_typing_makes_the_item_no_smaller(size, letters):
    """It takes one row of the terminal; what was heard last gives it."""
    assert plain(yard(followed().board(), replace(face(), keys=TYPING), *size)).splitlines()[1].startswith(letters)


@pytest.mark.parametrize("height", [19, 20])
def test_figures_are_large_beside_a_long_readback_on_the_smallest_screen(height):
    shown = plain(VIEWS["measurer"](long_names().board(), replace(face("measurer"), keys=TYPING), 40, height))
    assert shown.splitlines()[1].startswith("▄█  ▀▀▄   █▀▀ ▀█▀"), shown


def test_why_it_cannot_be_built_stands_on_every_screen():
    from callout.dialogue.events import Opened
    from callout.dialogue.machine import start
    from callout.dialogue.settings import load_settings
    from callout.shoring.plan import ShorePlanner
    from callout.shoring.stock import load_stock

    begun = start(load_stock(), ShorePlanner(), load_settings(seconds_a_word=0.0))
    talk = Talk(begun).put(Opened(0.0)).say(Callout(insertion=ft(30), angle_deg=60))
    shown = board(written(talk.records))
    for size in SIZES:
        text = re.sub(r"\s+", " ", plain(lines_of("measurer", size, shown)))
        assert "it cannot be built" in text
        assert "SAY: correction, or disregard" in text


def test_a_readback_tells_its_figures_its_wait_and_what_answers_it():
    text = plain(lines_of("measurer", (80, 24)))
    assert "SAY: affirm, or correction" in text
    assert "waits 12 s" in text
    assert "by measurer" in text
    later = replace(face(), clock=face().clock + timedelta(minutes=5))
    assert "waits 5 min" in plain(lines_of("measurer", (80, 24), seen=later))


def test_half_a_callout_asks_for_what_is_missing():
    talk = Talk.new(make_stock()).say(Callout(insertion=ft(11)))
    text = plain(lines_of("measurer", (80, 24), board(written(talk.records))))
    assert "HALF A CALLOUT" in text
    assert "SAY: the angle" in text


def test_a_stop_word_cannot_be_overlooked():
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY).say("evacuate")
    shown = board(written(talk.records))
    for name in VIEWS:
        for size in SIZES:
            lines = lines_of(name, size, shown)
            assert "SILENT SINCE EVACUATE" in plain(lines)
            assert any(role == "alarm" for line in lines for _, role in line)
            assert "go ahead" in plain(lines)
            drawn = [line for line in plain(lines).splitlines() if line.startswith(draw("EVACUATE", 1)[0])]
            drawn += [line for line in plain(lines).splitlines() if line.startswith(draw("SILENT", 1)[0])]
            drawn += [line for line in plain(lines).splitlines() if line.startswith(draw("SILENT", 2)[0])]
            assert drawn, "it is read from two metres"


def short_board(count):
    """A walk whose build lacks so many things, two of each."""
    shown = followed().board()
    walked = shown.walked.model_copy(update={"short": tuple(f"2 thing {n}: none left" for n in range(count))})
    builds = tuple(walked if build.state == "walk" else build for build in shown.open)
    return shown.model_copy(update={"open": builds})


@pytest.mark.parametrize("size", SIZES)
def test_what_is_short_does_not_crowd_out_the_parts(size):
    text = plain(lines_of("yard", size, short_board(9)))
    assert text.count("! SHORT 2 thing") == 2
    assert "! SHORT and 7 more" in text
    assert "9 ft @ 45°" in text
    assert plain(lines_of("yard", size, short_board(3))).count("! SHORT 2 thing") == 3


@pytest.mark.parametrize("size", [(120, 30), (100, 24), (100, 36), (120, 40)])
def test_a_parts_list_that_is_not_whole_says_how_much_is_left_off(size):
    shown = followed().board()
    for now in (0, 7, 14):
        items = tuple(
            item.model_copy(update={"now": n == now, "name": f"part called {item.item} here"})
            for n, item in enumerate(shown.walked.items)
        )
        walked = shown.walked.model_copy(update={"items": items})
        builds = tuple(walked if build.state == "walk" else build for build in shown.open)
        text = plain(lines_of("yard", size, shown.model_copy(update={"open": builds})))
        listed = re.findall(r"[>x ] +(\d+)\. +\d+ x part called", text)
        assert str(now + 1) in listed, "the item in hand is there"
        left = [int(n) for n in re.findall(r"(\d+) more (?:before|after)", text)]
        assert len(listed) + sum(left) == len(items)


def test_below_the_least_size_nothing_is_drawn_that_could_be_wrong():
    """docs/screen.md asks for 40 columns and 20 lines; one of them may be the line for typing."""
    shown = followed().board()
    for size in ((40, 15), (40, 18), (39, 24)):
        assert plain(view("yard", shown, face(), *size)).split("\n")[0].startswith("too small")
    assert plain(view("yard", shown, face(), 40, 19)).startswith("YARD")


def test_what_was_typed_is_shown_until_it_is_answered():
    text = plain(lines_of("yard", (80, 24), seen=replace(face(), working="insertion nineteen feet forty five")))
    assert "working on: insertion nineteen feet forty five" in text

@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", VIEWS)
def test_a_journal_that_nobody_writes_cannot_be_taken_for_a_live_one(name, size):
    shown = followed().board(live=False)
    lines = lines_of(name, size, shown)
    text = " ".join(plain(lines).split())
    assert f"NOBODY WRITES THIS JOURNAL, last written {shown.time[11:16]}" in text
    assert any(role == "alarm" for line in lines for _, role in line)
    later = replace(face(name), clock=face(name).clock + timedelta(days=1))
    assert f"last written {shown.time[:10]} {shown.time[11:16]}" in " ".join(
        plain(lines_of(name, size, shown, later)).split()
    )
    for live in (True, None):
        assert "NOBODY" not in plain(lines_of(name, size, followed().board(live)))


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("size", [*SIZES, (20, 8), (10, 3), (1, 1)])
def test_an_empty_board_and_a_tiny_screen_break_nothing(name, size):
    for shown in (Board(), followed().board()):
        lines = lines_of(name, size, shown)
        assert len(lines) <= size[1]


@pytest.mark.parametrize("name", VIEWS)
def test_every_state_of_the_walk_can_be_shown(name):
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY)
    seen = set()
    for _ in range(30):
        shown = board(written(talk.records), make_stock())
        seen.add(shown.walked.card_kind if shown.walked else "none")
        for size in SIZES:
            columns = size[0]
            assert all(len(line) <= columns for line in plain(lines_of(name, size, shown)).splitlines())
        talk.key("ready")
        if talk.now.measurer.pending is not None:
            seen.add("stands?")
            talk.say("affirm")
    assert seen >= {"item", "total", "cut", "offer", "check", "end", "stands?", "none"}


def test_no_name_reaches_the_terminal_as_an_order_to_it():
    evil = "team \x1b[2J\x07alpha\x9b31m"
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY.merged(Callout(for_whom=evil)))
    shown = board(written(talk.records))
    for name in VIEWS:
        text = paint(lines_of(name, (100, 36), shown), THEMES[0]).plain
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)


def test_a_level_is_told_by_letters():
    loud, quiet = (plain(lines_of("yard", (80, 24), seen=replace(face(), ears=(EarSign("measurer", "mic", db),))))
                   for db in (-0.5, -70.0))  # fmt: skip
    assert "mic #####!" in loud, "cut off at the top"
    assert "mic ....." in quiet
    assert "mic ?" in plain(lines_of("yard", (80, 24), seen=replace(face(), ears=(EarSign("measurer", "mic"),))))
    assert "SPEAKING" in plain(lines_of("yard", (80, 24), seen=replace(face(), speaking=True)))


def test_what_is_told_by_colour_is_told_by_words_too():
    """Without colours the same is there: the item in hand has its mark, what is short its word."""
    for name, size in EVERY:
        for line in lines_of(name, size):
            for text, role in line:
                if role == "short":
                    assert "SHORT" in plain(lines_of(name, size))
                if role == "now":
                    assert text.lstrip().startswith((">", "SAY")) or text.startswith(" "), text


def luminance(colour):
    """WCAG 2.2, "relative luminance"."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_of_contrast_gives_the_published_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the well-known grey that just fails AA


@pytest.mark.parametrize("colours", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("role", ROLES)
def test_what_must_be_read_has_seven_to_one(colours, role):
    assert contrast(*colours.pair(role)) >= 7


def test_the_night_has_no_blue_and_no_bright_ground():
    night = THEMES[2]
    assert luminance(night.ground) == 0
    for colour in (night.ink, night.quiet, night.loud):
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        assert red == 255
        assert max(green, blue) < 128


def test_large_letters_are_sound():
    for letter, dots in DOTS.items():
        rows_ = dots.split()
        assert len(rows_) == DOT_ROWS, letter
        assert len({len(row) for row in rows_}) == 1, letter
    assert len({dots for letter, dots in DOTS.items()}) == len(DOTS), "no two letters look the same"
    assert draw("I", 1) == ["▀█▀", " █", "▀▀▀"]
    assert max(map(len, draw("SIX FOOT", 2))) == large_width("SIX FOOT", 2)


def test_large_print_takes_the_largest_that_fits_and_small_print_where_none_does():
    lines, scale = large("six foot strut", 80, 12)
    assert scale == 2
    assert len(lines) <= 12
    assert large("six foot strut", 40, 6)[1] == 1
    assert large("six foot strut", 10, 3) == (["six foot", "strut"], 0)


def test_a_thousand_lines_are_shown_fast():
    import time

    state = follow((), yard_stock())
    began = time.perf_counter()
    for record in morning():
        state = state.after(record)
    for _ in range(20):
        lines_of("yard", (80, 24), state.board())
    assert time.perf_counter() - began < 2.0
