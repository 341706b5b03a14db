"""How fast the radio and the scoring are: `python -m tests.bench scoring`."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from scipy.signal import butter, lfilter

from callout.channel import simulate
from callout.channel.level import band
from callout.scoring.conditions import Condition
from callout.scoring.evaluation import score
from callout.scoring.verdict import word_edits
from tests.scripted_ears import booth_for, write_set
from tests.timing import least

RATE = 16_000
SENTENCE = "insertion eleven feet six and a half inches sixty two rakers spacing eight feet"


def bench() -> dict[str, float]:
    """Six seconds of speech-like noise through the radio, against one plain filter of scipy on the same samples."""
    x = np.random.default_rng(1).standard_normal(6 * RATE) * 0.1
    peer = least(lambda: lfilter(*butter(6, 0.4), x), 5)
    radio = least(lambda: simulate(x, RATE, 10, "generator", 150), 5)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "r"
        write_set(folder, [(1, {"words": "insertion eleven feet sixty", "file": "a.wav"})])
        manifest = folder / "manifest.jsonl"
        manifest.write_text(manifest.read_text() * 500)

        def whole() -> None:
            with score(folder, [Condition()], booth=booth_for(folder)):
                pass

        counting = least(whole, 3) / 500
    return {
        "radio, 6 s of sound, seconds": radio,
        "radio, ratio to one 6th-order filter of scipy": radio / peer,
        "radio, ratio to its own band filter": radio / least(lambda: band(x, RATE), 5),
        "scoring without the ears, seconds a recording": counting,
        "word edits of a long callout, seconds": least(
            lambda: word_edits(SENTENCE, SENTENCE.replace("six", "nine")), 5
        ),
    }
