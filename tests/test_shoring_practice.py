"""What a crew does with adjustable struts: common practice, no source (grade P in rules/practice.toml), line by line.

Each value is data: the tests read what the practice says from the words of the work order, and change it in between.
"""

from __future__ import annotations

import dataclasses
import math

import pytest
from pydantic import ValidationError

from callout.shoring.allocation import CutNeed, PieceNeed, SpanNeed
from callout.shoring.build import Build
from callout.shoring.draft import Draft
from callout.shoring.holdings import Holdings
from callout.shoring.kit import Kit
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.rules import Rules, packaged_rules
from callout.shoring.stock import load_stock
from callout.shoring.work_out import work_out
from callout.values import Callout, Length
from tests.checks_shoring import draft, ft, unchecked

STOCK = load_stock()


def with_rule(key: str, value: object) -> Rules:
    table = dict(packaged_rules().table)
    table[key] = dataclasses.replace(table[key], value=value)
    return Rules(table)


def build(site: Site | None = None, rules: Rules | None = None, **said: object) -> Build:
    said["insertion"] = ft(said["insertion"])  # type: ignore[arg-type]
    planner = ShorePlanner(rules=rules, sites={1: site or Site()})
    return planner.plan(1, Callout.model_validate(said), STOCK, Holdings.of(STOCK))


def pieces(found: Draft, part: str) -> int:
    return sum(n.quantity for n in found.needs if isinstance(n, PieceNeed) and n.part == part)


def spans(found: Draft, family: str) -> list[SpanNeed]:
    return [n for n in found.needs if isinstance(n, SpanNeed) and n.family == family]


def place(found: Draft, name: str) -> str:
    return next(p.text for p in found.positions if p.name == name)


def test_the_collapse_zone_is_half_as_much_again_as_the_wall() -> None:
    """At least 1.5 times the height of the wall (rules, N17); 16 ft: 24 ft."""
    found = build(insertion=11, angle_deg=60, wall_height=ft(16))
    assert next(place.at for place in found.positions if place.name == "collapse zone") == ft(24)
    assert "width of the collapse zone" not in found.from_memory
    unknown = build(insertion=11, angle_deg=60)
    assert "wall height not said: the collapse zone reaches out 1.5 times that height" in unknown.before_load


def test_every_line_of_practice_is_marked_so() -> None:
    practice = [r for r in packaged_rules().table.values() if r.source == "common practice, no source"]
    assert len(practice) >= 20
    assert {rule.grade for rule in practice} == {"P"}


@pytest.mark.parametrize(
    ("insertion", "angle", "setting"), [(10, 60, 139), (11, 60, 153), (8, 60, 111), (8, 45, 136), (10, 30, 240)]
)
def test_the_raker_is_set_to_the_kits_next_step_over_its_length(insertion: int, angle: int, setting: int) -> None:
    """The insertion over the sine of the angle (138.56, 152.42, 110.85, 135.76, 240 in), up to the next inch."""
    struts = spans(draft(insertion=insertion, angle_deg=angle), "strut")
    assert [n.wanted for n in struts] == [Length.imperial(inches=setting)] * 2


def test_the_work_order_says_where_to_lock_and_how_far_to_turn() -> None:
    found = build(insertion=10, angle_deg=60)
    first = found.setting[0]
    steps = " / ".join(step.text for step in found.steps)
    assert "set each raker to 11 ft 7 in between the bearing faces" in steps
    assert f"lock at {first.lock}, screw out {first.screw_out}" in steps


def test_members_that_are_set_apart_are_said_apart() -> None:
    """One eight foot strut: raker 2 is made of a six foot strut and an extension, and has a lock of its own."""
    stock = STOCK.with_quantities({"eight foot strut": 1, "twelve foot strut": 0})
    found = ShorePlanner().plan(1, Callout(insertion=ft(10), angle_deg=60), stock, Holdings.of(stock))
    assert found.possible
    first, second = (one for one in found.setting if one.label.startswith("raker"))
    assert first.pieces != second.pieces
    assert first.lock != second.lock
    steps = [step.text for step in found.steps]
    assert not any("each raker" in text and "lock at" in text for text in steps)
    for one in (first, second):
        (told,) = (text for text in steps if text.startswith(f"for {one.label}: "))
        assert told.endswith(f"screw out {one.screw_out}")
    put_on = [text for text in steps if text.startswith("put the")]
    assert [second.label in text and first.label not in text for text in put_on if second.extension_end] == [True]


