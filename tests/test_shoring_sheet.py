"""The sheet: what a crew does comes first, in lines that a terminal and a sheet of paper hold."""

from __future__ import annotations

import re

import pytest

from callout.shoring.build import Build
from callout.shoring.drawing import marks, sheet
from callout.shoring.drawing.terminal import terminal_drawing
from callout.shoring.holdings import Holdings
from callout.shoring.on_paper import labels_once
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.stock import Stock, load_stock
from callout.values import Callout, Length
from tests.checks_shoring import ft
from tests.how_much import one_in
from tests.proof_requests import stocks
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import STOCK, build

NAMES = [f"{s.get('kind', 'raker')} {s.get('sole', '')}" for s in KINDS]
PAIRS = [
    {"insertion": 11, "angle_deg": 60}, {"insertion": 17, "angle_deg": 45}, {"insertion": 5, "angle_deg": 60},
    {"insertion": 8, "angle_deg": 60, "sole": "solid"}, {"insertion": 14, "angle_deg": 45, "sole": "solid"},
    {"insertion": 10, "angle_deg": 60, "sole": "split"}, {"insertion": 14, "angle_deg": 45, "sole": "split"},
]  # fmt: skip


@pytest.mark.parametrize("site", [Site(), Site(soil="sand")], ids=["loam", "sand"])
@pytest.mark.parametrize("said", PAIRS, ids=str)
def test_the_sheet_of_a_pair_is_one_page_of_a_terminal(said: dict[str, object], site: Site) -> None:
    """At most 60 lines of at most 80 letters."""
    lines = sheet(build(site, **said), place="north wall", when="2026-11-29 16:20").splitlines()
    assert len(lines) <= 60
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_no_line_is_wider_than_a_terminal(said: dict[str, object], full: bool) -> None:
    for site in (Site(), Site(units="metres", timber_beside=True)):
        assert max(map(len, sheet(build(site, **said), full=full).splitlines())) <= 80


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_no_figure_is_broken_from_its_unit(said: dict[str, object]) -> None:
    for line in sheet(build(**said), full=True).splitlines():
        assert not re.match(r"\s+(?:ft|in|lb|psi|psf)\b(?! the)", line) or "in" in line.split()[:1], line
        assert not re.search(r"\d ft \d+(?: \d/\d+)?$", line), line


def test_the_title_says_what_how_high_at_what_angle_where_and_when() -> None:
    found = build(insertion=11, angle_deg=60, position=3)
    first = " ".join(sheet(found, place="north wall", when="16:20").splitlines()[:2])
    assert first.startswith(
        "Build 1: pair of strut rakers, 11 ft at 60 degrees, position 3, north wall, 16:20"
    )


def test_what_a_crew_does_comes_in_its_order_and_the_reckoning_when_asked() -> None:
    found = build(insertion=11, angle_deg=60)
    short, full = sheet(found), sheet(found, full=True)
    places = [short.index(f"\n{heading}") for heading in ("PARTS", "SET", "CUT", "STEPS")]
    assert places == sorted(places)
    for heading in ("LENGTHS", "LOADS", "SOURCES", "NOTES", "CHECK BEFORE LOAD"):
        assert f"\n{heading}" not in short
        assert f"\n{heading}" in full


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_full_sheet_holds_everything_and_the_cautions_once(said: dict[str, object]) -> None:
    found = build(**said)
    text = " ".join(sheet(found, full=True).split())
    for caution in found.cautions:
        assert text.count(caution) == 1 or caution == found.cautions[1]
    for part in found.parts:
        assert part.name in text
    for step in found.steps:
        assert " ".join(step.text.split()) in text
    for source in found.sources:
        assert source in text


def test_members_that_are_set_alike_are_said_once() -> None:
    found = build(insertion=11, angle_deg=60)
    text = sheet(found)
    raker = found.setting[0].setting.text
    assert text.count(f"rakers 1, 2: {raker}, eight foot strut") == 1
    assert text.count("lower, middle and upper lateral: 5 ft 7 in") == 1
    assert labels_once(["raker 1", "raker 3", "raker 2"]) == "rakers 1, 3, 2"
    assert labels_once(["lower lateral, rakers 1 to 2", "lower lateral, rakers 2 to 3"]) == "lower lateral"


