"""Records as lines for the eye: the same on the plain console, on the screen and in the log."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from callout.dialogue.events import CountChange, Piece, Record

#: What an event says of itself when it has no words of its own.
SILENT = {
    "heard": "(nothing understood)",
    "affirmed": "(affirmed)",
    "released": "build {build} released",
    "voided": "(what waited is void)",
    "parked": "set aside",
    "picked": "build {build}: picked {pieces}",
    "placed": "build {build}: placed {pieces}",
    "returned": "build {build}: returned {pieces}",
    "stock_changed": "stock: {changes}",
    "alarm": "alarm",
    "error": "error",
}


#: Where the words of a line begin: what goes over the edge of a terminal stands under them.
INDENT = 22

#: A typed line, or another laptop's journal, may hold what a terminal would obey.
_TAME = {**dict.fromkeys((*range(0x20), *range(0x7F, 0xA0)), "\ufffd"), 0x09: " "}


def tame(text: str) -> str:
    """`text` without what a terminal would obey."""
    return text.translate(_TAME)


def time_of(record: Record) -> str:
    """Hours, minutes, seconds of the record's own clock, 24 hours; blanks before it is written."""
    return record.time[11:19] if record.time else " " * 8


class Lines:
    """Lines in the order of the records, because a release says which number its build is called by from then on."""

    def __init__(self) -> None:
        self._numbers: dict[int, int] = {}

    def called(self, build_id: int | None) -> int | None:
        """The number that a build is called by, its own before its release; None for no build."""
        return None if build_id is None else self._numbers.get(build_id, build_id)

    def words(self, record: Record) -> str:
        """The words that were said or heard; what happened, where there were none."""
        if record.build_id is not None and record.number is not None:
            self._numbers[record.build_id] = record.number
        if record.text and record.event != "affirmed":  # its words stand in the line before, as heard
            return tame(record.text)
        return SILENT.get(record.event, "").format(
            build="-" if record.build_id is None else self.called(record.build_id),
            pieces=_pieces(record.pieces),
            changes=_changes(record.changes),
        )

    def line(self, record: Record) -> str:
        """One line: time, who, words. Empty for a record that only the program needs."""
        words = self.words(record)
        speaker = tame(record.speaker or "callout")
        return f"{time_of(record)}  {speaker:<10}  {words}" if words else ""


def parts_of(build: dict[str, Any] | None) -> list[str]:
    """The parts list of a build, one line an item, and what is short."""
    if not build:
        return []
    found = []
    for part in build.get("parts", ()):
        where = f"  ({part['where']})" if part.get("where") else ""
        found.append(f"{part['item']:>3}. {part['quantity']:>3} x {part['name']}{where}")
    found += [f"     SHORT: {missing.get('text') or missing['part']}" for missing in build.get("missing", ())]
    return found


def _pieces(pieces: Iterable[Piece]) -> str:
    return ", ".join(f"{quantity} x {name}" for name, quantity in pieces) or "nothing"


def _changes(changes: Iterable[CountChange]) -> str:
    return ", ".join(f"{change.item} {change.delta:+d}" for change in changes) or "no change"
