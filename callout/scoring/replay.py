"""The kept audio of a real day through today's ears: what would now be heard differently?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from callout.channel.level import Samples
from callout.dialogue.events import Record
from callout.errors import CalloutError
from callout.language.context import EVERYTHING
from callout.scoring.trial import Listener
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
    records: Iterable[Record], find: Callable[[str], Path], read: Callable[[Path], Samples], listen: Listener
) -> Iterator[Again]:
    """Every `heard` record that has kept audio, heard again. `find` gives the file of a kept sound's name.

    The state of the conversation is not in the record, so every word of every state is allowed now.
    """
    for record in records:
        name = record.data.get(AUDIO)
        if record.event != "heard" or not isinstance(name, str):
            continue
        base = {"seq": record.seq, "time": record.time, "speaker": record.speaker, "then_text": record.text}
        try:
            heard = listen(read(find(name)), EVERYTHING)
        except (CalloutError, OSError) as broken:
            error = " ".join(str(broken).split())
            yield Again(**base, change="unreadable", then_meaning=record.meaning, now_text="", now_meaning=None,
                        now_outcome="nothing", error=error)  # type: ignore[arg-type]  # fmt: skip
            continue
        result = heard.resolution
        now = meaning_json(result.meaning) if result.outcome == "understood" else None
        words = heard.readings[0] if heard.readings else result.words
        yield Again(**base, change=_change(record.meaning, now), then_meaning=record.meaning, now_text=" ".join(words),
                    now_meaning=now, now_outcome=result.outcome)  # type: ignore[arg-type]  # fmt: skip


def _change(then: dict[str, Any] | None, now: dict[str, Any] | None) -> Change:
    if bare(then) == bare(now):
        return "same"
    if then is None:
        return "gained"
    return "lost" if now is None else "other"
