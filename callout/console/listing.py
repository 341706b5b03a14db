"""Builds, parts and stock as lines of text that fit: a strip, two lines each, a table, a list around the item."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import datetime

from callout.console.themes import Line
from callout.dialogue.board import Board, BoardBuild, BoardItem
from callout.untrusted_text import for_screen

WIDE = 100  # columns from which a list stands beside what is large


def line_of(item: BoardItem) -> str:
    return f"{item.quantity - item.picked} x {item.name}" + (f" ({item.where})" if item.where else "")


def parts_list(build: BoardBuild, columns: int, room: int) -> list[Line]:
    """The list around the item in hand; "x" is fetched, ">" is in hand. What is left off is counted."""
    at = next((n for n, item in enumerate(build.items) if item.now), 0)
    blocks: list[list[Line]] = []
    for item in build.items:
        mark = ">" if item.now else "x" if item.picked >= item.quantity else " "
        text = f"{mark} {item.item:>2}. {item.quantity:>3} x {item.name}" + (f" ({item.where})" if item.where else "")
        role = "now" if item.now else "quiet" if mark == "x" else ""
        wrapped = textwrap.wrap(for_screen(text), columns, subsequent_indent=" " * 12, break_on_hyphens=False)
        blocks.append([[(line, role)] for line in wrapped])
    if sum(map(len, blocks)) <= room:
        return [line for block in blocks for line in block]
    first, room = at, room - 1  # a line for what is left off
    while first > 0 and sum(map(len, blocks[first - 1 : at + 1])) <= room // 2:
        first -= 1
    found: list[Line] = []
    shown = 0
    for block in blocks[first:]:
        if len(found) + len(block) > room:
            break
        found += block
        shown += 1
    after = len(blocks) - first - shown
    more = [f"{count} more {where}" for count, where in ((first, "before"), (after, "after")) if count]
    return [*found, [(f"  and {', '.join(more)}", "quiet")]][: max(0, room + 1)]


def strip_room(height: int, board: Board) -> int:
    return min(len(board.builds), max(5, height // 6))


def strip(board: Board, columns: int, most: int, where: str = "see the overview") -> list[Line]:
    """One line a build: height @ angle, place, how far. What is in hand and what is short goes first where not all
    fit, and the rest is counted; `where` says how to see it."""
    if most < 1:
        return []
    columns = min(columns, WIDE)
    order = sorted(board.builds, key=lambda b: (b.state != "walk", not b.short, b.state == "stands", b.number))
    chosen = order if len(order) <= most else order[: most - 1]
    found: list[Line] = []
    for build in sorted(chosen, key=lambda b: (b.state == "stands", b.number)):
        text = f"{_mark(build)} {build.number} {build.called}"
        state = _state(build)
        room = columns - len(text) - len(state) - 4
        line = f"{text}  {_fitting(_places(build), room)}"
        found.append([(f"{line:<{columns - len(state) - 1}} {state}", _role(build))])
    if len(chosen) < len(order):
        found.append([(f"  and {len(order) - len(chosen)} more: {where}", "quiet")])
    return found


def _places(build: BoardBuild) -> list[str]:
    """Where a build is, from the longest way to write it to the shortest."""
    short = build.place.replace("position ", "pos. ")
    bare = short.replace(", for ", ", ").removeprefix("for ")
    names = bare.split(", ")
    position = [name for name in names if name.startswith("pos. ")]
    return [build.place, short, bare, ", ".join(names[:2]), names[0], *position]


def _fitting(texts: Sequence[str], room: int) -> str:
    """The first that fits; of none its first words."""
    found = next((text for text in texts if len(text) <= room), None)
    return for_screen(textwrap.shorten(texts[-1], max(3, room), placeholder="...") if found is None else found)


def _mark(build: BoardBuild) -> str:
    return ">" if build.state == "walk" else "=" if build.state == "stands" else " "


def _role(build: BoardBuild) -> str:
    return "short" if build.short else "strong" if build.state == "walk" else ""


def _state(build: BoardBuild) -> str:
    if build.state == "stands":
        return "STANDS"
    return _fetched(build) + (" SHORT" if build.short else "")


def _fetched(build: BoardBuild) -> str:
    """How many items of its list are there: a box of nails is one of them."""
    return f"{len(build.items) - build.items_left}/{len(build.items)}"


def pairs(board: Board, columns: int, room: int, whole: bool = True) -> list[Line]:
    """Two lines a build, for a narrow screen; what exactly is short where there is room for it. `whole`: a place that
    is too long for its line takes more."""
    found: list[Line] = []
    details: dict[int, list[Line]] = {}
    for build in board.builds:
        head = f"{_mark(build)} {build.number} {build.called}  "
        places = _places(build)[:3] if build.place else ["no place said"]
        place = places[-1] if whole else _fitting([*places, *_places(build)[3:]], columns - len(head))
        place = next((text for text in places if len(head + text) <= columns), place)
        found += text_lines(head + place, columns, _role(build), indent="    ")
        fetched = _fetched(build) + (" SHORT" if build.short else "")
        found += text_lines(f"    {build.given_by}, {fetched}, {_since(build)}", columns, _role(build), indent="    ")
        details[len(found)] = [line for short in build.short for line in _short_line(short, columns)]
    if len(found) + sum(map(len, details.values())) <= room:
        for at in sorted(details, reverse=True):
            found[at:at] = details[at]
    return found


def _short_line(short: str, columns: int) -> list[Line]:
    return text_lines(f"    ! SHORT {short}", columns, "short", indent="      ")


def table(board: Board, columns: int, room: int) -> list[Line]:
    if not board.builds:
        return []
    places = 0 if columns >= 120 else 2
    head = ("build", "callout", "place", "who", "items", "state")
    cells_of = [
        (
            f"{_mark(b)} {b.number}", b.called, _places(b)[places] or "-",
            b.given_by + (f", picked by {', '.join(b.picked_by)}" if b.picked_by and columns >= 120 else ""),
            _fetched(b), ("SHORT, " if b.short else "") + _since(b),
        )
        for b in board.builds
    ]  # fmt: skip
    widths = [max(len(for_screen(row[n])) for row in (head, *cells_of)) for n in range(len(head))]
    for n in (2, 3):
        over = sum(widths) + 2 * (len(head) - 1) - columns
        if over > 0:
            widths[n] = max(8, widths[n] - over)
    found: list[Line] = [[(_cells(head, widths), "quiet")]]
    details: dict[int, list[Line]] = {}
    for build, row in zip(board.builds, cells_of, strict=True):
        cells = [textwrap.wrap(for_screen(cell), w) or [""] for cell, w in zip(row, widths, strict=True)]
        for n in range(max(map(len, cells))):
            found.append([(_cells([c[n] if n < len(c) else "" for c in cells], widths), _role(build))])
        details[len(found)] = [line for short in build.short for line in _short_line(short, columns)]
    if len(found) + sum(map(len, details.values())) <= room:
        for at in sorted(details, reverse=True):
            found[at:at] = details[at]
    return found


def _cells(row: Sequence[str], widths: Sequence[int]) -> str:
    return "  ".join(f"{for_screen(cell):<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip()


def _since(build: BoardBuild) -> str:
    at = f" {time_of_day(build.since)[:5]}" if build.since else ""
    if build.state == "stands" and build.warnings:
        return "stands, WARNING"
    if build.state == "stands" and build.next_look:
        return f"stands, look {time_of_day(build.next_look)[:5]}"
    return {"stands": f"stands{at}", "walk": "in the walk", "begun": "begun", "waits": f"waits{at}"}[build.state]


def free_stock(board: Board, columns: int, room: int) -> list[Line]:
    """What is free of the stock, as many lines as fit: what is used today first, nothing left in front of all."""
    rows_ = [row for row in board.stock if row.on_hand is not None]
    if room < 1 or not board.stock:
        return []
    if not rows_:
        return text_lines("Stock on hand: not known here", columns, "quiet")[:room]
    order = sorted(rows_, key=lambda r: (r.free != 0, not (r.promised or r.out), r.free or 0, r.name))
    found: list[Line] = [[("free of the stock", "quiet")]]
    line = ""
    for row in order:
        text = f"{row.free} {for_screen(row.name)}" if row.free else f"! 0 {for_screen(row.name)}"
        if line and len(line) + 3 + len(text) > columns:
            found.append([(line, "")])
            line = ""
            if len(found) >= room:
                return found
        line = f"{line} | {text}" if line else text
    return [*found, [(line, "")]][:room]


def text_lines(text: str, columns: int, role: str = "", *, indent: str = "", pad: bool = False) -> list[Line]:
    if not text:
        return []
    shown = for_screen(text)
    lines = textwrap.wrap(shown, columns, subsequent_indent=indent, break_on_hyphens=False, drop_whitespace=True)
    if text.startswith(" ") and lines:
        lead = text[: len(text) - len(text.lstrip())]
        lines = textwrap.wrap(
            for_screen(text.strip()), columns, initial_indent=lead, subsequent_indent=indent, break_on_hyphens=False
        )
    return [[(f"{line:<{columns}}" if pad else line, role)] for line in lines]


def hanging(text: str, columns: int) -> list[str]:
    """A line of the log; what goes over the edge stands under its words."""
    indent = " " * (22 if columns >= 66 else columns // 4)
    return textwrap.wrap(for_screen(text), columns, subsequent_indent=indent, break_on_hyphens=False) or [""]


def time_of_day(moment: str | None) -> str:
    return moment[11:19] if moment else "-"


def ago(moment: str | None, clock: datetime) -> str:
    if not moment:
        return ""
    seconds = max(0, int((clock - datetime.fromisoformat(moment)).total_seconds()))
    return f"{seconds} s" if seconds < 120 else f"{seconds // 60} min"
