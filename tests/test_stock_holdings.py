"""What-if questions to the ledger: no count under zero, no piece promised twice, what left the yard is left alone.

The ledger that the conversation keeps is tested in `test_dialogue_ledger` and `dialogue_abuse`.
"""

from collections import Counter

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from selection_cases import KIT

from callout.shoring.allocation import Allocation, Taken
from callout.shoring.holdings import Held, Holdings, HoldingsRefused
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


def ok(result: Holdings | HoldingsRefused) -> Holdings:
    assert isinstance(result, Holdings), result
    return result


def test_what_a_plan_takes_is_promised_beyond_what_its_build_has_out() -> None:
    ledger = Holdings(on_hand={"picket": 2}, builds={1: {"picket": Held(0, 1, 2)}})
    assert ok(ledger.reserve(1, plan_of(1, {"picket": 4}))).held(1)["picket"] == Held(1, 1, 2)
    assert ok(ledger.reserve(1, plan_of(1, {"picket": 2}))).held(1)["picket"] == Held(0, 1, 2)


def test_letting_go_frees_what_is_promised_and_nothing_else() -> None:
    ledger = Holdings(on_hand={"picket": 3}, builds={1: {"picket": Held(2, 1, 2)}})
    assert ledger.release(1) == Holdings(on_hand={"picket": 3}, builds={1: {"picket": Held(0, 1, 2)}})
    assert ledger.give_back_all(1) == Holdings(on_hand={"picket": 6})


def test_no_piece_is_promised_twice() -> None:
    ledger = ok(Holdings.of(STOCK).reserve(1, plan_of(1, {"picket": 4})))
    assert ledger.reserve(2, plan_of(2, {"picket": 2})) == HoldingsRefused("2 picket wanted, 1 left to promise")
    together = ok(ledger.reserve_all({1: plan_of(1, {"picket": 1}), 2: plan_of(2, {"picket": 4})}))
    assert {build: held["picket"] for build, held in together.builds.items()} == {1: Held(1), 2: Held(4)}
    one_too_many = ledger.reserve_all({1: plan_of(1, {"picket": 2}), 2: plan_of(2, {"picket": 4})})
    assert one_too_many == HoldingsRefused("4 picket wanted, 3 left to promise")


@pytest.mark.parametrize(("lying", "over"), [(5, {}), (4, {"picket": (1, 4)}), (0, {"picket": (1, 4)})])
def test_a_corrected_count_says_whose_promises_it_breaks(lying: int, over: dict[str, tuple[int, ...]]) -> None:
    builds = {1: {"picket": Held(3)}, 2: {"picket": Held(0, 2, 0)}, 4: {"picket": Held(2), "clamp": Held(1)}}
    assert Holdings(on_hand={"picket": lying, "clamp": 5}, builds=builds).overpromised() == over


class Questions(RuleBasedStateMachine):
    """From any ledger, any order of questions; beside it a plain count of all pieces that there are."""

    builds = st.integers(1, 3)
    plans = st.fixed_dictionaries({name: st.integers(0, 4) for name in NAMES})

    @initialize(
        lying=st.fixed_dictionaries({name: st.integers(0, 6) for name in NAMES}),
        out=st.dictionaries(
            builds, st.dictionaries(st.sampled_from(NAMES), st.sampled_from([Held(0, 1, 0), Held(0, 2, 3)]), min_size=1)
        ),
    )
    def start(self, lying: dict[str, int], out: dict[int, dict[str, Held]]) -> None:
        self.ledger = Holdings(on_hand=lying, builds=out)
        self.owned = Counter(lying)
        for mine in out.values():
            self.owned.update({name: held.out for name, held in mine.items()})

    @rule(build=builds, counts=plans)
    def reserve(self, build: int, counts: dict[str, int]) -> None:
        self.promise({build: counts}, self.ledger.reserve(build, plan_of(build, counts)))

    @rule(plans=st.dictionaries(builds, plans))
    def reserve_all(self, plans: dict[int, dict[str, int]]) -> None:
        self.promise(plans, self.ledger.reserve_all({build: plan_of(build, counts) for build, counts in plans.items()}))

    def promise(self, plans: dict[int, dict[str, int]], result: Holdings | HoldingsRefused) -> None:
        """Refused exactly if some line does not suffice for what these builds lack and what others were promised."""
        suffices = all(
            sum(
                max(0, plans[b][name] - self.held(b, name).out) if b in plans else self.held(b, name).reserved
                for b in (1, 2, 3)
            )
            <= self.ledger.on_hand[name]
            for name in NAMES
        )
        assert isinstance(result, Holdings) == suffices
        if isinstance(result, Holdings):
            before, self.ledger = self.ledger, result
            assert all(self.held(b, n).out == before.held(b).get(n, Held()).out for b in (1, 2, 3) for n in NAMES)

    @rule(build=builds)
    def release(self, build: int) -> None:
        self.ledger = self.ledger.release(build)
        assert not any(self.held(build, name).reserved for name in NAMES)

    @rule(build=builds)
    def all_back(self, build: int) -> None:
        self.ledger = self.ledger.give_back_all(build)
        assert build not in self.ledger.builds

    @invariant()
    def nothing_is_lost_or_promised_twice(self) -> None:
        ledger = self.ledger
        for name in NAMES:
            held = [mine[name] for mine in ledger.builds.values() if name in mine]
            assert ledger.on_hand[name] >= 0
            assert all(min(h) >= 0 and h.total > 0 for h in held)
            assert ledger.on_hand[name] + sum(h.out for h in held) == self.owned[name]
            assert ledger.promised.get(name, 0) == sum(h.reserved for h in held) <= ledger.on_hand[name]
        assert not ledger.overpromised()
        assert Holdings.model_validate_json(ledger.model_dump_json()) == ledger

    def held(self, build: int, name: str) -> Held:
        return self.ledger.held(build).get(name, Held())


TestQuestions = Questions.TestCase
TestQuestions.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
