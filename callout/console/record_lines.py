"""What is shown of each record: a line for the eye or JSON.

The same lines stand on the plain console, on the large screen and in the log. They work over ssh and into a file.
"""

from __future__ import annotations

import re
import shutil
import textwrap
import threading
from collections.abc import Iterable
from typing import Any, Protocol, TextIO

from callout.console.output import emit, say
from callout.dialogue.records import CountChange, Piece, Record, WasSizedUp
from callout.untrusted_text import for_screen, for_terminal

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
            return for_screen(record.text)
        return SILENT.get(record.event, "").format(
            build="-" if record.build_id is None else self.called(record.build_id),
            pieces=_pieces(record.pieces),
            changes=_changes(record.changes),
        )

    def line(self, record: Record) -> str:
        """One line: time, who, words. Empty for a record that only the program needs."""
        words = self.words(record)
        speaker = for_screen(record.speaker or "callout")
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


def details_of(record: Record) -> list[str]:
    """What stands under the line of a record: the parts of a build, or a whole estimate with its sources."""
    if record.event == "released":
        return parts_of(record.build)
    if isinstance(record.what, WasSizedUp):
        from callout.shoring.sizeup import Sized, estimate_lines

        return estimate_lines(Sized.model_validate(record.what.result))
    return []


def _pieces(pieces: Iterable[Piece]) -> str:
    return ", ".join(f"{quantity} x {name}" for name, quantity in pieces) or "nothing"


def _changes(changes: Iterable[CountChange]) -> str:
    return ", ".join(f"{change.item} {change.delta:+d}" for change in changes) or "no change"


_CLEAR = "\r\x1b[K"
#: What stands before the name in a line of a parts list: "  1.   2 x ".
_NUMBERED = re.compile(r" +\d+\. +\d+ x ")


class Console(Protocol):
    """What is shown. Every call returns at once, so that the voice never waits for the screen."""

    def show(self, record: Record) -> None:
        """A record that is on the disk."""

    def heard_so_far(self, text: str) -> None:
        """The words of an utterance that is not over yet; the next call or `show` replaces them."""

    def level(self, role: str, what: str, decibels: float, is_open: bool) -> None:
        """How loud a side's microphone or line ("mic", "file") is now, in decibels below full, and whether somebody
        speaks there; told about five times a second."""

    def note(self, text: str) -> None:
        """A remark for the eye only: the name of a file, a warning about the set-up."""

    def close(self) -> None: ...


class PlainConsole:
    """Writes to `stream`. What is heard so far is shown on a terminal only, where it can be wiped away again."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = getattr(stream, "untamed", stream)  # it wipes lines away
        self._terminal = stream.isatty()
        self._open_line = False
        self._lines = Lines()
        self._lock = threading.Lock()

    def show(self, record: Record) -> None:
        line = self._lines.line(record)
        details = (f"{'':20}  {detail}".rstrip() for detail in details_of(record))
        self._write([*([line] if line else []), *details])

    def heard_so_far(self, text: str) -> None:
        if not self._terminal:
            return
        with self._lock:
            room = shutil.get_terminal_size().columns - 4
            self._stream.write(f"{_CLEAR}... {for_terminal(text)[-room:]}")
            self._stream.flush()
            self._open_line = True

    def level(self, role: str, what: str, decibels: float, is_open: bool) -> None:
        """Lines have no room for it."""

    def note(self, text: str) -> None:
        self._write([f"{'':8}  {'-':<10}  {text}"])

    def close(self) -> None:
        self._write([])

    def _write(self, lines: list[str]) -> None:
        with self._lock:
            if self._open_line:
                self._stream.write(_CLEAR)
                self._open_line = False
            self._stream.write("".join(f"{part}\n" for line in lines for part in self._wrapped(for_terminal(line))))
            self._stream.flush()

    def _wrapped(self, line: str) -> list[str]:
        """On a terminal words stay whole, and what goes over the edge stands under them, in a parts list under the name
        of the part; a file keeps its lines."""
        columns = shutil.get_terminal_size().columns if self._terminal else 0
        if not 0 < columns < len(line):
            return [line]
        number = _NUMBERED.match(line)
        indent = " " * min(number.end() if number else INDENT, max(columns // 2, columns - 20))
        return textwrap.wrap(line, columns, subsequent_indent=indent, break_on_hyphens=False) or [line]


class JsonConsole:
    """Records as JSON lines on standard output; everything else on standard error."""

    def show(self, record: Record) -> None:
        emit(record.to_json())

    def heard_so_far(self, text: str) -> None:
        """Not an event: nothing was heard yet."""

    def level(self, role: str, what: str, decibels: float, is_open: bool) -> None:
        """Not an event either."""

    def note(self, text: str) -> None:
        say(text)

    def close(self) -> None: ...
