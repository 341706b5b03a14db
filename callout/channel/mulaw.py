"""The mu-law of ITU-T G.711, at 8 kHz: what a digital line or an older repeater does to speech."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from callout.channel.level import Samples

_BIAS = 33  # G.711 works on 14-bit samples; the bias makes every segment start at a power of two
_TOP = 8158  # one under the end of the last segment


def encode(samples: Samples) -> NDArray[np.uint8]:
    """Samples of full scale 1 to mu-law octets as they go on the line (all bits inverted)."""
    linear = np.clip(np.round(np.asarray(samples, dtype=np.float64) * 32768), -32768, 32767).astype(np.int64) >> 2
    sign = linear < 0
    # A negative sample is inverted, not negated, so that both halves have the same steps (as in ITU-T G.191).
    magnitude = np.minimum(np.where(sign, ~linear, linear), _TOP) + _BIAS
    segment = np.floor(np.log2(magnitude)).astype(np.int64) - 5
    step = (magnitude >> (segment + 1)) & 0x0F
    return np.asarray((~((sign.astype(np.int64) << 7) | (segment << 4) | step) & 0xFF).astype(np.uint8))


def decode(octets: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Mu-law octets to samples of full scale 1."""
    code = ~octets.astype(np.int64) & 0xFF
    segment = (code >> 4) & 0x07
    magnitude = ((((code & 0x0F) << 1) + _BIAS) << segment) - _BIAS
    return np.where(code & 0x80, -magnitude, magnitude) * 4 / 32768.0
