"""The three views of one board, as lines of text for a terminal of any size: yard, measurer, overview.

Each is whole from 40 by 20 on: nothing that counts is scrolled out, no word is cut, and what is large is as large as
fits. They are functions of the board, of what the console heard and of the clock; nothing is remembered here.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from callout.console.frame import Face, head_and_foot, whole_screen
from callout.console.letters import draw, large, large_lines, rows
from callout.console.letters import width as large_width
from callout.console.listing import (
    WIDE,
    ago,
    free_stock,
    line_of,
    pairs,
    parts_list,
    strip,
    strip_room,
    table,
    text_lines,
)
from callout.console.themes import Line
from callout.dialogue.board import Board, BoardBuild, BoardItem, BoardWait
from callout.untrusted_text import for_screen

_BAR = 12
_HEARD_STAYS = 40  # lines from which what was heard need not give way
#: The largest scale of a place in large print: five rows, 19 mm on a laptop's screen of 50 lines. At the least, three
#: rows, it has 20 mm on 24 lines and 12 mm on 40: what an eye needs at two metres is 11.6 mm.
_PLACE = 2
#: An item at the least scale is read from three metres on so many lines (194 mm of screen, letters of 2.5 lines and
#: 17.5 mm); on more lines it is larger, whatever gives way.
_LINES_READ = 27
#: What is short has so many lines under the item.
_SHORT = 3


View = Callable[[Board, Face, int, int], list[Line]]


def yard(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """Quantity and thing as large as fits, where it lies, what comes next, what is short, how far it is."""
    return _as_large_as_fits(height, lambda heard: _yard(board, face, columns, height, heard))


def _as_large_as_fits(height: int, draw: Callable[[int], tuple[list[Line], float]]) -> list[Line]:
    """On a small screen what was heard last gives way, but for a line, where that makes the letters larger."""
    lines, scale = draw(0)
    others, larger = draw(1) if height < _HEARD_STAYS else (lines, scale)
    return others if larger > scale else lines


def _yard(board: Board, face: Face, columns: int, height: int, heard: int) -> tuple[list[Line], float]:
    """The view with so many lines of what was heard, and how large the item is, less a little for each build that had
    to be left off."""
    top, bottom = head_and_foot("YARD", board, face, columns, height, heard)
    build = board.walked
    waits, builds = _waits_in_short(board, face, columns, say=columns >= 80), strip_room(height, board)
    others = [*waits, *strip(board, columns, builds)]
    beside = columns >= WIDE and build is not None
    left = columns * 3 // 5 if beside else columns
    item = None if build is None else build.now
    under = [] if build is None else _under_the_item(build, columns)
    room = height - len(top) - len(others) - len(bottom)
    main = _item_in_hand(board, build, left, _share(room - len(under), beside))
    scale: float = 0 if item is None else large(for_screen(_to_fetch(item)), left, _share(room - len(under), beside))[1]
    if build is not None and item is not None and item.where:
        tight, at_most = _under_the_item(build, columns, tight=True), int(scale)
        # What gives way to the place, in this order: a build or two of the strip, then the item as far as it is read.
        for fewer, of_item in ((0, at_most), (1, at_most), (2, at_most), (0, at_most - 1)):
            if of_item < 1 or (fewer and fewer >= builds) or of_item < min(at_most, height / _LINES_READ):
                continue
            shorter = [*waits, *strip(board, columns, builds - fewer)]
            found = _item_and_place(item, left, room + len(others) - len(shorter) - len(tight), of_item)
            if found:
                main, under, others, scale = found, tight, shorter, of_item - fewer / 10
                break
    if beside and build is not None:
        most = max(len(main), (room - len(under)) * 2 // 3)
        main = _beside(main, parts_list(build, columns - left - 2, most), left)
    return whole_screen(top, [*main, *under, *others], bottom, face, columns, height), scale


def measurer(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """The readback that waits, its figures as large as fits, how long it waits, what may be said."""
    return _as_large_as_fits(height, lambda heard: _measurer(board, face, columns, height, heard))


def _measurer(board: Board, face: Face, columns: int, height: int, heard: int) -> tuple[list[Line], float]:
    """The view with so many lines of what was heard, and how large the figures are."""
    top, bottom = head_and_foot("MEASURER", board, face, columns, height, heard)
    wait = _first_wait(board)
    room = height - len(top) - len(bottom)
    if wait is None:
        below = strip(board, columns, strip_room(height, board))
        said = board.said.text if board.said else ""
        main = text_lines("Nothing waits for an answer.", columns, "strong")
        main += text_lines(said and f"said last: {said}", columns)
        return whole_screen(top, [*main, [], *below], bottom, face, columns, height), 0
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
    return whole_screen(top, [*figures, *answer, *news, *more, *below], bottom, face, columns, height), scale


def overview(board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """All builds, the stock that is free, the last word and when: whole where the builds leave room for it."""
    for heard in (3, 2):
        top, bottom = head_and_foot("OVERVIEW", board, face, columns, height, heard)
        body, left_off = _all_builds(board, face, columns, height - len(top) - len(bottom))
        if not left_off:
            break
    return whole_screen(top, body, bottom, face, columns, height)


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
LEAST = (40, 19)  # one line of the 20 is for typing


def view(name: str, board: Board, face: Face, columns: int, height: int) -> list[Line]:
    """A view by its name; on less than `LEAST` only that the screen is too small, and what is silent."""
    if columns >= LEAST[0] and height >= LEAST[1]:
        return VIEWS[name](board, face, columns, height)
    silent = f"!! SILENT SINCE {board.halted.upper()} " if board.halted else ""
    return text_lines(f"{silent}too small: 40 columns, 20 lines", max(1, columns), "strong")[:height]


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


def _item_and_place(item: BoardItem, columns: int, room: int, scale: int) -> list[Line]:
    """The item in letters of that scale and, for whoever goes there, where it lies, in large print that is never larger
    than the item's. Nothing where there is no room."""
    lines, found = large(for_screen(_to_fetch(item)), columns, room, largest=scale)
    if found != scale:
        return []
    shown: list[Line] = [[(line, "strong")] for line in lines]
    for of_place in range(min(_PLACE, scale), 0, -1):
        for gap in (1, 0):
            where, fits = large(for_screen(f"at {item.where}"), columns, room - len(lines) - gap, largest=of_place)
            if fits == of_place and (gap or of_place == 1):
                return [*shown, *([[]] * gap), *([(line, "")] for line in where)]
    return []


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


