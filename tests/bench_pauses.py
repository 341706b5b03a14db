"""What an early end costs: `python -m tests.bench pauses`.

The balanced recordings one after the other in a stream with hiss at -55 dB, heard by the live ear, as the program does.
"""

from __future__ import annotations

import json

import numpy as np

from callout.files import data_folder
from callout.hearing.audio import RATE, read_audio
from callout.hearing.ears import Ears
from callout.hearing.live import utterances
from callout.hearing.sources import MemorySource
from callout.language.context import EVERYTHING
from callout.language.outcome import Understood
from callout.values import meaning_json

HISS = 10 ** (-55 / 20)


def bench() -> dict[str, float]:
    folder, noise = data_folder("audio_fixtures") / "balanced", np.random.default_rng(0)
    counts = {"right": 0, "wrong": 0, "asked again, or no callout": 0, "cut in two or more": 0}
    quiet: list[float] = []
    ears = Ears()
    ears.prepare()
    try:
        for line in (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
            row = json.loads(line)
            sound = np.pad(read_audio(folder / row["file"]), (RATE, 2 * RATE))
            sound = sound + noise.normal(0, HISS, len(sound)).astype(np.float32)
            segments = list(utterances(MemorySource(sound, 0.02), ears, lambda: EVERYTHING))
            taken = [s for s in segments if isinstance(s.heard.resolution, Understood)]
            meant = [meaning_json(segment.heard.resolution.meaning) for segment in taken]
            verdict = "right" if meant == [row["meaning"]] else "wrong" if meant else "asked again, or no callout"
            counts[verdict] += 1
            counts["cut in two or more"] += len(segments) > 1
            quiet += [segment.quiet for segment in taken]
    finally:
        ears.close()
    return {**counts, "quiet before the end, mean, s": float(np.mean(quiet))}
