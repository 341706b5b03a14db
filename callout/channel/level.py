"""How loud is the speech itself, pauses left out: the active speech level of ITU-T P.56, method B.

A recording with long pauses has a low mean level although the talker is loud, so a signal-to-noise ratio is only
comparable between recordings when it is set on the level while somebody talks.

`scipy.signal` takes a second to load, and most recordings are scored as they are: it is imported where it is used.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.floating[Any]]

#: The speech band of a land-mobile voice radio, hertz.
BAND = (300.0, 3400.0)

# ITU-T P.56 (2011), method B: envelope time constant, hangover, and the margin between level and threshold.
_TIME_CONSTANT_S = 0.03
_HANGOVER_S = 0.2
_MARGIN_DB = 15.9


def band(samples: Samples, rate: int, edges: tuple[float, float] = BAND, order: int = 6) -> Samples:
    """A Butterworth band-pass, `order` poles to each skirt (36 dB an octave for 6), -3 dB at both edges."""
    if not len(samples):
        return samples
    from scipy.signal import butter, sosfilt

    high = min(edges[1], rate / 2 * 0.98)
    return np.asarray(sosfilt(butter(order, (edges[0], high), "bandpass", fs=rate, output="sos"), samples))


def inside(samples: Samples, rate: int, edges: tuple[float, float] = BAND) -> Samples:
    """What lies between the edges and nothing else: for measuring, where a filter's skirts would count too."""
    if not len(samples):
        return samples
    spectrum = np.fft.rfft(samples)
    frequency = np.fft.rfftfreq(len(samples), 1 / rate)
    spectrum[(frequency < edges[0]) | (frequency > edges[1])] = 0
    return np.fft.irfft(spectrum, len(samples))


def active_level(samples: Samples, rate: int) -> tuple[float, float]:
    """Return (mean square while speech is active, share of the time that it is active), after P.56.

    (0.0, 0.0) for silence. `samples` is one channel; full scale is 1.
    """
    from scipy.signal import lfilter

    x = np.asarray(samples, dtype=np.float64)
    energy = float(x @ x)
    if energy <= 1e-14 * max(len(x), 1):
        return 0.0, 0.0
    g = float(np.exp(-1 / (rate * _TIME_CONSTANT_S)))
    envelope = lfilter([1 - g], [1, -g], lfilter([1 - g], [1, -g], np.abs(x)))
    peak = float(envelope.max())
    hang = round(_HANGOVER_S * rate)

    def at(step: int) -> tuple[float, int]:
        """(how much more than the margin the level lies above the threshold, active samples), for a threshold `step`
        half decibels under the peak."""
        threshold = peak * 10 ** (-step / 40)
        count = _active_count(envelope >= threshold, hang)
        return 10 * float(np.log10(energy / count / threshold**2)) - _MARGIN_DB, count

    # The threshold that lies 15.9 dB under the level it gives: the lower the threshold, the further it lies under.
    high, low = 0, 160
    if at(low)[0] <= 0:
        return energy / len(x), 1.0
    while low - high > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if at(middle)[0] > 0 else (low, middle)
    (above, count_above), (below, count_below) = at(low), at(high)
    share = min(above / (above - below), 1.0) if above > below else 0.0
    count = count_above + share * (count_below - count_above)
    return energy / count, count / len(x)


def _active_count(above: NDArray[np.bool_], hang: int) -> int:
    """How many samples are above the threshold or at most `hang` samples after one that is."""
    places = np.flatnonzero(above)
    gaps = np.diff(np.append(places, len(above)))
    return int(np.minimum(gaps, hang + 1).sum())


def speech_start(samples: Samples, rate: int) -> int:
    """The sample at which speech sets in: the first 10 ms block within 30 dB of the loudest one in the band."""
    size = max(rate // 100, 1)
    blocks = band(samples, rate)[: len(samples) // size * size].reshape(-1, size)
    if not len(blocks):
        return 0
    power = (blocks**2).mean(axis=1)
    return int(np.argmax(power >= power.max() / 1000)) * size
