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
    """A key, a pedal or a button: a short press means ready, a long press means say again."""

    kind: Literal["ready", "say_again"]
    role: Role
    time: float


@dataclass(frozen=True)
class Tick:
    """Time went by. Send one about every second; typed conversations send none."""

    time: float


@dataclass(frozen=True)
class Spoken:
    """The voice is through with `text`: the wait for an answer to it counts from here. Without this event the wait
    counts from an estimate (`seconds_a_word`)."""

    text: str
    time: float


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
