"""A sheet and its drawings are written in feet and pounds, or in metres and kilonewtons: never in both."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.dialogue import speakable
from callout.shoring.build import Build
from callout.shoring.drawing import sheet, svg_drawing, terminal_drawing
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.stock import Stock
from callout.shoring.strengths import OF_POSTS
from callout.shoring.units import Writing, q
from callout.values import Callout, Length
from callout.values.length import PER_SIXTEENTH
from tests.checks_shoring import ft
from tests.how_much import examples
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import STOCK, build

STOCKS = {
    share: STOCK.with_quantities({line.name: line.quantity * share // 100 for line in STOCK.lines})
    for share in (0, 8, 100)
}

#: A figure with a unit of the other kind. "1 in in" and "1 m out" are directions of a screw: the figure comes first.
FEET = re.compile(r"\d(?:/\d+)? ?(?:ft|in|inch|inches|feet|foot|lb|psf|psi|pcf)\b")
METRES = re.compile(r"\d ?(?:mm|cm|m|kg|kN|kN/m3|kPa|MPa)\b")


def papers(build: Build) -> str:
    """All that is printed of a build but the names of stock lines, which stand on the rack."""
    names = {line.name for line in STOCK.lines}
    text = sheet(build, full=True) + terminal_drawing(build) + svg_drawing(build)
    for name in sorted(names, key=len, reverse=True):
        text = re.sub(r"\s+".join(map(re.escape, name.split())), "NAME", text)  # a line may break inside a name
    return text


def planned(said: dict[str, object], insertion: Length, site: Site, stock: Stock = STOCK) -> Build:
    request = Callout.model_validate(said | {"insertion": insertion})
    return ShorePlanner(sites={1: site}).plan(1, request, stock, Holdings.of(stock))


SITES = st.builds(
    Site,
    uneven=st.sampled_from([None, Length.mm(120), Length.mm(-127)]), wall_length=st.sampled_from([None, ft(20)]),
    curb=st.sampled_from([None, Length.mm(127)]), curb_at=st.just(ft(4)), span=st.sampled_from([None, ft(4)]),
    timber_beside=st.booleans(), soil=st.sampled_from([None, "clay", "sand"]),
)  # fmt: skip


@settings(max_examples=examples(40, 15), deadline=None)
@given(
    st.sampled_from(KINDS), st.integers(600, 5200), SITES, st.sampled_from([*STOCKS]),
    st.sampled_from([None, "soil", "pavement"]), st.sampled_from([None, ft(12)]),
)  # fmt: skip
def test_a_metric_sheet_is_wholly_metric(
    said: dict[str, object], mm: int, site: Site, share: int, ground: str | None, wall: Length | None
) -> None:
    insertion = Length.mm(mm if mm % 127 else mm + 1)
    if said.get("kind") in OF_POSTS and mm % 2:
        site = site.model_copy(update={"load_lb": 20_000.0})
    more = {"ground": ground, "wall_height": wall, "wall_thickness": wall and ft(1)}
    found = FEET.search(text := papers(planned(said | more, insertion, site, STOCKS[share])))
    assert found is None, text[max(0, found.start() - 80) : found.end() + 20]


@settings(max_examples=examples(40, 15), deadline=None)
@given(
    st.sampled_from(KINDS), st.integers(2 * 192, 17 * 192), st.booleans(), st.sampled_from([*STOCKS]),
    st.sampled_from([None, ft(20)]),
)  # fmt: skip
def test_a_sheet_in_feet_is_wholly_in_feet(
    said: dict[str, object], sixteenths: int, beside: bool, share: int, wall: Length | None
) -> None:
    site = Site(timber_beside=beside, wall_length=wall)
    found = METRES.search(text := papers(planned(said, Length.imperial(sixteenths=sixteenths), site, STOCKS[share])))
    assert found is None, text[max(0, found.start() - 80) : found.end() + 20]


@pytest.mark.parametrize("units", ["feet", "metres"])
@pytest.mark.parametrize("insertion", [Length.mm(2540), Length.mm(2541), ft(9)], ids=str)
def test_what_the_site_says_wins(units: str, insertion: Length) -> None:
    """100 in are 2.54 m: the length does not show what it was given in, so that it can be said."""
    text = papers(planned({"angle_deg": 60}, insertion, Site.model_validate({"units": units})))
    assert (FEET.search(text) is None) == (units == "metres")
    assert (METRES.search(text) is None) == (units == "feet")


def test_one_length_in_millimetres_makes_the_sheet_metric() -> None:
    found = planned({"angle_deg": 60, "spacing": Length.mm(2000)}, ft(9), Site())
    assert FEET.search(papers(found)) is None


def test_a_scale_in_metres_or_in_feet() -> None:
    metric, feet = (svg_drawing(planned({"angle_deg": 60}, one, Site())) for one in (Length.mm(3000), ft(9)))
    assert len(re.findall(r">\d m</text>", metric)) == 2
    assert len(re.findall(r">\d ft</text>", feet)) >= 2


@pytest.mark.parametrize(
    ("value", "unit", "feet", "metres"),
    [
        (2500, "lb", "2,500 lb", "11.12 kN"), (20.39, "in", "20.39 in", "517.9 mm"),
        (1500, "psf", "1,500 psf", "71.82 kPa"),
        (2.4e6, "lb", "2,400,000 lb", "10,680 kN"),
        (125, "pcf", "125 pcf", "19.64 kN/m3"), (0.893, "1", "0.893", "0.893"),
    ],
)  # fmt: skip
def test_figures_in_both_writings(value: float, unit: str, feet: str, metres: str) -> None:
    """Converted by hand with 4.44822 N a pound-force and 25.4 mm an inch."""
    assert Writing(metric=False).figure(value, unit) == feet
    assert Writing(metric=True).figure(value, unit) == metres


@pytest.mark.parametrize(
    ("inches", "feet", "metres"),
    [(76.21, "6 ft 4 in", "1.94 m"), (52.75, "4 ft 5 in", "1.34 m"), (21.2, "1 ft 9 in", "540 mm")],
)
def test_what_is_dug_is_to_half_an_inch_or_a_centimetre(inches: float, feet: str, metres: str) -> None:
    """By hand: 76.21 in are 1935.7 mm; 52.75 in lie between two half inches and go to the even one."""
    length = Length.nearest(inches)
    assert (Writing(metric=False).dug(length), Writing(metric=True).dug(length)) == (feet, metres)


def test_a_metric_crew_gets_lengths_that_somebody_would_choose() -> None:
    """11 ft come out as 2.4 m on centre, cleats of 75 cm and 60 cm (course page, metric), not as 2.438 m and 762 mm."""
    found = planned({"angle_deg": 60, "sole": "solid"}, Length.mm(3350), Site())
    cut = {one.label: one.length for one in found.cuts}
    assert found.geometry["spacing"].best == Length.mm(2400)
    for name, mm in (("wall cleat", 750), ("sole cleat", 600), ("sole anchor", 1200)):
        assert cut[name] == Length.mm(mm)
    struts = planned({"angle_deg": 60}, Length.mm(3350), Site())
    assert struts.geometry["spacing"].best == Length.mm(1800)
    assert all(one.setting.millimetres % 10 == 0 for one in struts.setting if one.label.startswith("raker"))


@pytest.mark.parametrize("millimetres", [1200, 1510, 2100, 2730])
def test_the_pieces_of_a_metric_crib_are_of_whole_centimetres(millimetres: int) -> None:
    """Not 914 mm, which are 36 in."""
    found = planned({"kind": "cribbing"}, Length.mm(millimetres), Site(units="metres"))
    (piece,) = (one.length for one in found.cuts if one.label == "crib piece")
    assert piece.millimetres % 10 == 0
    assert piece >= Length.mm(610)


def test_no_step_holds_what_a_voice_cannot_say() -> None:
    for said in KINDS:
        for step in planned(said, ft(7), Site()).steps:
            assert not re.search(r"[()\[\]{}+*=<>&%@#_|]", step.text), step.text


def test_weights_sizes_and_forces() -> None:
    metric = Writing(metric=True)
    assert metric.weight(100) == "45.36 kg"
    assert metric.size([1.5, 5.5]) == "38 x 140 mm"
    assert Writing(metric=False).size([1.5, 5.5]) == "1 1/2 x 5 1/2 in"
    assert metric.force(q(1, "kip")) == "4.448 kN"


@given(st.integers(-(10**7), 10**7))
def test_a_length_is_marked_to_the_nearest_it_can_show(eightieths: int) -> None:
    length = Length(eightieths)
    for writing, half in ((Writing(metric=True), 40), (Writing(metric=False), PER_SIXTEENTH / 2)):
        marked = writing.mark(length)
        assert abs(marked.eightieths - eightieths) <= half
        assert writing.length(marked) == writing.length(length)


def test_a_voice_can_say_what_is_written() -> None:
    assert speakable.text(Writing(metric=True).force(q(2500, "lb"))) == "eleven point one two kilonewtons"
    assert speakable.text(Writing(metric=False).force(q(2500, "lb"))) == "two thousand five hundred pounds"


def test_what_is_refused_is_worked_out_with_the_figures_of_its_crew() -> None:
    """25.1 mm higher at the heel: over the 25 mm of a crew that measures in millimetres, under the inch of another."""
    high = Length.mm(25) + Length(10)
    found = build(Site(uneven=high, units="metres"), insertion=11, angle_deg=60, sole="solid", spacing=ft(9))
    assert found.refused is not None
    assert "at no more than 2.438 m on centre; a solid sole needs level ground" in found.refused.reason
    alone = build(Site(uneven=high, units="metres"), insertion=11, angle_deg=60, sole="solid")
    assert alone.refused is not None
    assert (alone.title, alone.geometry, alone.checks) == ("no such shore", {}, ())
    weak = build(Site(force_lb=9000, units="metres"), insertion=11, angle_deg=60, sole="solid")
    assert weak.refused is not None
    assert " kN" in weak.refused.reason
    assert re.search(r"spacing \d+ mm, \d rakers, [\d.]+ kN on each", weak.refused.instead)
    assert not re.search(r"\b(ft|in|lb)\b", weak.refused.reason + weak.refused.instead)
    assert weak.checks
