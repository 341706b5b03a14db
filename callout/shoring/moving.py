"""Pieces promised to one build given to another, when somebody says so: both builds are planned again, and the ledger
holds what each then has. What is picked or placed never moves this way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from callout.shoring.build import Build
from callout.shoring.holdings import Holdings, HoldingsRefused
from callout.shoring.stock import Stock
from callout.values import Callout

#: (build, request, stock, ledger) -> the build: the `plan` of a planner.
Plan = Callable[[int, Callout, Stock, Holdings], Build]


@dataclass(frozen=True)
class Move:
    """`moved` pieces of `name` changed hands. `giver` and `receiver` as planned after it, `holdings` as it is then."""

    name: str
    moved: int
    giver: Build
    receiver: Build
    holdings: Holdings


def pieces_of(build: Build) -> Counter[str]:
    """How many of each line of the stock a plan takes."""
    counts: Counter[str] = Counter()
    for part in build.parts:
        counts[part.name] += part.quantity
    return counts


def move_reserved(
    plan: Plan, requests: Mapping[int, Callout], stock: Stock, holdings: Holdings, *, name: str, quantity: int,
    giver: int, receiver: int,
) -> Move | HoldingsRefused:  # fmt: skip
    """Move up to `quantity` pieces of the stock's line `name` that are promised to `giver` and not picked.

    The receiver is planned first and may also use what is free; the giver then keeps the rest and makes up for what it
    gave, if the stock can. Refused, and nothing changes, where the receiver would not take a piece of it: a plan takes
    the best pieces, not those it is offered. `requests` holds both builds.
    """
    if giver == receiver:
        return HoldingsRefused(f"build {giver} has them already")
    lent = holdings.let_go(giver, name, quantity)
    if isinstance(lent, HoldingsRefused):
        return lent
    had = holdings.held(receiver).get(name)
    taking = plan(receiver, requests[receiver], stock, lent)
    moved = min(quantity, pieces_of(taking)[name] - (had.total if had else 0))
    if moved <= 0:
        return HoldingsRefused(f"build {receiver} would take no {name}")
    ledger = lent.promise(receiver, pieces_of(taking))
    if isinstance(ledger, HoldingsRefused):
        return ledger
    giving = plan(giver, requests[giver], stock, ledger)
    ledger = ledger.promise(giver, pieces_of(giving))
    return ledger if isinstance(ledger, HoldingsRefused) else Move(name, moved, giving, taking, ledger)
