"""What a record says: one line of what happened, for the console, the journal and the replay.

Nothing is spoken that is not in a `Record` first, and the conversation's own state is a fold over its records
(`callout.dialogue.evolve`), so that a restart loses nothing. What a record says happened is a small value of its own,
one class a kind of event (`Record.what`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import AliasChoices, BaseModel, ConfigDict, Field

Role = Literal["measurer", "logistics"]
ROLES: tuple[Role, ...] = ("measurer", "logistics")

EventName = Literal[
    "heard", "readback", "asked", "said", "affirmed", "released", "refused", "voided", "parked", "picked",
    "placed", "returned", "stock_changed", "site_changed", "alarm", "error", "resumed", "inspected", "look_called",
    "seen", "sized_up", "taken", "look_noted", "taught",
]  # fmt: skip

#: The shape of a published line. 2 says what happened in `happened`; 1 had the words alone.
VERSION: Literal[2] = 2


class Happened(BaseModel):
    """What a record holds for a restart, and for whoever reads the journal. Fields that were not there when a line
    was written have their default; fields of another version are left alone."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    seat: Role | None = None  # who was spoken to, or whose readback this is about

    def to_json(self) -> dict[str, Any]:
        """As it is kept: what differs from the defaults."""
        return self.model_dump(mode="json", exclude_defaults=True)

    def published(self) -> dict[str, Any] | None:
        """As programs that listen get it, None where the words say it all."""
        return None


#: What is read back before it is done.
ActKind = Literal[
    "callout", "stock", "change", "undo", "short", "substitute", "relocate", "site", "move", "lost", "stands",
    "all_picked", "take_down", "near", "teach",
]  # fmt: skip


