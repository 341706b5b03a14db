"""The noises of a yard, made from a seed: white, pink, babble, generator, jackhammer.

Each function returns `count` samples with a mean square of 1; their level is set where they are mixed in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from callout.channel.level import Samples

#: A generator set at 3,600 turns a minute: 60 Hz, and a four-stroke cylinder that fires every second turn.
MAINS_HZ = 60.0
FIRING_HZ = 30.0

#: A pneumatic breaker: blows a second, and a second of work to half a second of pause.
BLOWS_HZ = 18.0
WORK_S, PAUSE_S = 1.0, 0.5

BABBLE_VOICES = 5


def make_noise(kind: str, count: int, rate: int, seed: int = 0, voices: Sequence[Samples] | None = None) -> Samples:
    """`count` samples of the noise `kind` at `rate` hertz, mean square 1, the same for the same seed.

    `voices` are recordings at the same rate for the babble; without them voice-like sounds are made.
    Raises ValueError for an unknown kind.
    """
    if kind not in NOISES:
        raise ValueError(f"unknown noise {kind!r}; there are {', '.join(NOISES)}")
    if count <= 0:
        return np.zeros(0)
    rng = np.random.default_rng([seed, list(NOISES).index(kind)])
    most = max(count, 2)  # one sample alone has no spread to be scaled by
    made = (_babble(rng, most, rate, voices) if kind == "babble" else NOISES[kind](rng, most, rate))[:count]
    return np.asarray(made / np.sqrt(np.mean(made**2) + 1e-20))


def _white(rng: np.random.Generator, count: int, rate: int) -> Samples:
    return rng.standard_normal(count)


def _pink(rng: np.random.Generator, count: int, rate: int) -> Samples:
    """Power falls by 3 dB an octave from 20 Hz up."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1 / rate)
    return np.fft.irfft(spectrum / np.sqrt(np.maximum(frequency, 20.0)), count)


def _generator(rng: np.random.Generator, count: int, rate: int) -> Samples:
    """Harmonics of the firing, stronger where they fall on the 60 Hz family, and exhaust noise that beats with it."""
    from scipy.signal import lfilter

    t = np.arange(count) / rate
    wander = 0.004 * np.sin(2 * np.pi * rng.uniform(0.2, 0.6) * t + rng.uniform(0, 6))
    phase = 2 * np.pi * FIRING_HZ * np.cumsum(1 + wander) / rate
    turn = np.arange(4096) / 4096  # one firing cycle, drawn once and read at the wandering phase
    cycle = np.zeros(len(turn))
    for harmonic in range(1, int(3000 / FIRING_HZ)):
        strength = (1.0 if harmonic % 2 == 0 else 0.5) / harmonic**0.6
        cycle += strength * np.sin(2 * np.pi * harmonic * turn + rng.uniform(0, 2 * np.pi))
    hum = np.interp(phase / (2 * np.pi), turn, cycle, period=1)
    puffs = np.maximum(np.cos(phase), 0) ** 3 + 0.15
    exhaust = lfilter([1], [1, -0.85], rng.standard_normal(count)) * puffs
    return np.asarray(hum / hum.std() + 0.9 * exhaust / exhaust.std())


def _jackhammer(rng: np.random.Generator, count: int, rate: int) -> Samples:
    """Blows that ring on steel and concrete, a second on and half a second off, over a faint hiss of air."""
    ring_time = np.arange(int(0.05 * rate)) / rate
    ring = 0.6 * rng.standard_normal(len(ring_time)) * np.exp(-ring_time / 0.004)
    for tone in (420.0, 950.0, 1730.0, 2600.0, 3900.0):
        if tone < rate / 2:
            ring += rng.uniform(0.5, 1) * np.exp(-ring_time / 0.012) * np.sin(2 * np.pi * tone * ring_time)
    blows = np.zeros(count)
    start = rng.uniform(0, WORK_S)  # begin at work, so that a short recording is not met by the pause alone
    at = 0.0
    while at * rate < count:
        if (at + start) % (WORK_S + PAUSE_S) < WORK_S:
            blows[int(at * rate)] += rng.uniform(0.7, 1.2)
        at += (1 + 0.03 * rng.standard_normal()) / BLOWS_HZ
    hits = np.convolve(blows, ring)[:count]
    return np.asarray(hits / (hits.std() + 1e-9) + 0.03 * rng.standard_normal(count))


def _babble(rng: np.random.Generator, count: int, rate: int, voices: Sequence[Samples] | None = None) -> Samples:
    """Five voices at once, equally loud, each starting somewhere in its recording."""
    total = np.zeros(count)
    for number in range(BABBLE_VOICES):
        voice = np.asarray(voices[number % len(voices)]) if voices else _murmur(rng, 6 * rate, rate)
        if len(voice) == 0:
            continue
        start = int(rng.integers(len(voice)))
        piece = np.take(voice, np.arange(start, start + count), mode="wrap").astype(np.float64)
        total += piece / (np.sqrt(np.mean(piece**2)) + 1e-9)
    return total


def _murmur(rng: np.random.Generator, count: int, rate: int) -> Samples:
    """A voice without words: pulses at a wandering pitch through two formants that change with each syllable."""
    from scipy.signal import lfilter

    pitch = rng.uniform(90, 220)
    t = np.arange(count) / rate
    phase = np.cumsum(pitch * (1 + 0.12 * np.sin(2 * np.pi * rng.uniform(0.3, 0.9) * t))) / rate
    pulses = np.diff(np.floor(phase), prepend=0.0) + 0.02 * rng.standard_normal(count)
    out = np.zeros(count)
    at = 0
    while at < count:
        length = int(rng.uniform(0.12, 0.3) * rate)
        syllable = pulses[at : at + length]
        for formant in (rng.uniform(300, 800), rng.uniform(900, 2400)):
            radius = np.exp(-np.pi * 90 / rate)
            syllable = lfilter([1 - radius], [1, -2 * radius * np.cos(2 * np.pi * formant / rate), radius**2], syllable)
        out[at : at + length] = syllable * np.hanning(len(syllable))
        at += length + int(rng.choice([0.02, 0.02, 0.3]) * rate)
    return out


NOISES: dict[str, Callable[[np.random.Generator, int, int], Samples]] = {
    "white": _white,
    "pink": _pink,
    "babble": _babble,
    "generator": _generator,
    "jackhammer": _jackhammer,
}
