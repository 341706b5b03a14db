"""The nearest change that works: each remedy offered is planned again and must be whole; the nearest comes first."""

import random
from collections.abc import Sequence

import pytest

from callout.shoring import feasible
from callout.shoring.allocation import Need, PieceNeed
from callout.shoring.build import Missing
from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.remedies import Asking, Short, remedies
from callout.shoring.request import Site
from callout.shoring.stock import Stock, load_stock
from callout.values import Callout, Length

PLANNER = ShorePlanner()
STOCK = load_stock()
ELEVEN = Callout(insertion=Length.imperial(11), angle_deg=60)


def without(*names: str) -> Stock:
    return STOCK.with_quantities(dict.fromkeys(names, 0))


def only(**left: int) -> Stock:
    """A stock whose struts are only those named; everything else as packaged."""
    struts = {line.name: 0 for line in STOCK.adjustable if line.family == "strut"}
    return STOCK.with_quantities({**struts, **{name.replace("_", " "): n for name, n in left.items()}})


def texts(stock: Stock, request: Callout = ELEVEN) -> list[str]:
    build = PLANNER.plan(1, request, stock, Holdings.of(stock))
    assert not build.possible
    return [remedy.text for remedy in build.remedies]


def test_a_build_that_is_possible_needs_no_remedy() -> None:
    assert PLANNER.plan(1, ELEVEN, STOCK, Holdings.of(STOCK)).remedies == ()


def test_without_head_fittings_timber_does_it() -> None:
    assert texts(without("head fitting")) == [
        "fetch 2 head fittings", "timber rakers with a solid sole instead of struts"
    ]  # fmt: skip


def test_a_force_given_for_one_raker_keeps_the_spacing_that_it_was_given_at() -> None:
    """Struts of this kit stand 6 ft apart, timber usually 8 ft: each would hold a third more wall (arithmetic)."""
    stock = without("head fitting")
    build = ShorePlanner(sites={1: Site(force_lb=2600)}).plan(1, ELEVEN, stock, Holdings.of(stock))
    (timber,) = (one.callout for one in build.remedies if one.callout is not None)
    assert (timber.sole, timber.spacing) == ("solid", Length.imperial(6))


def test_without_pickets_somebody_is_sent_for_them() -> None:
    assert texts(without("picket")) == ["fetch 8 pickets"]
    request = Callout(kind="double_t", insertion=Length.imperial(9))
    no_gussets = texts(without("12x24 gusset"), request)
    assert no_gussets[0] == "saw 4 gussets 12x24 from sheets"  # 4 x 288 square inches of a sheet of 4,608
    no_wedges = texts(without("4x4 wedge pair", "6x6 wedge pair"), request)
    assert no_wedges[0] == "saw 2 wedge pairs from 4x4 timber"
    no_nails = texts(STOCK.with_quantities({"16d nail": 5}), request)
    assert no_nails[0].startswith("fetch ")


def test_a_header_that_the_stock_lacks_is_made_of_two() -> None:
    """A 4x8 has 30.66 in3, two 4x6 have 35.3 (arithmetic)."""
    planner = ShorePlanner(sites={1: Site(span=Length.imperial(8))})
    build = planner.plan(1, Callout(kind="window", insertion=Length.imperial(5)), STOCK, Holdings.of(STOCK))
    assert {lack.part for lack in build.missing} == {"4x8"}
    assert build.remedies[0].text == "2 pieces of 4x6 side by side, nailed together, instead of a 4x8"
    assert build.remedies[0].costs == "a wider header"


def test_a_long_tie_is_made_of_two_short_ones() -> None:
    """8 ft on centre and a 4x4: 8 ft 3 1/2 in of 2x6, where 8 ft is the longest."""
    long = [line.name for line in STOCK.timber if line.section == "2x6" and line.length > Length.imperial(8)]
    request = Callout(insertion=Length.imperial(5), angle_deg=45, sole="split")
    found = texts(without(*long), request)
    assert found[0] == "8 long 2x6 made of two short ones each, lapped by 2 ft"  # 2 ties, 2 diagonals, 4 bottom braces


def test_part_of_a_row_goes_up_first() -> None:
    request = Callout(insertion=Length.imperial(8), angle_deg=60, rakers=4)
    found = PLANNER.plan(1, request, STOCK.with_quantities({"head fitting": 3}), Holdings.of(STOCK))
    assert not found.possible or found.remedies == ()
    stock = STOCK.with_quantities({"head fitting": 3})
    found = PLANNER.plan(1, request, stock, Holdings.of(stock))
    first = found.remedies[0]
    assert first.text == "3 rakers first, 1 raker more when there is more on hand"
    assert first.callout == request.model_copy(update={"rakers": 3})


def test_each_remedy_says_what_it_costs_and_all_are_quick() -> None:
    for stock in (only(), without("picket"), without("head fitting")):
        build = PLANNER.plan(1, ELEVEN, stock, Holdings.of(stock))
        assert build.remedies
        assert all(remedy.costs for remedy in build.remedies)
        clause = feasible(build)
        assert clause is not None
        assert clause.startswith("the stock is ")


