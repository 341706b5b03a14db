"""What comes into a conversation. Time is a number of seconds on any one clock; the conversation has none itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Union

from callout.language.outcome import Resolution

Role = Literal["measurer", "logistics"]


@dataclass(frozen=True)
class Heard:
    """One utterance. `time` is when its first word began, `until` when its last one ended, where that is known;
    `certain` marks typed words, which need no second guard.

    `name` is the speaker's own name when they gave one.
    """

    resolution: Resolution
    text: str
    role: Role
    time: float
    certain: bool = False
    name: str | None = None
    until: float | None = None


@dataclass(frozen=True)
class Key:
    """A key, a pedal or a button: a short press means ready, a long press means say again. `affirm` has a key of its
    own, held or pressed twice: a person at the console affirms the latest readback for a measurer who is relayed."""

    kind: Literal["ready", "say_again", "affirm"]
    role: Role
    time: float


@dataclass(frozen=True)
class Tick:
    """Time went by. Send one about every second; typed conversations send none."""

    time: float


@dataclass(frozen=True)
class Spoken:
    """How far the voice came with `text`. Without this event the wait for an answer counts from an estimate
    (`seconds_a_word`).

    `figures`: its figures, and what they count, have been said; the rest still follows. `through`: all of it was said,
    and the wait for an answer counts from here. `cut`: it was silenced or made void, and what no event before this one
    told of was not said. `failed`: the voice could not say it, and an error tells so; it stands on the screen alone.
    """

    text: str
    time: float
    how: Literal["figures", "through", "cut", "failed"] = "through"


@dataclass(frozen=True)
class Fault:
    """Something at the rim broke (voice, microphone, disk). `text` is one plain line."""

    text: str
    time: float


@dataclass(frozen=True)
class Opened:
    """A new conversation begins."""

    time: float


@dataclass(frozen=True)
class Resumed:
    """The program was started again on a journal that had a conversation in it."""

    time: float


Input = Union[Heard, Key, Tick, Spoken, Fault, Opened, Resumed]
