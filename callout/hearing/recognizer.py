"""The port of hearing: what anything that hears must do, what it gives, and how a package brings one of its own.

A package that is installed beside callout registers a class, or anything that makes a recognizer when it is called:

    [project.entry-points."callout.recognizers"]
    quiet_room = "my_package.ears:QuietRoom"

`callout hear --model quiet_room FILE`, `callout score DIR --model quiet_room` and `callout listen --model quiet_room`
then hear with it. It decides what is sure: what it calls understood is read back, and affirms like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points
from typing import Protocol

from callout.errors import CalloutError
from callout.hearing.audio import Samples
from callout.hearing.segmenter import Sense
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Resolution


@dataclass(frozen=True)
class Heard:
    """What became of an utterance. `readings` are word sequences, best first; `confidence` is that of the weakest
    part (None where nothing was understood); `seconds` is what the hearing took.

    Examples:
        >>> import callout
        >>> heard = callout.hear("audio_fixtures/demo/whole_clean.flac")
        >>> heard.resolution.meaning.angle_deg, heard.confidence > 0.5
        (60, True)
    """

    resolution: Resolution
    readings: tuple[tuple[str, ...], ...]
    confidence: float | None
    seconds: float
    listener: str
    deaf: bool = False  # the second ear did not answer, because its process had died or hung
    restarts: int = 0  # how often the process of the second ear was started again so far
    sense: Sense = "nothing"  # how much of an utterance it is: a live ear then knows how long to wait for more
    rest: float | None = None  # seconds of sound after the last word; None where nobody knows


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


def installed() -> Mapping[str, EntryPoint]:
    """The recognizers that packages registered, by name."""
    return {found.name: found for found in entry_points(group="callout.recognizers")}


def opened(found: EntryPoint) -> Recognizer:
    """One of them, made. Raises CalloutError where its package fails."""
    try:
        made: Recognizer = found.load()()
    except CalloutError:
        raise
    except Exception as broken:
        why = f"the recognizer {found.name!r} cannot be opened ({broken})"
        raise CalloutError(f"{why}; ask who made {found.value}") from broken
    return made
