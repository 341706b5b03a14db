"""The shoring mind as the conversation sees it: what a build is, and a planner behind one port."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, ClassVar, Protocol

from callout.shoring.build import Build, Refused
from callout.shoring.holdings import Holdings
from callout.shoring.request import Site
from callout.shoring.stock import Stock
from callout.values import Callout


class Planner(Protocol):
    """Works out the build for one confirmed request. It never raises for what the stock or practice cannot do. It is
    a dataclass; `sites` says what is known of the place of each build."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def sites(self) -> Mapping[int, Site]: ...

    def refusal(self, build_id: int, request: Callout, stock: Stock | None = None) -> Refused | None: ...

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build: ...


def knowing(planner: Planner, build_id: int, site: Site) -> Planner:
    """The planner, told what is known of the place of one build."""
    return replace(planner, sites={**planner.sites, build_id: site})


__all__ = ["Build", "Holdings", "Planner", "Refused", "Site", "Stock", "knowing"]
