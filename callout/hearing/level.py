"""How loud, how quiet, and where: decides on silence, on padding and on a key that was pressed late."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from callout.hearing.audio import RATE, Samples

STEP = RATE // 50  # 20 ms
SILENT_DB = -65.0  # a recording whose loudest stretch stays below this holds nothing
QUIET_GAP_DB = 38.0  # speech this far above the quietest stretch was recorded in quiet
LEAD, TAIL = 0.5, 1.0  # seconds of silence that the ears were trained to expect around speech


@dataclass(frozen=True)
class Level:
    """Decibels below full scale: `loud` and `floor` are the 95th and 5th percentiles of 20 ms steps."""

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


def step_levels(samples: Samples) -> Samples:
    """(n // 320,) root-mean-square level of each 20 ms, in dB below full scale."""
    whole = samples[: len(samples) // STEP * STEP].reshape(-1, STEP)
    power = np.square(whole, dtype=np.float64).mean(axis=1)
    return (10 * np.log10(np.maximum(power, 1e-12))).astype(np.float32)


def measure(samples: Samples) -> Level:
    """The level of a stretch of sound of any length."""
    steps = step_levels(samples)
    if not len(steps):
        return Level(-120.0, -120.0, 0.0, 0.0)
    loud, floor = float(np.percentile(steps, 95)), float(np.percentile(steps, 5))
    active = np.flatnonzero(steps > max(loud - 25.0, (loud + floor) / 2))
    if not len(active):
        return Level(loud, floor, len(steps) * 0.02, 0.0)
    return Level(loud, floor, float(active[0]) * 0.02, float(len(steps) - 1 - active[-1]) * 0.02)


def padded(samples: Samples, level: Level) -> tuple[Samples, float]:
    """The samples with the silence that the ears want around speech, and the seconds put before them.

    Only where the recording itself is quiet: zeros beside noise are a step in level that the ears mishear.
    A very soft recording is made louder, since 16 bits are coarse for it.
    """
    samples = samples - samples.mean(dtype=np.float64).astype(np.float32) if len(samples) else samples
    peak = float(np.abs(samples).max()) if len(samples) else 0.0
    if 0.0 < peak < 0.1:
        samples = samples * np.float32(0.3 / peak)
    if not level.quiet:
        return samples, 0.0
    before = max(0.0, LEAD - level.lead)
    after = max(0.0, TAIL - level.tail)
    return np.pad(samples, (int(before * RATE), int(after * RATE))), before