def _under_the_item(build: BoardBuild, columns: int, *, tight: bool = False) -> list[Line]:
    """`tight`: run on in as few lines as may be, because the place stands above in large print."""
    found: list[Line] = []
    item, then = build.now, build.next
    place = f"item {item.item} of {len(build.items)}" if item is not None else build.card
    far = f"{place}, {build.pieces_picked} of {build.pieces} pieces"
    at = [] if item is None else [f"at {item.where}" if item.where else "place not known"]
    at += [] if item is None else [f"then {line_of(then)}" if then else "then the total"]
    if tight:
        found += text_lines(" | ".join([*at, far]), columns)
    else:
        for text, role in zip(at, ("strong", ""), strict=False):
            found += text_lines(text, columns, role)
    for short in _some(build.short, _SHORT):
        found += text_lines(f"! SHORT {short}", columns, "short")
    if not tight:
        size = min(_BAR, columns - len(far) - 3)
        done = -(-build.pieces_picked * size // build.pieces) if build.pieces else 0
        found += text_lines(far + (f" [{'#' * done}{'-' * (size - done)}]" if size >= 4 else ""), columns)
    if build.card_kind == "check":
        found += text_lines(f"{len(build.checks)} checks before load", columns, "strong")
    return found


def _some(texts: tuple[str, ...], most: int) -> tuple[str, ...]:
    """At most so many: the rest is counted."""
    return texts if len(texts) <= most else (*texts[: most - 1], f"and {len(texts) - most + 1} more")


def _beside(left: list[Line], right: list[Line], at: int) -> list[Line]:
    found: list[Line] = []
    for n in range(max(len(left), len(right))):
        line = left[n] if n < len(left) else []
        used = sum(len(text) for text, _ in line)
        found.append([*line, (" " * (at + 2 - used), ""), *(right[n] if n < len(right) else [])])
    return found


def _share(room: int, beside: bool) -> int:
    """How much of the room is the item's: beside a list on a tall screen the log has some of it."""
    return min(room, max(24, room * 2 // 3)) if beside else room


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
