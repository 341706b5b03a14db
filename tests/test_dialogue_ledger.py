"""The ledger that the conversation keeps, with the real planner on a short stock: whatever is called out, counted,
picked, put back or moved, no count goes under zero, every piece is in one place, and none is promised twice.

The checks read the written records alone. `dialogue_abuse` does the same with ruder input and a stand-in planner.
"""

from collections import Counter

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.dialogue.state import holdings, on_hand
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Timber, load_stock
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, Talk, ft

PLANNER = ShorePlanner()
PACKAGED = load_stock()
#: Struts for two pairs or three, pickets for two.
SHORT = PACKAGED.with_quantities(
    {line.name: min(line.quantity, 3) for line in PACKAGED.adjustable} | {"picket": 18, "head fitting": 5}
)
#: Nails, and timber that was sawn: off the stock for good once a shore stands.
NEVER = {line.name for line in SHORT.lines if line.kind in ("nail", "sheet", "gusset") or isinstance(line, Timber)}
LINES = [("picket", None), ("head fitting", None), ("strut", ft(6)), ("strut", ft(8)), ("timber", ft(12))]

callouts = st.builds(
    Callout,
    insertion=st.sampled_from([ft(7), ft(9), ft(11), ft(14)]),
    angle_deg=st.sampled_from([45, 60]),
    sole=st.sampled_from([None, None, "solid"]),
)


class Day(RuleBasedStateMachine):
    """One source that means what it says; every readback is affirmed."""

    @initialize()
    def begin(self) -> None:
        self.talk = Talk(start(SHORT, PLANNER, load_settings(seconds_a_word=0.0))).put(Opened(0.0))

    @rule(request=callouts)
    def called_out(self, request: Callout) -> None:
        self.talk.released(request)

    @rule(words=st.lists(st.sampled_from(["ready", "ready", "ready", "next", "short", "skip"]), max_size=12))
    def walked(self, words: list[str]) -> None:
        for word in words:
            self.talk.say(word)

    @rule(words=st.sampled_from(["ready", "next"]))
    def built(self, words: str) -> None:
        """All that is left of the build in hand, until it stands."""
        standing = len(self.talk.now.standing)
        for _ in range(80):
            if len(self.talk.now.standing) > standing or not self.talk.now.open:
                break
            self.talk.say(words)

    @rule(build=st.integers(1, 4), angle=st.sampled_from([45, 60]))
    def changed(self, build: int, angle: int) -> None:
        self.talk.say(Command(command="build", build=build))
        self.talk.say(Command(command="correction", patch=Callout(angle_deg=angle))).say(AFFIRM)

    @rule()
    def undone(self) -> None:
        self.talk.say("undo").say(AFFIRM)

    @rule(build=st.sampled_from([None, 1, 2, 3]))
    def taken_down(self, build: int | None) -> None:
        self.talk.say(Command(command="take_down", build=build)).say(AFFIRM)

    @rule(words=st.sampled_from(["substitute", "short"]))
    def made_do(self, words: str) -> None:
        self.talk.say(words).say(AFFIRM)

    @rule(request=callouts)
    def relocated(self, request: Callout) -> None:
        self.talk.say("relocate").say(request).say(AFFIRM)

    @rule(
        how=st.sampled_from(["stock_set", "stock_add", "stock_out"]), line=st.sampled_from(LINES),
        quantity=st.integers(0, 8),
    )  # fmt: skip
    def counted(self, how: str, line: tuple[str, object], quantity: int) -> None:
        part, length = line
        self.talk.say(Command.model_validate({"command": how, "part": part, "length": length, "quantity": quantity}))
        self.talk.say(AFFIRM)

    @invariant()
    def every_piece_is_in_one_place(self) -> None:
        lying = Counter({line.name: line.quantity for line in SHORT.lines})
        out: dict[int, Counter[str]] = {}
        moved_from: dict[int, int] = {}  # build -> the standing one whose place it takes
        stood: set[int] = set()
        down: set[int] = set()  # those that were taken down
        for record in self.talk.records:
            build, pieces = record.build_id or 0, [*record.data.get("pieces", ())]
            if record.event == "placed":
                stood.add(build)
            elif record.event == "voided" and record.data.get("what") == "stands":  # taken back: it never stood
                stood.discard(build)
            if record.event == "stock_changed":
                for change in record.data["changes"]:
                    lying[change["item"]] += change["delta"]
            if record.event == "released":
                moved_from[build] = record.data.get("relocates") or moved_from.get(build, 0)
                for name, quantity in record.data.get("reused", ()):  # taken along: never carried to the racks
                    out.setdefault(moved_from[build], Counter())[name] -= quantity
                    out.setdefault(build, Counter())[name] += quantity
            # A shore that was taken down and, that taken back, stands still: what came off it is at the wall again.
            still = record.event == "placed" and build in down
            if record.event == "returned" and build in stood:
                down.add(build)
            elif still:
                down.discard(build)
            if record.event in ("picked", "returned") or still:
                sign = -1 if record.event == "returned" else 1
                for name, quantity in record.data.get("gone", ()):  # off the stock for good: it lies nowhere
                    out.setdefault(build, Counter())[name] += quantity if still else -quantity
                for name, quantity in pieces:
                    if sign < 0 and build in stood:
                        assert name not in NEVER, (name, "came back from a shore that stood")
                    out.setdefault(build, Counter())[name] += sign * quantity
                    if record.data.get("stands"):  # the old shore's again, at the wall
                        out.setdefault(moved_from[build], Counter())[name] -= sign * quantity
                    else:
                        lying[name] -= sign * quantity
        ledger = holdings(self.talk.now)
        assert all(count >= 0 for count in lying.values())
        assert ledger.on_hand == on_hand(self.talk.now) == dict(lying)
        held = {build: {n: h.out for n, h in mine.items() if h.out} for build, mine in ledger.builds.items()}
        assert {b: mine for b, mine in held.items() if mine} == {b: dict(+mine) for b, mine in out.items() if +mine}
        assert all(count >= 0 for mine in out.values() for count in mine.values())

    @invariant()
    def nothing_is_promised_twice(self) -> None:
        now = self.talk.now
        wanted: Counter[str] = Counter()
        for build in now.open.values():
            for index, line in enumerate(build.plan["parts"]):
                wanted[line["name"]] += line["quantity"] - build.got[index]
        lying = on_hand(now)
        assert all(quantity <= lying[name] for name, quantity in wanted.items())
        assert not holdings(now).overpromised()