def test_members_that_are_set_otherwise_are_said_apart() -> None:
    """One eight foot strut and one six foot strut: raker 2 is made of other pieces, and has its own line."""
    few = {line.name: 0 if "foot strut" in line.name else line.quantity for line in STOCK.lines}
    stock = STOCK.with_quantities(few | {"eight foot strut": 1, "six foot strut": 1})
    found = ShorePlanner().plan(1, Callout(insertion=ft(11), angle_deg=60), stock, Holdings.of(stock))
    rakers = [one for one in found.setting if one.label.startswith("raker")]
    assert len({one.pieces for one in rakers}) == 2
    text = " ".join(sheet(found).split())
    for one in rakers:
        assert f"{one.label}: {one.setting.text}, {one.pieces[0]} with" in text


def test_what_is_missing_comes_first_each_part_once() -> None:
    few = STOCK.with_quantities({line.name: 0 for line in STOCK.lines if "picket" in line.name or "nail" in line.name})
    found = ShorePlanner().plan(1, Callout(insertion=ft(11), angle_deg=60, sole="solid"), few, Holdings.of(few))
    lines = sheet(found).splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith("MISSING"))
    assert at <= 2
    named = [line.partition(" x ")[2].partition(",")[0] for line in lines[at:] if re.match(r"  \d+ x", line)]
    assert len(named) == len(set(named)) >= 2


def test_every_way_out_of_a_shortage_is_printed_with_what_it_costs() -> None:
    few = STOCK.with_quantities({"picket": 7})
    found = ShorePlanner().plan(1, Callout(insertion=ft(11), angle_deg=60, sole="solid"), few, Holdings.of(few))
    assert found.remedies
    text = " ".join(sheet(found).split())
    for remedy in found.remedies:
        assert f"would work: {remedy.text} (cost: {remedy.costs})" in text


def test_the_screw_is_a_sentence() -> None:
    found = build(insertion=11, angle_deg=60)
    text = " ".join(sheet(found, full=True).split())
    one = found.setting[0]
    assert one.turn_in is not None
    assert one.turn_out is not None
    left = f"the screw can still be turned in by {one.turn_in.text_in_feet} and out by {one.turn_out.text_in_feet}."
    assert left in text
    assert not re.search(r"\d in in\b", text)


def test_each_line_of_the_cut_list_has_a_letter_and_each_timber_says_which_it_gives() -> None:
    found = build(insertion=8, angle_deg=60, sole="solid")
    text = sheet(found)
    letters = marks.letters(found)
    assert list(letters.values())[:3] == ["A", "B", "C"]
    assert not set("IO") & set(letters.values())
    for cut in found.cuts:
        assert re.search(rf" {letters[cut.label]} +{cut.quantity} x {cut.section} {cut.length.text} {cut.label}", text)
    given = 0
    for saw in re.findall(r"saw (\d+) x [^:]*: ((?:\d+ [A-Z]+(?:, )?)+)", " ".join(text.split())):
        given += int(saw[0]) * sum(int(n) for n in re.findall(r"(\d+) [A-Z]", saw[1]))
    assert given == sum(cut.quantity for cut in found.cuts)


def test_a_refused_shore_says_why_and_what_exists() -> None:
    found = build(insertion=11, angle_deg=50, sole="split")
    assert isinstance(found, Build)
    assert "not 50" in sheet(found)
    assert "angle 45 degrees" in sheet(found)
    assert "STEPS" not in sheet(found)


def test_what_is_not_checked_is_said_on_the_short_sheet() -> None:
    assert re.search(r"^! not checked: wall-plate anchors", sheet(build(insertion=11, angle_deg=60)), re.M | re.I)


def test_the_sheet_is_plain_letters() -> None:
    assert load_stock(None).lines
    assert sheet(build(insertion=11, angle_deg=60)).isascii()


