"""What the conversation does in answer: decided first, then carried out.

To decide is pure: a function looks at the conversation and at what was heard (`Cause`), and gives a row of `Act`s,
which are values. Where a later act depends on what an earlier one leaves, the function looks at `folded(now, acts)`. To
carry out is one function for all acts: the sentence is worded, the record made and folded in, and the words spoken to
whom they are for. Nothing can be said that is not in a record.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from callout.dialogue import speakable, wording
from callout.dialogue.events import ChangeVoice, Effect, Kind, Listener, Say, Silence, Teach, Unpair
from callout.dialogue.evolve import evolve
from callout.dialogue.records import (
    HAPPENED,
    ROLES,
    EventName,
    Happened,
    PiecesMoved,
    Record,
    Role,
    WasHeard,
    WasSaid,
    WasVoided,
)
from callout.dialogue.state import Conversation, Pending, Seat, changed
from callout.language.commands import commands_that
from callout.language.outcome import Ambiguous, NotPossible, NotUnderstood, Resolution, Understood
from callout.values import Callout, Command, Meaning, meaning_json


@dataclass(frozen=True)
class Cause:
    """Who acts, when, and what was heard of them. `certain`: typed words and keys need no second guard. `reads`: they
    have what is said before their eyes, too (who types; a key on a large screen, if the settings say so)."""

    role: Role
    time: float
    one_source: bool
    name: str | None = None
    certain: bool = True
    reads: bool = True
    resolution: Resolution | None = None
    text: str = ""
    stood_by: bool = False  # their last word was "stand by", or the like
    names_side: bool = False  # typed with the side before it: "measurer: ..."

    def by(self, role: Role) -> Cause:
        """The same for the other side (the clock goes on for both)."""
        return replace(self, role=role)

    @property
    def seat(self) -> Role:
        """The name of the seat from which they speak."""
        return "measurer" if self.one_source else self.role

    @property
    def words(self) -> tuple[str, ...]:
        """What was heard of them, in words; empty of a key."""
        return () if self.resolution is None else self.resolution.words

    @property
    def in_yard(self) -> bool:
        """Whether they hear what the yard hears: with one source everybody."""
        return self.role == "logistics" or self.one_source

    @property
    def walks(self) -> bool:
        """Whether the words of the walk are theirs, which move it and book: the yard's, and with one source everybody's
        but those of a measurer who is named."""
        return self.role == "logistics" or (self.one_source and not self.names_side)

    @property
    def speaker(self) -> str:
        return self.name or self.role

    @property
    def listener(self) -> Listener:
        """Where an answer to them goes."""
        return "measurer" if self.role == "measurer" else "yard"

    @property
    def ears_agree(self) -> bool:
        """Both ears agreed on every part of what was heard."""
        parts = self.resolution.parts if self.resolution is not None else ()
        return bool(parts) and all(part.agreement == "agreed" for part in parts)

    @property
    def sure(self) -> bool:
        return self.certain or self.ears_agree

    @property
    def stress(self) -> tuple[str, ...]:
        """The parts just heard that have a near twin: the readback leans on them."""
        return self.resolution.stress if isinstance(self.resolution, Understood) else ()


@dataclass(frozen=True)
class Act:
    """One thing that happens: `what`, as the record of `event` keeps it, and the sentence `key` with its holes."""

    event: EventName | None  # None: nothing is written
    seat: Role  # of whoever acts
    what: Happened | None = None
    key: str = ""  # of a sentence in `phrases.toml`
    holes: Mapping[str, str] = field(default_factory=dict)
    text: str = ""  # words that are no one sentence of ours: what was heard, a card, a readback said again
    to: Listener | None = None  # None: it is written and shown, not spoken
    speaker: str = "callout"
    build_id: int | None = None
    meaning: Meaning | None = None
    build: Mapping[str, Any] | None = None  # a plan, as JSON
    kind: Kind | None = None  # why it is spoken, where the event alone does not tell
    once: bool = False  # without words, if the sentence was said since the last readback
    courtesies: Mapping[str, Any] = field(default_factory=dict)  # fields of the seat that a restart resets
    once_a_shift: str = ""  # what is said whole once a shift, and was with it
    then: Act | None = None  # the rest of it, as an utterance of its own
    first: Silence | ChangeVoice | Unpair | Teach | None = None  # what is done before anything is written

    @property
    def urgent(self) -> bool:
        """What waits for an answer is spoken before what was still to be said."""
        return self.event in ("readback", "asked", "voided")


Acts = tuple[Act, ...]


# How acts are made.


def written(
    cause: Cause, event: EventName, what: Happened | None = None, text: str = "", *, speaker: str = "callout",
    build_id: int | None = None, meaning: Meaning | None = None, build: Mapping[str, Any] | None = None,
) -> Act:  # fmt: skip
    """An act that is written and shown, and not spoken."""
    return Act(
        event, cause.seat, what, text=text, speaker=speaker, build_id=build_id, meaning=meaning, build=build
    )


def said(
    cause: Cause, key: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
    meaning: Meaning | None = None, what: Happened | None = None, courtesies: Mapping[str, Any] | None = None,
    **holes: str,
) -> Act:  # fmt: skip
    """An act with the sentence `key`, spoken to `to` (to who acts, when not given)."""
    listener = to or cause.listener
    return Act(
        event, cause.seat, _heard_at(cause, event, listener, what), key, holes, to=listener, build_id=build_id,
        meaning=meaning, courtesies=courtesies or {},
    )  # fmt: skip


def said_text(
    cause: Cause, text: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
    meaning: Meaning | None = None, build: Mapping[str, Any] | None = None, what: Happened | None = None,
    courtesies: Mapping[str, Any] | None = None, once_a_shift: str = "",
) -> Act:  # fmt: skip
    """An act with words that are no one sentence of `phrases.toml`."""
    listener = to or cause.listener
    return Act(
        event, cause.seat, _heard_at(cause, event, listener, what), text=text, to=listener, build_id=build_id,
        meaning=meaning, build=build, courtesies=courtesies or {}, once_a_shift=once_a_shift,
    )  # fmt: skip


def said_once(cause: Cause, key: str, event: EventName = "said", **holes: str) -> Act:
    """Said unless it was said since the last readback; written all the same."""
    return replace(said(cause, key, event), holes=holes, once=True)


def _heard_at(cause: Cause, event: EventName, listener: Listener, what: Happened | None) -> Happened:
    """`what` happened, with the seat that was spoken to."""
    other: Role = "logistics" if listener == "yard" else "measurer"
    seat = cause.seat if listener == cause.listener else cause.by(other).seat
    return (what or HAPPENED[event]()).model_copy(update={"seat": seat})


def waiting(cause: Cause, *, again: bool = False, spoken: bool = True) -> dict[str, Any]:
    """The courtesies of an act with which the wait for an answer begins; `spoken`: it is a sentence."""
    return {
        "since": cause.time, "again": again, "spoken": spoken, "known": None, "ended": None, "doubts": 0,
        "told": frozenset(), "standing_by": False, "guesses": (),
    }  # fmt: skip


def quiet(cause: Cause, to: Listener = "both", **courtesies: Any) -> Act:
    """The voice is silenced at once, before anything is written."""
    return Act(None, cause.seat, first=Silence(to), courtesies=courtesies)


def aside(cause: Cause, **courtesies: Any) -> Act:
    """Nothing is written: fields of the seat that a restart resets."""
    return Act(None, cause.seat, courtesies=courtesies)


# What was heard: it is written before everything that follows from it.


def heard(cause: Cause, what: WasHeard | None = None, courtesies: Mapping[str, Any] | None = None) -> Act:
    """What was heard. Content voids a readback by being written; `what` says so where it is something else."""
    if what is None:
        content = cause.resolution is not None and is_content(cause.resolution)
        what = WasHeard(seat=cause.seat) if content else WasHeard()
    meaning = None if cause.resolution is None else cause.resolution.meaning
    return replace(
        written(cause, "heard", what, cause.text, speaker=cause.speaker, meaning=meaning), courtesies=courtesies or {}
    )


def heard_nothing(cause: Cause) -> Act:
    """What was heard changes nothing, and leaves a readback standing."""
    return heard(cause, WasHeard())


def heard_half(
    cause: Cause, half: Callout, *, fresh: bool, patching: bool = False, readings: Iterable[Callout] = ()
) -> Act:
    """Half a callout is kept, and waits for its other half. `fresh`: nothing was asked about it yet. `patching`: the
    next part takes the place of what is in it. `readings`: what it can have been."""
    what = WasHeard(
        seat=cause.seat, half=half.model_dump(mode="json"), fresh=fresh, patching=patching,
        readings=tuple(reading.model_dump(mode="json") for reading in readings),
    )  # fmt: skip
    return heard(cause, what, waiting(cause, spoken=False))


#: Commands that are content: heard, they leave no readback standing.
CONTENT = commands_that("content")


def is_content(result: Resolution) -> bool:
    """Whether an utterance voids a readback by being heard at all."""
    if isinstance(result, Ambiguous):
        return any(isinstance(meaning, Callout) or meaning.patch is not None for meaning in result.candidates)
    if isinstance(result, (Understood, NotPossible)):
        meaning = result.meaning
        if isinstance(meaning, Command):
            return meaning.command in CONTENT or (meaning.command == "cancel" and meaning.build is None)
        return meaning is not None
    return isinstance(result, NotUnderstood) and looks_like_content(result)


def looks_like_content(result: NotUnderstood) -> bool:
    """Not understood, and yet a callout or a correction: it has the numbers, or a word that opens one. ("Affirm
    insertion" opens none.)"""
    said = (result.words, *(tuple(sentence.split()) for sentence in result.nearest))
    return bool(result.missing) or any(_OPENING & set(words) and words[0] not in _YES for words in said)


_OPENING = frozenset({"insertion", "correction"})
_YES = frozenset({"affirm", "affirmative"})


# What waited is void.


def voids(
    now: Conversation, cause: Cause, *, half: bool = True, move: bool = True, aloud: bool = False
) -> Acts:  # fmt: skip
    """Void what waits for an answer in this seat: a readback, with `half` half a callout. With `move` a relocation that
    waits for its callout too; without, what the readback was about (a move, a change) waits for another. `aloud`: what
    comes instead does not show that it is void, so that is said."""
    seat = now.seat(cause.role)
    return voided(cause, seat, seat.pending or seat.parked, half=half, move=move, aloud=aloud)


def voided(
    cause: Cause, seat: Seat, waiting: Pending | None, *, half: bool, move: bool, aloud: bool
) -> Acts:  # fmt: skip
    acts: list[Act] = []
    if waiting is not None:
        about = WasVoided() if move else _about(waiting)
        key = "void.called" if waiting.kind == "callout" else "void.other"
        acts.append(_void(cause, key, aloud, waiting.request, waiting.build_id, about))
    elif seat.teaching is not None:
        acts.append(_void(cause, "void.other", aloud, None, None, WasVoided()))
    elif move and seat.relocates is not None:
        acts.append(_void(cause, "void.other", aloud, None, seat.relocates, WasVoided()))
    if half and seat.half is not None:
        kept = Callout.model_validate(seat.half)
        acts.append(_void(cause, "void.called", aloud, kept, None, WasVoided(what="half")))
    return tuple(acts)


def voids_about(now: Conversation, cause: Cause, build_id: int) -> Acts:
    """The build is no longer open: what waits for an answer about it, on either side, is void, and that is said."""
    acts: list[Act] = []
    for role in ROLES[:1] if cause.one_source else ROLES:
        seat = now.seat(role)
        waits = seat.pending or seat.parked
        about = waits is not None and waits.kind != "relocate" and waits.build_id == build_id
        gives = waits is not None and waits.shape.giver == build_id
        if about or gives or seat.changes == build_id:
            acts += voids(now, cause.by(role), aloud=True)
    return tuple(acts)


def _about(waiting: Pending) -> WasVoided:
    """A void readback of a move or a change: that goes on, and waits for another callout."""
    relocates = waiting.build_id if waiting.kind == "relocate" else None
    changes = waiting.build_id if waiting.kind == "change" else None
    return WasVoided(move=False, relocates=relocates, changes=changes)


def _void(
    cause: Cause, key: str, aloud: bool, meaning: Callout | None, build_id: int | None, what: WasVoided
) -> Act:  # fmt: skip
    if aloud:
        return said(cause, key, "voided", meaning=meaning, build_id=build_id, what=what)
    seat = what.model_copy(update={"seat": cause.seat})
    return written(cause, "voided", seat, meaning=meaning, build_id=build_id)


# How acts are carried out.


def carry_out(now: Conversation, acts: Iterable[Act]) -> tuple[Conversation, tuple[Effect, ...]]:
    """The conversation after `acts`, and what to do, in order: a record comes before its words."""
    effects: list[Effect] = []
    for act in acts:
        now, some = _carried_out(now, act)
        effects += some
    return now, tuple(effects)


def folded(now: Conversation, acts: Iterable[Act]) -> Conversation:
    """The conversation as it will be after `acts`, for whoever decides what comes after them."""
    return carry_out(now, acts)[0]


def _carried_out(now: Conversation, act: Act) -> tuple[Conversation, list[Effect]]:
    effects: list[Effect] = [] if act.first is None else [act.first]
    if act.once:
        told = now.seat(act.seat).told
        if act.key in told:
            act = Act(act.event, act.seat)
        else:
            act = replace(act, courtesies={**act.courtesies, "told": told | {act.key}})
    if act.event is not None:
        now, some = _written_and_said(now, act, act.event)
        effects += some
    if act.courtesies:
        now = now.with_seat(act.seat, changed(now.seat(act.seat), **act.courtesies))
    if act.then is not None:
        now, rest = _carried_out(now, act.then)
        effects += rest
    if act.once_a_shift:
        now = changed(now, said_this_shift=now.said_this_shift | {act.once_a_shift})
    return now, effects


def _written_and_said(now: Conversation, act: Act, event: EventName) -> tuple[Conversation, list[Effect]]:
    text = wording.sentence(act.key, **act.holes) if act.key else act.text
    lost = "" if act.to is None else speakable.lost(text)
    effects: list[Effect] = []
    if lost:  # a fault of the program, and no reason for silence: it is written, and the rest is said
        effects.append(Record(event="error", speaker="callout", text=f"{_NOT_SAID.format(lost)}: {text}"))
        text = _what_can_be_said(text)
    what = act.what
    if isinstance(what, PiecesMoved) and act.build_id is not None:
        build = now.build(act.build_id)
        what = what if build is None else what.model_copy(update={"number": build.number})
    effects.append(
        Record(
            event=event, speaker=act.speaker, build_id=act.build_id, text=text, meaning=meaning_json(act.meaning),
            build=None if act.build is None else dict(act.build), data={} if what is None else what.to_json(),
        )
    )  # fmt: skip
    for record in effects:
        if isinstance(record, Record):
            now = evolve(now, record)
    if act.to is not None:
        effects.append(Say(text, act.to, act.urgent, act.build_id, act.kind or _kind(act)))
    return now, effects


_NOT_SAID = "a sentence holds {!r}, which no voice can say"


def _what_can_be_said(text: str) -> str:
    rest = speakable.speakable(text).rstrip(".,;:")
    partly = wording.sentence("plain.partly_said")
    return f"{rest}. {partly}" if rest else partly


def _kind(act: Act) -> Kind:
    """Why it is spoken: `at` in a record of the walk is the card that the crew stands at from now on."""
    if act.event in ("alarm", "error"):
        return "warning"
    if act.event in ("asked", "refused", "voided", "seen", "look_noted"):
        return "answer"
    if act.event == "readback":
        return "readback"
    return "item" if isinstance(act.what, WasSaid) and act.what.at is not None else "information"
