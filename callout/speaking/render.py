"""Words to samples: each stretch spoken at its own rate, trimmed, and joined with the pauses between."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from callout.speaking.pacing import Pace, Stretch, figures_until, stretches

RATE = 22050
#: The speech library goes no slower; a stretch that is still too fast gets a longer pause instead.
SLOWEST = 80
#: Quieter than this is silence (of 32,767).
FLOOR = 150
EDGE = int(0.02 * RATE)
LEAD_IN = int(0.01 * RATE)  # the device runs all the time: nothing has to open for the first word

Samples = NDArray[np.int16]


class SpeechSource(Protocol):
    """Where the sound of one stretch comes from (see `process.SpeechProcess`)."""

    def samples(self, text: str, rate: int) -> bytes: ...


@dataclass(frozen=True)
class Rendered:
    """An utterance as sound: `samples` are 16-bit mono at `rate` Hz, `path` the WAV file when one was asked for."""

    text: str
    samples: Samples
    path: Path | None = None
    rate: int = RATE
    figures_end: int | None = None  # the sample at which its figures, and what they count, are said; None: no figures

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


def render(text: str, source: SpeechSource, pace: Pace | None = None) -> Rendered:
    """The text as sound. Raises `NotSpeakable` for anything but words, `CalloutError` when no engine speaks."""
    made, figures_end, count = [], None, 0
    for samples, known in pieces(text, source, pace):
        made.append(samples)
        count += len(samples)
        figures_end = count if known else figures_end
    return Rendered(" ".join(text.split()), np.concatenate(made), figures_end=figures_end)


def pieces(text: str, source: SpeechSource, pace: Pace | None = None) -> Iterator[tuple[Samples, bool]]:
    """The sound of a text piece by piece, as it is made; whether its figures are known once a piece was heard."""
    pace = pace or Pace()
    yield np.zeros(LEAD_IN, np.int16), False
    found = stretches(text, pace)
    last = figures_until(found)
    for at, stretch in enumerate(found):
        sound, silence = _spoken(stretch, source, pace)
        yield sound, at == last
        yield silence, False


def louder(samples: Samples, decibels: float) -> Samples:
    """The same sound at another loudness; what would not fit is bent softly, never cut."""
    if not decibels:
        return samples
    scaled = samples.astype(np.float32) * np.float32(10 ** (decibels / 20) / 32768)
    bend = np.float32(0.7)
    over = np.abs(scaled) > bend
    room = 1 - bend
    scaled[over] = np.sign(scaled[over]) * (bend + room * np.tanh((np.abs(scaled[over]) - bend) / room))
    loud: Samples = (scaled * 32767).astype(np.int16)
    return loud


def _spoken(stretch: Stretch, source: SpeechSource, pace: Pace) -> tuple[Samples, Samples]:
    """The sound of a stretch and the silence after it, together no faster than the pace allows."""
    limit = pace.figures if stretch.figures else pace.words
    rate = int(limit)
    sound = _trimmed(source.samples(stretch.text, rate))
    measured = stretch.pace(len(sound) / RATE)
    if measured > limit and rate > SLOWEST:
        slower = max(SLOWEST, int(rate * limit / measured))
        sound = _trimmed(source.samples(stretch.text, slower))
        measured = stretch.pace(len(sound) / RATE)
    if measured > limit:
        needed = len(stretch.words) / limit * 60 - len(sound) / RATE
        stretch = replace(stretch, pause=max(stretch.pause, needed))
    return sound, np.zeros(round(stretch.pause * RATE), np.int16)


def _trimmed(sound: bytes) -> Samples:
    """Without the engine's own silence before and after, so that the pauses are ours."""
    samples = np.frombuffer(sound, dtype="<i2").astype(np.int16)
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > FLOOR)
    if not len(loud):
        return samples
    return samples[max(0, loud[0] - EDGE) : loud[-1] + EDGE]
