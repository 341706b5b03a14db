"""The triangle, the plate and the braces meet exactly, whatever the angle, lean and ground; both units alike.

The outside reference is plane geometry: Pythagoras, the law of sines, and distances between points.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from callout.shoring.draft import Draft
from callout.shoring.request import Site
from callout.shoring.rules import packaged_rules
from callout.shoring.stock import load_stock
from callout.shoring.work_out import strengthened
from callout.values import Callout, Length
from tests.checks_shoring import UNHURRIED, draft, ft

KIT = load_stock().kit
UNIT = 1.0  # 1/80 mm
heights = st.integers(3 * 192, 20 * 192).map(lambda n: Length.imperial(sixteenths=n))
angles = st.integers(30, 60)
#: lean as a share of the height, in thousandths; the planner refuses more than a tenth
leans = st.integers(-90, 90)
tall = st.integers(10 * 192, 16 * 192).map(lambda n: Length.imperial(sixteenths=n))
feet_of_unevenness = st.integers(-12, 12).map(lambda n: Length.imperial(inches=n))
unevens = st.integers(-16 * 12, 16 * 11).map(lambda n: Length.imperial(sixteenths=n))


def planned(height: Length, angle: int, lean: int = 0, uneven: Length | None = None, **more: object) -> Draft:
    offset = Length(height.eightieths * lean // 1000)
    request = Callout.model_validate({"insertion": height, "angle_deg": angle, "lean": offset, **more})
    return strengthened(request, Site(uneven=uneven), packaged_rules(), KIT)  # the triangle of what is too weak, too


def of(found: Draft, name: str) -> int:
    return found.pairs[name].best.eightieths


@UNHURRIED
@given(heights, angles, leans, unevens)
def test_the_triangle_closes(height: Length, angle: int, lean: int, uneven: Length) -> None:
    found = planned(height, angle, lean, uneven)
    across = of(found, "base") - (found.work.lean.eightieths)
    rise = (height - uneven).eightieths
    assert math.hypot(across, rise) == pytest.approx(of(found, "raker"), abs=UNIT)
    assert math.degrees(math.atan2(rise, across)) == pytest.approx(angle, abs=0.01)


@UNHURRIED
@given(heights, angles, leans, unevens)
def test_the_mid_brace_is_square_to_the_plate_and_meets_the_raker(
    height: Length, angle: int, lean: int, uneven: Length
) -> None:
    found = planned(height, angle, lean, uneven)
    run = math.hypot(height.eightieths, found.work.lean.eightieths)
    along = of(found, "mid_brace_up_wall")
    unit = (found.work.lean.eightieths / run, height.eightieths / run)
    start = (along * unit[0], along * unit[1])
    end = (start[0] + of(found, "mid_brace") * unit[1], start[1] - of(found, "mid_brace") * unit[0])
    up = of(found, "mid_brace_up_raker")
    theta = math.radians(angle)
    heel = (of(found, "base"), uneven.eightieths)
    on_raker = (heel[0] - up * math.cos(theta), heel[1] + up * math.sin(theta))
    assert math.dist(end, on_raker) <= 4 * UNIT


@UNHURRIED
@given(st.one_of(st.integers(2 * 192, 3 * 192).map(lambda n: Length.imperial(sixteenths=n)), heights), angles)
def test_the_plate_holds_the_insertion_on_a_drilled_hole(height: Length, angle: int) -> None:
    found = planned(height, angle)
    plate, at = found.pairs["wall_plate"].best, found.pairs["insertion_on_plate"].best
    foot = found.pairs["plate_foot_up_wall"].best
    assert (at - KIT.plate_first_hole).eightieths % KIT.plate_hole_spacing.eightieths == 0 or (
        (Length(at.eightieths % KIT.plate_length.eightieths) - KIT.plate_first_hole).eightieths
        % KIT.plate_hole_spacing.eightieths == 0
    )  # fmt: skip
    assert Length(0) <= at <= plate
    assert foot + at == found.pairs["insertion_up_wall"].best
    assert foot >= Length(0)


@UNHURRIED
@given(heights, angles)
def test_the_bay_is_a_k_whose_diagonals_span_it(height: Length, angle: int) -> None:
    found = planned(height, angle, rakers=2, spacing=ft(6))
    ties = [p.best.eightieths for name, p in found.pairs.items() if name.endswith("_lateral_up_raker")]
    diagonals = [p.best.eightieths for name, p in found.pairs.items() if name in ("lower_diagonal", "upper_diagonal")]
    assert ties == sorted(ties)
    assert len(diagonals) == len(ties) - 1
    for low, high, diagonal in zip(ties, ties[1:], diagonals, strict=False):
        assert math.hypot(high - low, ft(6).eightieths) == pytest.approx(diagonal, abs=UNIT)


@UNHURRIED
@given(heights, heights, angles)
def test_a_higher_insertion_never_gives_a_shorter_raker(a: Length, b: Length, angle: int) -> None:
    low, high = sorted((a, b))
    short, long = planned(low, angle), planned(high, angle)
    for name in ("raker", "base", "setting"):
        for which in ("rule", "exact"):
            one, other = getattr(short.pairs[name], which), getattr(long.pairs[name], which)
            assert one is None or one <= other


@UNHURRIED
@given(heights, st.integers(30, 59))
def test_a_steeper_raker_is_shorter_and_stands_nearer(height: Length, angle: int) -> None:
    flat, steep = planned(height, angle), planned(height, angle + 1)
    assert of(steep, "raker") < of(flat, "raker")
    assert of(steep, "base") < of(flat, "base")


@UNHURRIED
@given(st.integers(7, 48), angles)
def test_feet_and_millimetres_give_the_same_to_the_unit(fives: int, angle: int) -> None:
    """5 in = 127 mm exactly (International Yard and Pound agreement, 1959)."""
    imperial, metric = Length.imperial(inches=5 * fives), Length.mm(127 * fives)
    assert planned(imperial, angle).pairs == planned(metric, angle).pairs
    assert planned(imperial, angle).needs == planned(metric, angle).needs


@UNHURRIED
@given(heights, st.sampled_from([45, 60]))
def test_the_rule_never_falls_short_of_the_exact_length(height: Length, angle: int) -> None:
    pair = planned(height, angle).pairs["raker"]
    assert pair.rule is not None
    assert pair.exact is not None
    assert Length(0) <= pair.rule - pair.exact <= Length(round(pair.exact.eightieths * 0.0105) + 1)


@pytest.mark.parametrize("angle", [30, 35, 50, 59])
def test_other_angles_have_no_rule(angle: int) -> None:
    pairs = planned(ft(10), angle).pairs
    assert pairs["raker"].rule is None
    assert pairs["base"].rule is None
    assert pairs["raker"].exact is not None


class TestSite:
    """Wall lean, uneven ground, a sole of given thickness and a curb."""

    def test_higher_ground_at_the_heel_shortens_the_raker(self) -> None:
        found = draft(Site(uneven=ft(1)), insertion=11, angle_deg=60)
        assert found.pairs["raker"].rule == Length.imperial(inches=140)  # 14 in a foot of the 10 ft left
        assert found.pairs["heel_rise"].exact == ft(1)

    def test_a_curb_passed_by_the_base_lowers_the_heel(self) -> None:
        beyond = draft(Site(curb=Length.imperial(inches=6), curb_at=ft(4)), insertion=11, angle_deg=60)
        assert beyond.pairs["raker"].rule == Length.imperial(inches=161)  # 11.5 ft at 14 in
        within = draft(Site(curb=Length.imperial(inches=6), curb_at=ft(20)), insertion=11, angle_deg=60)
        assert within.pairs["raker"].rule == Length.imperial(inches=154)

    def test_the_thickness_of_a_solid_sole_is_a_line_of_its_own(self) -> None:
        thick = Site(sole_thickness=Length.imperial(inches=5, sixteenths=8))
        found = draft(thick, insertion=8, angle_deg=45, sole="solid")
        assert found.pairs["raker"].rule == Length.imperial(inches=136)  # height from the grade at the wall
        assert found.pairs["sole_thickness"].exact == Length.imperial(inches=5, sixteenths=8)
        assert found.pairs["raker_on_sole"].exact < found.pairs["raker"].exact  # type: ignore[operator]

    def test_a_lean_moves_the_heel_out_and_turns_the_top_cut(self) -> None:
        plumb = draft(insertion=10, angle_deg=45)
        leaning = draft(insertion=10, angle_deg=45, lean=Length.imperial(inches=6))
        assert leaning.pairs["raker"] == plumb.pairs["raker"]
        assert leaning.pairs["base"].best - plumb.pairs["base"].best == Length.imperial(inches=6)
        assert leaning.end_cuts is not None
        assert leaning.end_cuts.top_deg == pytest.approx(45 - math.degrees(math.atan(6 / 120)), abs=0.01)

    @UNHURRIED
    @given(tall, leans, st.sampled_from(["split", "solid"]), feet_of_unevenness)
    def test_a_timber_mid_brace_reaches_the_middle_of_the_raker(
        self, height: Length, lean: int, sole: str, uneven: Length
    ) -> None:
        """From the corner of wall plate and sole: the distance between two points, half a tape mark at most off."""
        uneven = Length(0) if sole == "solid" else uneven  # a solid sole needs level ground
        found = planned(height, 45, lean, uneven, sole=sole)
        if "mid_brace" not in found.pairs:
            return
        thick = found.work.sole_thickness.eightieths
        heel = (of(found, "base_on_sole") if thick else of(found, "base"), uneven.eightieths + thick)
        top, corner = (found.work.lean.eightieths, height.eightieths), (0, thick)
        middle = ((heel[0] + top[0]) / 2, (heel[1] + top[1]) / 2)
        assert math.dist(middle, corner) == pytest.approx(of(found, "mid_brace"), abs=64)


def test_strange_lengths_still_read_on_a_tape() -> None:
    for cut in draft(insertion=9.5, angle_deg=60, sole="split").cuts:
        assert cut.length.eightieths % 127 == 0  # an imperial callout: sixteenths throughout
    metric = planned(Length.mm(2811), 60, sole="split").cuts
    assert all(cut.length.eightieths % 80 == 0 or cut.length.eightieths % 127 == 0 for cut in metric)
    assert any(cut.length.eightieths % 127 for cut in metric)  # a metric one: millimetres, pattern pieces apart
    assert planned(Length(123_457), 53).pairs["insertion"].exact == Length(123_457)
