"""Random abuse of a conversation against a simple model. Used by a test (a fixed slice) and by the long proof.

The model knows nothing of the machine's insides. It watches what goes in and the records that come out:
  1. a build is released only by an affirmative that answers the latest readback of exactly that request, from the same
     side, with no other content in between, and surely heard;
  2. the stock is the seed plus what was said, less what was picked, plus what came back, and never under zero;
  3. nothing is spoken that is not in the record just before it;
  4. a restart from the records, at any line of any step, gives the same conversation;
  5. from everywhere at most three words lead to where nothing waits;
  6. what stands at the wall is known to stand there until the shore that takes its place stands;
  7. no two open builds go by one number;
  8. with a voice, a key books nothing and a yes answers nothing that the voice has not said the figures of;
  9. whatever is said, a voice can say;
  10. a team's words are written only right after an affirmative of exactly those, and no yes is ever taught.
"""

from __future__ import annotations

from collections import Counter, deque
from contextlib import ExitStack
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any
from unittest.mock import patch

import hypothesis.strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from callout.dialogue import speakable, teaching
from callout.dialogue.commands import KNOWN
from callout.dialogue.events import Effect, Fault, Input, Key, Opened, Resumed, Say, Spoken, Teach, Tick, Uttered
from callout.dialogue.machine import restore, start, step
from callout.dialogue.records import Record, Role
from callout.dialogue.settings import load_settings
from callout.dialogue.state import Conversation, context, holdings, on_hand
from callout.errors import BadInput
from callout.language.outcome import Ambiguous, Nothing, NotPossible, NotUnderstood, Resolution, Understood
from callout.language.outcome import MeaningPart as HeardPart
from callout.language.speak import SITE_FACTS
from callout.values import Callout, Command
from callout.values.sights import Looked, MarkReading, Seen
from tests.dialogue_kit import FakePlanner, ft, make_stock

AFFIRMS = ("affirm", "affirm_insertion")
#: Commands that only ask or walk: they are no content, and leave a readback standing.
HARMLESS = KNOWN - {
    *AFFIRMS, "negative", "correction", "disregard", "cancel", "undo", "relocate", "stock_set", "stock_add",
    "stock_out", "stock_lost", "stands", "take_down", "same_again", "short", "substitute", "move", *SITE_FACTS,
    "evacuate", "cease_operations", "read_back",
}  # fmt: skip

