"""A voice radio, stage by stage, in the order in which a real one does it.

    noise at the microphone -> late key -> automatic gain and hard clip -> 300-3400 Hz band
    -> (8 kHz mu-law) -> hiss -> squelch tail

Every stage is a function of its own on samples of full scale 1, and is measured in the tests against what its
docstring promises. The figures are common practice for land-mobile voice radio; no single standard is followed, but
for the mu-law, which is that of ITU-T G.711.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

import numpy as np
from numpy.typing import NDArray

from callout.channel.level import Samples, active_level, band, inside, speech_start
from callout.channel.noises import make_noise

#: The level at which the transmitter clips, of a full scale of 1.
CLIP = 0.5


def add_noise(
    samples: Samples,
    rate: int,
    snr_db: float,
    noise: str = "generator",
    seed: int = 0,
    voices: Sequence[Samples] | None = None,
) -> Samples:
    """Noise at the talker's microphone, `snr_db` under the active speech, both measured inside 300-3400 Hz.

    A recording without speech gets the noise at the level it would have under speech of -26 dB of full scale.
    """
    made = make_noise(noise, len(samples), rate, seed, voices)
    speech, _ = active_level(inside(samples, rate), rate)
    heard = float(np.mean(inside(made, rate) ** 2)) if len(made) else 1.0
    wanted = (speech or 10 ** (-26 / 10)) / 10 ** (snr_db / 10)
    return np.asarray(samples + made * np.sqrt(wanted / max(heard, 1e-20)))


def late_key(samples: Samples, rate: int, late_ms: float, start: int | None = None) -> Samples:
    """The key goes down `late_ms` after the speech began: everything before that instant is not sent.

    `start` is the sample at which speech sets in, where noise already hides it.
    """
    if late_ms <= 0:
        return samples
    start = speech_start(samples, rate) if start is None else start
    return samples[min(start + round(late_ms * rate / 1000), len(samples)) :]


def agc(
    samples: Samples, rate: int, attack_ms: float = 2.0, release_ms: float = 150.0, boost_db: float = 6.0
) -> Samples:
    """Automatic gain: the loudest speech comes out with peaks of 1, and pauses are raised by at most `boost_db`.

    The gain follows a rise with the time constant `attack_ms` and a fall with `release_ms`.
    """
    if not len(samples) or not np.any(samples):
        return samples
    from scipy.signal import lfilter

    # A peak that decays exponentially, as a running maximum of logarithms: no loop over samples.
    slope = np.arange(len(samples)) * (1000.0 / (release_ms * rate))
    held = np.exp(np.maximum.accumulate(np.log(np.abs(samples) + 1e-9) + slope) - slope)
    keep = np.exp(-1000.0 / (attack_ms * rate))
    envelope, _ = lfilter([1 - keep], [1, -keep], held, zi=[keep * held[0]])
    top = float(envelope.max())
    return np.asarray(samples / np.maximum(envelope, top / 10 ** (boost_db / 20)))


def hard_clip(samples: Samples, drive_db: float = 3.0) -> Samples:
    """Peaks of 1 are driven `drive_db` over the clipping level `CLIP`, and cut there."""
    return np.asarray(np.clip(samples * (CLIP * 10 ** (drive_db / 20)), -CLIP, CLIP))


def line_8k_mulaw(samples: Samples, rate: int) -> Samples:
    """Through a line of 8 kHz with G.711 mu-law, and back at the rate it came in."""
    from scipy.signal import resample_poly

    common = gcd(rate, 8000)
    narrow = resample_poly(samples, 8000 // common, rate // common) if rate != 8000 else samples
    narrow = mulaw_decode(mulaw_encode(np.clip(narrow, -1, 1)))
    wide = resample_poly(narrow, rate // common, 8000 // common) if rate != 8000 else narrow
    return wide[: len(samples)]


def add_hiss(samples: Samples, rate: int, hiss_db: float = 35.0, seed: int = 0) -> Samples:
    """The receiver's own noise, inside the band, `hiss_db` under the active speech."""
    speech, _ = active_level(samples, rate)
    return np.asarray(samples + _band_noise(len(samples), rate, [seed, 101]) * np.sqrt(speech) * 10 ** (-hiss_db / 20))


