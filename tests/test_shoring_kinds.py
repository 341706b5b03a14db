"""Every kind of shore: parts, cuts, fixings, steps."""

from __future__ import annotations

import math
from typing import get_args

import pytest

from callout.shoring.allocation import PieceNeed
from callout.shoring.build import Build
from callout.shoring.draft import procedures
from callout.shoring.drawing import terminal_drawing
from callout.shoring.kinds import KINDS as KINDS_OF_SHORE
from callout.shoring.request import Site
from callout.shoring.rules import packaged_rules
from callout.values import Length
from callout.values.meaning import Kind
from tests.checks_shoring import draft, ft
from tests.test_shoring_practice import STOCK, build

KINDS: list[dict[str, object]] = [
    {"insertion": 11, "angle_deg": 60},
    {"insertion": 8, "angle_deg": 60, "sole": "solid"},
    {"insertion": 14, "angle_deg": 45, "sole": "solid"},
    {"insertion": 10, "angle_deg": 45, "sole": "split", "rakers": 3},
    {"insertion": 8, "angle_deg": 45, "kind": "flying_raker"},
    {"insertion": 8, "kind": "t"},
    {"insertion": 9, "kind": "double_t"},
    {"insertion": 11, "kind": "laced_post"},
    {"insertion": 4, "kind": "cribbing"},
    {"insertion": 9, "kind": "vertical_post"},
    {"insertion": 6, "kind": "horizontal"},
    {"insertion": 5, "kind": "window"},
    {"insertion": 7, "kind": "door"},
]


@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_each_kind_comes_whole_from_the_packaged_stock(said: dict[str, object]) -> None:
    found = build(**said)
    assert found.possible, found.missing
    assert found.parts
    assert found.geometry
    assert [part.item for part in found.parts] == list(range(1, len(found.parts) + 1))
    assert found.steps
    roles = {"officer", "measure", "shores", "safety", "runner", "layout", "cutter"}
    assert {step.who for step in found.steps} <= roles
    assert not any("{" in step.text for step in found.steps)
    assert found.before_load
    assert found.watch
    assert found.tools
    assert len(found.cautions) == 5
    assert found.weight_lb > 0
    assert found.lift_people >= 1
    assert found.loads
    assert all(figure.source and figure.grade for figure in found.loads)
    assert {item for place in found.pick_list for item in place.items} == {part.item for part in found.parts}
    picked = sum(place.weight_lb for place in found.pick_list)
    assert picked == pytest.approx(found.weight_lb, abs=0.5)


@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_json_there_and_back(said: dict[str, object]) -> None:
    found = build(**said)
    assert Build.model_validate(found.to_json()) == found


@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_every_need_has_a_label_of_its_own(said: dict[str, object]) -> None:
    labels = [need.label for need in draft(**said).needs]
    assert len(labels) == len(set(labels))


@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_memory_is_said_to_be_memory_once(said: dict[str, object]) -> None:
    found = build(**said)
    notes = [note for note in found.notes if note.startswith("from memory, check your field guide")]
    assert len(notes) == bool(found.from_memory)
    assert found.from_memory  # timber strengths and pads are from memory in every kind
    for name in found.from_memory:
        assert " " in name, name  # plain words, no key
        assert name in notes[0]
    assert len(set(found.from_memory)) == len(found.from_memory)


def cuts(**said: object) -> dict[str, tuple[int, str, str]]:
    return {c.label: (c.quantity, c.section, c.length.text) for c in draft(**said).cuts}


SOLID: dict[str, object] = {"insertion": 8, "angle_deg": 60, "sole": "solid"}


