"""Lines of standard input, none of them longer than the language hears: what a line has beyond that is let go."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from callout.language.typed import LONGEST

#: One letter more than an utterance may have, so that the language itself refuses it, and says why.
MOST = LONGEST + 1
_PIECE = 65_536


def next_line() -> str:
    """The next line with its end; empty where there is none any more. A line without an end costs no memory."""
    line = sys.stdin.readline(MOST + 1)
    if len(line) <= MOST or line.endswith("\n"):
        return line
    while (rest := sys.stdin.readline(_PIECE)) and not rest.endswith("\n"):
        pass
    return line[:MOST] + "\n"


def lines() -> Iterator[str]:
    """All lines that there are."""
    return iter(next_line, "")