def squelch_tail(samples: Samples, rate: int, tail_ms: float = 180.0, level_db: float = -6.0, seed: int = 0) -> Samples:
    """After the key is let go the receiver stays open for `tail_ms`: noise at `level_db` of the active speech."""
    speech, _ = active_level(samples, rate)
    tail = _band_noise(round(tail_ms * rate / 1000), rate, [seed, 102])
    return np.concatenate([samples, tail * np.sqrt(speech) * 10 ** (level_db / 20)])


def _band_noise(count: int, rate: int, seed: list[int]) -> Samples:
    """White noise in the radio's band, mean square 1. A second is made first and dropped: the filter settles."""
    if count <= 0:
        return np.zeros(0)
    noise = band(np.random.default_rng(seed).standard_normal(count + rate), rate)[rate:]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def simulate(
    samples: Samples,
    rate: int,
    snr_db: float | None = None,
    noise: str = "generator",
    late_ms: float = 0.0,
    mulaw: bool = False,
    seed: int = 0,
    *,
    boost_db: float = 6.0,
    hiss_db: float = 35.0,
    tail_ms: float = 180.0,
    voices: Sequence[Samples] | None = None,
) -> Samples:
    """Speech through the whole radio; `snr_db` None leaves the acoustic noise out.

    `samples` is one channel of floats of full scale 1 at `rate` hertz (8000 or more). The result is float32, longer
    by the squelch tail and shorter by what a late key lost, and the same for the same seed and input.
    `boost_db` is how far pauses are raised (6 on most radios, 18 on some); `voices` feeds the babble.
    Raises ValueError for a rate under 8000 or an unknown noise.
    """
    if rate < 8000:
        raise ValueError("the radio needs a rate of 8000 Hz or more")
    x: Samples = np.asarray(samples, dtype=np.float64)
    start = speech_start(x, rate) if late_ms > 0 else 0
    if snr_db is not None:
        x = add_noise(x, rate, snr_db, noise, seed, voices)
    x = late_key(x, rate, late_ms, start)
    x = band(hard_clip(agc(x, rate, boost_db=boost_db)), rate)
    if mulaw:
        x = line_8k_mulaw(x, rate)
    x = squelch_tail(add_hiss(x, rate, hiss_db, seed), rate, tail_ms, seed=seed)
    return np.clip(x, -1, 1).astype(np.float32)


_BIAS = 33  # G.711 works on 14-bit samples; the bias makes every segment start at a power of two
_TOP = 8158  # one under the end of the last segment


def mulaw_encode(samples: Samples) -> NDArray[np.uint8]:
    """Samples of full scale 1 to mu-law octets as they go on the line (all bits inverted)."""
    linear = np.clip(np.round(np.asarray(samples, dtype=np.float64) * 32768), -32768, 32767).astype(np.int64) >> 2
    sign = linear < 0
    # A negative sample is inverted, not negated, so that both halves have the same steps (as in ITU-T G.191).
    magnitude = np.minimum(np.where(sign, ~linear, linear), _TOP) + _BIAS
    segment = np.floor(np.log2(magnitude)).astype(np.int64) - 5
    step = (magnitude >> (segment + 1)) & 0x0F
    return np.asarray((~((sign.astype(np.int64) << 7) | (segment << 4) | step) & 0xFF).astype(np.uint8))


def mulaw_decode(octets: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Mu-law octets to samples of full scale 1."""
    code = ~octets.astype(np.int64) & 0xFF
    segment = (code >> 4) & 0x07
    magnitude = ((((code & 0x0F) << 1) + _BIAS) << segment) - _BIAS
    return np.where(code & 0x80, -magnitude, magnitude) * 4 / 32768.0
