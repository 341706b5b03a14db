"""The shoring mind as the conversation sees it: what a build is, and a planner behind one port."""

from __future__ import annotations

from dataclasses import replace

from callout.shoring.build import Build, Refused
from callout.shoring.holdings import Holdings
from callout.shoring.plan import Planner
from callout.shoring.request import Site
from callout.shoring.stock import Stock


def knowing(planner: Planner, build_id: int, site: Site) -> Planner:
    """The planner, told what is known of the place of one build."""
    return replace(planner, sites={**planner.sites, build_id: site})


__all__ = ["Build", "Holdings", "Planner", "Refused", "Site", "Stock", "knowing"]
