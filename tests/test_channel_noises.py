"""Each noise sounds as it is named: its spectrum or its rhythm, measured."""

from __future__ import annotations

import numpy as np
import pytest

from callout.channel import NOISES, make_noise

RATE = 16000


def power(kind: str, seconds: int = 30) -> tuple[np.ndarray, np.ndarray]:
    from scipy.signal import welch  # a second, which not every test process needs

    return welch(make_noise(kind, seconds * RATE, RATE, seed=3), RATE, nperseg=RATE)


@pytest.mark.parametrize("kind", NOISES)
def test_a_noise_has_unit_power_and_follows_its_seed(kind: str) -> None:
    first = make_noise(kind, 4 * RATE, RATE, seed=1)
    assert np.mean(first**2) == pytest.approx(1)
    assert np.array_equal(first, make_noise(kind, 4 * RATE, RATE, seed=1))
    assert not np.allclose(first, make_noise(kind, 4 * RATE, RATE, seed=2))


@pytest.mark.parametrize(("kind", "slope_db"), [("white", 0.0), ("pink", -3.01)])
def test_white_is_flat_and_pink_falls_three_decibels_an_octave(kind: str, slope_db: float) -> None:
    frequency, spectrum = power(kind)
    octaves = np.arange(6, 12.9)  # 64 Hz to 4 kHz
    levels = [10 * np.log10(spectrum[(frequency >= 2**o) & (frequency < 2 ** (o + 1))].mean()) for o in octaves]
    assert np.polyfit(octaves, levels, 1)[0] == pytest.approx(slope_db, abs=0.3)


def test_the_generator_hums_on_the_60_hertz_family() -> None:
    frequency, spectrum = power("generator")
    for line in (60, 120, 180, 240):
        near = spectrum[(frequency >= line - 2) & (frequency <= line + 2)].max()
        beside = np.median(spectrum[(frequency >= line - 14) & (frequency <= line + 14)])
        assert 10 * np.log10(near / beside) > 10


def test_the_jackhammer_strikes_18_times_a_second_for_two_thirds_of_the_time() -> None:
    """1 s of work and 0.5 s of pause (the radio's chain), counted in 10 ms blocks of the envelope."""
    x = make_noise("jackhammer", 30 * RATE, RATE, seed=5)
    envelope = np.sqrt((x.reshape(-1, 160) ** 2).mean(axis=1))
    rhythm = np.abs(np.fft.rfft(envelope - envelope.mean()))
    hertz = np.fft.rfftfreq(len(envelope), 0.01)
    assert hertz[hertz > 5][rhythm[hertz > 5].argmax()] == pytest.approx(18, abs=0.7)
    half_seconds = envelope[: len(envelope) // 10 * 10].reshape(-1, 10).max(axis=1)
    assert np.mean(half_seconds > 0.5) == pytest.approx(2 / 3, abs=0.1)


def test_babble_holds_the_five_voices_it_was_given() -> None:
    t = np.arange(8 * RATE) / RATE
    tones = [np.sin(2 * np.pi * f * t) for f in (300, 500, 700, 900, 1100)]
    spectrum = np.abs(np.fft.rfft(make_noise("babble", 4 * RATE, RATE, voices=tones)))
    hertz = np.fft.rfftfreq(4 * RATE, 1 / RATE)
    peaks = [spectrum[(hertz > f - 2) & (hertz < f + 2)].max() for f in (300, 500, 700, 900, 1100)]
    assert min(peaks) > 0.9 * max(peaks)
    assert min(peaks) > 100 * np.median(spectrum)


def test_an_unknown_noise_is_named() -> None:
    with pytest.raises(ValueError, match="there are white, pink, babble, generator, jackhammer"):
        make_noise("rain", 100, RATE)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("kind", NOISES)
def test_one_sample_of_noise(kind: str) -> None:
    assert np.isfinite(make_noise(kind, 1, RATE)).tolist() == [True]


def test_no_samples_of_noise() -> None:
    assert len(make_noise("white", 0, RATE)) == 0
