"""The kept audio of a real day through today's ears: what would now be heard differently?"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from callout.channel.level import Samples
from callout.dialogue.evolve import evolve
from callout.dialogue.records import ROLES, Record
from callout.dialogue.state import Conversation, context
from callout.errors import CalloutError
from callout.language.context import Context
from callout.scoring.run import Listener
from callout.scoring.verdict import bare
from callout.values import meaning_json

#: The key under which a `heard` record keeps the name of its sound.
AUDIO = "audio"

Change = Literal["same", "other", "lost", "gained", "unreadable"]


@dataclass(frozen=True)
class Again:
    """One utterance, then and now. `change`: the same meaning, another, none any more, one for the first time."""

    seq: int | None
    time: str | None
    speaker: str | None
    change: Change
    then_text: str
    then_meaning: dict[str, Any] | None
    now_text: str
    now_meaning: dict[str, Any] | None
    now_outcome: str
    error: str = ""

    def to_json(self) -> dict[str, Any]:
        return {
            "seq": self.seq,
            "time": self.time,
            "speaker": self.speaker,
            "change": self.change,
            "then": {"text": self.then_text, "meaning": self.then_meaning},
            "now": {"text": self.now_text, "meaning": self.now_meaning, "outcome": self.now_outcome},
            "error": self.error,
        }


def replay(
    records: Iterable[Record],
    conversation: Conversation,
    find: Callable[[str], Path],
    read: Callable[[Path], Samples],
    listen: Listener,
) -> Iterator[Again]:
    """Every `heard` record that has kept audio, heard again in the state of the conversation in which it was spoken.

    `conversation` is one that has just begun; the records are folded into it on the way. `find` gives the file of a
    kept sound's name.
    """
    for record in records:
        name = record.data.get(AUDIO)
        if record.event == "heard" and isinstance(name, str):
            yield _again(record, _context(conversation, record), functools.partial(_sound, find, read, name), listen)
        conversation = evolve(conversation, record)


def _sound(find: Callable[[str], Path], read: Callable[[Path], Samples], name: str) -> Samples:
    return read(find(name))


def _context(conversation: Conversation, record: Record) -> Context:
    role = next((role for role in ROLES if role == record.speaker), ROLES[0])
    return context(conversation, role)


def _again(record: Record, state: Context, sound: Callable[[], Samples], listen: Listener) -> Again:
    outcome, now_text, error = "nothing", "", ""
    now: dict[str, Any] | None = None
    change: Change = "unreadable"
    try:
        heard = listen(sound(), state)
        outcome, now = heard.resolution.outcome, meaning_json(heard.resolution.meaning)
        now_text = " ".join(heard.readings[0] if heard.readings else heard.resolution.words)
        change = _change(record.meaning, now)
    except (CalloutError, OSError) as broken:
        error = " ".join(str(broken).split())
    return Again(
        seq=record.seq,
        time=record.time,
        speaker=record.speaker,
        change=change,
        then_text=record.text,
        then_meaning=record.meaning,
        now_text=now_text,
        now_meaning=now,
        now_outcome=outcome,
        error=error,
    )


def _change(then: dict[str, Any] | None, now: dict[str, Any] | None) -> Change:
    if bare(then) == bare(now):
        return "same"
    if then is None:
        return "gained"
    return "lost" if now is None else "other"
