"""The shoring mind as the conversation sees it: what a build is, and a planner behind one port."""

from __future__ import annotations

from typing import Protocol

from callout.shoring.build import Build, Refused
from callout.shoring.holdings import Holdings
from callout.shoring.stock import Stock
from callout.values import Callout


class Planner(Protocol):
    """Works out the build for one confirmed request. It never raises for what the stock or practice cannot do."""

    def refusal(self, build_id: int, request: Callout) -> Refused | None: ...

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build: ...


__all__ = ["Build", "Holdings", "Planner", "Stock"]
