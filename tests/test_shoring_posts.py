"""Standing shores and cribs of 4x4 or 6x6: asked for, or by the load; what they are taken to carry, also sideways."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from callout.shoring.allocation import PieceNeed
from callout.shoring.draft import Draft
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner, pieces_of
from callout.shoring.request import Site
from callout.values import Callout, Length
from tests.checks_shoring import draft, ft, unchecked
from tests.test_shoring_practice import STOCK, build


class TestSixBySix:
    """Posts, headers and soles of 6x6: asked for, or by the load; training slides and a trade article (B)."""

    @staticmethod
    def of(kind: str, feet: float, **site: object) -> Draft:
        return draft(Site.model_validate(site), kind=kind, insertion=feet)

    @pytest.mark.parametrize("kind", ["t", "double_t", "laced_post", "vertical_post"])
    def test_the_post_is_the_void_less_twelve_and_a_half_inches(self, kind: str) -> None:
        """Header and sole 11 in, wedges 1 1/2 in (B)."""
        found = self.of(kind, 8, post="6x6")
        cut = {c.label: c for c in found.cuts}
        assert {cut[name].section for name in ("post", "header", "sole")} == {"6x6"}
        assert cut["post"].length == Length.imperial(inches=83, sixteenths=8)
        assert {n.variant for n in found.needs if isinstance(n, PieceNeed) and n.part == "wedge pair"} == {"6x6"}
        assert found.title.endswith("of 6x6")

    @pytest.mark.parametrize(
        ("pounds", "section"), [(None, "4x4"), (500, "4x4"), (32000, "4x4"), (32001, "6x6"), (80000, "6x6")]
    )
    def test_a_laced_post_by_its_load(self, pounds: float | None, section: str) -> None:
        """Low enough for short posts: 32,000 lb of 4x4, 80,000 lb of 6x6 (training slides, plywood laced post, B).

        At 5 ft 4x4 posts are 51.5 in: four carry over 32,000 lb by NDS 3.7 (strengths from memory)."""
        found = self.of("laced_post", 5, load_lb=pounds)
        assert next(c.section for c in found.cuts if c.label == "post") == section
        assert next(c for c in found.work.chosen if c.part == "post").value == section

    def test_more_than_either_carries_is_not_enough(self) -> None:
        found = build(Site(load_lb=90000), kind="laced_post", insertion=5)
        assert not found.possible
        assert found.refused is not None
        assert "carries 80,000 lb, and 90,000 lb would be on it" in found.refused.reason
        assert found.refused.nearest_site is not None
        assert found.refused.nearest_site.load_lb == 80000
        assert any(c.why.startswith("the strongest there is") for c in found.chosen)
        assert found.checks[0].share == pytest.approx(90 / 80)

    def test_an_unknown_load_is_said_to_be_unknown_and_a_known_one_is_not(self) -> None:
        unknown, known = (build(Site(load_lb=load), kind="double_t", insertion=9) for load in (None, 6000))
        assert "nobody said it" in unchecked(unknown)["load on the shore"]
        assert "load on the shore" not in unchecked(known)
        assert unknown.governs is None
        assert known.governs == "the whole system, as published"  # 10,000 lb with posts from 8 to 11 ft (B)

    @pytest.mark.parametrize(("post", "layers", "pounds"), [("4x4", 13, 24000), ("6x6", 8, 60000)])
    def test_a_crib_of_either(self, post: str, layers: int, pounds: float) -> None:
        """24,000 and 60,000 lb at four contacts (trade article, B); 48 in hold 13 layers of 3 1/2 or 8 of 5 1/2."""
        found = self.of("cribbing", 4, post=post)
        piece = found.cuts[0]
        assert (piece.section, piece.quantity) == (post, 2 * layers)
        assert next(f.value for f in found.loads if f.name == "published load, 4 contacts") == pounds

    def test_by_load_a_crib_takes_six_by_six(self) -> None:
        assert self.of("cribbing", 4, load_lb=30000).cuts[0].section == "6x6"
        low = build(Site(load_lb=30000), kind="cribbing", insertion=0.75)  # no room for two layers of 6x6
        assert low.refused is not None
        assert "carries 24,000 lb" in low.refused.reason

    @pytest.mark.parametrize(
        ("said", "site", "reason"),
        [
            ({"insertion": 8, "angle_deg": 60}, {"post": "6x6"}, "sized by its height"),
            ({"insertion": 8, "angle_deg": 60}, {"load_lb": 100.0}, "sized by its height"),
            ({"insertion": 5, "kind": "window"}, {"post": "6x6"}, "no choice of post"),
            ({"insertion": 0.8, "kind": "cribbing"}, {"post": "6x6"}, "two layers of 6x6 do not go"),
        ],
    )
    def test_where_there_is_no_choice_it_is_refused(
        self, said: dict[str, object], site: dict[str, object], reason: str
    ) -> None:
        refused = build(Site.model_validate(site), **said).refused
        assert refused is not None
        assert reason in refused.reason

    @pytest.mark.parametrize("kind", ["t", "double_t", "laced_post", "vertical_post", "cribbing"])
    def test_it_comes_whole_from_the_packaged_stock(self, kind: str) -> None:
        found = build(Site(post="6x6"), kind=kind, insertion=4 if kind == "cribbing" else 9)
        assert found.possible, found.missing


class TestByTheStock:
    """Without 4x4 long enough for its posts a standing shore is of 6x6, unless somebody said its timber."""

    LONG = tuple(line.name for line in STOCK.timber if line.section in ("4x4", "4x6") and line.length > ft(8))
    SHORT = STOCK.with_quantities(dict.fromkeys(LONG, 0))
    REQUEST = Callout(kind="laced_post", insertion=ft(11))

    def test_it_is_of_six_by_six_and_says_why(self) -> None:
        found = ShorePlanner().plan(1, self.REQUEST, self.SHORT, Holdings.of(self.SHORT))
        assert found.possible
        assert found.title == "laced post shore of 6x6"
        why = next(choice for choice in found.chosen if choice.part == "post")
        assert (why.value, why.why) == ("6x6", "the stock had no 4x4 that makes it whole")
        usual = ShorePlanner().plan(1, self.REQUEST, STOCK, Holdings.of(STOCK))
        assert usual.title == "laced post shore"

    def test_what_was_said_is_not_changed(self) -> None:
        planner = ShorePlanner(sites={1: Site(post="4x4")})
        found = planner.plan(1, self.REQUEST, self.SHORT, Holdings.of(self.SHORT))
        assert not found.possible
        assert found.title == "laced post shore"

    def test_nor_is_it_where_six_by_six_would_not_do_either(self) -> None:
        bare = self.SHORT.with_quantities({line.name: 0 for line in STOCK.timber if line.section == "6x6"})
        found = ShorePlanner().plan(1, self.REQUEST, bare, Holdings.of(bare))
        assert {lack.part for lack in found.missing} == {"4x4"}
        assert next(choice for choice in found.chosen if choice.part == "post").value == "4x4"

    def test_planned_again_it_stays_what_it_was(self) -> None:
        """4x4 came in meanwhile: what is promised to the shore is left as it is."""
        first = ShorePlanner().plan(1, self.REQUEST, self.SHORT, Holdings.of(self.SHORT))
        ledger = Holdings.of(STOCK).promise(1, pieces_of(first))
        assert isinstance(ledger, Holdings)
        again = ShorePlanner().plan(1, self.REQUEST, STOCK, ledger)
        assert again.parts == first.parts

    def test_refused_it_shows_the_timber_that_it_holds(self) -> None:
        """What a load is over is the header of 6x6, not the posts of 4x4 that it would have been of otherwise."""
        ledger = Holdings.of(STOCK).promise(1, Counter({"6x6 timber, 16 ft": 2}))
        assert isinstance(ledger, Holdings)
        planner = ShorePlanner(sites={1: Site(load_lb=30_000)})
        found = planner.plan(1, Callout(kind="vertical_post", insertion=ft(8)), STOCK, ledger)
        assert found.refused is not None
        assert found.refused.reason.startswith(f"{found.checks[0].name}: it carries ")
        assert found.title.endswith("of 6x6")

    def test_by_its_load_it_says_so_when_it_is_planned_again(self) -> None:
        planner = ShorePlanner(sites={1: Site(load_lb=40_000)})
        first = planner.plan(1, Callout(kind="laced_post", insertion=ft(7)), STOCK, Holdings.of(STOCK))
        ledger = Holdings.of(STOCK).promise(1, pieces_of(first))
        assert isinstance(ledger, Holdings)
        assert planner.plan(1, Callout(kind="laced_post", insertion=ft(7)), STOCK, ledger) == first

    def test_a_load_that_only_six_by_six_carries_gets_no_four_by_four_as_a_remedy(self) -> None:
        none = STOCK.with_quantities({line.name: 0 for line in STOCK.timber if line.section == "6x6"})
        planner = ShorePlanner(sites={1: Site(load_lb=40_000)})
        found = planner.plan(1, Callout(kind="laced_post", insertion=ft(7)), none, Holdings.of(none))
        assert not found.possible
        assert all(remedy.site is None for remedy in found.remedies)


def test_sideways_a_tenth_of_the_vertical_load() -> None:
    """FEMA manual 06/98 (A): 10 percent where aftershocks are expected. 32,000 lb: 3,200 lb."""
    found = build(kind="laced_post", insertion=5)
    figures = {f.name: f for f in found.loads}
    assert figures["sideways load to allow for"].value == 3200
    assert figures["share of the vertical load to allow for sideways, with aftershocks"].grade == "A"
    # posts of 51.5 in take a middle gusset (B): two panels 48 in wide; 2 x 5 nails x 141 lb x 1.6 (NDS, arithmetic)
    holds = 2256 * 48 / math.hypot(48, 51.5 / 2)
    assert figures["nails of the diagonals, sideways"].value == pytest.approx(holds, rel=1e-3)
    assert any("diagonals' nails alone do not take 3,200 lb" in check for check in found.before_load)
    for kind in ("t", "double_t"):
        assert any("nothing here takes" in check for check in build(kind=kind, insertion=8).before_load)