@pytest.mark.parametrize(
    ("said", "pounds"),
    [
        ({"insertion": 9, "kind": "t"}, 2.98 * (99.5 + 36) / 12),
        ({"insertion": 9, "kind": "double_t"}, 2.98 * (2 * 99.5 + 36) / 12),
        ({"insertion": 11, "kind": "laced_post"}, 2.98 * (2 * 123.5 + 48) / 12),  # one of two frames
        ({"insertion": 12, "angle_deg": 45, "sole": "split"}, 7.35 * (204 + 168) / 12 + 2.01 * 2),
    ],
)
def test_people_for_the_heaviest_lift(said: dict[str, object], pounds: float) -> None:
    """Timber at 35 pcf (FEMA 06/98): 4x4 2.98, 6x6 7.35, 2x6 2.01 lb a foot; 50 lb a person (common practice)."""
    found = build(**said)
    assert found.lift_people == math.ceil((pounds + (2 * 1.2 if "sole" in said else 0)) / 50)


def test_people_for_a_raker_of_struts() -> None:
    """Half the weight of struts, braces and wall plates of a pair, by the stock's own weights."""
    found = build(insertion=11, angle_deg=60)
    raker = {
        "strut", "extension", "brace", "wall plate", "plate joint", "head fitting", "base plate", "brace clamp"
    }  # fmt: skip
    carried = [p for p in found.parts if p.part in raker]
    couplers = next(p.quantity for p in found.parts if p.name == "strut coupler")
    pounds = sum(p.quantity * STOCK.by_name[p.name].weight_lb for p in carried) / 2
    pounds += couplers * STOCK.by_name["strut coupler"].weight_lb / 2
    assert 140 < pounds < 200
    assert found.lift_people == math.ceil(pounds / 50) == 4


def test_each_end_of_a_raker_says_how_it_is_cut() -> None:
    """60 at the top, 30 at the bottom, 1 1/2 in return cuts; a U channel takes a square end (training slides, B)."""
    ends = {
        sole: next(cut.ends for cut in draft(insertion=8, angle_deg=60, sole=sole).cuts if cut.label == "raker")
        for sole in ("solid", "split")
    }
    assert ends["solid"] == ("top 60 degrees with a 1 1/2 in return cut, bottom 30 degrees with a 1 1/2 in return cut")
    assert ends["split"] == "top 60 degrees with a 1 1/2 in return cut, bottom square, for the trough"