class Proposal(BaseModel):
    """An act that was read back and waits for its yes. `role` and `name` say who proposed it."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    kind: ActKind
    role: Role
    name: str | None = None
    build_id: int | None = None
    meaning: dict[str, Any] | None = None  # the callout, as JSON
    site: dict[str, Any] | None = None  # what was known of its place
    cannot: bool = False  # read back with why it cannot be built: no yes answers it
    changes: tuple[dict[str, Any], ...] = ()  # of counts: {"item", "how", "quantity"}
    line: int | None = None  # an index into the parts of the build
    item: str | None = None  # the name of a stock line
    quantity: int | None = None
    giver: int | None = Field(default=None, validation_alias=AliasChoices("giver", "from"))  # the build that gives
    undoes: str | None = None  # the kind of act that an undo takes back: see `callout.dialogue.state.Done`
    books: bool = False  # what was said and not booked is booked with it
    command: dict[str, Any] | None = None  # what was near to what was said, as the JSON of a `Command`
    facts: dict[str, Any] | None = None  # of a place, as fields of `callout.shoring.request.Site`
    words: str = ""  # the fact as it is said; the words that are to mean `command`

    def to_json(self) -> dict[str, Any]:
        return self.model_dump(mode="json", exclude_defaults=True)


class WasHeard(Happened):
    """`seat`: whose readback this voids. `half` of a callout is kept, `fresh` when nothing was asked about it yet;
    `patching`: what comes next takes the place of parts of it; `readings`: what it can have been, where in doubt."""

    half: dict[str, Any] | None = None
    fresh: bool = False
    patching: bool = False
    readings: tuple[dict[str, Any], ...] = ()
    audio: str | None = None  # the name of the kept sound


class WasReadBack(Happened):
    """`from_queue`: it was the first that waited behind the readback of another caller."""

    pending: Proposal
    from_queue: bool = False


class WasAsked(Happened):
    """`asked` for the `times`-th time; `relocates`: the standing build that the next callout is for; `unclear`: what
    kind of speech was answered; `queued`: what is read back once the readback of another caller is answered;
    `teaching`: the command and the phrase that are known so far of words to be taught."""

    asked: str | None = None
    times: int = 0
    relocates: int | None = None
    unclear: str | None = None
    queued: Proposal | None = None
    teaching: dict[str, str | None] | None = None


class WasSaid(Happened):
    """`at`: the build and the card where the walk stands now. Where the record has a build, it is worked out again
    from what is left, and replaces the old plan: `got` of each line is picked already, `without` are stock lines that
    the crew does not want in it. `halted`: "" ends the silence after a stop word."""

    at: tuple[int, int] | None = None
    swept: bool | None = None
    got: tuple[int, ...] = ()
    without: tuple[str, ...] = ()
    halted: str | None = None


class WasAffirmed(Happened):
    """`keyed`: by the key for it, for a measurer who is relayed."""

    keyed: bool = False

    def published(self) -> dict[str, Any] | None:
        return {"keyed": self.keyed}


Piece = tuple[str, int]  # the name of a stock line, and how many


class WasReleased(Happened):
    """`number`: what the build is called by. `replaces`: a change order takes the place of the build of the same
    build_id. `relocates`: the standing build whose place it takes; `reused`: what it takes along from there."""

    number: int = 0
    role: Role = "measurer"
    name: str | None = None
    got: tuple[int, ...] | None = None
    without: tuple[str, ...] = ()
    replaces: bool = False
    relocates: int | None = None
    reused: tuple[Piece, ...] = ()
    undoes: bool = False  # a change order that takes the one before it back

    def published(self) -> dict[str, Any] | None:
        names = ("number", "role", "name", "replaces", "relocates")
        return {**{name: getattr(self, name) for name in names}, "reused": _named(self.reused)}


class WasVoided(Happened):
    """`what` is void. A voided build gives up what it had reserved; of one that "stands", it does not stand yet, and is
    open again; a "substitute" or a "move" is taken back, and the lines before it say with which pieces. Without `move`,
    what the void readback was about (a build that `relocates`, or that `changes`) waits for another."""

    what: Literal["readback", "half", "build", "stands", "substitute", "move"] = "readback"
    move: bool = True
    relocates: int | None = None
    changes: int | None = None

    def published(self) -> dict[str, Any] | None:
        return {"what": self.what}


class WasParked(Happened):
    """What waits in `seat` is set aside."""


class PiecesMoved(Happened):
    """Picked, placed at the wall, or put back. `number`: what the build is called by. `line`: an index into the parts
    of the build; without one a change of the build moves the pieces. `stands`: they were not carried, but stand at the
    old place of a relocation, and are that shore's again. `gone`: nails and sawn timber, which never come back.
    `again`: placed once more, because a shore was not taken down after all; `pieces` had come back, `gone` had not."""

    number: int | None = None
    line: int | None = None
    pieces: tuple[Piece, ...] = ()
    stands: bool = False
    gone: tuple[Piece, ...] = ()
    again: bool = False

    def published(self) -> dict[str, Any] | None:
        return {
            "number": self.number, "item": None if self.line is None else self.line + 1,
            "pieces": _named(self.pieces), "count": sum(count for _, count in self.pieces), "stands": self.stands,
        }  # fmt: skip


class CountChange(BaseModel):
    """A new count of one stock line: `quantity` is what is on hand afterwards."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    item: str
    delta: int
    quantity: int


class StockChanged(Happened):
    """`undoes`: the count before it is taken back."""

    changes: tuple[CountChange, ...] = ()
    undoes: bool = False

    def published(self) -> dict[str, Any] | None:
        return {"changes": [change.model_dump() for change in self.changes]}


class SiteChanged(Happened):
    """`facts`: fields of `callout.shoring.request.Site`, of the build, or without one of what is called next. No
    facts: all that was said before is forgotten. `undoes`: they are those of before the last fact."""

    facts: dict[str, Any] = {}
    undoes: bool = False

    def published(self) -> dict[str, Any] | None:
        return {"facts": self.facts}


class WasHalted(Happened):
    """The stop word that silenced the voice."""

    halted: str = ""

    def published(self) -> dict[str, Any] | None:
        return {"word": self.halted}


class WasSeen(Happened):
    """`seen`: all that is known of the wall that is sized up, as JSON of `callout.values.sights.Seen`; empty once
    another wall is begun."""

    seen: dict[str, Any] = {}

    def published(self) -> dict[str, Any] | None:
        return {"seen": self.seen}


class WasSizedUp(Happened):
    """The whole estimate, with the source of every rule: a `callout.shoring.sizeup.Sized` as JSON."""

    result: dict[str, Any] = {}

    def published(self) -> dict[str, Any] | None:
        return {"result": self.result}


