"""Needs of all open builds met from the stock on hand: the one door to selection.

The aims, each before the next: every build possible at all; fewest substitutions; fewest pieces; least weight to
carry; least waste (offcuts, and pieces longer than asked for); least scarce lines used; then the stock's order by
name, so that equal questions have equal answers. No piece is promised twice.

A build keeps what it holds. One that its own pieces still suffice for is left as it is; its reserved pieces may move
to others only if the ledger handed in has let them go (`Holdings.release`). One that runs short keeps as much as can be
kept: all its pieces if it can be made whole with them, else those picked or placed, else those placed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from callout.shoring.allocation import Allocation
from callout.shoring.holdings import Holdings
from callout.shoring.needs import Need
from callout.shoring.selection.program import Clock
from callout.shoring.selection.settling import Outcome, Settling
from callout.shoring.stock import Stock

Needs = Mapping[int, Sequence[Need]]
#: Seconds after which the best plan so far stands, its gaps reported.
SECONDS = 8.0


def allocate(needs_by_build: Needs, stock: Stock, holdings: Holdings | None = None) -> dict[int, Allocation]:
    """What each build gets, by build. `holdings` None: the stock untouched. A label names one need of a build."""
    return allocate_all(needs_by_build, stock, holdings).allocations


def allocate_all(
    needs_by_build: Needs, stock: Stock, holdings: Holdings | None = None, *, seconds: float = SECONDS
) -> Outcome:
    """The same with the aims reached and what could not be proven in `seconds`."""
    needs = {build: tuple(needs_by_build[build]) for build in sorted(needs_by_build)}
    return Settling(stock, Holdings.of(stock) if holdings is None else holdings, Clock(seconds)).outcome(needs)


def can_make(needs: Sequence[Need], stock: Stock, holdings: Holdings, build: int) -> bool:
    """Whether the build can be whole with what it holds and what is free; quicker than a plan."""
    return Settling(stock, holdings, Clock(SECONDS)).can_make(build, needs)
