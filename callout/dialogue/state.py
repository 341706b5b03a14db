"""What a conversation knows, and what follows from that alone: where a walk stands, what lies in the yard, what may be
heard next. Everything here but the clocks is a fold over its records (see `callout.dialogue.evolve`).

A *seat* is one side of the conversation: what waits for an answer there, and what was said to it last. With two
sources the measurer and the yard have a seat each; with one source everyone speaks from the measurer's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, TypeVar

from callout.dialogue.records import CountChange, Proposal, Role
from callout.dialogue.settings import Settings
from callout.language.context import Context
from callout.language.outcome import Guess
from callout.language.own_words import ASKS_COMMAND, ASKS_WORDS
from callout.shoring.build import Build
from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import Planner
from callout.shoring.stock import Stock
from callout.values import Callout

Pieces = Mapping[str, int]  # stock line -> how many


T = TypeVar("T")


def changed(value: T, **fields: Any) -> T:
    """`dataclasses.replace` at a fifth of its cost: a restart folds over every line of the journal.

    It keeps what a `cached_property` has worked out, so a changed `plan` or `meaning` needs `replace` itself.
    """
    copy = object.__new__(type(value))
    copy.__dict__.update(value.__dict__)
    copy.__dict__.update(fields)
    return copy


def add(pieces: Pieces, more: Iterable[tuple[str, int]], sign: int = 1) -> dict[str, int]:
    """`pieces` with `more` added (or taken off, with `sign` -1); lines that come to nothing are left out."""
    total = dict(pieces)
    for item, quantity in more:
        total[item] = total.get(item, 0) + sign * quantity
        if not total[item]:
            del total[item]
    return total


CardKind = Literal["item", "total", "cut", "offer", "mark", "step", "check", "end"]


@dataclass(frozen=True)
class Card:
    """One utterance of a walk: parts, total, cuts, then the assembly and the checks. It is named by its kind
    and its number within that kind, so that "we were at item four" can be said of it."""

    kind: CardKind
    index: int = 0  # from 0, within its kind


def before_load(plan: Mapping[str, Any]) -> Sequence[str]:
    """What is looked at before a build takes load; older journals have it as `checks`."""
    looks: Sequence[str] = plan["before_load"] if "before_load" in plan else plan.get("checks", ())
    return looks


def cards(plan: Mapping[str, Any]) -> tuple[Card, ...]:
    """The row of a build's JSON. It depends on the build alone, so that a place in it survives a restart."""

    def many(kind: CardKind, rows: Sequence[Any]) -> list[Card]:
        return [Card(kind, index) for index in range(len(rows))]

    return (
        *many("item", plan["parts"]), Card("total"), *many("cut", plan["cuts"]), Card("offer"),
        *many("mark", plan["positions"]), *many("step", plan["steps"]), *many("check", before_load(plan)), Card("end"),
    )  # fmt: skip


@dataclass(frozen=True)
class Pending:
    """Something that was read back and waits for its affirmative."""

    shape: Proposal
    text: str  # the words of the readback

    @property
    def kind(self) -> str:
        return self.shape.kind

    @property
    def role(self) -> Role:
        return self.shape.role

    @property
    def name(self) -> str | None:
        return self.shape.name

    @property
    def build_id(self) -> int | None:
        return self.shape.build_id

    @cached_property
    def request(self) -> Callout | None:
        meaning = self.shape.meaning
        return None if meaning is None else Callout.model_validate(meaning)


@dataclass(frozen=True)
class Done:
    """One act that can be taken back, or that stands in the way of one before it ("other")."""

    kind: Literal[
        "picked", "counted", "placed", "released", "changed", "substituted", "moved", "site", "taken_down", "taught",
        "other",
    ]
    by: Role
    build_id: int | None = None  # of a move: the build that received
    line: int | None = None  # of the parts of the build
    pieces: tuple[tuple[str, int], ...] = ()
    changes: tuple[CountChange, ...] = ()
    meaning: Mapping[str, Any] | None = None  # what the build was before it was changed
    item: str | None = None  # the stock line that was substituted, or moved
    quantity: int | None = None  # so many were moved
    giver: int | None = None  # from this build
    facts: Mapping[str, Any] | None = None  # what was known of the place before
    shore: OpenBuild | None = None  # as it stood before it was taken down
    words: str = ""  # that were taught for the command `item`
    line_of_grammar: str = ""  # as they stand in the team's folder


#: How many acts back a conversation remembers.
MOST_DONE = 30