class SizeUpTaken(Happened):
    """Callouts that come of a size-up. Each still waits for its readback and its affirm, one by one."""

    queued: tuple[Proposal, ...] = ()

    def published(self) -> dict[str, Any] | None:
        return {"callouts": [one.meaning for one in self.queued]}


class LookNoted(Happened):
    """A look at a standing shore that nobody signed yet: `look` is all of it so far, as JSON of
    `callout.values.sights.Looked`."""

    number: int = 0
    look: dict[str, Any] = {}

    def published(self) -> dict[str, Any] | None:
        return {"number": self.number, "look": self.look}


class WasInspected(Happened):
    """A standing shore was looked at: `look` is a `callout.shoring.aftercare.Inspection` but for its time, which is the
    line's. `number`: what the build is called by."""

    number: int = 0
    look: dict[str, Any] = {}

    def published(self) -> dict[str, Any] | None:
        return {"number": self.number, "look": self.look}


class LookCalled(Happened):
    """Something after which every standing shore is looked at: `reason` and the wind's `speed` as in
    `callout.shoring.aftercare.Happening`."""

    reason: str = "change"
    speed: float | None = None

    def published(self) -> dict[str, Any] | None:
        return {"reason": self.reason, "speed": self.speed}


class WasTaught(Happened):
    """A team's own words: `phrase` means `command` from now on, `line` is what stands in the team's folder. `undoes`:
    it does so no longer."""

    command: str = ""
    phrase: str = ""
    line: str = ""
    undoes: bool = False

    def published(self) -> dict[str, Any] | None:
        return {"command": self.command, "phrase": self.phrase, "undoes": self.undoes}


#: What each event holds.
HAPPENED: Mapping[EventName, type[Happened]] = {
    "heard": WasHeard, "readback": WasReadBack, "asked": WasAsked, "said": WasSaid, "refused": WasSaid,
    "resumed": Happened, "error": Happened, "affirmed": WasAffirmed, "released": WasReleased, "voided": WasVoided,
    "parked": WasParked, "picked": PiecesMoved, "placed": PiecesMoved, "returned": PiecesMoved,
    "stock_changed": StockChanged, "site_changed": SiteChanged, "alarm": WasHalted,
    "inspected": WasInspected, "look_called": LookCalled, "look_noted": LookNoted,
    "seen": WasSeen, "sized_up": WasSizedUp, "taken": SizeUpTaken, "taught": WasTaught,
}  # fmt: skip


def _named(pieces: tuple[Piece, ...]) -> list[dict[str, Any]]:
    return [{"name": name, "count": count} for name, count in pieces]


class Record(BaseModel):
    """One event as it is printed by `callout listen --json` and kept in the journal.

    `seq` and `time` (ISO 8601, local with offset) are None until the journal has written it. `data` is `what` as JSON:
    what a restart needs.

    Examples:
        >>> import callout
        >>> with callout.Session() as talk:
        ...     heard, readback = talk.text("insertion eleven feet sixty")
        >>> heard.event, heard.speaker, readback.event
        ('heard', 'measurer', 'readback')
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    seq: int | None = None
    time: str | None = None
    event: EventName
    speaker: str | None = None
    build_id: int | None = None
    text: str = ""
    meaning: dict[str, Any] | None = None
    build: dict[str, Any] | None = None
    data: dict[str, Any] = {}

    @property
    def what(self) -> Happened | None:
        """What happened, None where the line is words alone. Lines of every version give the same values."""
        return HAPPENED[self.event].model_validate(self.data) if self.data else None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """What was picked, placed or put back."""
        return self.what.pieces if isinstance(self.what, PiecesMoved) else ()

    @property
    def number(self) -> int | None:
        """What the build is called by, where this line says so."""
        return self.what.number if isinstance(self.what, (PiecesMoved, WasReleased)) else None

    @property
    def changes(self) -> tuple[CountChange, ...]:
        return self.what.changes if isinstance(self.what, StockChanged) else ()

    def to_json(self) -> dict[str, Any]:
        """The published shape, `callout schema event`."""
        shape = self.model_dump(mode="json", exclude={"data"})
        return {"version": VERSION, **shape, "happened": None if self.what is None else self.what.published()}