def test_another_angle_or_a_lower_insertion() -> None:
    """Twelve foot struts alone, no extension: 18 ft at most. 14 ft at 45 degrees is too long, at 60 it is not."""
    stock = only(twelve_foot_strut=2).with_quantities({line.name: 0 for line in STOCK.extension})
    request = Callout(insertion=Length.imperial(14), angle_deg=45)
    found = PLANNER.plan(1, request, stock, Holdings.of(stock)).remedies
    assert found[0].text == "60 degrees instead of 45"
    lower = [remedy for remedy in found if remedy.text.startswith("insertion")]
    assert len(lower) == 1
    assert lower[0].callout is not None
    assert lower[0].callout.insertion is not None
    higher = lower[0].callout.model_copy(update={"insertion": lower[0].callout.insertion + Length.imperial(0, 1)})
    assert not PLANNER.plan(1, higher, stock, Holdings.of(stock)).possible  # an inch less would not have done


def test_a_standing_shore_is_offered_for_relocation() -> None:
    stock = only(eight_foot_strut=2)
    standing = Held(0, 0, 2)
    ledger = Holdings.of(stock)
    ledger = Holdings(on_hand={**ledger.on_hand, "eight foot strut": 0}, builds={7: {"eight foot strut": standing}})
    found = PLANNER.plan(1, ELEVEN, stock, ledger).remedies
    (moved,) = (remedy for remedy in found if remedy.relocates is not None)
    assert moved.relocates == 7
    assert moved.text == (
        "take down build 7: planned again with its pieces this build is whole; first hold its wall by other means"
    )
    assert PLANNER.plan(1, ELEVEN, stock, ledger.give_back_all(7)).possible  # what it says is so
    fewer = Holdings(on_hand=ledger.on_hand, builds={7: {"eight foot strut": Held(0, 0, 1)}})
    assert all(one.relocates is None for one in PLANNER.plan(1, ELEVEN, stock, fewer).remedies)


def test_posts_of_the_other_size_where_somebody_said_one() -> None:
    """A laced post of 11 ft takes four posts of 10 ft 3 1/2 in: without 4x4 of that length, 6x6 does it."""
    long = [line.name for line in STOCK.timber if line.section in ("4x4", "4x6") and line.length > Length.imperial(8)]
    stock = without(*long)
    request = Callout(kind="laced_post", insertion=Length.imperial(11))
    said = ShorePlanner(sites={1: Site(post="4x4")})
    build = said.plan(1, request, stock, Holdings.of(stock))
    (remedy,) = (one for one in build.remedies if one.site is not None)
    assert remedy.text == "6x6 posts instead of 4x4"
    assert remedy.site is not None
    again = ShorePlanner(sites={1: remedy.site}).plan(1, request, stock, Holdings.of(stock))
    assert again.possible
    assert {cut.section for cut in again.cuts if cut.label in ("post", "header", "sole")} == {"6x6"}


def test_the_pieces_of_builds_planned_beside_are_not_counted_on() -> None:
    """Two builds, pieces for one: relocating or lowering must not lean on what the other build gets."""
    stock = only(eight_foot_strut=2)
    plan = PLANNER.plan_all({1: ELEVEN, 2: ELEVEN}, stock, Holdings.of(stock))
    assert [build.possible for build in plan.values()] == [True, False]
    for remedy in [one for one in plan[2].remedies if one.callout is not None]:
        assert remedy.callout is not None
        together = PLANNER.plan_all({1: ELEVEN, 2: remedy.callout}, stock, Holdings.of(stock))
        assert all(build.possible for build in together.values()), remedy.text


@pytest.mark.parametrize("seed", range(12))
def test_every_remedy_holds_when_it_is_planned(seed: int) -> None:
    pick = random.Random(seed)
    gone = pick.sample([line.name for line in STOCK.adjustable], 7)
    stock = without(*gone, pick.choice(["head fitting", "plate joint", "strut coupler"]))
    request = Callout(insertion=Length.imperial(pick.randint(6, 15)), angle_deg=pick.choice([45, 60]))
    build = PLANNER.plan(1, request, stock, Holdings.of(stock))
    for remedy in [one for one in build.remedies if one.callout is not None]:
        assert remedy.callout is not None
        assert PLANNER.plan(1, remedy.callout, stock, Holdings.of(stock)).possible


def test_changes_are_tried_nearest_first_and_only_as_far_as_needed() -> None:
    tried: list[Callout] = []

    def needs(changed: Callout, site: Site) -> list[Need]:
        tried.append(changed)
        return [PieceNeed("it works", "picket", int(changed.insertion == Length.imperial(10, 9)))]

    def can_make(asked: Sequence[Need], ledger: Holdings) -> bool:
        return any(isinstance(need, PieceNeed) and need.quantity == 1 for need in asked)

    lacks = (Missing(part="strut", quantity=99, need="raker 1"),)
    short = Short(1, ELEVEN, Site(), (), lacks, "4x4", Length.imperial(6))
    found = remedies(short, Holdings.of(STOCK), Asking(needs, can_make))
    assert [remedy.text for remedy in found] == ["insertion 3 in lower, at 10 ft 9 in"]
    lowered = [t.insertion for t in tried if t.insertion != ELEVEN.insertion]
    assert lowered == [Length.imperial(10, 11), Length.imperial(10, 10), Length.imperial(10, 9)]
