"""One recording in one condition through the ears, and what came of it: the row that everything is counted from."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from pydantic import BaseModel, ConfigDict

from callout.channel.level import Samples
from callout.errors import CalloutError
from callout.language.context import Context
from callout.language.outcome import Resolution
from callout.language.typed import typed_words
from callout.scoring.conditions import Condition
from callout.scoring.manifest import Entry
from callout.scoring.verdict import SlotVerdict, Verdict, judge, judge_slots, meaning_of_words, word_edits
from callout.values import meaning_json


class HeardByListener(Protocol):
    """What a listener returns: see `callout.hearing.ears.Heard`."""

    @property
    def resolution(self) -> Resolution: ...
    @property
    def readings(self) -> Sequence[Sequence[str]]: ...
    @property
    def confidence(self) -> float | None: ...


#: 16 kHz mono floats and a context -> what was heard.
Listener = Callable[[Samples, Context], HeardByListener]


class ScoredRow(BaseModel):
    """One recording in one condition. `said` and `heard` are words; times are whole microseconds."""

    model_config = ConfigDict(extra="forbid")

    trial: int
    file: str
    condition: str
    snr_db: float | None
    speaker: str
    channel: str
    noise: str
    audio_us: int = 0
    decode_us: int = 0
    outcome: str = "nothing"
    verdict: Verdict = "not_heard"
    said: str = ""
    heard: str = ""
    truth: dict[str, Any] | None = None
    meaning: dict[str, Any] | None = None
    guessed: bool = False
    confidence: float | None = None
    reasons: list[str] = []
    slots: dict[str, SlotVerdict] = {}
    edits: list[int] = [0, 0, 0, 0]
    pairs: list[tuple[str, str]] = []
    error: str = ""


@dataclass
class Booth:
    """Everything a process needs to hear recordings: its own listener, the way to read files, the context."""

    listen: Listener
    folder: Path
    context: Context
    read: Callable[[Path], Samples]
    resolve: Callable[[str], Resolution]
    close: Callable[[], None] = lambda: None

    def hear(self, trial: int, entry: Entry, condition: Condition) -> ScoredRow:
        """The row of one trial. A recording that cannot be read is a row with its error, never an exception."""
        row = blank_row(trial, entry, condition)
        if not entry.given:
            row.truth, row.guessed = meaning_of_words(entry.words, self.resolve), True
        try:
            samples = self.read(self.folder / entry.file)
            row.audio_us = round(len(samples) / 16e-3)
            heard_samples = np.asarray(condition.apply(samples, entry.file), dtype=np.float32)
            began = time.perf_counter()
            heard = self.listen(heard_samples, self.context)
            row.decode_us = round((time.perf_counter() - began) * 1e6)
        except (CalloutError, OSError) as broken:
            row.error = " ".join(str(broken).split())
            return row
        result = heard.resolution
        row.outcome = result.outcome
        row.meaning = meaning_json(result.meaning)
        row.heard = " ".join(heard.readings[0] if heard.readings else result.words)
        row.confidence = heard.confidence
        row.reasons = list(result.reasons)
        row.verdict = judge(row.truth, row.outcome, row.meaning)
        row.slots = judge_slots(row.truth, row.outcome, row.meaning)
        if row.truth is not None:  # the words of chatter are not meant to be heard
            row.edits, row.pairs = word_edits(_as_spoken(entry.words), row.heard)
        return row


def _as_spoken(words: str) -> str:
    """The words of the manifest as an ear gives them: no comma counts as a word misheard, and "11" is eleven."""
    typed = typed_words(words)
    return words if typed.fault else " ".join(typed.words)


def blank_row(trial: int, entry: Entry, condition: Condition) -> ScoredRow:
    """The row of a recording nobody has heard yet."""
    return ScoredRow(
        trial=trial,
        file=entry.file,
        condition=condition.label,
        snr_db=condition.snr_db,
        speaker=entry.speaker,
        channel=entry.channel if condition.channel == "clean" else condition.channel,
        noise=entry.noise if condition.channel == "clean" else condition.noise,
        said=entry.words,
        truth=entry.meaning,
        guessed=not entry.given,
    )
