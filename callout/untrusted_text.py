"""Foreign text made harmless where it leaves: on a terminal, and in the cell of a table.

Names in a stock, notes, speakers, file names and lines of another's journal come from anywhere. What is kept and what
is published as JSON stays as it was said.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from typing import Any, TextIO

#: What moves the cursor, colours, or rings: controls but for tab and line end; and what turns the direction of writing
#: about, so that a line reads otherwise than it is (Unicode 15.1, UAX 9), or ends it unseen.
_WILD = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")

#: With these a table program takes a cell for a formula (OWASP, CSV Injection).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def for_terminal(text: str) -> str:
    r"""The text with every wild letter written out, as \u001b. JSON stays JSON, with the same meaning."""
    return _WILD.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def for_screen(text: str) -> str:
    """The text on one line of a screen: a mark in place of every wild letter and line end, a blank for a tab."""
    return _WILD.sub("\ufffd", text.replace("\n", "\ufffd").replace("\t", " "))


def for_table(cell: Any) -> Any:
    """A cell that no table program takes for a formula: an apostrophe before what would begin one. Numbers stay."""
    return "'" + cell if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


class Table:
    """Rows of comma-separated values (RFC 4180), every cell harmless."""

    def __init__(self, file: Any, line_end: str = "\r\n") -> None:
        self._rows = csv.writer(file, lineterminator=line_end)

    def row(self, cells: Iterable[Any]) -> None:
        self._rows.writerow([for_table(cell) for cell in cells])

    def rows(self, rows: Iterable[Iterable[Any]]) -> None:
        for cells in rows:
            self.row(cells)


class TameStream:
    """Standard output or error, on which nothing wild is written. `untamed` is the stream itself, for who draws."""

    def __init__(self, stream: TextIO) -> None:
        self.untamed = stream

    def write(self, text: str) -> int:
        return self.untamed.write(for_terminal(text))

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.untamed, name)
