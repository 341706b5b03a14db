"""The plain console: one line for everything said by either side. It works over ssh and into a file."""

from __future__ import annotations

import shutil
import textwrap
import threading
from typing import Protocol, TextIO

from callout.console.lines import INDENT, Lines, parts_of
from callout.dialogue.events import Record
from callout.text import for_terminal

_CLEAR = "\r\x1b[K"


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
        parts = parts_of(record.build) if record.event == "released" else []
        self._write([*([line] if line else []), *(f"{'':20}  {part}" for part in parts)])

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
        """On a terminal words stay whole, and what goes over the edge stands under them; a file keeps its lines."""
        columns = shutil.get_terminal_size().columns if self._terminal else 0
        if not 0 < columns < len(line):
            return [line]
        indent = " " * min(INDENT, columns // 2)
        return textwrap.wrap(line, columns, subsequent_indent=indent, break_on_hyphens=False) or [line]
