"""The port of hearing: what anything that hears must do, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from callout.hearing.audio import Samples
from callout.hearing.segmenter import Sense
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Resolution


@dataclass(frozen=True)
class Heard:
    """What became of an utterance. `readings` are word sequences, best first; `confidence` is that of the weakest
    part (None where nothing was understood); `seconds` is what the hearing took."""

    resolution: Resolution
    readings: tuple[tuple[str, ...], ...]
    confidence: float | None
    seconds: float
    listener: str
    deaf: bool = False  # the second ear did not answer, because its process had died or hung


@dataclass(frozen=True)
class Glance:
    """A look at an utterance in the middle of it."""

    words: tuple[str, ...]
    sense: Sense


class Recognizer(Protocol):
    """The port: anything that hears. A third ear needs this and no more."""

    name: str

    def hear(self, samples: Samples, context: Context = EVERYTHING) -> Heard: ...

    def close(self) -> None: ...
