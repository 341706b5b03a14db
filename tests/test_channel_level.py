"""The level meter against signals whose active level is known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from callout.channel.level import active_level, band, speech_start

RATE = 16000


def bursts(level_db: float, on_s: float, off_s: float, times: int, seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    on = rng.standard_normal(round(on_s * RATE)) * 10 ** (level_db / 20)
    return np.concatenate([np.concatenate([on, np.zeros(round(off_s * RATE))]) for _ in range(times)])


@pytest.mark.parametrize("level_db", [-40, -26, -10])
@pytest.mark.parametrize("off_s", [1.0, 3.0])
def test_active_level_leaves_long_pauses_out(level_db: float, off_s: float) -> None:
    """ITU-T P.56 counts 0.2 s of hangover after each burst as speech: 2 s of sound make 2.2 s, -0.41 dB.

    The envelope's own fall (two stages of 30 ms) adds a little more; P.56 allows 0.5 dB in a conforming meter.
    """
    square, share = active_level(bursts(level_db, 2.0, off_s, 4), RATE)
    assert 10 * np.log10(square) == pytest.approx(level_db - 0.41, abs=0.5)
    assert share == pytest.approx(2.25 / (2.0 + off_s), abs=0.03)


def test_active_level_of_a_steady_tone_is_its_mean_square() -> None:
    tone = 0.3 * np.sin(2 * np.pi * 1000 * np.arange(3 * RATE) / RATE)
    square, share = active_level(tone, RATE)
    assert square == pytest.approx(0.3**2 / 2, rel=0.02)
    assert share > 0.97


def test_silence_has_no_level() -> None:
    assert active_level(np.zeros(RATE), RATE) == (0.0, 0.0)
    assert active_level(np.zeros(0), RATE) == (0.0, 0.0)


@pytest.mark.parametrize("rate", [8000, 16000, 44100])
def test_band_edges_are_minus_three_decibels_and_fall_by_36_an_octave(rate: int) -> None:
    """A Butterworth filter is 3.01 dB down at its edges (any textbook); six poles give 6 x 6 dB an octave."""
    impulse = np.zeros(rate)
    impulse[0] = 1
    response = 20 * np.log10(np.abs(np.fft.rfft(band(impulse, rate))) + 1e-12)  # one bin a hertz
    assert response[300] == pytest.approx(-3.01, abs=0.1)
    assert response[3400] == pytest.approx(-3.01, abs=0.1)
    assert np.abs(response[450:2400]).max() < 0.5
    assert response[150] < -34
    if rate > 16000:
        assert response[6800] < -34


def test_speech_start_is_where_the_sound_sets_in() -> None:
    x = np.concatenate([np.zeros(8000), bursts(-20, 1.0, 0.5, 1)])
    x += 1e-5 * np.random.default_rng(1).standard_normal(len(x))
    assert speech_start(x, RATE) == pytest.approx(8000, abs=320)
    assert speech_start(np.zeros(0), RATE) == 0
