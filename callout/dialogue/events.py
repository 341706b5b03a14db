"""What comes into a conversation, and what it asks the world to do.

Inputs carry their time in seconds on any one clock; the conversation has none itself. What happened stands in records
(`callout.dialogue.records`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Union

from callout.dialogue.records import Record, Role
from callout.language.context import Context
from callout.language.outcome import Resolution


@dataclass(frozen=True)
class Uttered:
    """One utterance. `time` is when its first word began, `until` when its last one ended, where that is known;
    `certain` marks typed words, which need no second guard.

    `name` is the speaker's own name when they gave one. `over_speech`: it was said while the voice spoke, and is not
    the voice's own; the rim cut the sentence that was being said to this side before (`Desk.give_way`). A yes then
    counts only if the figures that it answers had been said (`Spoken`), and what is not understood is answered by
    "say again". `names_side`: who typed it, at one keyboard for everyone, named the side: "measurer: ...".
    """

    resolution: Resolution
    text: str
    role: Role
    time: float
    certain: bool = False
    name: str | None = None
    until: float | None = None
    over_speech: bool = False
    names_side: bool = False


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
    """Something at the rim broke (voice, microphone, disk). `text` is one plain line for the eye. `aloud`: the name of
    the sentence (in `phrases.toml`, under trouble) that people must also hear.
    """

    text: str
    time: float
    aloud: str = ""


@dataclass(frozen=True)
class LookDue:
    """A standing shore is to be looked at now, by the clock or after something that happened: `why`, in words."""

    number: int
    why: str
    time: float


@dataclass(frozen=True)
class Opened:
    """A new conversation begins."""

    time: float


@dataclass(frozen=True)
class Resumed:
    """The program was started again on a journal that had a conversation in it."""

    time: float


Input = Union[Uttered, Key, Tick, Spoken, Fault, LookDue, Opened, Resumed]


# What is asked of the world. Order matters: a record is written before its words are spoken.

Listener = Literal["measurer", "yard", "both"]

#: Why something is said, the most urgent first: it goes ahead of what waits and is further down in this list.
Kind = Literal["warning", "answer", "readback", "item", "information"]


@dataclass(frozen=True)
class Say:
    """Speak `text`, which is also the text of the record just before it. `urgent`: it answers what was just said, and
    cuts what is being said. Sentences of one step keep their order."""

    text: str
    to: Listener = "yard"
    urgent: bool = False
    build_id: int | None = None
    kind: Kind = "information"


@dataclass(frozen=True)
class Silence:
    """Stop the voice at once and drop what waits to be spoken, for `to` alone where two voices speak."""

    to: Listener = "both"


Pace = Literal["slower", "faster", "louder", "softer"]


@dataclass(frozen=True)
class ChangeVoice:
    """Somebody asked the voice to speak otherwise from now on."""

    how: Pace


@dataclass(frozen=True)
class Unpair:
    """No board may press any more, until it is paired anew."""


@dataclass(frozen=True)
class Teach:
    """Write a line of grammar for a command into the team's folder, or with `undo` take it out again."""

    command: str
    line: str
    undo: bool = False


@dataclass(frozen=True)
class Listen:
    """What `role` may say next. Sent when it changes."""

    role: Role
    context: Context


Effect = Union[Record, Say, Silence, ChangeVoice, Unpair, Teach, Listen]
