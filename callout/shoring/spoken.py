"""The lines of the stock that a person can mean, and a spoken count as a change of the ledger."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from callout.shoring.holdings import StockChange
from callout.shoring.stock import Line, Piece, Stock, Timber
from callout.values import Command, Length

_HOW: dict[str, Literal["set", "add", "out"]] = {"stock_set": "set", "stock_add": "add", "stock_out": "out"}


@dataclass(frozen=True)
class Candidates:
    """The lines among which a person must choose; empty if the stock has no such part."""

    lines: tuple[Line, ...]


def lines_named(stock: Stock, part: str, length: Length | None = None) -> tuple[Line, ...]:
    """The lines that `part` can mean, in one or many, of that length if one is given; in the stock's order.

    A line goes by its own name, its kind ("strut", "4x4", "anchor"), its variant and kind ("brick anchor"), what it is
    also called, and "timber" if it is to be sawn. A line's own name means that line alone.
    """
    wanted = _plain(part)
    found = [line for line in stock.lines if wanted in _names(line) and (length is None or line.size == length)]
    exact = [line for line in found if _plain(line.name) == wanted]
    return tuple(exact or found)


def stock_change(said: Command, stock: Stock) -> StockChange | Candidates:
    """What a stock command changes: one line if its part and length leave no doubt, else the candidates to ask about.

    `said.command` is stock_set, stock_add or stock_out (ValueError otherwise).
    """
    if said.command not in _HOW:
        raise ValueError(f"{said.command} is not about the stock")
    lines = lines_named(stock, said.part or "", said.length)
    if len(lines) != 1:
        return Candidates(lines)
    return StockChange(how=_HOW[said.command], name=lines[0].name, quantity=said.quantity)


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