@dataclass(frozen=True)
class Seat:
    """One side of the conversation. The fields that do not compare are clocks and courtesies: a restart resets them."""

    pending: Pending | None = None
    parked: Pending | None = None
    half: Mapping[str, Any] | None = None  # a callout with something missing, as JSON
    asked: str | None = None  # the part that was asked for last
    times_asked: int = 0
    relocates: int | None = None  # the standing build that the next callout is for
    changes: int | None = None  # the open build that the half is another request for
    patching: bool = False  # "correction" was said alone: what comes next takes the place of parts of the half
    readings: tuple[Mapping[str, Any], ...] = ()  # what it can have been, where the half came out of a doubt
    teaching: Mapping[str, str | None] | None = None  # the command and the words to be taught, as far as known
    queue: tuple[Proposal, ...] = ()  # read back one by one, once the readback of another caller is answered
    last: str = ""  # what was said to this side last
    since: float = field(default=0.0, compare=False)  # when the wait for an answer began
    spoken: bool = field(default=False, compare=False)  # the wait began with a sentence, which takes its time
    known: float | None = field(default=None, compare=False)  # when the voice had said the figures of it
    ended: float | None = field(default=None, compare=False)  # when the voice was really through with it
    doubts: int = field(default=0, compare=False)  # replies to unclear speech since something was understood
    again: bool = field(default=False, compare=False)  # the readback was said a second time
    told: frozenset[str] = field(default=frozenset(), compare=False)  # what need not be said twice
    standing_by: bool = field(default=False, compare=False)  # no time-out speaks
    paused: bool = field(default=False, compare=False)  # "stop", "stand by", "hold": until the walk goes on
    guesses: tuple[Guess, ...] = field(default=(), compare=False)  # what the part asked for was heard as
    supplied: int | None = field(default=None, compare=False)  # the build whose loads or stages are said
    lost: str = field(default="", compare=False)  # typed, and not understood
    listed: tuple[int, int] | None = field(default=None, compare=False)  # the build, and how far its list was read

    @property
    def waits(self) -> bool:
        return any(w is not None for w in (self.pending, self.half, self.relocates, self.teaching))


@dataclass(frozen=True)
class OpenBuild:
    """A released build. `card` is where its walk stands: an index into its row of cards."""

    build_id: int
    number: int  # the number it is called by
    role: Role  # who gave the callout
    name: str | None
    meaning: Mapping[str, Any]
    plan: Mapping[str, Any]
    got: tuple[int, ...]  # how many pieces of each parts line were picked
    held: Pieces = field(default_factory=dict)  # what was picked, by stock line
    card: int = 0
    swept: bool = False  # the walk has been back to what was skipped
    begun: bool = False  # its walk was opened
    stale: bool = False  # something was learnt of its place, and it is not planned again yet
    relocates: int | None = None  # the standing build whose place this one takes
    lent: Pieces = field(default_factory=dict)  # of what it holds: what stands at the old place until it is moved
    without: tuple[str, ...] = ()  # stock lines that the crew does not want in it

    @cached_property
    def request(self) -> Callout:
        return Callout.model_validate(self.meaning)

    @cached_property
    def build(self) -> Build:
        return Build.model_validate(self.plan)

    @cached_property
    def row(self) -> tuple[Card, ...]:
        return cards(self.plan)

    @property
    def at(self) -> Card:
        """The card that was spoken last."""
        return self.row[self.card]

    @property
    def fetched(self) -> Pieces:
        """What was carried here from the stock: all that it holds but what stands at the old place."""
        return {name: n - self.lent.get(name, 0) for name, n in self.held.items() if n > self.lent.get(name, 0)}

    def left(self, line: int) -> int:
        """How many pieces of parts line `line` are still to be picked."""
        return max(0, int(self.plan["parts"][line]["quantity"]) - self.got[line])

    @property
    def open_lines(self) -> tuple[int, ...]:
        return tuple(i for i in range(len(self.got)) if self.left(i))


@dataclass(frozen=True)
class Utterance:
    """Who spoke, from when to when."""

    role: Role
    begun: float
    ended: float

    def overlap(self, other: Utterance) -> float:
        """For how many seconds both spoke; negative where one spoke after the other."""
        return min(self.ended, other.ended) - max(self.begun, other.begun)


