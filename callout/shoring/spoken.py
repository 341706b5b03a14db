"""The lines of the stock that a person can mean."""

from __future__ import annotations

from callout.shoring.stock import Line, Piece, Stock, Timber
from callout.values import Length


def lines_named(stock: Stock, part: str, length: Length | None = None) -> tuple[Line, ...]:
    """The lines that `part` can mean, in one or many, of that length if one is given; in the stock's order.

    A line goes by its own name, its kind ("strut", "4x4", "anchor"), its variant and kind ("brick anchor"), what it is
    also called, and "timber" if it is to be sawn. A line's own name means that line alone.
    """
    wanted = _plain(part)
    found = [line for line in stock.lines if wanted in _names(line) and (length is None or line.size == length)]
    exact = [line for line in found if _plain(line.name) == wanted]
    return tuple(exact or found)


def _names(line: Line) -> set[str]:
    names = {line.name, line.kind, *line.also_called}
    if isinstance(line, Piece) and line.variant is not None:
        names.add(f"{line.variant} {line.part}")
    if isinstance(line, Timber):
        names.add("timber")
    return {_plain(name) for name in names}


def _plain(name: str) -> str:
    """Without case, underscores and the s of many."""
    words = name.replace("_", " ").casefold().split()
    if words and len(words[-1]) > 3 and words[-1].endswith("s") and not words[-1].endswith("ss"):
        words[-1] = words[-1][:-1]
    return " ".join(words)
