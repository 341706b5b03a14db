"""Kinds, angles and sizes that do not exist together: refused with the nearest that does; and never raised."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from callout.shoring.allocation import CutNeed, SpanNeed
from callout.shoring.build import Refused
from callout.shoring.draft import Draft
from callout.shoring.request import Site
from callout.shoring.work_out import why_not, work_out
from callout.values import Callout, Length
from callout.values.meaning import Kind
from tests.checks_shoring import UNHURRIED, ft
from tests.test_shoring_practice import STOCK, build


@pytest.mark.parametrize(
    ("said", "reason", "nearest"),
    [
        ({"insertion": 11, "angle_deg": 50, "sole": "split"}, "45 or 60 degrees, not 50", {"angle_deg": 45}),
        ({"insertion": 11, "angle_deg": 53, "sole": "solid"}, "45 or 60 degrees, not 53", {"angle_deg": 60}),
        ({"insertion": 11, "angle_deg": 25}, "30 to 60 degrees, not 25", {"angle_deg": 30}),
        ({"insertion": 11, "angle_deg": 70}, "30 to 60 degrees, not 70", {"angle_deg": 60}),
        ({"insertion": 8, "angle_deg": 60, "kind": "t"}, "a T shore has no angle", {"angle_deg": None}),
        ({"insertion": 8, "kind": "door", "sole": "solid"}, "no raker's sole", {"sole": None}),
        ({"insertion": 8, "angle_deg": 45, "kind": "flying_raker", "sole": "split"}, "no sole", {"sole": None}),
        ({"insertion": 8, "angle_deg": 60, "spacing": ft(9)}, "no more than 8 ft", {"spacing": ft(8)}),
        ({"insertion": 14, "kind": "laced_post"}, "built to 13 ft at most", {"insertion": ft(13)}),
        ({"insertion": 13, "kind": "double_t"}, "built to 12 ft at most", {"insertion": ft(12)}),
        ({"insertion": 11, "kind": "t"}, "at most, not 11 ft", {"insertion": Length.imperial(inches=130)}),
        ({"insertion": 17, "angle_deg": 60, "sole": "solid"}, "built to 16 ft at most", {"insertion": ft(16)}),
        ({"insertion": 1, "angle_deg": 60}, "at least 2 ft", {"insertion": ft(2)}),
        ({"insertion": 10, "angle_deg": 45, "lean": ft(1.5)}, "over a tenth", None),
        ({"insertion": 11, "angle_deg": 45, "kind": "flying_raker"}, "L/d 53, over 50", {}),
    ],
)  # fmt: skip
def test_what_does_not_exist_together_is_refused_with_the_nearest_that_does(
    said: dict[str, object], reason: str, nearest: dict[str, object] | None
) -> None:
    found = build(**said)
    assert not found.possible
    assert found.refused is not None
    assert reason in found.refused.reason
    if nearest is None:
        assert found.refused.nearest is None
        return
    assert found.refused.nearest is not None
    for name, value in nearest.items():
        assert getattr(found.refused.nearest, name) == value
    again = work_out(found.refused.nearest, STOCK.kit)
    assert not hasattr(again, "reason"), "the nearest must exist itself"


def test_the_nearest_mends_every_fault_at_once() -> None:
    found = build(insertion=17, angle_deg=50, sole="solid", spacing=ft(9))
    assert found.refused is not None
    assert found.refused.reason.count(";") == 2
    nearest = found.refused.nearest
    assert nearest is not None
    assert (nearest.angle_deg, nearest.spacing, nearest.insertion) == (45, ft(8), ft(16))


@UNHURRIED
@given(
    kind=st.sampled_from(get_args(Kind)), sole=st.sampled_from([None, "solid", "split"]),
    angle=st.one_of(st.none(), st.integers(0, 90)), rakers=st.one_of(st.none(), st.integers(0, 12)),
    height=st.integers(1, 45 * 192), spacing=st.one_of(st.none(), st.integers(0, 12 * 192)),
    lean=st.one_of(st.none(), st.integers(-300, 300)), span=st.one_of(st.none(), st.integers(0, 60 * 192)),
)  # fmt: skip
def test_whatever_is_asked_is_a_shore_or_has_a_reason(
    kind: str, sole: str | None, angle: int | None, rakers: int | None, height: int, spacing: int | None,
    lean: int | None, span: int | None,
) -> None:  # fmt: skip
    def of(n: int | None) -> Length | None:
        return None if n is None else Length.imperial(sixteenths=n)

    asked = Callout.model_validate({
        "kind": kind, "sole": sole, "angle_deg": angle, "rakers": rakers, "insertion": of(height),
        "spacing": of(spacing), "lean": of(lean), "span": of(span),
    })  # fmt: skip
    found = work_out(asked, STOCK.kit)
    if isinstance(found, Refused):
        assert found.reason
        assert found.nearest is None or not isinstance(work_out(found.nearest, STOCK.kit), Refused)
    else:
        assert all(n.length > Length(0) for n in found.needs if isinstance(n, CutNeed))
        assert all(n.wanted > n.deduct for n in found.needs if isinstance(n, SpanNeed))


@pytest.mark.parametrize("kind", ["window", "door"])
@pytest.mark.parametrize("called", [True, False])
def test_an_opening_wider_than_any_header_is_refused_whoever_said_its_width(kind: Kind, called: bool) -> None:
    """A header is 1 in deep for each foot of opening (field guide, window and door shores): 4x10 spans 10 ft."""
    wide, least = {"span": ft(40)}, Length.imperial(sixteenths=1)
    asked = Callout(kind=kind, insertion=ft(7), **(wide if called else {}))
    found = work_out(asked, STOCK.kit, Site() if called else Site(**wide))
    assert isinstance(found, Refused)
    assert found.reason == f"a {kind} shore takes an opening of 10 ft at most, not 40 ft"
    assert found.instead == "width 10 ft"
    nearest, place = found.nearest or asked, found.nearest_site or Site()
    assert (nearest.span if called else place.span) == ft(10)
    assert isinstance(work_out(nearest, STOCK.kit, place), Draft)
    assert isinstance(work_out(asked.model_copy(update={"span": ft(10) + least}), STOCK.kit), Refused)


@pytest.mark.parametrize("kind", ["window", "door", "horizontal", "vertical_post"])
def test_a_called_width_that_nobody_can_mean_is_refused(kind: Kind) -> None:
    for width in (Length(0), Length.imperial(inches=5), *(() if kind in ("window", "door") else (ft(45),))):
        found = work_out(Callout(kind=kind, insertion=ft(7), span=width), STOCK.kit)
        assert isinstance(found, Refused)
        assert "cannot be meant" in found.reason


@pytest.mark.parametrize(
    ("site", "said"),
    [
        ({"wall_length": -ft(5)}, {}),
        ({"span": Length.imperial(inches=1)}, {"kind": "window", "angle_deg": None}),
        ({"sole_thickness": ft(12)}, {"sole": "solid"}),
        ({"uneven": -ft(30)}, {}),
        ({"curb": ft(20)}, {}),
        ({}, {"wall_height": ft(9999), "wall_thickness": ft(1)}),
        ({}, {"wall_height": ft(12), "wall_thickness": ft(0)}),
    ],
)
def test_sizes_that_nobody_can_mean(site: dict[str, object], said: dict[str, object]) -> None:
    found = build(Site.model_validate(site), **({"insertion": 8, "angle_deg": 60} | said))
    assert found.refused is not None
    assert "cannot be meant" in found.refused.reason


def test_a_very_long_row_is_planned_in_parts() -> None:
    refused = build(insertion=8, angle_deg=60, rakers=21).refused
    assert refused is not None
    assert refused.nearest is not None
    assert refused.nearest.rakers == 20


def test_half_a_callout_is_refused_not_raised() -> None:
    found = work_out(Callout(insertion=ft(9)), STOCK.kit)
    assert getattr(found, "reason", "") == "angle not said"


def test_a_lone_timber_raker_that_would_be_too_slender_is_of_six_by_six() -> None:
    """11 ft at 45 degrees: 187 in over 3 1/2 in is 53 (NDS 3.7.1, from memory: at most 50), over 5 1/2 in it is 34."""
    asked = Callout(kind="raker", sole="split", insertion=ft(11), angle_deg=45, rakers=1)
    assert why_not(asked) is None
    found = work_out(asked, STOCK.kit)
    assert isinstance(found, Draft)
    assert found.slenderness == pytest.approx(187 / 5.5, abs=0.05)
    assert next(choice.value for choice in found.work.chosen if choice.part == "section") == "6x6"
