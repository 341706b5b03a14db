"""The ledger: no count under zero, no piece promised twice, and the same sums after any way through JSON."""

from collections import Counter

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from selection_cases import KIT

from callout.shoring.allocation import Allocation, Taken
from callout.shoring.holdings import Held, Holdings, Refused, StockChange
from callout.shoring.stock import Piece, Stock

NAMES = ("picket", "anchor", "clamp")
STOCK = Stock(
    name="ledger", kit=KIT,
    piece=tuple(Piece(name=name, part=name, quantity=5, where="crate", weight_lb=1) for name in NAMES),
)  # fmt: skip


def plan_of(build: int, counts: dict[str, int]) -> Allocation:
    return Allocation(
        build=build,
        taken=tuple(
            Taken(label=name, part=name, name=name, quantity=n, length=None, where="crate", weight_lb=n)
            for name, n in counts.items()
            if n
        ),
    )


def ok(result: Holdings | Refused) -> Holdings:
    assert isinstance(result, Holdings), result
    return result


def test_the_way_of_a_piece() -> None:
    ledger = Holdings.of(STOCK)
    ledger = ok(ledger.reserve(1, plan_of(1, {"picket": 4})))
    assert (ledger.on_hand["picket"], ledger.free("picket")) == (5, 1)
    ledger = ok(ledger.pick(1, "picket", 3))
    assert ledger.held(1)["picket"] == Held(reserved=1, picked=3, placed=0)
    assert (ledger.on_hand["picket"], ledger.free("picket")) == (2, 1)
    ledger = ok(ledger.place(1, "picket", 2))
    assert ledger.held(1)["picket"] == Held(1, 1, 2)
    ledger = ok(ledger.give_back(1, "picket"))
    assert ledger.on_hand["picket"] == 3
    ledger = ledger.release(1)
    assert ledger.held(1)["picket"] == Held(0, 0, 2)
    ledger = ok(ledger.give_back(1, "picket", 2, state="placed"))
    assert ledger == Holdings.of(STOCK)


def test_no_piece_is_promised_twice() -> None:
    ledger = ok(Holdings.of(STOCK).reserve(1, plan_of(1, {"picket": 4})))
    assert ledger.reserve(2, plan_of(2, {"picket": 2})) == Refused("only 1 of picket left to promise, 2 wanted")
    assert isinstance(ledger.pick(2, "picket", 2), Refused)
    assert isinstance(ledger.pick(2, "picket", 1), Holdings)
    together = ledger.reserve_all({1: plan_of(1, {"picket": 1}), 2: plan_of(2, {"picket": 4})})
    assert ok(together).free("picket") == 0


@pytest.mark.parametrize(
    ("change", "on_hand"),
    [
        (StockChange(how="set", name="picket", quantity=9), 9),
        (StockChange(how="add", name="picket", quantity=2), 7),
        (StockChange(how="out", name="picket", quantity=2), 3),
        (StockChange(how="out", name="picket"), 0),
        (StockChange(how="set", name="picket", quantity=0), 0),
        (StockChange(how="out", name="picket", quantity=6), None),
        (StockChange(how="add", name="picket"), None),
        (StockChange(how="set", name="picket", quantity=-1), None),
        (StockChange(how="set", name="ladder", quantity=1), None),
    ],
)
def test_a_spoken_count(change: StockChange, on_hand: int | None) -> None:
    after = Holdings.of(STOCK).count(change)
    assert (after.on_hand["picket"] if isinstance(after, Holdings) else None) == on_hand


def test_a_count_may_leave_more_promised_than_there_is_and_says_for_whom() -> None:
    ledger = ok(Holdings.of(STOCK).reserve(1, plan_of(1, {"picket": 3})))
    ledger = ok(ledger.reserve(4, plan_of(4, {"picket": 2, "clamp": 1})))
    assert ledger.overpromised() == {}
    ledger = ok(ledger.count(StockChange(how="set", name="picket", quantity=4)))
    assert ledger.overpromised() == {"picket": (1, 4)}
    assert ledger.free("picket") == 0


def test_a_new_plan_says_what_to_fetch_and_what_to_put_back() -> None:
    ledger = ok(Holdings.of(STOCK).reserve(1, plan_of(1, {"picket": 3, "clamp": 1})))
    ledger = ok(ledger.pick(1, "picket", 3))
    change = ledger.difference(1, plan_of(1, {"picket": 1, "clamp": 1, "anchor": 2}))
    assert change.fetch == {"anchor": 2, "clamp": 1}
    assert change.put_back == {"picket": 2}


class Ledger(RuleBasedStateMachine):
    """Any order of events; beside the ledger a plain count of where each piece is."""

    @initialize()
    def start(self) -> None:
        self.ledger = Holdings.of(STOCK)
        self.owned = Counter(dict.fromkeys(NAMES, 5))

    def keep(self, result: Holdings | Refused) -> bool:
        if isinstance(result, Holdings):
            self.ledger = result
            return True
        assert result.reason
        return False

    builds = st.integers(1, 3)
    names = st.sampled_from(NAMES)
    counts = st.integers(-1, 6)

    @rule(build=builds, counts=st.fixed_dictionaries({name: st.integers(0, 4) for name in NAMES}))
    def reserve(self, build: int, counts: dict[str, int]) -> None:
        self.keep(self.ledger.reserve(build, plan_of(build, counts)))

    @rule(build=builds, name=names, n=counts)
    def pick(self, build: int, name: str, n: int) -> None:
        before = self.ledger
        if self.keep(self.ledger.pick(build, name, n)):
            assert n >= 1
            others = sum(held[name].reserved for b, held in before.builds.items() if b != build and name in held)
            assert self.ledger.on_hand[name] >= min(others, before.on_hand[name] - n)

    @rule(build=builds, name=names, n=counts)
    def place(self, build: int, name: str, n: int) -> None:
        self.keep(self.ledger.place(build, name, n))

    @rule(build=builds, name=names, n=counts, placed=st.booleans())
    def give_back(self, build: int, name: str, n: int, placed: bool) -> None:
        self.keep(self.ledger.give_back(build, name, n, state="placed" if placed else "picked"))

    @rule(build=builds)
    def release(self, build: int) -> None:
        self.ledger = self.ledger.release(build)

    @rule(build=builds)
    def place_all(self, build: int) -> None:
        self.ledger = self.ledger.place_all(build)

    @rule(build=builds)
    def all_back(self, build: int) -> None:
        self.ledger = self.ledger.give_back_all(build)

    @rule(name=names, how=st.sampled_from(["set", "add", "out"]), n=st.one_of(st.none(), counts))
    def count(self, name: str, how: str, n: int | None) -> None:
        before = self.ledger.on_hand[name]
        if self.keep(self.ledger.count(StockChange.model_validate({"how": how, "name": name, "quantity": n}))):
            self.owned[name] += self.ledger.on_hand[name] - before

    @invariant()
    def nothing_is_lost_or_under_zero(self) -> None:
        ledger = self.ledger
        for name in NAMES:
            held = [mine[name] for mine in ledger.builds.values() if name in mine]
            assert ledger.on_hand[name] >= 0
            assert all(min(h) >= 0 and h.total > 0 for h in held)
            assert ledger.on_hand[name] + sum(h.out for h in held) == self.owned[name]
            assert ledger.promised.get(name, 0) == sum(h.reserved for h in held)
            assert ledger.free(name) == max(0, ledger.on_hand[name] - sum(h.reserved for h in held))
        assert Holdings.model_validate_json(ledger.model_dump_json()) == ledger


TestLedger = Ledger.TestCase
TestLedger.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