roles = st.sampled_from(["measurer", "logistics"])
callouts = st.builds(
    Callout,
    insertion=st.sampled_from([None, ft(7), ft(8), ft(11), ft(14), ft(40)]),
    angle_deg=st.sampled_from([None, 30, 45, 60]),
    rakers=st.sampled_from([None, None, None, 2]),
    position=st.sampled_from([None, None, None, 1, 3]),
    kind=st.sampled_from(["raker", "raker", "raker", "vertical_post"]),
).filter(lambda c: bool(c.said))
patches = st.builds(Callout, insertion=st.sampled_from([None, ft(9)]), angle_deg=st.sampled_from([None, 45]))
numbers = st.sampled_from([None, 1, 2, 3, 9])
commands = st.builds(
    Command,
    command=st.sampled_from(sorted(KNOWN)),
    item=numbers,
    build=numbers,
    quantity=st.sampled_from([None, 0, 1, 2, 5]),
    part=st.sampled_from([None, "strut", "anchor", "wedge", "brick"]),
    length=st.sampled_from([None, ft(4), ft(6)]),
    patch=st.one_of(st.none(), patches),
)
whole = callouts.filter(lambda c: not c.missing)
claims = st.builds(
    Command, command=st.sampled_from(["stands", "stands", "take_down", "stock_lost", "same_again", "undo", "cancel"]),
    build=st.sampled_from([None, 1, 1, 2, 3]), quantity=st.sampled_from([None, 1, 2]),
    part=st.sampled_from([None, None, "strut", "anchor"]), length=st.sampled_from([None, ft(4), ft(6)]),
)  # fmt: skip
answers = st.sampled_from(["affirm", "affirm", "affirm_insertion", "roger", "ready", "say_again", "read_back"])
stock_lines = st.builds(
    Command,
    command=st.sampled_from(["stock_set", "stock_add", "stock_out"]),
    quantity=st.sampled_from([0, 1, 2, 5]),
    part=st.sampled_from(["strut", "anchor"]),
    length=st.sampled_from([None, ft(4), ft(6), ft(8)]),
)
site_facts_and_moves = st.one_of(
    st.builds(
        Command, command=st.just("move"), quantity=st.sampled_from([1, 2, 5]), build=st.sampled_from([1, 2, 3]),
        part=st.sampled_from(["strut", "anchor"]), length=st.sampled_from([None, ft(4), ft(6)]),
    ),
    st.builds(
        Command, command=st.sampled_from(["site_wall"]), part=st.sampled_from(["brick", "block"]), build=numbers,
    ),
    st.builds(Command, command=st.sampled_from(["site_timber", "site_no_timber", "site_new"]), build=numbers),
    st.builds(
        Command, command=st.sampled_from(["site_curb", "site_uneven", "site_curb_at"]), build=numbers,
        length=st.sampled_from([ft(0), ft(0, 6), ft(0, -4)]),
    ),
)  # fmt: skip
sizes = st.sampled_from([None, ft(0), ft(0, 4), ft(8), ft(12), ft(40)])
walls = st.builds(
    Seen, wall_length=sizes, wall_height=sizes, damage_height=sizes, lean=sizes,
    wall=st.sampled_from([None, "block", "brick"]), openings=st.sampled_from([None, 0, 2]),
    before=st.sampled_from([None, "debris"]),
)  # fmt: skip
readings = st.builds(
    MarkReading, mark=st.sampled_from(["crack", "alpha"]), kind=st.sampled_from(["crack", "plumb", "level"]),
    value=st.sampled_from([ft(0), ft(0, 1), ft(0, 2)]),
)  # fmt: skip
looks = st.builds(
    Looked, readings=st.lists(readings, max_size=2).map(tuple), tight=st.sampled_from([None, True, False]),
    sounds=st.booleans(), signed=st.sampled_from(["", "", "team two"]),
)  # fmt: skip
walls_and_looks = st.one_of(
    st.builds(Command, command=st.just("size_up"), seen=st.one_of(st.none(), walls)),
    st.builds(Command, command=st.sampled_from(["work_out", "take_it", "take_it", "size_up_new"])),
    st.builds(Command, command=st.just("look"), build=numbers, look=st.one_of(st.none(), looks)),
    st.builds(Command, command=st.just("happened"), part=st.sampled_from(["aftershock", "wind", "change"])),
    st.builds(Command, command=st.sampled_from(["carry", "come_down"]), build=numbers, item=numbers),
)
taught = st.builds(
    Command, command=st.just("teach"), part=st.sampled_from([None, "ready", "skip", "affirm", "sing"]),
    phrase=st.sampled_from([None, "fetch it", "hoik it", "that"]),
)  # fmt: skip
everyday = st.builds(
    Command,
    command=st.sampled_from([*AFFIRMS, "affirm", "affirm", "ready", "ready", "ready", "short", "undo", "negative"]),
)
unclear = st.sampled_from(
    [
        Nothing(), NotUnderstood(("dog",)), NotUnderstood(("eleven", "feet"), missing=("insertion",)),
        NotUnderstood((), reasons=("two at once",)), NotPossible(Callout(insertion=ft(40)), (), "90 ft is over 40 ft"),
        NotPossible(Command(command="build", build=9), (), "build 9 is not open"),
        Ambiguous((Callout(insertion=ft(8), angle_deg=60), Callout(insertion=ft(8), angle_deg=30)), "angle_deg", ()),
        Ambiguous((Callout(insertion=ft(8)), Callout(insertion=ft(7))), "insertion", ()),
        Ambiguous((Command(command="affirm"), Command(command="negative")), "command", ()),
    ]
)  # fmt: skip


