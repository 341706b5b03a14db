"""How loud, how quiet, and where: decides on silence and on padding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from callout.hearing.audio import RATE, Samples

STEP = RATE // 50  # 20 ms
SILENT_DB = -65.0  # a recording whose loudest stretch stays below this holds nothing
QUIET_GAP_DB = 38.0  # speech this far above the quietest stretch was recorded in quiet
TIGHT_LEAD, TIGHT_TAIL = 0.15, 0.25  # a noisy recording with less than this was cut tight
SHORT, SHORT_FLOOR_DB = 1.5, -50.0  # seconds; a short recording cut tight holds no quiet to learn its floor from
LEAD, TAIL = 0.5, 1.0  # seconds of silence that the ears were trained to expect around speech


@dataclass(frozen=True)
class Level:
    """Decibels below full scale: `loud` is the level that a fifth of a second reaches, `floor` the 5th percentile of
    20 ms steps."""

    loud: float
    floor: float
    lead: float  # seconds before the first loud step
    tail: float  # seconds after the last

    @property
    def silent(self) -> bool:
        return self.loud < SILENT_DB

    @property
    def quiet(self) -> bool:
        return self.loud - self.floor > QUIET_GAP_DB


def decibels(value: float) -> float:
    """A level from 0 to 1 in dB below full scale; at least -120."""
    return 20 * float(np.log10(max(value, 1e-6)))


def clipped(samples: Samples) -> float:
    """The share of samples at full scale."""
    return float(np.mean(np.abs(samples) > 0.99)) if len(samples) else 0.0


def step_levels(samples: Samples) -> Samples:
    """(n // 320,) root-mean-square level of each 20 ms, in dB below full scale."""
    whole = samples[: len(samples) // STEP * STEP].reshape(-1, STEP)
    power = np.square(whole, dtype=np.float64).mean(axis=1)
    levels: Samples = (10 * np.log10(np.maximum(power, 1e-12))).astype(np.float32)
    return levels


def measure(samples: Samples) -> Level:
    """The level of a stretch of sound of any length."""
    steps = step_levels(samples)
    if not len(steps):
        return Level(-120.0, -120.0, 0.0, 0.0)
    few = min(10, len(steps))
    loud, floor = float(np.partition(steps, -few)[-few]), float(np.percentile(steps, 5))
    active = np.flatnonzero(steps > max(loud - 25.0, (loud + floor) / 2))
    if not len(active):
        return Level(loud, floor, len(steps) * 0.02, 0.0)
    return Level(loud, floor, float(active[0]) * 0.02, float(len(steps) - 1 - active[-1]) * 0.02)


def padded(samples: Samples, level: Level) -> tuple[Samples, Samples]:
    """The samples for the encoder ear and for the Vosk ear, with the quiet that both want around speech.

    A quiet recording gets silence. A noisy one is left alone where it has a lead and a tail of its own; where it is
    cut tight the encoder ear gets silence, and the Vosk ear noise as loud as the recording's floor, or softer where
    the recording is too short to show its floor (measured on development recordings, each is better so). A very soft
    recording is made louder, since 16 bits are coarse for it.
    """
    samples = samples - samples.mean(dtype=np.float64).astype(np.float32) if len(samples) else samples
    peak = float(np.abs(samples).max()) if len(samples) else 0.0
    gain = np.float32(0.3 / peak) if 0.0 < peak < 0.1 else np.float32(1.0)
    samples = samples * gain
    before, after = missing(level)
    encoder = np.pad(samples, (before, after))
    if level.quiet or not before + after:
        return encoder, encoder
    known = level.floor if len(samples) > SHORT * RATE else min(level.floor, SHORT_FLOOR_DB)
    floor = gain * 10 ** (known / 20)
    noise = (np.random.default_rng(0).normal(0.0, floor, before + after)).astype(np.float32)
    return encoder, np.concatenate([noise[:before], samples, noise[before:]])


def missing(level: Level) -> tuple[int, int]:
    """Samples of lead and tail that `padded` adds."""
    before, after = max(0.0, LEAD - level.lead), max(0.0, TAIL - level.tail)
    if not level.quiet:
        before = before if level.lead < TIGHT_LEAD else 0.0
        after = after if level.tail < TIGHT_TAIL else 0.0
    return int(before * RATE), int(after * RATE)
