"""A slice of the random requests of `python -m tests.proof_requests`; and the checker is checked itself."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.values import Callout
from tests.checker_shoring import faults
from tests.checks_shoring import ft
from tests.proof_requests import found_faults, stocks


def test_no_fault_in_a_hundred_and_fifty_requests() -> None:
    ends, wrong = found_faults(150, 7)
    assert wrong == []
    assert set(ends) == {"whole", "short", "refused"}


def _build(site: Site | None = None, **said: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    stock, shape = stocks()[0]
    planner = ShorePlanner(sites={1: site or Site()})
    return planner.plan(1, Callout.model_validate(said), stock, Holdings.of(stock)).to_json(), shape


def _spoil(build: dict[str, Any], how: str) -> None:
    """One lie in a sound build."""
    if how == "share":
        build["checks"][0]["share"] = 1.2
    elif how == "quantity":
        build["parts"][0]["quantity"] = 99_999
    elif how == "name":
        build["parts"][0]["name"] = "sky hook"
    elif how == "wall":
        build["request"]["wall_height"] = {"eightieths_mm": 2032 * 12, "text": "1 ft"}
    elif how == "cut":
        build["cuts"][0]["quantity"] += 1
    elif how == "step":
        build["steps"][0]["text"] = "look (twice)"
    elif how == "screw":
        build["setting"][0]["screw_out"] = {"eightieths_mm": 1, "text": ""}
    elif how == "axial":
        next(one for one in build["loads"] if one["name"] == "axial force in the raker")["value"] = 1
    elif how == "pickets":
        next(one for one in build["loads"] if one["name"] == "pickets at each heel")["value"] = 1
    elif how == "sole":
        build["geometry"]["heel_rise"] = {"rule": None, "exact": {"eightieths_mm": 2032 * 6, "text": "6 in"}}


@pytest.mark.parametrize(
    ("how", "sole"),
    [("share", None), ("quantity", None), ("name", None), ("wall", None), ("cut", "solid"), ("step", None),
     ("screw", None), ("axial", None), ("pickets", None), ("sole", "solid")],
)  # fmt: skip
def test_the_checker_finds_each_lie(how: str, sole: str | None) -> None:
    build, shape = _build(insertion=ft(10), angle_deg=60, sole=sole, ground="soil")
    assert faults(build, shape) == []
    spoilt = copy.deepcopy(build)
    _spoil(spoilt, how)
    assert faults(spoilt, shape)
