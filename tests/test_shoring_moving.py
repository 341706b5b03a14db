"""A promised piece moves to another build when told so, and only then; nothing is made or lost on the way."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.shoring.holdings import Held, Holdings, HoldingsRefused
from callout.shoring.plan import Move, ShorePlanner, move_reserved, pieces_of
from callout.shoring.stock import Stock
from callout.values import Callout
from tests.checks_shoring import ft
from tests.how_much import examples
from tests.test_shoring_practice import STOCK

PLANNER = ShorePlanner()
ELEVEN, EIGHT = Callout(insertion=ft(11), angle_deg=60), Callout(insertion=ft(8), angle_deg=60)
TEN, SIX = Callout(insertion=ft(10), angle_deg=60), Callout(insertion=ft(6), angle_deg=60)


def only(**struts: int) -> Stock:
    """The packaged stock with these struts and no other, and without extensions."""
    none = {line.name: 0 for line in STOCK.adjustable if line.family == "strut"}
    none |= {line.name: 0 for line in STOCK.extension}
    return STOCK.with_quantities({**none, **{name.replace("_", " "): n for name, n in struts.items()}})


def promised(stock: Stock, requests: dict[int, Callout]) -> Holdings:
    """Builds planned one after the other, each promised what it gets."""
    ledger = Holdings.of(stock)
    for number, request in requests.items():
        after = ledger.promise(number, pieces_of(PLANNER.plan(number, request, stock, ledger)))
        assert isinstance(after, Holdings)
        ledger = after
    return ledger


def test_what_is_moved_makes_the_one_whole_and_leaves_the_other_short() -> None:
    stock, requests = only(eight_foot_strut=2), {1: TEN, 2: TEN}
    ledger = promised(stock, requests)
    assert ledger.held(1)["eight foot strut"] == Held(reserved=2)
    assert not PLANNER.plan(2, TEN, stock, ledger).possible  # not told: it stays
    move = move_reserved(
        PLANNER.plan, requests, stock, ledger, name="eight foot strut", quantity=2, giver=1, receiver=2
    )  # fmt: skip
    assert isinstance(move, Move)
    assert move.moved == 2
    assert move.receiver.possible
    assert {lack.part for lack in move.giver.missing} == {"strut"}
    assert move.holdings.held(2)["eight foot strut"] == Held(reserved=2)
    assert "eight foot strut" not in move.holdings.held(1)
    assert move.holdings.held(1)["wall plate"] == ledger.held(1)["wall plate"]  # the rest is its own still


def test_the_giver_makes_up_for_what_it_gave() -> None:
    """Struts of 101 in serve 8 ft, of 74 in 6 ft: a six foot strut does either, an eight foot one is too long for 6 ft
    even closed."""
    stock, requests = only(six_foot_strut=2, eight_foot_strut=2), {1: EIGHT, 2: SIX}
    ledger = promised(stock, requests)
    move = move_reserved(PLANNER.plan, requests, stock, ledger, name="six foot strut", quantity=2, giver=1, receiver=2)
    assert isinstance(move, Move)
    assert move.receiver.possible
    assert move.giver.possible
    assert pieces_of(move.giver)["eight foot strut"] == 2


@pytest.mark.parametrize(
    ("giver", "receiver", "name", "quantity", "reason"),
    [
        (1, 2, "six foot strut", 1, "build 1 has 0 six foot strut to give, 1 wanted"),
        (1, 2, "eight foot strut", 3, "build 1 has 2 eight foot strut to give, 3 wanted"),
        (1, 2, "eight foot strut", 0, "build 1 has 2 eight foot strut to give, 0 wanted"),
        (1, 1, "eight foot strut", 1, "build 1 has them already"),
        (1, 2, "wall plate", 1, "build 2 would take no wall plate"),
        (9, 2, "eight foot strut", 1, "build 9 has 0 eight foot strut to give, 1 wanted"),
    ],
)
def test_a_move_that_cannot_be_has_a_reason(giver: int, receiver: int, name: str, quantity: int, reason: str) -> None:
    stock, requests = only(eight_foot_strut=2), {1: ELEVEN, 2: ELEVEN, 9: ELEVEN}
    ledger = promised(stock, {1: ELEVEN, 2: ELEVEN})
    move = move_reserved(
        PLANNER.plan, requests, stock, ledger, name=name, quantity=quantity, giver=giver, receiver=receiver
    )
    assert move == HoldingsRefused(reason)


@pytest.mark.parametrize("held", [Held(0, 2, 0), Held(0, 0, 2), Held(1, 1, 0)])
def test_picked_and_placed_pieces_do_not_move(held: Held) -> None:
    stock = only(eight_foot_strut=2)
    on_hand = {**Holdings.of(stock).on_hand, "eight foot strut": 2 - held.out}
    ledger = Holdings(on_hand=on_hand, builds={1: {"eight foot strut": held}})
    move = move_reserved(
        PLANNER.plan, {1: ELEVEN, 2: ELEVEN}, stock, ledger, name="eight foot strut", quantity=2, giver=1, receiver=2
    )
    assert isinstance(move, HoldingsRefused)


@settings(max_examples=examples(15, 6), deadline=None)
@given(
    st.lists(st.sampled_from([(8, 60), (11, 60), (9, 45)]), min_size=2, max_size=3), st.integers(2, 4),
    st.integers(0, 4), st.data(),
)  # fmt: skip
def test_nothing_is_made_or_lost(said: list[tuple[int, int]], eights: int, tens: int, data: st.DataObject) -> None:
    stock = only(eight_foot_strut=eights, ten_foot_strut=tens)
    requests = {n: Callout(insertion=ft(feet), angle_deg=angle) for n, (feet, angle) in enumerate(said, 1)}
    ledger = promised(stock, requests)
    giver, receiver = data.draw(st.permutations(sorted(requests)))[:2]
    names = sorted(ledger.held(giver))
    name, quantity = data.draw(st.sampled_from(names)), data.draw(st.integers(1, 3))
    move = move_reserved(
        PLANNER.plan, requests, stock, ledger, name=name, quantity=quantity, giver=giver, receiver=receiver
    )
    if isinstance(move, HoldingsRefused):
        assert move.reason
        return
    assert not move.holdings.overpromised()
    assert move.holdings.on_hand == ledger.on_hand
    for line in stock.lines:
        held = sum(mine[line.name].total for mine in move.holdings.builds.values() if line.name in mine)
        assert held <= line.quantity
    for other in set(requests) - {giver, receiver}:
        assert move.holdings.held(other) == ledger.held(other)
    gained = move.holdings.held(receiver)[name].reserved - ledger.held(receiver).get(name, Held()).reserved
    assert gained >= move.moved > 0