@dataclass
class Waiting:
    """The model's memory of one side: the latest readback, and whether an affirmative may still answer it."""

    meaning: dict[str, Any] | None = None
    build_id: int | None = None
    good: bool = False
    text: str = ""


@dataclass
class Model:
    one_source: bool
    guard: str
    seats: dict[str, Waiting] = field(default_factory=lambda: {"measurer": Waiting(), "logistics": Waiting()})
    confirmed: dict[str, Any] | None = None  # affirmed in the line just before
    lying: Counter[str] = field(default_factory=Counter)
    standing: set[int | None] = field(default_factory=set)
    instead: dict[int, int | None] = field(default_factory=dict)  # build -> the standing one whose place it takes
    voiced: bool = False
    cards: dict[int, str] = field(default_factory=dict)  # build -> the words of the card that the crew stands at
    heard: set[str] = field(default_factory=set)  # whose figures the voice said since they were asked for

    def seat(self, role: str) -> Waiting:
        return self.seats["measurer" if self.one_source else role]

    def watch(self, event: Input, records: list[Record]) -> None:
        """Check one step."""
        if isinstance(event, Uttered) and _is_content(event.resolution):
            self.seat(event.role).good = False
        if isinstance(event, Spoken) and event.how != "cut":
            self.heard.add(event.text)
        reads = isinstance(event, Uttered) and event.certain
        agreed = any(record.event == "affirmed" for record in records)  # a readback named what it books
        for record in records:
            if record.event == "picked" and self.voiced and not reads and not agreed:
                assert self.cards[record.build_id or 0] in self.heard
            if (at := record.data.get("at")) is not None:
                self.cards[at[0]] = record.text
            moves = record.data.get("pieces", ()) if record.event in ("picked", "returned") else ()
            moves = () if record.data.get("stands") else moves  # these never left the wall
            if record.event == "placed" and record.data.get("again"):  # no word took it down: they had not come back
                moves = [(name, -quantity) for name, quantity in record.data.get("pieces", ())]
            self._stands(record)
            for name, quantity in moves:
                self.lying[name] += -quantity if record.event == "picked" else quantity
            for change in record.data["changes"] if record.event == "stock_changed" else ():
                self.lying[change["item"]] += change["delta"]
                assert self.lying[change["item"]] == change["quantity"]
            if record.event == "affirmed":
                self._affirmed(event, record)
            if record.event == "released":
                assert self.confirmed == record.meaning
            if record.event != "resumed":
                self.confirmed = record.meaning if record.event == "affirmed" else None
        for record in records:
            if record.event in ("voided", "parked", "affirmed") and record.data.get("what") not in ("build", "stands"):
                self._side(record).good = False
            if record.event == "readback":
                side = self._side(record)
                side.meaning, side.build_id, side.good, side.text = record.meaning, record.build_id, True, record.text

    def _stands(self, record: Record) -> None:
        if record.event == "released" and record.build_id is not None:
            self.instead[record.build_id] = record.data.get("relocates")
        gone = record.event == "returned" and record.data.get("line") is None and not record.data.get("stands")
        if gone or (record.event == "voided" and record.data.get("what") == "stands"):
            self.standing.discard(record.build_id)
        if record.event == "placed" and record.build_id is not None:
            self.standing.discard(self.instead.get(record.build_id))
            self.standing.add(record.build_id)

    def _side(self, record: Record) -> Waiting:
        return self.seats[record.data["seat"]]

    def _affirmed(self, event: Input, record: Record) -> None:
        if isinstance(event, Key):
            assert event.kind == "affirm"
            assert record.data["keyed"]
            self._answers(self.seat(event.role), record)
            return
        assert isinstance(event, Uttered)
        result = event.resolution
        assert isinstance(result, Understood)
        assert isinstance(result.meaning, Command)
        assert result.meaning.command in AFFIRMS
        long, agreed = result.meaning.command == "affirm_insertion", all(p.agreement == "agreed" for p in result.parts)
        sure = {"agreed_or_long": long or agreed, "long": long, "agreed_and_long": long and agreed}[self.guard]
        assert event.certain or sure
        self._answers(self.seat(event.role), record, reads=event.certain)

    def _answers(self, waiting: Waiting, record: Record, *, reads: bool = False) -> None:
        assert waiting.good
        assert waiting.meaning == record.meaning
        assert reads or not self.voiced or waiting.text in self.heard
        waiting.good = False


