"""What a conversation asks the world to do. Order matters: a record is written before its words are spoken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Union

from callout.dialogue.events import Record
from callout.dialogue.inputs import Role
from callout.language.context import Context

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
    """Stop the voice at once and drop what waits to be spoken."""


@dataclass(frozen=True)
class Listen:
    """What `role` may say next. Sent when it changes."""

    role: Role
    context: Context


Effect = Union[Record, Say, Silence, Listen]
