"""Planning again: what stands is never taken, what is promised moves only when told, and little changes."""

import random

import pytest
from selection_cases import FT, KIT, best_plan, random_case

from callout.shoring.allocation import Allocation, CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.holdings import Held, Holdings, HoldingsRefused
from callout.shoring.selection import choose
from callout.shoring.selection.allocate import WhatIf, allocate, allocate_all
from callout.shoring.stock import Adjustable, Piece, Stock, Timber
from tests.how_much import blocks


def strut(name: str, closed: int, quantity: int) -> Adjustable:
    return Adjustable(
        name=name, family="strut", closed=closed * FT, open=(closed + 2) * FT, screw=2 * FT, quantity=quantity,
        where="rack", weight_lb=closed,
    )  # fmt: skip


STOCK = Stock(
    name="yard", kit=KIT, adjustable=(strut("short", 6, 1), strut("long", 7, 1)),
    piece=(Piece(name="picket", part="picket", quantity=6, where="rack", weight_lb=1),),
    timber=(Timber(name="bar", section="4x4", length=8 * FT, quantity=2, where="yard", weight_lb=20),),
)  # fmt: skip
#: Both struts reach 8 ft; only the long one reaches 9 ft.
EITHER = SpanNeed("raker 1", "strut", 8 * FT)
LONG = SpanNeed("raker 1", "strut", 9 * FT)


def ok(result: Holdings | HoldingsRefused) -> Holdings:
    assert isinstance(result, Holdings), result
    return result


def member(allocation: Allocation) -> str | None:
    return allocation.spans[0].member if allocation.spans else None


def test_together_both_are_made_whichever_is_asked_first() -> None:
    for needs in ({1: [EITHER], 2: [LONG]}, {1: [LONG], 2: [EITHER]}):
        plan = allocate(needs, STOCK)
        assert all(allocation.complete for allocation in plan.values())


def holding(build: int, **held: Held) -> Holdings:
    ledger = Holdings.of(STOCK)
    on_hand = {name: n - (held[name].out if name in held else 0) for name, n in ledger.on_hand.items()}
    return Holdings(on_hand=on_hand, builds={build: held})


def counted(ledger: Holdings, name: str, quantity: int) -> Holdings:
    """Someone counted what lies there."""
    return Holdings(on_hand={**ledger.on_hand, name: quantity}, builds=ledger.builds)


def picked(ledger: Holdings, build: int, name: str, quantity: int, placed: int) -> Holdings:
    """`quantity` of what a build was promised left the yard; `placed` of them stand in the shore."""
    old = ledger.held(build)[name]
    new = Held(old.reserved - quantity, old.picked + quantity - placed, old.placed + placed)
    builds = {**ledger.builds, build: {**ledger.held(build), name: new}}
    return Holdings(on_hand={**ledger.on_hand, name: ledger.on_hand[name] - quantity}, builds=builds)


@pytest.mark.parametrize("state", [Held(1, 0, 0), Held(0, 1, 0), Held(0, 0, 1)])
def test_what_another_build_holds_is_not_taken(state: Held) -> None:
    ledger = holding(1, long=state)
    later = allocate({2: [LONG]}, STOCK, ledger)[2]
    assert [(m.name, m.quantity) for m in later.missing] == [("long", 1)]
    assert not WhatIf(STOCK, 2)([LONG], ledger)


@pytest.mark.parametrize(
    ("state", "told", "made"),
    [
        (Held(1, 0, 0), False, (1,)),  # promised: it stays
        (Held(1, 0, 0), True, (1, 2)),  # promised, and told that it may move
        (Held(0, 1, 0), True, (1,)),  # picked: it stays all the same
        (Held(0, 0, 1), True, (1,)),  # placed: it stays all the same
    ],
)
def test_a_promised_piece_moves_only_when_told_and_a_picked_or_placed_one_never(
    state: Held, told: bool, made: tuple[int, ...]
) -> None:
    ledger = holding(1, long=state)
    outcome = allocate_all({1: [EITHER], 2: [LONG]}, STOCK, ledger.release(1) if told else ledger)
    assert outcome.whole == made
    assert member(outcome.allocations[1]) == ("short" if made == (1, 2) else "long")


def test_a_build_short_of_one_piece_keeps_the_others() -> None:
    """Two of its pickets turned out broken; the strut it has picked is not exchanged for a lighter one."""
    ledger = holding(1, long=Held(0, 1, 0), picket=Held(4, 0, 0))
    ledger = counted(ledger, "picket", 2)
    needs: list[Need] = [EITHER, PieceNeed("pickets", "picket", 4)]
    plan = allocate({1: needs}, STOCK, ledger)[1]
    assert member(plan) == "long"
    assert [(m.name, m.quantity, m.reason) for m in plan.missing] == [("picket", 2, "4 wanted, 2 left to take")]