class TestCutLists:
    def test_solid_sole_sixty(self) -> None:
        """Training slides (B): plate 10 ft 9 1/2 in, cleats 30 and 24 in; 4x4 up to 11 ft (from memory)."""
        found = cuts(insertion=8, angle_deg=60, sole="solid")
        assert found["wall plate"] == (2, "4x4", "10 ft 9 1/2 in")
        assert found["wall cleat"] == (2, "2x4", "2 ft 6 in")
        assert found["sole cleat"] == (2, "2x4", "2 ft")
        assert found["sole anchor"] == (2, "4x4", "4 ft")
        assert "mid brace" not in found

    def test_split_sole_forty_five(self) -> None:
        """Training slides (B): raker 11 ft 4 in, two bottom braces of 8 ft each raker, plate 10 ft."""
        found = cuts(insertion=8, angle_deg=45, sole="split")
        assert found["raker"] == (2, "4x4", "11 ft 4 in")
        assert found["bottom brace"] == (4, "2x6", "8 ft")
        assert found["wall plate"] == (2, "4x4", "10 ft")
        assert found["mid brace"][0] == 4  # the raker is over 11 ft

    def test_higher_than_eleven_feet_takes_six_by_six(self) -> None:
        assert cuts(insertion=12, angle_deg=45, sole="split")["raker"][1] == "6x6"

    def test_three_ties_over_eight_feet_else_two(self) -> None:
        assert "middle tie" in cuts(insertion=9, angle_deg=60, sole="split")
        assert "middle tie" not in cuts(insertion=8, angle_deg=60, sole="split")

    def test_weak_masonry_is_backed_with_plywood(self) -> None:
        """Plywood behind the wall plate on weak masonry (from memory): two strips a plate of 10 ft, four a sheet."""
        sheets = {
            wall: [n for n in draft(Site.model_validate({"wall": wall}), **SOLID).needs if n.label.startswith("sheet")]
            for wall in ("brick", "concrete")
        }
        assert sheets["concrete"] == []
        assert [n.quantity for n in sheets["brick"] if isinstance(n, PieceNeed)] == [1]

    def test_t_shore(self) -> None:
        """Post = void less 8 1/2 in (B); header and sole 36 in (B)."""
        assert cuts(insertion=8, kind="t") == {
            "post": (1, "4x4", "7 ft 3 1/2 in"), "header": (1, "4x4", "3 ft"), "sole": (1, "4x4", "3 ft"),
        }  # fmt: skip

    def test_double_t_mid_gusset_over_six_feet_of_post(self) -> None:
        tall = {n.label for n in draft(insertion=9, kind="double_t").needs}
        low = {n.label for n in draft(insertion=5, kind="double_t").needs}
        assert "12x24 gusset for middle gussets" in tall
        assert "12x24 gusset for middle gussets" not in low

    def test_laced_post(self) -> None:
        found = cuts(insertion=11, kind="laced_post")
        assert found["post"] == (4, "4x4", "10 ft 3 1/2 in")
        assert found["header"] == (2, "4x4", "4 ft")
        assert found["lace"][0] == 8  # two middle gussets: three panels, four levels, two sides
        # 48 in apart, a third of 123.5 in high: 63.24 in (Pythagoras)
        assert found["diagonal"] == (6, "2x6", "5 ft 3 1/4 in")

    def test_crib_layers_fill_the_void(self) -> None:
        found = draft(insertion=4, kind="cribbing")
        piece, packing = found.cuts
        rest = found.pairs["rest"].best
        planks = Length.imperial(inches=1, sixteenths=8) * (packing.quantity // 2)
        assert Length.imperial(inches=3, sixteenths=8) * (piece.quantity // 2) + planks + rest == ft(4)
        assert Length.imperial(sixteenths=12) <= rest < Length.imperial(inches=2, sixteenths=4)  # what wedges fill
        assert piece.length >= Length.imperial(inches=24)  # B

    @pytest.mark.parametrize(("width", "section"), [(4, "4x4"), (5, "4x6"), (6, "4x6"), (8, "4x8"), (10, "4x10")])
    def test_header_of_an_opening_an_inch_of_depth_a_foot(self, width: int, section: str) -> None:
        found = draft(Site(span=ft(width)), insertion=5, kind="window")
        assert next(c.section for c in found.cuts if c.label == "header") == section
        assert found.pairs["header"].exact == ft(width) - Length.imperial(inches=1, sixteenths=8)  # B

    def test_the_width_may_be_part_of_the_callout(self) -> None:
        """Said with the callout, it comes before what is known of the place."""
        called = draft(span=ft(6), insertion=5, kind="window")
        assert called.cuts == draft(Site(span=ft(6)), insertion=5, kind="window").cuts
        assert draft(Site(span=ft(4)), span=ft(6), insertion=5, kind="window").pairs["header"].exact > ft(5)

    def test_a_window_is_braced_and_a_door_is_passed(self) -> None:
        assert "diagonal" in cuts(insertion=5, kind="window")
        assert "diagonal" not in cuts(insertion=7, kind="door")

    def test_posts_under_a_long_header(self) -> None:
        found = draft(Site(span=ft(16)), insertion=8, kind="vertical_post")
        assert next(c.quantity for c in found.cuts if c.label == "post") == 5
        assert found.pairs["post_spacing"].best <= ft(4)


@pytest.mark.parametrize(("feet", "published"), [(8, 8000), (10, 8000), (11.7, 8000), (11.75, None), (12, None)])
def test_a_double_t_is_quoted_no_load_beyond_its_longest_published_posts(feet: float, published: int | None) -> None:
    """Training slides, Double T shore (B): 16,000 lb with posts under 8 ft, 10,000 lb from 8 to 11 ft; none beyond.
    Rescue training slides (B): 8,000 lb. Two prints that differ: the lesser counts."""
    found = draft(kind="double_t", insertion=feet)
    quoted = [figure.value for figure in found.loads if figure.name == "published load of the system"]
    assert quoted == ([] if published is None else [published])
    assert any("no published load for posts over 11 ft" in check for check in found.before_load) == (published is None)


def test_the_diagonals_of_a_solid_sole_reach_between_the_ties_of_a_raker_on_its_sole() -> None:
    """11 ft at 60 degrees on a 3 1/2 in sole: raker 128.5 / sin 60 = 148.38 in; ties 12 in from its ends, 99.5 in long;
    hypot(124.38, 99.5) = 159.28 in (arithmetic)."""
    found = draft(insertion=11, angle_deg=60, sole="solid")
    assert float(found.pairs["diagonal"].best.inches) == pytest.approx(159.28, abs=0.01)


def test_the_older_rule_stands_below_the_figure_it_is_compared_with() -> None:
    for said in ({"kind": "flying_raker", "insertion": 8}, {"kind": "vertical_post", "insertion": 10}):
        names = [figure.name for figure in draft(**said).loads]
        at = names.index("the same by the older long-column rule")
        assert names[at - 1].startswith("column capacity")


def test_a_length_by_rule_never_stands_among_the_exact_ones() -> None:
    """11 ft at 60 degrees: 14 in a foot gives 12 ft 10 in (B), exactly 152.42 in; 30 degrees has no rule."""
    for found in (draft(insertion=11, angle_deg=60, sole="split"), draft(insertion=12, angle_deg=45, sole="solid")):
        for name in ("raker_cut", "mid_brace_up_raker", "braced_length"):
            assert found.pairs[name].exact is None
            assert found.pairs[name].rule is not None
    assert draft(insertion=11, angle_deg=60, sole="split").pairs["raker_cut"].rule == ft(12 + 10 / 12)
    struts = draft(insertion=11, angle_deg=60).pairs["setting"]
    assert (struts.rule, struts.exact) == (None, Length.imperial(12, 9))  # the kit's next inch over 152.42 in
    plain = draft(insertion=11, angle_deg=30).pairs["setting"]
    assert (plain.rule, plain.exact) == (None, ft(22))


def test_a_solid_sole_says_that_its_design_load_is_a_split_soles() -> None:
    """The slides give 2,500 and 3,600 lb for split-sole rakers only (B)."""
    solid, split = (draft(insertion=11, angle_deg=60, sole=sole) for sole in ("solid", "split"))
    said = "the published design load is that of a split-sole raker; for a solid sole read your guide"
    assert said in solid.notes
    assert said not in split.notes


@pytest.mark.parametrize("said", KINDS, ids=lambda s: f"{s.get('kind', 'raker')} {s.get('sole', '')}")
def test_the_officer_has_the_first_step(said: dict[str, object]) -> None:
    assert build(**said).steps[0].who == "officer"


def test_a_window_leaves_room_for_its_wedges() -> None:
    """60 in less a 4x4 header, a 4x4 sole and 1 1/2 in for wedges (B): 51 1/2 in."""
    assert cuts(insertion=5, kind="window")["post"][2] == "4 ft 3 1/2 in"


@pytest.mark.parametrize(
    ("said", "section", "slender", "pounds"),
    [
        ({"insertion": 11, "angle_deg": 60, "rakers": 2}, "4x4", 77 / 3.5, 9910),  # a middle tie: half of 154 in
        ({"insertion": 11, "angle_deg": 60, "rakers": 1}, "6x6", 154 / 5.5, 11873),  # no neighbour to be tied to
        ({"insertion": 8, "angle_deg": 45, "rakers": 2}, "4x4", 136 / 3.5, 3690),  # two ties only up to 8 ft
    ],
)
def test_a_mid_brace_alone_does_not_hold_a_raker_sideways(
    said: dict[str, object], section: str, slender: float, pounds: float
) -> None:
    """A 4x4 buckles the weaker way. NDS 3.7 with Fc 1,350 x 1.15, Emin 580,000 psi, c 0.8, 12.25 in2, by hand:
    77 in 9,910 lb, 136 in 3,690 lb, 154 in 2,911 lb; the axial force at 60 degrees is 5,000 lb, at 45 3,536 lb. So a
    lone raker of 154 in is of 6x6: Fc 700, Emin 470,000 psi, 30.25 in2, 11,873 lb."""
    found = draft(sole="split", **said)
    figures = {figure.name.split(",")[0]: figure.value for figure in found.loads}
    assert figures["slenderness L/d of the raker"] == pytest.approx(slender, rel=1e-3)
    assert figures["column capacity"] == pytest.approx(pounds, rel=1e-3)
    assert next(cut.section for cut in found.cuts if cut.label == "raker") == section
    assert not found.failing
    free = any("in its own plane only" in check for check in found.before_load)
    assert free == (found.pairs["braced_length"] == found.pairs["raker_cut"])


def test_a_raker_of_struts_that_stands_alone_is_free_sideways_over_its_whole_length() -> None:
    """11 ft at 60 degrees: 152.4 in (statics); in a pair its laterals hold it, and the mid brace is what counts."""
    alone, pair = (draft(insertion=11, angle_deg=60, rakers=n) for n in (1, 2))
    assert alone.pairs["braced_length"].exact == alone.pairs["raker"].exact
    half, raker = pair.pairs["mid_brace_up_raker"].best, pair.pairs["raker"].best
    assert pair.pairs["braced_length"].exact == max(half, raker - half)
    assert alone.share("raker as a column") > 3 * pair.share("raker as a column")


def test_a_strut_far_too_slender_is_said_to_be() -> None:
    """KL/r over 200 (AISC 360, from memory): 40 ft at 60 degrees, 554 in over a gyration of 1.15 in."""
    refused = build(insertion=40, angle_deg=60, rakers=1).refused
    assert refused is not None
    assert "longer than its maker's table, 30 ft" in refused.reason


def nails(variant: str, use: str, **said: object) -> int:
    wanted = f"{variant} nail for {use}"
    return sum(n.quantity for n in draft(**said).needs if isinstance(n, PieceNeed) and n.label == wanted)


@pytest.mark.parametrize(
    ("said", "pairs"),
    [
        ({"insertion": 8, "angle_deg": 60, "sole": "solid"}, 4),  # two rakers: at the heel and at the sole anchor
        ({"insertion": 8, "angle_deg": 60, "sole": "split"}, 4),
        ({"insertion": 8, "angle_deg": 45, "kind": "flying_raker"}, 2),
        ({"insertion": 9, "kind": "double_t"}, 2),
        ({"insertion": 6, "kind": "horizontal"}, 2),
        ({"insertion": 5, "kind": "window"}, 4),
        ({"insertion": 7, "kind": "door"}, 4),
    ],
)
def test_every_wedge_pair_is_locked_by_nails(said: dict[str, object], pairs: int) -> None:
    """A 16d toenail behind each wedge set, both sides (trade article, Shoring Systems Part 1, B)."""
    found = draft(**said)
    wedges = [n for n in found.needs if isinstance(n, PieceNeed) and n.part == "wedge pair" and "shims" not in n.label]
    assert sum(n.quantity for n in wedges) == pairs
    assert nails("16d", "wedges", **said) == 2 * pairs
    assert any("toenail behind" in step.text for step in build(**said).steps)


def test_the_bottom_gussets_have_nails_for_the_raker_and_for_the_sole() -> None:
    """5 into the raker (course page, B), the sole side un-nailed until tight; 8 into the sole from memory. Two sides of
    two rakers: 4 x 13."""
    assert nails("8d", "bottom gussets", **SOLID) == 4 * (5 + 8)
    joints = {one.joint: (one.quantity, one.what) for one in draft(**SOLID).fasteners}
    assert joints["bottom gusset to the raker, each of two sides"] == (5, "8d nails")
    assert joints["bottom gusset to the sole, each of two sides"] == (8, "8d nails, once the shore is tight")
    assert "nails of a bottom gusset into the sole" in build(**SOLID).from_memory


def test_the_sides_of_a_trough_are_nailed() -> None:
    """8 a side: common practice, no source. Two sides of each of two rakers."""
    assert nails("8d", "trough sides", insertion=8, angle_deg=60, sole="split") == 2 * 2 * 8


def test_a_flying_raker_is_anchored_before_its_wedges_push_it_up() -> None:
    """Nothing but its anchors holds the wall plate down (statics: the uplift is F tan(angle))."""
    steps = [step.text for step in build(insertion=8, angle_deg=45, kind="flying_raker").steps]
    anchored = next(n for n, text in enumerate(steps) if text.startswith("anchor the wall plate"))
    wedged = next(n for n, text in enumerate(steps) if "drive the wedges" in text)
    assert anchored < wedged


def test_the_middle_tie_of_a_vertical_shore_is_put_in_its_order_of_work() -> None:
    for feet, tied in ((6, False), (9, True)):
        found = build(insertion=feet, kind="vertical_post")
        assert any(cut.label == "middle tie" for cut in found.cuts) == tied
        assert any("middle tie" in step.text for step in found.steps) == tied


@pytest.mark.parametrize(
    ("inches", "layers", "planks", "rest"), [(84, 23, 1, 2), (88, 24, 2, 1), (90, 25, 1, 1), (48, 13, 1, 1)]
)
def test_the_last_inch_of_a_crib_is_wedged_over_planks(inches: int, layers: int, planks: int, rest: float) -> None:
    """24 layers of 3 1/2 in are 84 in and leave nothing, so the last gives way to a plank of 1 1/2 in and wedges; 88 in
    leave 1/2 in over 25, so 24 layers, two planks and 1 in (arithmetic; wedges fill 3/4 in and more, no source)."""
    found = draft(kind="cribbing", insertion=inches / 12)
    cut = {one.label: one.quantity for one in found.cuts}
    assert (cut["crib piece"], cut["packing"]) == (2 * layers, 2 * planks)
    assert found.pairs["rest"].exact == Length.imperial(inches=rest)
    assert any(n.part == "wedge pair" for n in found.needs if isinstance(n, PieceNeed))
    steps = " ".join(step.text for step in build(kind="cribbing", insertion=inches / 12).steps)
    assert f"pack with {planks} {'layer' if planks == 1 else 'layers'} of planks" in steps


def test_a_gap_too_thin_for_wedges_is_shimmed() -> None:
    """7 1/2 in: two layers of 3 1/2 in, and 1/2 in that no wedge pair fills."""
    found = draft(kind="cribbing", insertion=7.5 / 12)
    assert any("too thin for wedges: shim it" in look for look in found.before_load)
    assert {n.part for n in found.needs if isinstance(n, PieceNeed)} == {"sheet"}


@pytest.mark.parametrize("kind", get_args(Kind))
def test_every_kind_has_its_row_its_order_of_work_and_its_drawing(kind: Kind) -> None:
    """A new kind fails here, with what to write, and not at the first callout for it."""
    assert kind in KINDS_OF_SHORE, f"write a row for {kind!r} in callout/shoring/kinds.py"
    row = KINDS_OF_SHORE[kind]
    for name in row.procedures:
        said = procedures().get(name, {})
        lacking = {"steps", "checks", "watch", "tools"} - said.keys()
        assert not lacking, f"write {', '.join(sorted(lacking))} of [{name}] in callout/shoring/rules/procedures.toml"
    assert row.tallest is None or row.tallest in packaged_rules().table, f"there is no rule {row.tallest}"
    said = next((one for one in KINDS if one.get("kind", "raker") == kind), None)
    assert said is not None, f"give {kind!r} a request in KINDS of this file"
    found = build(**said)
    assert draft(**said).pattern in row.procedures
    assert terminal_drawing(found).strip(), f"draw {kind!r} in callout/shoring/drawing/"
