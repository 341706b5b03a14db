"""The three views of one board, as lines of text for a terminal of any size: yard, measurer, overview.

Each is whole from 40 by 20 on: nothing that counts is scrolled out, no word is cut, and what is large is as large as
fits. They are functions of the board, of what the console heard and of the clock; nothing is remembered here.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from callout.console.letters import draw, large, large_lines, rows
from callout.console.letters import width as large_width
from callout.console.listing import (
    WIDE,
    ago,
    free_stock,
    hanging,
    line_of,
    pairs,
    parts_list,
    strip,
    strip_room,
    table,
    text_lines,
    time_of_day,
)
from callout.console.themes import Line
from callout.dialogue.board import Board, BoardBuild, BoardItem, BoardWait
from callout.untrusted_text import for_screen

_BAR = 12
_SMALL = 30  # lines: every one of them is wanted
#: The scale of a place in large print: five rows, 19 mm on a laptop's screen of 50 lines.
_PLACE = 2


@dataclass(frozen=True)
class EarSign:
    """One side's microphone or line: its level in decibels below full (None: nothing came in yet)."""

    role: str
    what: str
    level: float | None = None
    open: bool = False  # somebody speaks


@dataclass(frozen=True)
class Face:
    """What the screen knows beside the board: who is heard, what was heard last, the log, the signs of the rim."""

    heard: str = ""
    sure: bool = True  # False while an utterance goes on
    log: tuple[str, ...] = ()
    ears: tuple[EarSign, ...] = ()
    speaking: bool = False
    radio: str = ""  # the output that speaks to the measurer
    muted: bool = False
    keys: tuple[tuple[str, str], ...] = ()
    hint: str = ""  # what a key has just not done
    clock: datetime = field(default_factory=lambda: datetime.now().astimezone())


View = Callable[[Board, Face, int, int], list[Line]]


