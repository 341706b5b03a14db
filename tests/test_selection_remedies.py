"""The nearest change that works: each remedy offered is planned again and must be whole; the nearest comes first."""

import random

import pytest

from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.remedies import remedies
from callout.shoring.request import Site
from callout.shoring.stock import Stock
from callout.shoring.stockfile import load_stock
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
    assert texts(without("head fitting")) == ["timber rakers with a solid sole instead of struts"]


def test_without_pickets_nothing_does_it() -> None:
    assert texts(without("picket")) == []


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
    for remedy in plan[2].remedies:
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
    for remedy in build.remedies:
        assert remedy.callout is not None
        assert PLANNER.plan(1, remedy.callout, stock, Holdings.of(stock)).possible


def test_changes_are_tried_nearest_first_and_only_as_far_as_needed() -> None:
    tried: list[Callout] = []

    def works(changed: Callout, site: Site, ledger: Holdings) -> bool:
        tried.append(changed)
        return changed.insertion == Length.imperial(10, 9)

    found = remedies(1, ELEVEN, Site(), "4x4", Holdings.of(STOCK), works)
    assert [remedy.text for remedy in found] == ["insertion 3 in lower, at 10 ft 9 in"]
    lowered = [t.insertion for t in tried if t.insertion != ELEVEN.insertion]
    assert lowered == [Length.imperial(10, 11), Length.imperial(10, 10), Length.imperial(10, 9)]