def test_without_a_strut_on_hand_the_work_order_still_says_how() -> None:
    bare = STOCK.with_quantities({line.name: 0 for line in STOCK.lines})
    found = ShorePlanner().plan(1, Callout(insertion=ft(10), angle_deg=60), bare, Holdings.of(bare))
    assert not found.possible
    assert found.geometry["raker"].exact is not None
    assert "set each raker to 11 ft 7 in between the bearing faces" in [step.text for step in found.steps]


def test_the_setting_prints_closed_open_and_the_turn_left_both_ways() -> None:
    for one in build(insertion=10, angle_deg=60).setting:
        assert one.closed is not None
        assert one.open is not None
        assert one.closed <= one.setting <= one.open
        assert one.turn_in is not None
        assert one.turn_out is not None
        assert one.turn_in >= Length(0)
        assert one.turn_out >= Length(0)
        assert one.setting - one.closed >= one.turn_in  # the lock is at closed or farther out
        assert one.open - one.setting >= one.turn_out
        assert one.lock is not None
        assert one.screw_out == one.turn_in
        fittings = one.setting - one.member
        locked = one.lock + sum((STOCK.by_name[n].size or Length(0) for n in one.pieces[1:]), Length(0))
        assert locked + fittings + one.screw_out == one.setting
        shortest = sum((STOCK.by_name[n].size or Length(0) for n in one.pieces), Length(0))
        assert one.closed == shortest + fittings
        assert one.closed <= one.exact <= one.open


def test_the_strut_can_be_turned_in_from_its_setting_to_the_exact_length() -> None:
    for insertion in range(4, 21):
        for angle in (45, 60):
            for one in build(insertion=insertion, angle_deg=angle).setting:
                if one.label.startswith("raker"):
                    assert one.turn_in is not None
                    assert one.turn_in >= one.setting - one.exact


def test_an_extension_goes_on_the_end_that_does_not_move() -> None:
    found = build(insertion=20, angle_deg=45)
    extended = [one for one in found.setting if len(one.pieces) > 1]
    assert extended
    assert all(one.extension_end in ("head", "foot") for one in extended)
    assert any("the end that does not move" in step.text for step in found.steps)


def test_the_work_order_builds_on_the_ground_stands_up_slides_and_squares_the_brace() -> None:
    steps = " / ".join(step.text for step in build(insertion=11, angle_deg=60).steps)
    order = [
        "away from the wall, join", "stand the raker up and slide its top", "hold its foot",
        "set the mid brace square to the plate", "tighten by hand", "anchor the wall plate",
        "drive 2 pickets", "second raker alongside", "tie the bay",
    ]  # fmt: skip
    at = [steps.find(words) for words in order]
    assert -1 not in at
    assert at == sorted(at)


def test_the_hole_of_the_head_fitting_is_counted_from_the_end_and_depends_on_the_height() -> None:
    high, low = draft(insertion=12, angle_deg=60), draft(insertion=10, angle_deg=60)
    assert "counted from its top end" in place(high, "head fitting")
    assert place(high, "head fitting") != place(low, "head fitting")


def test_the_mid_brace_hangs_in_a_hole_whose_tape_length_is_given() -> None:
    """11 ft at 60: three plates of 5 ft, holes from 2 in every 4 in; their foot 2 in up, half the height 66 in up the
    wall: 64 in up the plates, where 62 in is the first hole of the second."""
    found = draft(insertion=11, angle_deg=60)
    brace = next(p for p in found.positions if p.name == "mid brace")
    assert brace.text.startswith("hole 1 of plate 2, counted from the foot")
    assert brace.at == Length.imperial(inches=60 + 2)
    assert found.pairs["mid_brace_up_wall"].exact == brace.at + found.pairs["plate_foot_up_wall"].best


def test_the_plate_gets_two_anchors_at_least_one_low_one_higher() -> None:
    for said in (
        {"insertion": 3}, {"insertion": 8}, {"insertion": 12}, {"insertion": 20}, {"insertion": 8, "sole": "solid"},
        {"insertion": 3, "sole": "split"}, {"insertion": 9, "kind": "flying_raker"},
    ):  # fmt: skip
        found = draft(angle_deg=60, rakers=2, **said)
        assert pieces(found, "anchor") >= 4
        low = next(p.at for p in found.positions if p.name == "lower anchor")
        high = next(p.at for p in found.positions if p.name == "upper anchor")
        assert low is not None
        assert high is not None
        assert high - low >= Length.imperial(inches=12), said
        assert high < found.pairs["insertion_on_plate"].best
        more = pieces(found, "anchor") // 2 - 2
        assert any(p.name == "further anchors" and p.text.startswith(f"{more} between") for p in found.positions) == (
            more > 0
        )