EVERY_YARD = stocks()
#: Members that are nailed on and may stand over a little.
LOOSE = ("tie", "diagonal", "brace", "wall plate", "sole plate", "lace")


def planned(said: dict[str, object], site: Site, stock: Stock) -> Build:
    feet = said["insertion"]
    assert isinstance(feet, (int, float))
    high = Length.mm(round(feet * 30.48) * 10) if site.units == "metres" else ft(feet)
    request = Callout.model_validate(said | {"insertion": high})
    return ShorePlanner(sites={1: site}).plan(1, request, stock, Holdings.of(stock))


@pytest.mark.parametrize("units", ["feet", "metres"])
@pytest.mark.parametrize("yard", one_in(2, range(len(EVERY_YARD))), ids=["demo", "poor", "other", "third"])
@pytest.mark.parametrize("said", [*KINDS, {"insertion": 11, "angle_deg": 60, "beside": True}], ids=[*NAMES, "waler"])
def test_every_kind_from_every_yard_is_one_page(said: dict[str, object], yard: int, units: str) -> None:
    """Also where each raker is set otherwise, and where much is missing."""
    plain = {name: value for name, value in said.items() if name != "beside"}
    site = Site.model_validate({"units": units, "timber_beside": said.get("beside")})
    found = planned(plain, site, EVERY_YARD[yard][0])
    lines = sheet(found, place="north wall", when="2026-11-29 16:20").splitlines()
    assert len(lines) <= 60
    assert max(map(len, lines)) <= 80
    shown = " ".join(lines)
    assert all(part.name in re.sub(r"\s+", " ", shown) for part in found.parts)
    numbers = {int(n) for n in re.findall(r"(?<![\d/])(\d+)[ \u00a0][a-z]", shown)}
    unsaid = [step for step in found.steps if step.number not in numbers and not step.text.startswith("for ")]
    assert all(re.match(r"without its|put the|(on the ground, )?set", step.text) for step in unsaid), unsaid


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_a_crew_in_metres_reads_lengths_that_a_person_would_choose(said: dict[str, object]) -> None:
    """Whole millimetres, no feet; what is nailed on and what is dug in whole centimetres."""
    found = planned(said, Site(units="metres"), STOCK)
    names = "|".join(re.escape(name) for name in sorted((line.name for line in STOCK.lines), key=len, reverse=True))
    text = re.sub(names, "", re.sub(r"\s+", " ", sheet(found)))
    assert not re.search(r"\d (?:ft|in|lb)\b", text), text
    for cut in found.cuts:
        assert cut.length.eightieths % 80 == 0, cut
        if any(word in cut.label for word in LOOSE):
            assert cut.length.eightieths % 800 == 0, cut
    for one in found.setting:
        if one.label.startswith("raker"):
            assert one.setting.eightieths % 800 == 0
    assert not re.search(r"\b152 mm|\b457 mm|\b610 mm left", text)


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_no_heading_stands_alone(said: dict[str, object]) -> None:
    """A heading of the reckoning has lines under it."""
    lines = sheet(build(**said), full=True).splitlines()
    for at, line in enumerate(lines):
        if re.match(r"[A-Z]{4,}", line) and at and not lines[at - 1] and not line.startswith("TOOLS"):
            assert at + 1 < len(lines), line
            assert lines[at + 1].startswith("  "), line


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_ground_is_a_line_and_not_a_point(said: dict[str, object]) -> None:
    assert "~" not in {line.strip() for line in terminal_drawing(build(**said)).splitlines()}


def test_a_post_more_is_for_the_load_and_not_for_the_stock() -> None:
    """6x6 because the stock has no 4x4 that makes it whole; one post more because of what it carries."""
    site = Site(load_lb=8000.0)
    request = Callout(kind="vertical_post", insertion=ft(9))
    found = ShorePlanner(sites={1: site}).plan(1, request, STOCK, Holdings.of(STOCK))
    why = {choice.part: choice.why for choice in found.chosen}
    assert why["post"] == "the stock had no 4x4 that makes it whole"
    assert why["more_posts"] == "the smallest that is taken to carry 8,000 lb"
