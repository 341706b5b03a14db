"""One step under way, for what decides and acts by turns: each act is carried out as soon as it is decided.

What can be decided as a whole needs no `Turn` (`callout.dialogue.acts`): it comes here once, as the acts of `do`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from callout.dialogue import acts
from callout.dialogue.acts import Act, Cause
from callout.dialogue.events import (
    Effect,
    EventName,
    Happened,
    Listener,
    Role,
    Silence,
)
from callout.dialogue.state import Conversation, Seat, changed
from callout.values import Meaning


class Turn:
    """The conversation as it stands after each act, and what to do so far."""

    def __init__(self, now: Conversation, cause: Cause) -> None:
        self.now = now
        self.cause = cause
        self.effects: list[Effect] = []
        self._heard = cause.resolution is None  # what was heard is written
        self._waiting = self.seat.pending or self.seat.parked

    def do(self, *some: Act) -> None:
        """Carry acts out. What was heard comes before everything that follows from it."""
        if not self._heard and some:
            some = some if some[0].event == "heard" else (acts.heard(self.cause), *some)
            self._heard = True
        self.now, effects = acts.carry_out(self.now, some)
        self.effects += effects

    def write_heard(self) -> None:
        """Write what was heard, if that is not done yet."""
        if not self._heard:
            self.do(acts.heard(self.cause))

    def take_nothing(self) -> None:
        """What was heard changes nothing, and leaves a readback standing; it is written all the same."""
        if not self._heard:
            self.do(acts.heard_nothing(self.cause))

    def act_as(self, role: Role) -> None:
        """Go on for the other side (the clock does)."""
        self.cause = self.cause.by(role)
        self._waiting = self.seat.pending or self.seat.parked

    @property
    def seat(self) -> Seat:
        return self.now.seat(self.cause.role)

    @property
    def role(self) -> Role:
        return self.cause.role

    @property
    def name(self) -> str | None:
        return self.cause.name

    @property
    def speaker(self) -> str:
        return self.cause.speaker

    @property
    def reads(self) -> bool:
        return self.cause.reads

    @property
    def stress(self) -> tuple[str, ...]:
        return self.cause.stress

    @property
    def sure(self) -> bool:
        return self.cause.sure

    def set_seat(self, **courtesies: Any) -> None:
        """Change fields of the seat that a restart resets."""
        self.now = self.now.with_seat(self.cause.seat, changed(self.seat, **courtesies))

    def wait_for_answer(self, *, again: bool = False, spoken: bool = True) -> None:
        """The wait for an answer begins; `spoken`: with the sentence just said."""
        self.set_seat(**acts.waiting(self.cause, again=again, spoken=spoken))

    def write(
        self, event: EventName, text: str = "", *, speaker: str = "callout", build_id: int | None = None,
        meaning: Meaning | None = None, build: dict[str, Any] | None = None, what: Happened | None = None,
    ) -> None:  # fmt: skip
        act = acts.written(
            self.cause, event, what, text, speaker=speaker, build_id=build_id, meaning=meaning, build=build
        )
        self.do(act)

    def say(
        self, key: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
        meaning: Meaning | None = None, what: Happened | None = None, **holes: str,
    ) -> None:  # fmt: skip
        act = acts.said(self.cause, key, event, to=to, build_id=build_id, meaning=meaning, what=what)
        self.do(replace(act, holes=holes))

    def say_text(
        self, text: str, event: EventName = "said", *, to: Listener | None = None, build_id: int | None = None,
        meaning: Meaning | None = None, build: dict[str, Any] | None = None, what: Happened | None = None,
    ) -> None:  # fmt: skip
        self.do(
            acts.said_text(self.cause, text, event, to=to, build_id=build_id, meaning=meaning, build=build, what=what)
        )

    def say_once(self, key: str, event: EventName = "said", **holes: str) -> None:
        self.do(acts.said_once(self.cause, key, event, **holes))

    def silence(self, to: Listener = "both") -> None:
        self.effects.append(Silence(to))

    def give_up_waiting(self, *, half: bool = True, move: bool = True, aloud: bool = False) -> None:
        """Void what waited for an answer in this seat when the step began: see `acts.voids`."""
        waited, self._waiting = self._waiting, None
        self.do(*acts.voided(self.cause, self.seat, waited, half=half, move=move, aloud=aloud))

    def void_about(self, build_id: int) -> None:
        """The build is no longer open: what waits for an answer about it, on either side, is void, and that is said."""
        self.do(*acts.voids_about(self.now, self.cause, build_id))
        self._waiting = self.seat.pending or self.seat.parked