@pytest.mark.parametrize("wall", ["block", "brick", "concrete", "timber"])
def test_the_anchor_follows_the_wall(wall: str) -> None:
    found = draft(Site.model_validate({"wall": wall}), insertion=11, angle_deg=60)
    variants = {n.variant for n in found.needs if isinstance(n, PieceNeed) and n.part == "anchor"}
    assert variants == {wall}


@pytest.mark.parametrize(
    ("ground", "soil", "each"),
    [("pavement", None, 2), ("soil", "loam", 4), ("soil", "clay", 4), ("soil", "sand", 8)],
)
def test_two_pickets_to_start_and_more_by_soil_and_load(ground: str, soil: str | None, each: int) -> None:
    """2,500 lb over 700 lb a picket times the soil's factor: 3.6, 4.0, 7.1 (rounded up)."""
    found = draft(Site.model_validate({"soil": soil}), insertion=11, angle_deg=60, ground=ground)
    assert pieces(found, "picket") == 2 * each
    assert "through holes 2 and 5; 6 in left behind them for a waler" in place(found, "first pickets")


def test_a_waler_when_timber_rakers_stand_beside() -> None:
    with_timber = draft(Site(timber_beside=True), insertion=11, angle_deg=60)
    walers = [n for n in with_timber.needs if isinstance(n, CutNeed) and n.label == "waler"]
    assert [(n.section, n.length) for n in walers] == [("4x6", ft(8))]  # 6 ft and a foot past each base
    assert pieces(with_timber, "wedge pair") - pieces(draft(insertion=11, angle_deg=60), "wedge pair") == 2
    # 4 at a heel (slides, B), two timber rakers that press on the waler; 4 at each base of the pair besides
    assert pieces(with_timber, "picket") == 2 * 4 + 2 * 4
    assert "8 pickets of its own behind it" in place(with_timber, "waler")
    steps = [s.text for s in build(Site(timber_beside=True), insertion=11, angle_deg=60).steps]
    assert any("drive 8 pickets behind it" in s for s in steps)
    assert any("wedge the timber rakers beside to the wall against the waler" in s for s in steps)
    assert not any("waler" in n.label for n in draft(insertion=11, angle_deg=60).needs)


def test_the_second_raker_stands_parallel_at_six_feet() -> None:
    found = build(insertion=11, angle_deg=60)
    assert found.geometry["spacing"].exact == ft(6)
    assert any(c.part == "spacing" for c in found.chosen)
    first, second = (one for one in found.setting if one.label.startswith("raker"))
    assert first.setting == second.setting


def test_the_bay_is_three_laterals_and_two_diagonals_in_the_order_of_the_kit() -> None:
    found = draft(insertion=11, angle_deg=60)
    ties = [n.label for n in found.needs if isinstance(n, SpanNeed) and n.family in ("lateral", "diagonal")]
    assert ties == ["lower lateral", "middle lateral", "upper lateral", "lower diagonal", "upper diagonal"]
    laterals = spans(found, "lateral")
    assert {n.wanted for n in laterals} == {ft(6)}  # between clamp centres
    assert {n.deduct for n in laterals} == {STOCK.kit.clamp_takes}
    steps = " ".join(step.text for step in build(insertion=11, angle_deg=60).steps)
    assert "tie the bay, the end that does not move first" in steps


def test_the_lower_lateral_is_about_a_foot_above_the_ground() -> None:
    found = draft(insertion=11, angle_deg=30)
    assert found.pairs["lower_lateral_up_raker"].exact == ft(2)  # 12 in / sin 30


def test_a_row_has_a_bay_between_all_neighbours() -> None:
    found = draft(insertion=11, angle_deg=60, rakers=4)
    assert len(spans(found, "lateral")) == 9
    assert len(spans(found, "diagonal")) == 6
    assert len({n.label for n in found.needs}) == len(found.needs)


@pytest.mark.parametrize(
    ("key", "value", "look"),
    [
        ("anchors_least", 5, lambda d: pieces(d, "anchor") == 10),
        ("lower_lateral_above_ground", 24, lambda d: d.pairs["lower_lateral_up_raker"].exact > ft(2)),
        ("picket_load", 2000, lambda d: pieces(d, "picket") == 4),
    ],
)  # fmt: skip
def test_a_team_may_change_each_value(key: str, value: object, look: object) -> None:
    found = work_out(Callout(insertion=ft(11), angle_deg=60), STOCK.kit, rules=with_rule(key, value))
    assert isinstance(found, Draft)
    assert look(found)  # type: ignore[operator]


