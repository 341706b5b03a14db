"""How a crew wants the voice: pace, loudness, tones; what was asked for by voice or key is kept for the next start."""

from __future__ import annotations

import contextlib
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from callout.config import config_file
from callout.errors import BadInput
from callout.files import read_text, whole_file
from callout.speaking.tones import TONES, Tone

#: One step of "faster" or "slower", and how far they go. Common practice, no source.
PACE_STEP, SLOWEST, FASTEST = 1.15, 0.6, 2.0
#: One step of "louder" or "softer" in decibels, and how far they go: 3 dB is a difference that everybody hears.
LOUDNESS_STEP, SOFTEST, LOUDEST = 3.0, -18.0, 12.0


@dataclass(frozen=True)
class Habits:
    """`pace`: how many times as fast as the rates that the voice was opened with; `decibels` above its own loudness;
    `tones`: which tones are played."""

    pace: float = 1.0
    decibels: float = 0.0
    tones: tuple[Tone, ...] = TONES

    def paced(self, steps: int) -> Habits:
        return replace(self, pace=round(min(FASTEST, max(SLOWEST, self.pace * PACE_STEP**steps)), 3))

    def louder(self, steps: int) -> Habits:
        return replace(self, decibels=min(LOUDEST, max(SOFTEST, self.decibels + LOUDNESS_STEP * steps)))


def habits_file() -> Path:
    """Beside the team's settings; it need not exist."""
    return config_file().with_name("voice.json")


def load_habits(path: Path) -> Habits:
    """What was kept in `path`; the habits of the package where there is no such file, or nothing sound in it."""
    try:
        kept: Any = json.loads(read_text(path))
        pace, decibels = float(kept.get("pace", 1.0)), float(kept.get("decibels", 0.0))
        tones = tuple(name for name in TONES if name in kept.get("tones", TONES))
    except (BadInput, ValueError, AttributeError, TypeError, RecursionError):
        return Habits()
    if not (SLOWEST <= pace <= FASTEST and SOFTEST <= decibels <= LOUDEST):
        return Habits(tones=tones)
    return Habits(pace, decibels, tones)


def keep_habits(path: Path, habits: Habits) -> None:
    """Written whole or not at all; a disk that is full only costs the habit."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(path) as file:
            json.dump(asdict(habits), file, indent=1)
            file.write("\n")
