"""Ways for a clean recording to reach the ears, named; and sound without speech. For choosing and for reporting.

The channel is the project's radio simulator; no network was trained through it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from callout.channel.radio import add_noise, simulate
from callout.hearing.audio import RATE, Samples

#: name -> settings of the radio; None is the clean recording.
CONDITIONS: dict[str, dict[str, float | str] | None] = {
    "clean": None,
    "radio": {},
    "generator 10": {"snr_db": 10.0, "noise": "generator"},
    "jackhammer 10": {"snr_db": 10.0, "noise": "jackhammer"},
    "white 10": {"snr_db": 10.0, "noise": "white"},
    "generator 5": {"snr_db": 5.0, "noise": "generator"},
    "jackhammer 5": {"snr_db": 5.0, "noise": "jackhammer"},
    "white 5": {"snr_db": 5.0, "noise": "white"},
    "babble 10": {"snr_db": 10.0, "noise": "babble"},
    "late key": {"late_ms": 150.0},
}
NOISES = ("white", "pink", "generator", "jackhammer", "babble")


def through(samples: Samples, name: str, seed: int, voices: Sequence[Samples] = ()) -> Samples:
    """A clean 16 kHz recording under the condition `name`; `voices` are clean recordings for the babble."""
    settings = CONDITIONS[name]
    if settings is None:
        return samples
    sent = simulate(samples, RATE, seed=seed, voices=voices or None, **settings)  # type: ignore[arg-type]
    return sixteen_bits(sent)


def noise_alone(name: str, seconds: float, seed: int, voices: Sequence[Samples] = ()) -> Samples:
    """Noise of one kind through the radio, and nobody speaking."""
    rng = np.random.default_rng(seed)
    silence = np.zeros(int(seconds * RATE))
    loud = add_noise(silence, RATE, float(rng.uniform(-6, 12)), name, seed, voices or None)
    return sixteen_bits(simulate(loud, RATE, seed=seed))


def sixteen_bits(samples: Samples) -> Samples:
    """What a WAV file keeps of the samples."""
    rounded: Samples = (np.round(np.clip(samples, -1, 1) * 32767) / 32767).astype(np.float32)
    return rounded