def test_two_builds_promised_the_same_piece_after_a_corrected_count() -> None:
    ledger = Holdings.of(STOCK)
    needs: dict[int, list[Need]] = {b: [PieceNeed("pickets", "picket", 3)] for b in (1, 2)}
    ledger = ok(ledger.reserve_all(allocate(needs, STOCK, ledger)))
    ledger = counted(ledger, "picket", 5)
    assert ledger.overpromised() == {"picket": (1, 2)}
    outcome = allocate_all(needs, STOCK, ledger)
    assert outcome.whole == (1,)
    assert sum(a.counts["picket"] for a in outcome.allocations.values()) == 5


def test_timber_that_a_build_holds_serves_it_first() -> None:
    ledger = holding(1, bar=Held(1, 0, 0))
    plan = allocate({1: [CutNeed("post", "4x4", 3 * FT, 2)]}, STOCK, ledger)[1]
    assert plan.counts == {"bar": 1}
    assert [cut.length for cut in plan.bars[0].cuts] == [3 * FT, 3 * FT]


def some_hours_later(seed: int) -> tuple[Stock, dict[int, list[Need]], Holdings]:
    """Builds planned one after the other, then pieces picked and placed at random."""
    pick = random.Random(seed)
    stock, needs = random_case(seed, builds=4, timber=True)
    ledger = Holdings.of(stock)
    for build in pick.sample(sorted(needs), len(needs)):
        ledger = ok(ledger.reserve(build, allocate({build: needs[build]}, stock, ledger)[build]))
    for build in sorted(needs):
        for name, held in list(ledger.held(build).items()):
            if held.reserved and pick.random() < 0.5:
                quantity = pick.randint(1, held.reserved)
                ledger = picked(ledger, build, name, quantity, placed=int(pick.random() < 0.5))
    return stock, needs, ledger


@pytest.mark.parametrize("seed", blocks(12, 120))
def test_any_order_of_planning_keeps_the_promises(seed: int) -> None:
    stock, needs, ledger = some_hours_later(seed)
    alone = {b: allocate({b: needs[b]}, stock, ledger)[b] for b in needs}
    again = allocate_all(needs, stock, ledger)
    assert {b for b in needs if alone[b].complete and alone[b].counts == held_by(ledger, b)} <= set(again.whole)
    for build in needs:
        if alone[build].complete and alone[build].counts == held_by(ledger, build):
            assert again.allocations[build].counts == alone[build].counts  # one that has all it needs is left alone
    pick = random.Random(seed)
    line = pick.choice(stock.lines)
    fewer = counted(ledger, line.name, pick.randint(0, 2))
    for build in needs:
        if pick.random() < 0.3:
            fewer = fewer.release(build)
    moved = allocate_all(needs, stock, fewer)
    assert not ok(fewer.reserve_all(moved.allocations)).overpromised()
    after = ok(ledger.reserve_all(again.allocations))
    assert not after.overpromised()


@pytest.mark.parametrize("seed", range(400, 440))
def test_what_others_hold_is_as_if_it_were_not_in_the_stock(seed: int) -> None:
    """Checked against trying everything on the stock less what others hold."""
    pick = random.Random(seed)
    stock, needs = random_case(seed, builds=2, timber=True)
    others: dict[str, Held] = {}
    left: dict[str, int] = {}
    for line in stock.lines:
        reserved = pick.randint(0, line.quantity)
        out = pick.randint(0, line.quantity - reserved)
        others[line.name] = Held(reserved, out, 0)
        left[line.name] = line.quantity - reserved - out
    on_hand = {line.name: line.quantity - others[line.name].out for line in stock.lines}
    ledger = Holdings(on_hand=on_hand, builds={9: {name: held for name, held in others.items() if held.total}})
    outcome = allocate_all(needs, stock, ledger)
    assert (len(outcome.whole), outcome.aims) == best_plan(stock.with_quantities(left), needs)


@pytest.mark.parametrize("block", blocks(1, 3))
def test_planning_again_is_the_same_by_the_solver(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = []
    for seed in range(200 + block * 30, 230 + block * 30):
        stock, needs, ledger = some_hours_later(seed)
        line = random.Random(seed).choice(stock.lines)
        ledger = counted(ledger, line.name, 0)
        cases.append((stock, needs, ledger, allocate_all(needs, stock, ledger)))
    monkeypatch.setattr(choose, "GROUPS", -1)
    for stock, needs, ledger, before in cases:
        again = allocate_all(needs, stock, ledger)
        assert (again.whole, again.aims) == (before.whole, before.aims)


def held_by(ledger: Holdings, build: int) -> dict[str, int]:
    return {name: held.total for name, held in ledger.held(build).items()}