def _line_of(phrase: str, command: str) -> str:
    """Stands in for the checks of the language, which read its files: what they refuse, in its simplest form."""
    if command not in KNOWN or command in AFFIRMS:
        raise BadInput("that cannot be taught")
    return phrase


def _is_content(result: Resolution) -> bool:
    if isinstance(result, (Understood, NotPossible)):
        meaning = result.meaning
        return isinstance(meaning, Callout) or (
            isinstance(meaning, Command) and meaning.command in ("correction", "negative", "disregard", "undo")
        )
    if isinstance(result, Ambiguous):
        return isinstance(result.candidates[0], Callout)
    return isinstance(result, NotUnderstood) and (bool(result.missing) or "insertion" in result.words)


class Abuse(RuleBasedStateMachine):
    """One conversation under abuse. Time only ever comes in with an event."""

    now: Conversation
    model: Model
    records: list[Record]
    time: float
    asked: deque[str]  # what the voice was asked to say last

    @initialize(
        one=st.booleans(), voiced=st.booleans(), guard=st.sampled_from(["agreed_or_long", "long", "agreed_and_long"])
    )
    def begin(self, one: bool, voiced: bool, guard: str) -> None:
        self.stock, self.time, self.records = make_stock(six=5, anchors=10), 0.0, []
        self.asked = deque(["nothing"], maxlen=12)
        self.settings_ = load_settings(one_source=one, guard=guard, voiced=voiced)
        self.now = start(self.stock, FakePlanner(), self.settings_)
        self.model = Model(one, guard, voiced=voiced)
        self.model.lying.update({line.name: line.quantity for line in self.stock.lines})
        self.language = ExitStack()
        for name, stand_in in (("line_of", _line_of), ("no_place", str), ("taught_line", lambda *_: "")):
            self.language.enter_context(patch.object(teaching, name, stand_in))
        self.put(Opened(0.0))

    def teardown(self) -> None:
        if hasattr(self, "language"):
            self.language.close()

    def put(self, event: Input) -> list[Effect]:
        self.now, effects = step(self.now, event)
        written = [effect for effect in effects if isinstance(effect, Record)]
        for before, effect in pairwise(effects):
            if isinstance(effect, Say):
                assert isinstance(before, Record)
                assert before.text == effect.text
                assert effect.text
                assert speakable.lost(effect.text) == ""
                self.model.heard.discard(effect.text)
                self.asked.append(effect.text)
        for at, effect in enumerate(effects):
            if isinstance(effect, Teach):
                self._may_be_taught(event, effect, [e for e in effects[:at] if isinstance(e, Record)])
        assert not isinstance(effects[0] if effects else None, Say)
        if self.now.halted:
            assert not any(isinstance(effect, Say) for effect in effects)
        self.model.watch(event, written)
        self.records += written
        return list(effects)

    def _may_be_taught(self, event: Input, effect: Teach, before: list[Record]) -> None:
        """Only the yes just given to its own readback, or one that a crash left to be carried out."""
        assert effect.command not in AFFIRMS
        assert before[-1].event == ("resumed" if isinstance(event, Resumed) else "affirmed")
        if not isinstance(event, Resumed):
            assert isinstance(event, (Uttered, Key))
            read_back = self.model.seat(event.role).text
            assert effect.line in read_back
            assert effect.command.replace("_", " ") in read_back

    def hear(self, result: Resolution, role: Role, certain: bool) -> None:
        self.time += 1.0
        self.put(Uttered(result, "words", role, self.time, certain))

    @rule(meaning=st.one_of(callouts, callouts, everyday, everyday, commands), role=roles, sure=st.integers(0, 3))
    def understood(self, meaning: Callout | Command, role: Role, sure: int) -> None:
        parts = () if sure > 1 else (HeardPart("x", 1, 0.9, "agreed" if sure else "doubtful"),)
        self.hear(Understood(meaning, (), parts=parts), role, sure > 1)

    @rule(call=whole, role=roles)
    def a_good_callout(self, call: Callout, role: Role) -> None:
        self.hear(Understood(call, ()), role, True)
        self.hear(Understood(Command(command="affirm"), ()), role, True)

    @rule(
        call=whole, between=st.one_of(st.none(), callouts, commands, unclear, st.just(Tick(0.0))), role=roles,
        other=roles, answer=answers, sure=st.integers(0, 3),
    )  # fmt: skip
    def a_callout_and_an_answer(
        self, call: Callout, between: Any, role: Role, other: Role, answer: str, sure: int
    ) -> None:
        """The heart of it: a readback, something in between, and a word that may or may not answer it."""
        self.hear(Understood(call, ()), role, True)
        if isinstance(between, Tick):
            self.time_goes_by(21.0)
            self.time_goes_by(21.0)
        elif isinstance(between, (Callout, Command)):
            self.hear(Understood(between, ()), role, True)
        elif between is not None:
            self.hear(between, role, False)
        self.understood(Command(command=answer), other, sure)

    @rule(line=stock_lines, role=roles, answer=answers)
    def a_stock_line_and_an_answer(self, line: Command, role: Role, answer: str) -> None:
        self.hear(Understood(line, ()), role, True)
        self.hear(Understood(Command(command=answer), ()), role, True)

    @rule(line=site_facts_and_moves, role=roles, answer=answers)
    def a_fact_or_a_move_and_an_answer(self, line: Command, role: Role, answer: str) -> None:
        self.a_stock_line_and_an_answer(line, role, answer)

    @rule(line=taught, more=st.one_of(taught, everyday, commands, unclear), role=roles, answer=answers)
    def words_are_taught(self, line: Command, more: Any, role: Role, answer: str) -> None:
        self.hear(Understood(line, ()), role, True)
        self.hear(Understood(more, ()) if isinstance(more, Command) else more, role, True)
        self.hear(Understood(Command(command=answer), ()), role, True)

    @rule(line=walls_and_looks, role=roles, answer=answers)
    def a_wall_or_a_look_and_an_answer(self, line: Command, role: Role, answer: str) -> None:
        self.a_stock_line_and_an_answer(line, role, answer)

    @rule(wall=walls, role=roles, answer=answers)
    def a_size_up_is_taken(self, wall: Seen, role: Role, answer: str) -> None:
        whole = wall.model_copy(update={"wall_length": ft(30), "damage_height": ft(8), "wall_height": ft(12)})
        self.hear(Understood(Command(command="size_up", seen=whole), ()), role, True)
        for word in ("work_out", "take_it", answer):
            self.hear(Understood(Command(command=word), ()), role, True)

    @rule(line=claims, role=roles, answer=answers)
    def a_claim_and_an_answer(self, line: Command, role: Role, answer: str) -> None:
        self.a_stock_line_and_an_answer(line, role, answer)

    @rule(call=whole, role=roles, word=st.sampled_from(["affirm", "affirm", "undo", "ready", "negative"]))
    def a_shore_stands_and_moves(self, call: Callout, role: Role, word: str) -> None:
        for meaning in (Command(command="relocate"), call, Command(command="affirm"), Command(command=word)):
            self.hear(Understood(meaning, ()), role, True)

    @rule(times=st.integers(5, 25))
    def the_crew_goes_on(self, times: int) -> None:
        for _ in range(times):
            self.hear(Understood(Command(command="ready"), ()), "logistics", True)

    @rule(result=unclear, role=roles, certain=st.booleans())
    def not_clear(self, result: Resolution, role: Role, certain: bool) -> None:
        self.hear(result, role, certain)

    @rule(kind=st.sampled_from(["ready", "ready", "ready", "say_again", "affirm"]), role=roles)
    def key(self, kind: Any, role: Role) -> None:
        self.time += 1.0
        self.put(Key(kind, role, self.time))

    @rule(seconds=st.sampled_from([0.5, 3.0, 11.0, 21.0, 100.0, -50.0]))
    def time_goes_by(self, seconds: float) -> None:
        self.time += seconds
        effects = self.put(Tick(self.time))
        assert not any(isinstance(e, Record) and e.event in ("released", "affirmed", "picked") for e in effects)

    @rule(seconds=st.sampled_from([0.5, 5.0, 30.0]), role=roles)
    def the_voice_ends(self, seconds: float, role: Role) -> None:
        self.time += seconds
        assert self.put(Spoken(self.now.seat(role).last, self.time)) == []

    @rule(
        back=st.integers(1, 12), how=st.sampled_from(["figures", "through", "through", "cut", "failed"])
    )
    def the_voice_tells_how_far_it_came(self, back: int, how: Any) -> None:
        self.time += 0.5
        assert self.put(Spoken(self.asked[-min(back, len(self.asked))], self.time, how)) == []

    @rule()
    def all_is_said(self) -> None:
        for text in list(self.asked):
            self.time += 0.5
            self.put(Spoken(text, self.time))

    @rule()
    def fault(self) -> None:
        self.put(Fault("the voice stopped", self.time))

    @rule()
    def restart(self) -> None:
        again = restore(_through_json(self.records), self.stock, FakePlanner(), self.settings_)
        assert again == self.now
        self.now = again
        self.put(Resumed(self.time))

    @rule(
        waiting=st.one_of(st.none(), whole), meaning=st.one_of(callouts, everyday, commands), role=roles,
        cut=st.sampled_from([1, 1, 2, 3, 5, 9]), word=st.sampled_from(["affirm", "affirm", "ready", "short", "undo"]),
    )  # fmt: skip
    def crash_in_the_middle_of_a_step(
        self, waiting: Callout | None, meaning: Callout | Command, role: Role, cut: int, word: str
    ) -> None:
        """Only the first lines of a step reached the disk."""
        if waiting is not None:
            self.hear(Understood(waiting, ()), role, True)
        self.time += 1.0
        event = Uttered(Understood(meaning, ()), "words", role, self.time, True)
        _, effects = step(self.now, event)
        first = [effect for effect in effects if isinstance(effect, Record)][:cut]
        self.model.watch(event, first)
        self.records += first
        self.now = restore(_through_json(self.records), self.stock, FakePlanner(), self.settings_)
        self.put(Resumed(self.time))
        self.hear(Understood(Command(command=word), ()), role, True)

    @invariant()
    def the_stock_is_right(self) -> None:
        lying = on_hand(self.now)
        assert lying == {name: self.model.lying[name] for name in lying}
        assert min(lying.values()) >= 0
        assert self.now.halted or not holdings(self.now).overpromised()

    @invariant()
    def what_stands_is_known(self) -> None:
        assert self.model.standing <= set(self.now.standing)

    @invariant()
    def a_number_is_one_build(self) -> None:
        numbers = [build.number for build in self.now.open.values()]
        assert len(numbers) == len(set(numbers))

    @invariant()
    def there_is_a_way_home(self) -> None:
        for role in ("measurer", "logistics"):
            assert way_home(self.now, role, self.time) <= 3

    @invariant()
    def the_walk_stands_on_a_card(self) -> None:
        for build in self.now.open.values():
            assert 0 <= build.card < len(build.row)
            assert len(build.got) == len(build.plan["parts"])


def _through_json(records: list[Record]) -> list[Record]:
    return [Record.model_validate_json(record.model_dump_json()) for record in records]


def way_home(now: Conversation, role: Role, time: float) -> int:
    """How many typed words of `role` lead to where nothing waits and the voice may speak."""
    for words, word in enumerate(("go_ahead", "disregard", "disregard", "")):
        if context(now, role).state in ("idle", "walk", "assembly") and not now.seat(role).waits:
            return words
        if now.halted or word != "go_ahead":
            time += 1.0
            now, _ = step(now, Uttered(Understood(Command(command=word or "disregard"), ()), "", role, time, True))
    return 99