@dataclass(frozen=True)
class Conversation:
    """The whole state between two inputs. Make one with `callout.dialogue.machine.start` or `restore`."""

    settings: Settings = field(compare=False)
    planner: Planner = field(compare=False)
    stock: Stock = field(compare=False)  # what the stock file said; `changes` come on top
    measurer: Seat = Seat()
    logistics: Seat = Seat()
    open: Mapping[int, OpenBuild] = field(default_factory=dict)
    standing: Mapping[int, OpenBuild] = field(default_factory=dict)  # placed at the wall
    focus: int | None = None  # the build whose parts are walked
    changes: Pieces = field(default_factory=dict)  # what people said about the stock, added up
    site: Mapping[str, Any] = field(default_factory=dict)  # what is known of the place of what is called next
    site_said: Mapping[str, Any] = field(default_factory=dict)  # as much of it as the last readback said
    seen: Mapping[str, Any] = field(default_factory=dict)  # of the wall that is sized up
    sized: Mapping[str, Any] | None = None  # the estimate that was worked out from all of it, until it is taken
    looking: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)  # looks that nobody signed, by shore
    looked: Mapping[int, tuple[Mapping[str, Any], ...]] = field(default_factory=dict)  # those that were, in order
    next_id: int = 1
    taken_back: int | None = None  # the number of the build that was taken back last, until another is released
    confirmed: Pending | None = None  # affirmed, and not carried out yet: only a crash leaves this
    acts: Role = "logistics"  # who proposed what was affirmed last
    halted: str = ""  # the stop word that silenced the voice
    #: Since a stop word: the build that was in the walk, and whether where it stands was said again. None once an item
    #: of it is booked.
    stopped_at: tuple[int, bool] | None = None
    done: tuple[Done, ...] = ()  # what was done, the last at the end
    said_this_shift: frozenset[str] = field(default=frozenset(), compare=False)  # of what is said once a shift
    #: What the voice was asked to say and has not said the figures of, with the build, the card and which of its
    #: utterances it is, if it is one.
    unheard: Mapping[str, tuple[int, int, int] | None] = field(default_factory=dict, compare=False)
    utterance: Utterance | None = field(default=None, compare=False)  # the last that meant a change

    def seat_name(self, role: Role) -> Role:
        return "measurer" if self.settings.one_source else role

    def seat(self, role: Role) -> Seat:
        """The seat from which `role` speaks. A role that is none is an error, and not the yard."""
        return {"measurer": self.measurer, "logistics": self.logistics}[self.seat_name(role)]

    def with_seat(self, name: Role, seat: Seat) -> Conversation:
        return changed(self, **{name: seat})

    def build(self, build_id: int | None) -> OpenBuild | None:
        """The build of this id, open or standing."""
        return self.open.get(build_id or 0) or self.standing.get(build_id or 0)

    @property
    def walked(self) -> OpenBuild | None:
        """The build in the walk."""
        return None if self.focus is None else self.open.get(self.focus)

    def since_stop(self, build: OpenBuild) -> Literal["", "unsaid", "said"]:
        """Whether a stop word came, and nothing of this build was booked since; and whether its item was said again."""
        if self.stopped_at is None or self.stopped_at[0] != build.build_id:
            return ""
        return "said" if self.stopped_at[1] else "unsaid"


def on_hand(now: Conversation) -> dict[str, int]:
    """What lies in its place now, by stock line: the file's count, what people said since, less what was picked."""
    lying = {line.name: line.quantity + now.changes.get(line.name, 0) for line in now.stock.lines}
    for build in (*now.open.values(), *now.standing.values()):
        for name, quantity in build.held.items():
            lying[name] = lying.get(name, 0) - quantity
    return lying


def holdings(now: Conversation) -> Holdings:
    """The ledger for the planner: on hand, and what each build has reserved, picked and placed."""
    builds: dict[int, dict[str, Held]] = {}
    for build in now.open.values():
        reserved: dict[str, int] = {}
        for index, line in enumerate(build.plan["parts"]):
            reserved = add(reserved, [(line["name"], build.left(index))])
        builds[build.build_id] = {
            name: Held(reserved.get(name, 0), build.held.get(name, 0), 0) for name in {*reserved, *build.held}
        }
    for build in now.standing.values():
        builds[build.build_id] = {name: Held(0, 0, quantity) for name, quantity in build.held.items()}
    return Holdings(on_hand={name: max(0, count) for name, count in on_hand(now).items()}, builds=builds)


def state_name(now: Conversation, role: Role) -> str:
    """The state in which `role` is heard. What waits for an answer goes before the walk, and leaves it its words: the
    crew is not held up by a readback that somebody else has to answer."""
    seat = now.seat(role)
    if now.halted:
        return "halted"
    walked = now.walked if role == "logistics" or now.settings.one_source else None
    if seat.pending is not None:
        return "confirm" if walked is None else "confirm_walk"
    if seat.half is not None:
        return "gather" if walked is None else "gather_walk"
    if seat.teaching is not None:
        return ASKS_COMMAND if seat.teaching.get("command") is None else ASKS_WORDS
    if walked is None:
        return "idle"
    return "assembly" if walked.at.kind in ("mark", "step", "check", "end") else "walk"


def context(now: Conversation, role: Role) -> Context:
    """The resolver's and the ears' view of the conversation. Practice and stock never narrow what is understood."""
    walked, pending = now.walked, now.seat(role).pending
    return Context(
        state=state_name(now, role),
        asked=now.seat(role).asked,
        waiting=None if pending is None else pending.request,
        caller=None if pending is None else pending.name,
        builds=tuple(sorted({build.number for build in (*now.open.values(), *now.standing.values())})),
        items=None if walked is None else len(walked.got),
        guesses=now.seat(role).guesses,
    )