@pytest.mark.parametrize("days", [2, pytest.param(100, marks=pytest.mark.slow)])
def test_the_sums_are_right_after_any_day(days: int) -> None:
    run_state_machine_as_test(Day, settings=settings(max_examples=days, stateful_step_count=40, deadline=None))


def a_day_with_a_shore_that_stands() -> Day:
    day = Day()
    day.begin()
    day.called_out(request=Callout(insertion=ft(7), angle_deg=45))
    day.built(words="ready")
    day.talk.say(AFFIRM)
    assert len(day.talk.now.standing) == 1
    return day


def test_a_shore_that_is_taken_down_and_taken_back_has_its_pieces_at_the_wall_again() -> None:
    day = a_day_with_a_shore_that_stands()
    standing = on_hand(day.talk.now)
    day.taken_down(build=None)
    assert on_hand(day.talk.now) != standing
    day.every_piece_is_in_one_place()
    day.undone()
    assert on_hand(day.talk.now) == standing
    day.every_piece_is_in_one_place()
    day.nothing_is_promised_twice()


def test_a_move_that_is_asked_for_and_dropped_leaves_a_shore_that_stands() -> None:
    day = a_day_with_a_shore_that_stands()
    day.talk.say("relocate").say("negative")
    day.taken_down(build=None)
    day.every_piece_is_in_one_place()
    day.undone()
    day.every_piece_is_in_one_place()