def yard(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """Quantity and thing as large as fits, where it lies, what comes next, what is short, how far it is."""
    return _as_large_as_fits(height, lambda heard: _yard(board, face, columns, height, heard))


def _as_large_as_fits(height: int, draw: Callable[[int], tuple[list[Line], int]]) -> list[Line]:
    """On a small screen what was heard last gives way, but for a line, where that makes the letters larger."""
    lines, scale = draw(0)
    others, larger = draw(1) if height < _SMALL else (lines, scale)
    return others if larger > scale else lines


def _yard(board: Board, face: Face, columns: int, height: int, heard: int) -> tuple[list[Line], int]:
    """The view with so many lines of what was heard, and how large the item is."""
    top, bottom = _frame("YARD", board, face, columns, height, heard)
    build = board.walked
    below: list[Line] = []
    if build is not None:
        below += _under_the_item(build, columns)
    below += _waits_in_short(board, face, columns, say=columns >= 80)
    below += strip(board, columns, strip_room(height, board))
    room = height - len(top) - len(below) - len(bottom)
    beside = columns >= WIDE and build is not None
    left = columns * 3 // 5 if beside else columns
    share = _share(room, beside)
    main = _item_in_hand(board, build, left, share)
    main += _place_in_large(build, left, share, share - len(main))
    if beside and build is not None:
        main = _beside(main, parts_list(build, columns - left - 2, max(len(main), room * 2 // 3)), left)
    item = None if build is None else build.now
    scale = 0 if item is None else large(for_screen(_to_fetch(item)), left, share)[1]
    return _whole(top, [*main, *below], bottom, face, columns, height), scale


def measurer(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """The readback that waits, its figures as large as fits, how long it waits, what may be said."""
    return _as_large_as_fits(height, lambda heard: _measurer(board, face, columns, height, heard))


def _measurer(board: Board, face: Face, columns: int, height: int, heard: int) -> tuple[list[Line], int]:
    """The view with so many lines of what was heard, and how large the figures are."""
    top, bottom = _frame("MEASURER", board, face, columns, height, heard)
    wait = _first_wait(board)
    room = height - len(top) - len(bottom)
    if wait is None:
        below = strip(board, columns, strip_room(height, board))
        said = board.said.text if board.said else ""
        main = text_lines("Nothing waits for an answer.", columns, "strong")
        main += text_lines(said and f"said last: {said}", columns)
        return _whole(top, [*main, [], *below], bottom, face, columns, height), 0
    answer = [
        *text_lines(_who_waits(wait, face, columns), columns, "strong"),
        *text_lines(f"SAY: {wait.say.removeprefix('say ')}", columns, "now"),
    ]
    news = text_lines(_beside_the_figures(wait), columns, "strong")
    more = [line for other in board.waiting if other is not wait for line in _waiting_line(other, face, columns)]
    room -= len(answer) + len(more) + len(news)
    strip_lines = strip_room(height, board)
    most = max(6, 2 * height // 3)
    figures, scale = _figures(wait, columns, min(room - strip_lines, most))
    for builds in (3, 2, 1, 0):  # they give way to figures that are larger, all of them where none is large
        larger, of_scale = _figures(wait, columns, min(room - builds, most))
        if builds < strip_lines and of_scale > scale and (builds == 3 or not scale):
            figures, scale, strip_lines = larger, of_scale, builds
    words = text_lines(wait.text, columns)
    if len(figures) + len(words) - len(news) + strip_lines <= room:
        news = words  # all that was said; where it does not fit the figures say the same
    below = strip(board, columns, min(strip_lines, room - len(figures)))
    return _whole(top, [*figures, *answer, *news, *more, *below], bottom, face, columns, height), scale


def overview(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """All builds, the stock that is free, the last word and when: whole where the builds leave room for it."""
    for heard in (3, 2):
        top, bottom = _frame("OVERVIEW", board, face, columns, height, heard)
        body, left_off = _all_builds(board, face, columns, height - len(top) - len(bottom))
        if not left_off:
            break
    return _whole(top, body, bottom, face, columns, height)


def _all_builds(board: Board, face: Face, columns: int, room: int) -> tuple[list[Line], bool]:
    """What the overview has between its head and its foot; and whether something had to be left off."""
    waits = _waits_in_short(board, face, columns, say=columns >= 80)
    room -= len(waits)
    body = (table if columns >= 76 else pairs)(board, columns, room - 3)
    if len(body) > room and columns < 76:
        body = pairs(board, columns, room, whole=False)
    if left_off := len(body) > room:
        body = strip(board, columns, room, "on a larger screen")
    if not board.builds:
        body += text_lines("No build yet. Say: insertion, the height, the angle.", columns, "strong")
    body += waits
    room -= len(body) - len(waits)
    if room < 2:
        return body, True
    return [*body, *free_stock(board, columns, min(room, max(2, room // 2)))], left_off


VIEWS: dict[str, View] = {"yard": yard, "measurer": measurer, "overview": overview}
LEAST = (30, 12)


def view(name: str, board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """A view by its name; on less than `LEAST` only that the screen is too small, and what is silent."""
    if columns >= LEAST[0] and height >= LEAST[1]:
        return VIEWS[name](board, face, columns, height)
    silent = f"!! SILENT SINCE {board.halted.upper()} " if board.halted else ""
    return text_lines(f"{silent}too small: 40 columns, 20 lines", max(1, columns), "strong")[:height]


# What all three share: a head line with the signs, a foot with what was heard and the keys.


def _frame(
    name: str, board: Board, face: Face, columns: int, height: int, heard: int = 0
) -> tuple[list[Line], list[Line]]:  # fmt: skip
    """The head and the foot, with at most so many lines of what was heard."""
    clock, between = face.clock.strftime("%H:%M:%S" if columns >= 60 else "%H:%M"), 2
    signs = _signs(face, columns - len(name) - len(clock) - between - 1)
    gap = max(1, columns - len(name) - len(signs) - len(clock) - between)
    top: list[Line] = [[(name, "strong"), ("  ", ""), (signs, ""), (" " * gap, ""), (clock, "")]]
    if board.live is False:
        text = f"!! NOBODY WRITES THIS JOURNAL, last written {_moment(board.time, face.clock)}"
        top += text_lines(text, columns, "alarm", pad=True)
    if board.halted:
        since = f" {time_of_day(board.halted_since)}" if board.halted_since else ""
        top += text_lines(f"!! SILENT SINCE {board.halted.upper()}{since}. Say: go ahead", columns, "alarm", pad=True)
    said = _heard(board, face, columns, heard or (2 if height < _SMALL else 3), when=name == "OVERVIEW")
    foot: list[Line] = [[(line, "quiet" if face.sure else "strong")] for line in said]
    return top, [*foot, *text_lines(face.hint, columns, "alarm", pad=True), *_keys(face, columns)]


def _moment(moment: str | None, clock: datetime) -> str:
    """ "10:48", with its day where that is not today's."""
    if moment is None:
        return "-"
    return moment[11:16] if moment[:10] == clock.isoformat()[:10] else moment[:16].replace("T", " ")


def _heard(board: Board, face: Face, columns: int, most: int, *, when: bool) -> list[str]:
    """What was heard last, in at most so many lines. Who said it stays, with `when`, and the end of it, where the
    figures are: what does not fit goes from between."""
    heads, text = ["heard: "], "-"
    if not face.sure:
        heads, text = ["... "], face.heard
    elif board.heard is not None:
        heads, text = [f"{time_of_day(board.heard.time)} {board.heard.speaker}: "], board.heard.text
        if not when:
            heads.append(f"{board.heard.speaker}: ")
    words = for_screen(text).split()
    shorter = (f"{heads[-1].removesuffix('... ')}... {' '.join(words[n:])}" for n in range(1, len(words)))
    for whole in (*(f"{head}{' '.join(words)}" for head in heads), *shorter):
        lines = textwrap.wrap(for_screen(whole), columns, subsequent_indent="  ", break_on_hyphens=False) or [""]
        if len(lines) <= most:
            return lines
    return lines[-most:]


def _signs(face: Face, room: int) -> str:
    """Microphones with their level, the voice, the radio: the longest that fits. That a radio is there is told even
    where its name does not fit."""
    ears = [f"{'mic' if ear.what == 'mic' else ear.what} {_level(ear)}" for ear in face.ears] or ["keys only"]
    voice = "muted" if face.muted else "SPEAKING" if face.speaking else "voice on"
    radio = f"radio {face.radio}" if face.radio else "radio -"
    long = "  ".join([*(f"{e.role} {t}" for e, t in zip(face.ears, ears, strict=False)), voice, radio])
    tight = " ".join([*ears, voice, *(["radio"] if face.radio else [])])
    for text in (long, "  ".join([*ears, voice, radio]), tight, " ".join([*ears, voice]), " ".join(ears)):
        if len(text) <= room:
            return text
    return ""


def _level(ear: EarSign) -> str:
    """Five steps from -60 dB up; "!" where it is cut off at the top; "?" before anything came in."""
    if ear.level is None:
        return "?"
    steps = max(0, min(5, int((ear.level + 60) // 10)))
    return "#" * steps + "." * (5 - steps) + ("!" if ear.level > -1 else "*" if ear.open else "")


def _keys(face: Face, columns: int) -> list[Line]:
    keys = [f"{key} {does}" for key, does in face.keys if columns > WIDE or len(key + does) < 20]
    lines: list[str] = []
    for key in keys:
        if lines and len(lines[-1]) + 3 + len(key) <= columns:
            lines[-1] += f" | {key}"
        else:
            lines.append(key)
    return [[(line, "quiet")] for line in lines]


def _whole(
    top: list[Line], body: list[Line], bottom: list[Line], face: Face, columns: int, height: int
) -> list[Line]:  # fmt: skip
    """Exactly `height` lines: the room that is left takes the log. What does not fit is left off the body's end, and
    that is said."""
    room = height - len(top) - len(bottom)
    body = [*body]
    while body and not body[-1]:
        body.pop()
    if len(body) > room:
        body = [*body[: max(0, room - 1)], [("(more on a larger screen)", "quiet")]][:room]
    left = room - len(body)
    log: list[Line] = []
    if left >= 4:
        lines: list[str] = []
        for text in reversed(face.log[-left:]):
            block = hanging(text, columns)
            if len(block) + len(lines) > left - 2:
                break
            lines = [*block, *lines]
        log = [[("said and heard", "quiet")], *([(line, "quiet")] for line in lines)] if lines else []
    filler: list[Line] = [[] for _ in range(left - len(log))]
    return [*top, *body, *filler, *log, *bottom][:height]


# The yard.


def _item_in_hand(board: Board, build: BoardBuild | None, columns: int, room: int) -> list[Line]:
    if build is None:
        waits = next((b for b in board.open if b.state != "walk"), None)
        if waits is None:
            return text_lines("No build to fetch for.", columns, "strong")
        begin = text_lines("waits. Any key: begin", columns, "strong")
        return [*_big(f"build {waits.number}", columns, room - 1), *begin]
    item = build.now
    if item is None:
        return _big(build.says or build.card, columns, room)
    return _big(_to_fetch(item), columns, room)


def _to_fetch(item: BoardItem) -> str:
    return f"{(item.quantity - item.picked) or item.quantity} × {item.name}"


def _place_in_large(build: BoardBuild | None, columns: int, room: int, left: int) -> list[Line]:
    """Where the item lies, for whoever goes there, where the room that the item leaves is enough for large print. It is
    never larger than the item."""
    item = None if build is None else build.now
    if item is None or not item.where:
        return []
    most = min(_PLACE, large(for_screen(_to_fetch(item)), columns, room)[1])
    lines, scale = large(for_screen(f"at {item.where}"), columns, left - 1, largest=most)
    return [[], *([(line, "")] for line in lines)] if scale and scale == most else []


def _big(text: str, columns: int, room: int) -> list[Line]:
    """Large print, or where only small print fits the number in front of it large."""
    shown = for_screen(text)
    lines, scale = large(shown, columns, room)
    if scale:
        return [[(line, "strong")] for line in lines]
    number, times, thing = shown.partition(" × ")
    if times and rows(1) <= room and large_width(f"{number} ×", 1) < columns // 2:
        digits = draw(f"{number} ×", 1)
        wide = large_width(f"{number} ×", 1) + 2
        words = textwrap.wrap(thing, columns - wide, break_on_hyphens=False)
        if len(words) <= len(digits):
            words += [""] * (len(digits) - len(words))
            return [[(f"{d:<{wide}}", "strong"), (w, "strong")] for d, w in zip(digits, words, strict=True)]
    return [[(line, "strong")] for line in lines]


def _under_the_item(build: BoardBuild, columns: int) -> list[Line]:
    found: list[Line] = []
    item, then = build.now, build.next
    if item is not None:
        found += text_lines(f"at {item.where}" if item.where else "place not known", columns, "strong")
        found += text_lines(f"then {line_of(then)}" if then else "then the total", columns)
    for short in build.short:
        found += text_lines(f"! SHORT {short}", columns, "short")
    place = f"item {item.item} of {len(build.items)}" if item is not None else build.card
    text = f"{place}, {build.pieces_picked} of {build.pieces} pieces"
    size = min(_BAR, columns - len(text) - 3)
    done = -(-build.pieces_picked * size // build.pieces) if build.pieces else 0
    found += text_lines(text + (f" [{'#' * done}{'-' * (size - done)}]" if size >= 4 else ""), columns)
    if build.card_kind == "check":
        found += text_lines(f"{len(build.checks)} checks before load", columns, "strong")
    return found


def _beside(left: list[Line], right: list[Line], at: int) -> list[Line]:
    found: list[Line] = []
    for n in range(max(len(left), len(right))):
        line = left[n] if n < len(left) else []
        used = sum(len(text) for text, _ in line)
        found.append([*line, (" " * (at + 2 - used), ""), *(right[n] if n < len(right) else [])])
    return found


def _share(room: int, beside: bool) -> int:
    return room if room < 24 or not beside else room * 2 // 3


# What waits.


def _first_wait(board: Board) -> BoardWait | None:
    return min(board.waiting, key=lambda wait: wait.parked, default=None)


def _who_waits(wait: BoardWait, face: Face, columns: int) -> str:
    since = f"waits {ago(wait.since, face.clock)}"
    long = f"{_title(wait)}, by {wait.who}, {since}"
    return long if len(long) <= columns else f"{_title(wait)}, {since}"


def _beside_the_figures(wait: BoardWait) -> str:
    """What a readback says beside its figures and, last, that it wants an answer: why it cannot be built, what is
    short."""
    sentences = wait.text.split(". ")[1:]
    if wait.kind != "half":
        return ". ".join(sentences[:-1])
    return ". ".join(sentence for sentence in sentences if wait.say not in sentence)


def _title(wait: BoardWait) -> str:
    if wait.parked:
        return "SET ASIDE"
    return "HALF A CALLOUT" if wait.kind == "half" else f"READBACK ({wait.kind})"


def _figures(wait: BoardWait, columns: int, room: int) -> tuple[list[Line], int]:
    """Height and angle as large as fits, the rest small; and how large that is."""
    first = [figure for figure in wait.figures if figure.label in ("height", "angle")]
    rest = [figure for figure in wait.figures if figure not in first]
    small = text_lines("; ".join(f"{figure.label} {figure.text}" for figure in rest), columns) if rest else []
    space = max(0, room - len(small))
    texts = [*(figure.text for figure in first), *([f"{wait.asked}?"] if wait.asked else [])]
    lines, scale = large_lines(texts, columns, space) if texts else large(for_screen(wait.text), columns, space)
    return [*([(line, "strong")] for line in lines), *small], scale


def _waits_in_short(board: Board, face: Face, columns: int, say: bool = True) -> list[Line]:
    return [line for wait in board.waiting for line in _waiting_line(wait, face, columns, say)]


def _waiting_line(wait: BoardWait, face: Face, columns: int, say: bool = True) -> list[Line]:
    figures = " @ ".join(figure.text for figure in wait.figures if figure.label in ("height", "angle"))
    figures = figures or (f"build {wait.build} {wait.kind}" if wait.build is not None else wait.kind)
    what = "set aside" if wait.parked else "waits"
    say = say or wait.role == "logistics"  # what the yard itself is to answer
    text = f"? {figures} {what} {ago(wait.since, face.clock)}" + (f": {wait.say}" if say else "")
    return text_lines(text, columns, "strong", indent="  ")
