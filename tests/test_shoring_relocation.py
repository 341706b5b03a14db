"""A standing shore at a new place, as the conversation works it out: what stands and may move is held already by the
new build, what is nailed or sawn is gone, and what presses the timber rakers beside stays."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from callout.shoring.build import Build
from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import ShorePlanner, pieces_of
from callout.shoring.relocation import Relocation, as_if_held, pressing, relocation, used_up
from callout.shoring.request import Site
from callout.shoring.stock import Stock
from callout.values import Callout
from tests.checks_shoring import ft
from tests.test_shoring_practice import STOCK

PLANNER = ShorePlanner()
BESIDE = ShorePlanner(sites={1: Site(timber_beside=True), 2: Site(timber_beside=True)})
EMPTY = STOCK.with_quantities({line.name: 0 for line in STOCK.lines})
TEN = Callout(insertion=ft(10), angle_deg=60)


def standing(request: Callout, planner: ShorePlanner = PLANNER) -> tuple[Build, Holdings]:
    """Build 1 of all the stock, put up, and the ledger then."""
    build = planner.plan(1, request, STOCK, Holdings.of(STOCK))
    placed = {name: Held(0, 0, quantity) for name, quantity in pieces_of(build).items()}
    full = Holdings.of(STOCK).on_hand
    lying = {name: number - placed.get(name, Held()).placed for name, number in full.items()}
    return build, Holdings(on_hand=lying, builds={1: placed})


def moved(
    request: Callout, to: Callout, planner: ShorePlanner = PLANNER, stock: Stock = STOCK, without: str = ""
) -> tuple[Build, Relocation]:
    """The way the conversation goes: the ledger as if held, the plan of a build of its own, and the two compared."""
    old, ledger = standing(request, planner)
    if stock is not STOCK or without:
        none = {name: 0 if stock is EMPTY or without in name else n for name, n in ledger.on_hand.items()}
        ledger = Holdings(on_hand=none, builds=ledger.builds)
    return old, relocation(old, planner.plan(2, to, stock, as_if_held(ledger, old, 2)))


def test_with_timber_beside_the_timber_stays_pressed() -> None:
    _, move = moved(TEN, Callout(insertion=ft(12), angle_deg=60), BESIDE)
    assert move.possible
    assert "stay pressed" in move.stays
    assert set(move.as_set) == {"lower lateral", "middle lateral", "upper lateral"}
    assert {one.label for one in move.resettings} >= {"raker 1", "raker 2", "mid brace 1"}
    texts = [step.text for step in move.order]
    assert "wedge" in texts[0]
    assert texts.index(next(t for t in texts if "draw its pickets" in t)) > 2
    down = "upper diagonal, lower diagonal, upper lateral, middle lateral, lower lateral"
    assert any(down in text for text in texts)


def test_what_presses_the_timber_beside_does_not_move() -> None:
    """Common practice, no source: the timber rakers are wedged against the waler while the strut raker moves."""
    old, move = moved(TEN, TEN, BESIDE)
    waler = next(bar.name for bar in old.nesting if "waler" in bar.labels)
    assert {one.name: one.quantity for one in move.left} == {waler: 1, "4x4 wedge pair": 2, "picket": 8}
    for pieces in (move.reused, move.returned):
        assert {one.name for one in pieces}.isdisjoint({waler, "4x4 wedge pair"})
    assert "4x4 wedge pair" in {one.name for one in move.added}
    assert any(text.startswith("they stay behind: ") for text in (step.text for step in move.order))
    _, short = moved(TEN, TEN, BESIDE, without="wedge pair")
    assert not short.possible  # the wedges that hold the wall are promised to nobody


def test_without_support_beside_the_new_support_comes_first() -> None:
    old, move = moved(TEN, TEN)
    texts = [step.text for step in move.order]
    support = next(n for n, t in enumerate(texts) if "press them to the wall" in t)
    assert support < next(n for n, t in enumerate(texts) if "back the screws off" in t)
    assert move.resettings == ()
    assert {one.name for one in move.added} == set(used_up(old))  # fresh timber and nails, nothing else
    assert move.returned == ()


def test_the_heel_pads_are_dug_out() -> None:
    for ground in ("soil", "pavement"):
        asked = TEN.model_copy(update={"ground": ground})
        _, move = moved(asked, asked)
        dug = [step.text for step in move.order if "dig out the heel pads" in step.text]
        assert len(dug) == (ground == "soil")


def test_pieces_balance() -> None:
    old, move = moved(TEN, Callout(insertion=ft(16), angle_deg=45))
    counted: dict[str, int] = {}
    for one in (*move.reused, *move.added):
        counted[one.name] = counted.get(one.name, 0) + one.quantity
    assert counted == {part.name: part.quantity for part in move.build.parts}
    had = {part.name: part.quantity for part in old.parts}
    for one in (*move.reused, *move.returned):
        had[one.name] -= one.quantity
    assert {name: n for name, n in had.items() if n} == dict(used_up(old))


def test_no_nail_and_no_sawn_board_ever_comes_back() -> None:
    for sole in (None, "solid", "split"):
        old, move = moved(TEN.model_copy(update={"sole": sole}), Callout(insertion=ft(8), angle_deg=45))
        back = {one.name for one in (*move.returned, *move.reused)}
        assert not any("nail" in name or re.match(r"\dx\d timber", name) for name in back), back
        sawn = {bar.name for bar in old.nesting}
        assert sawn <= set(used_up(old))


def test_what_cannot_be_built_moves_nothing() -> None:
    _, move = moved(TEN, Callout(insertion=ft(14), angle_deg=60), stock=EMPTY)
    assert not move.possible
    assert move.order == ()


@settings(max_examples=20, deadline=None)
@given(
    st.integers(4, 16), st.integers(4, 16), st.sampled_from([None, "solid", "split"]), st.sampled_from([45, 60]),
    st.booleans(),
)  # fmt: skip
def test_stock_is_conserved_by_a_move(first: int, then: int, sole: str | None, angle: int, beside: bool) -> None:
    """Every piece is on its rack, in the new shore, left with the timber beside, or used up; none is there twice."""
    planner = BESIDE if beside else PLANNER
    request = Callout(insertion=ft(first), angle_deg=angle, sole=sole)
    old, ledger = standing(request, planner)
    to = Callout(insertion=ft(then), angle_deg=60)
    move = relocation(old, planner.plan(2, to, STOCK, as_if_held(ledger, old, 2)))
    back, added = ({one.name: one.quantity for one in pieces} for pieces in (move.returned, move.added))
    left = {one.name: one.quantity for one in move.left}
    gone = used_up(old) - pressing(old)
    for line in STOCK.lines:
        name = line.name
        new = sum(part.quantity for part in move.build.parts if part.name == name)
        lying = ledger.on_hand[name] - added.get(name, 0) + back.get(name, 0)
        assert lying >= 0
        assert lying + new + left.get(name, 0) + gone[name] == line.quantity, name
