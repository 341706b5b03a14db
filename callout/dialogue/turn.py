"""One step under way: what it writes and says, and the conversation as it stands after each line.

Everything that changes the conversation for good goes through `write`, and so through the fold; `set_seat` is for
clocks and courtesies only. `say` writes its words before it speaks them: nothing can be said that is not in a record.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from callout.dialogue import wording
from callout.dialogue.events import (
    HAPPENED,
    ROLES,
    Effect,
    EventName,
    Happened,
    Kind,
    Listener,
    PiecesMoved,
    Record,
    Role,
    Say,
    Silence,
    WasHeard,
    WasSaid,
    WasVoided,
)
from callout.dialogue.evolve import evolve
from callout.dialogue.phrases import phrase
from callout.dialogue.state import Conversation, Pending, Seat
from callout.language.commands import commands_that
from callout.language.outcome import Ambiguous, NotPossible, NotUnderstood, Resolution, Understood
from callout.values import Callout, Command, Meaning, meaning_json

#: Commands that are content: heard, they leave no readback standing.
CONTENT = commands_that("content")

#: What waits for an answer is spoken before what was still to be said.
URGENT = frozenset({"readback", "asked", "voided"})


class Turn:
    """`role` is who acts; `sure` is true when the words need no second guard (typed, a key, both ears agreed); `reads`
    when they have what is said before their eyes, too (who types; a key on a large screen, if the settings say so)."""

    def __init__(
        self, now: Conversation, role: Role, time: float, *, name: str | None = None, certain: bool = True,
        reads: bool | None = None, resolution: Resolution | None = None, text: str = "",
    ) -> None:  # fmt: skip
        self.now = now
        self.role = role
        self.name = name
        self.certain = certain
        self.reads = certain if reads is None else reads
        self.resolution = resolution
        self.time = time
        self.effects: list[Effect] = []
        self.text = text
        self.seat_name: Role = now.seat_name(role)
        self._heard: WasHeard | None = None
        if resolution is not None:
            self._heard = WasHeard(seat=self.seat_name) if is_content(resolution) else WasHeard()
        self._waiting = self.seat.pending or self.seat.parked

    def act_as(self, role: Role) -> None:
        """Go on for the other side (the clock does)."""
        self.role, self.seat_name = role, self.now.seat_name(role)
        self._waiting = self.seat.pending or self.seat.parked

    @property
    def seat(self) -> Seat:
        return self.now.seat(self.seat_name)

    @property
    def speaker(self) -> str:
        return self.name or self.role

    @property
    def ears_agree(self) -> bool:
        """Both ears agreed on every part of what was heard."""
        parts = self.resolution.parts if self.resolution is not None else ()
        return bool(parts) and all(part.agreement == "agreed" for part in parts)

    @property
    def stress(self) -> tuple[str, ...]:
        """The parts just heard that have a near twin: the readback leans on them."""
        return self.resolution.stress if isinstance(self.resolution, Understood) else ()

    @property
    def sure(self) -> bool:
        return self.certain or self.ears_agree

    def set_seat(self, **changes: Any) -> None:
        """Change fields of the seat that a restart resets."""
        self.now = self.now.with_seat(self.seat_name, replace(self.seat, **changes))

    def wait_for_answer(self, *, again: bool = False, spoken: bool = True) -> None:
        """The wait for an answer begins; `spoken`: with the sentence just said."""
        self.set_seat(
            since=self.time, again=again, spoken=spoken, known=None, ended=None, doubts=0, told=frozenset(),
            standing_by=False,
        )

    def write(
        self, event: EventName, text: str = "", *, speaker: str = "callout", build_id: int | None = None,
        meaning: Meaning | None = None, build: dict[str, Any] | None = None, what: Happened | None = None,
    ) -> None:  # fmt: skip
        """Add a record and fold it in. What was heard comes before everything that follows from it."""
        self.write_heard()
        self._write(event, text, speaker, build_id, meaning, build, what)

    def write_heard(self) -> None:
        """Write what was heard, if that is not done yet."""
        if self._heard is not None and self.resolution is not None:
            what, self._heard = self._heard, None
            self._write("heard", self.text, self.speaker, None, self.resolution.meaning, None, what)

    def take_nothing(self) -> None:
        """What was heard changes nothing, and leaves a readback standing; it is written all the same."""
        self._heard = WasHeard()

    def keep_half(
        self, half: Callout, *, fresh: bool, patching: bool = False, readings: Iterable[Callout] = ()
    ) -> None:  # fmt: skip
        """Keep half a callout: it stands in the record of what was heard. `fresh`: nothing was asked about it yet.
        `patching`: the next part takes the place of what is in it. `readings`: what it can have been."""
        if self._heard is None:
            raise RuntimeError("half a callout is kept before anything else is written")
        self._heard = WasHeard(
            seat=self.seat_name, half=half.model_dump(mode="json"), fresh=fresh, patching=patching,
            readings=tuple(reading.model_dump(mode="json") for reading in readings),
        )  # fmt: skip
        self.write_heard()

    def _write(
        self, event: EventName, text: str, speaker: str, build_id: int | None, meaning: Meaning | None,
        build: dict[str, Any] | None, what: Happened | None,
    ) -> None:  # fmt: skip
        if isinstance(what, PiecesMoved) and build_id is not None:
            build_of = self.now.open.get(build_id) or self.now.standing.get(build_id)
            what = what if build_of is None else what.model_copy(update={"number": build_of.number})
        record = Record(
            event=event, speaker=speaker, build_id=build_id, text=text, meaning=meaning_json(meaning), build=build,
            data={} if what is None else what.to_json(),
        )  # fmt: skip
        self.effects.append(record)
        self.now = evolve(self.now, record)

    def say(
        self, key: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
        meaning: Meaning | None = None, what: Happened | None = None, **holes: str,
    ) -> None:  # fmt: skip
        """Write the sentence `key` as a record of `event`, then speak it to `to` (to who acts, when not given)."""
        self.say_text(phrase(key, **holes), event, to=to, build_id=build_id, meaning=meaning, what=what)

    def say_text(
        self, text: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
        meaning: Meaning | None = None, build: dict[str, Any] | None = None, what: Happened | None = None,
    ) -> None:  # fmt: skip
        """Write `text`, then speak it. An urgent sentence is one that an answer waits for."""
        if lost := wording.lost(text):
            text = self._without_what_cannot_be_said(text, lost)
        listener: Listener = to or self.listener
        heard_at = self.seat_name if listener == self.listener else _seat_of(self.now, listener)
        what = (what or HAPPENED[event]()).model_copy(update={"seat": heard_at})
        self.write(event, text, build_id=build_id, meaning=meaning, build=build, what=what)
        self.effects.append(Say(text, listener, event in URGENT, build_id, _kind(event, what)))

    def _without_what_cannot_be_said(self, text: str, lost: str) -> str:
        """A fault of the program, and no reason for silence: it is written, and the rest is said."""
        self.write("error", f"a sentence holds {lost!r}, which no voice can say: {text}")
        rest = wording.speakable(text).rstrip(".,;:")
        return f"{rest}. {phrase('plain.partly_said')}" if rest else phrase("plain.partly_said")

    def say_once(self, key: str, event: EventName = "said", **holes: str) -> None:
        """Say it unless it was said since the last readback; write it all the same, without words."""
        if key in self.seat.told:
            self.write(event)
            return
        self.say_text(phrase(key, **holes), event)
        self.set_seat(told=self.seat.told | {key})

    def silence(self, to: Listener = "both") -> None:
        self.effects.append(Silence(to))

    @property
    def listener(self) -> Listener:
        """Where an answer to the one who acts goes."""
        return "measurer" if self.role == "measurer" else "yard"

    def give_up_waiting(self, *, half: bool = True, move: bool = True, aloud: bool = False) -> None:
        """Void what waits for an answer in this seat: a readback, with `half` half a callout. With `move` a relocation
        that waits for its callout too; without, what the readback was about (a move, a change) waits for another.
        `aloud`: what comes instead does not show that it is void, so that is said."""
        seat = self.seat
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            about = WasVoided() if move else _about(waiting)
            key = "void.called" if waiting.kind == "callout" else "void.other"
            self._void(key, aloud, waiting.request, waiting.build_id, about)
        elif move and seat.relocates is not None:
            self._void("void.other", aloud, None, seat.relocates, WasVoided())
        if half and seat.half is not None:
            self._void("void.called", aloud, Callout.model_validate(seat.half), None, WasVoided(what="half"))

    def void_about(self, build_id: int) -> None:
        """The build is no longer open: what waits for an answer about it, on either side, is void, and that is said."""
        mine, roles = self.role, ROLES[:1] if self.now.settings.one_source else ROLES
        for role in roles:
            self.act_as(role)
            waiting = self._waiting
            about = waiting is not None and waiting.kind != "relocate" and waiting.build_id == build_id
            gives = waiting is not None and waiting.shape.giver == build_id
            if about or gives or self.seat.changes == build_id:
                self.give_up_waiting(aloud=True)
        self.act_as(mine)

    def _void(
        self, key: str, aloud: bool, meaning: Callout | None, build_id: int | None, what: WasVoided
    ) -> None:  # fmt: skip
        if aloud:
            self.say(key, "voided", meaning=meaning, build_id=build_id, what=what)
        else:
            voided = what.model_copy(update={"seat": self.seat_name})
            self.write("voided", meaning=meaning, build_id=build_id, what=voided)


def _about(waiting: Pending) -> WasVoided:
    """A void readback of a move or a change: that goes on, and waits for another callout."""
    relocates = waiting.build_id if waiting.kind == "relocate" else None
    changes = waiting.build_id if waiting.kind == "change" else None
    return WasVoided(move=False, relocates=relocates, changes=changes)


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


def _kind(event: EventName, what: Happened) -> Kind:
    """Why a record is spoken: `at` in a record of the walk is the card that the crew stands at from now on."""
    if event in ("alarm", "error"):
        return "warning"
    if event in ("asked", "refused", "voided"):
        return "answer"
    if event == "readback":
        return "readback"
    return "item" if isinstance(what, WasSaid) and what.at is not None else "information"


def _seat_of(now: Conversation, listener: Listener) -> Role:
    return now.seat_name("logistics" if listener == "yard" else "measurer")