def test_the_kit_is_data_of_the_stock() -> None:
    kit = STOCK.kit.model_copy(update={"head_takes": ft(1), "plate_length": ft(6), "clamp_takes": Length(0)})
    found = work_out(Callout(insertion=ft(11), angle_deg=60), kit)
    assert isinstance(found, Draft)
    off_wall = Length.imperial(sixteenths=12)  # 1 1/2 in of plate, along a raker at 60 degrees
    assert spans(found, "strut")[0].deduct == ft(1) + kit.base_takes + off_wall
    assert found.pairs["wall_plate"].exact == ft(12)
    assert pieces(found, "wall plate") == 4
    assert pieces(found, "plate joint") == 2


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("plate_hole_spacing", "0 in", "is zero"),
        ("plate_first_hole", "3 ft", "past the middle"),
        ("head_takes", "-1 in", "from 0 to 40 ft"),
        ("base_picket_holes", 0, "greater than or equal to 1"),
    ],
)
def test_a_kit_that_cannot_be_is_refused(field: str, value: object, says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        Kit.model_validate(STOCK.kit.model_dump() | {field: value})


@pytest.mark.parametrize("inches", [24, 30, 36, 41.5, 48, 59])
@pytest.mark.parametrize("angle", [30, 45, 60])
def test_the_laterals_of_a_short_raker_stay_clear_of_the_mid_brace(inches: float, angle: int) -> None:
    """Two clamps cannot sit on the same spot of a tube; 6 in apart is common practice, no source."""
    found = draft(insertion=inches / 12, angle_deg=angle)
    brace, raker = found.pairs["mid_brace_up_raker"].best, found.pairs["raker"].best
    ties = [pair.best for name, pair in found.pairs.items() if name.endswith("_lateral_up_raker")]
    assert len(ties) in (2, 3)
    for tie in ties:
        assert abs(float((tie - brace).inches)) >= 6
        assert Length(0) < tie < raker


def test_no_figure_for_pickets_in_pavement_is_said() -> None:
    """The picket loads are for soil (NAVEDTRA 14251): on pavement the least count stands, and says so."""
    paved = build(insertion=11, angle_deg=60, ground="pavement")
    assert unchecked(paved)["pickets in pavement"] == "2 at each heel is a start against 2,500 lb"
    assert "pickets in pavement" not in unchecked(build(insertion=11, angle_deg=60))


@pytest.mark.parametrize(("feet", "said"), [(5, False), (6, True), (7, True), (9, False)])
def test_the_heel_keeps_clear_of_the_edge_of_a_curb(feet: int, said: bool) -> None:
    """A foot on either side of the edge: common practice, no source. 11 ft at 60 degrees has its heel at 76.2 in, and
    3.5 in farther out below a curb of 6 in."""
    curb = Site(curb=Length.imperial(inches=6), curb_at=ft(feet))
    found = draft(curb, insertion=11, angle_deg=60)
    assert any("from the edge of the curb: keep 1 ft clear" in check for check in found.before_load) == said


def test_pickets_beyond_the_first_are_said_with_their_place_and_only_then() -> None:
    """2,500 lb over 700 lb a picket: 4; for 1,000 lb, as a specialist gave it, the first two do."""
    heavy = build(insertion=11, angle_deg=60)
    light = build(Site(force_lb=1000, force_by="the specialist"), insertion=7, angle_deg=60)
    assert any("drive 2 more pickets through the other holes" in step.text for step in heavy.steps)
    assert "2 at each base, through its other holes" in place(heavy, "more pickets")
    assert not any("more pickets" in step.text for step in light.steps)
    assert not any(one.name == "more pickets" for one in light.positions)


def test_no_brace_is_listed_that_the_shore_does_not_have() -> None:
    assert "bottom_brace" not in draft(insertion=11, angle_deg=60).pairs
    assert "bottom_brace" not in draft(insertion=8, angle_deg=60, sole="solid").pairs
    leaning = draft(insertion=8, angle_deg=45, sole="split", lean=Length.imperial(inches=4)).pairs
    assert leaning["bottom_brace"] == leaning["base"]  # from the foot of the plate to the heel, on level ground


@pytest.mark.parametrize(("sole", "rise"), [("split", 96), ("solid", 92.5)])
def test_a_heel_is_dug_in_behind_the_depth_of_the_wall_plate(sole: str, rise: float) -> None:
    """The raker bears on the face of a 4x4 wall plate, 3 1/2 in off the wall: so its toe is that much farther out."""
    found = build(insertion=8, angle_deg=60, sole=sole)
    said = Length.nearest(round((rise / math.tan(math.pi / 3) + 3.5) * 2) / 2).text_in_feet  # dug to half an inch
    assert any(f"{said} from the wall" in step.text for step in found.steps)
