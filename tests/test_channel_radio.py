"""Every stage of the radio, measured from outside against what it promises."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import welch

from callout.channel import NOISES, radio, simulate
from callout.channel.level import band
from tests.how_much import one_in

RATE = 16000


def speechlike(seconds: float = 4.0, lead: float = 0.5, tail: float = 1.0, level: float = 0.1) -> np.ndarray:
    """Sound with a syllable rhythm between two silences; its active part is known by construction."""
    rng = np.random.default_rng(7)
    t = np.arange(round(seconds * RATE)) / RATE
    carrier = sum(np.sin(2 * np.pi * 140 * k * t + rng.uniform(0, 6)) / k for k in range(1, 40))
    syllables = 0.55 + 0.45 * np.sin(2 * np.pi * 4 * t)
    sound = carrier * syllables
    sound *= level / np.sqrt(np.mean(sound**2))
    return np.pad(sound, (round(lead * RATE), round(tail * RATE)))


def in_band_power(samples: np.ndarray) -> float:
    """Power between 300 and 3400 Hz by Welch's periodogram: another way than the filter of the radio."""
    frequency, spectrum = welch(samples, RATE, nperseg=4096)
    inside = (frequency >= 300) & (frequency <= 3400)
    return float(spectrum[inside].sum() * frequency[1])


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("snr_db", one_in(2, [0, 10, 20]))
def test_the_ratio_is_set_within_half_a_decibel_on_active_speech(noise: str, snr_db: int) -> None:
    clean = speechlike(seconds=8)
    added = radio.add_noise(clean, RATE, snr_db, noise, seed=4) - clean
    active = clean[round(0.5 * RATE) : -round(1.0 * RATE)]
    measured = 10 * np.log10(in_band_power(active) / in_band_power(added))
    assert measured == pytest.approx(snr_db, abs=0.5)


def test_a_longer_silence_around_the_speech_leaves_the_noise_as_it_is() -> None:
    def level(lead: float) -> float:
        clean = speechlike(lead=lead)
        return float(np.std(radio.add_noise(clean, RATE, 10, "white", seed=1) - clean))

    assert 20 * np.log10(level(6.0) / level(0.5)) == pytest.approx(0, abs=0.3)


def test_noise_is_heard_even_when_nobody_speaks() -> None:
    x = radio.add_noise(np.zeros(2 * RATE), RATE, 10, "pink")
    assert 10 * np.log10(in_band_power(x)) == pytest.approx(-36, abs=1)


@pytest.mark.parametrize("late_ms", [50, 150, 400])
def test_a_late_key_loses_that_much_speech(late_ms: int) -> None:
    x = speechlike(seconds=2)
    kept = radio.late_key(x, RATE, late_ms)
    spoken_left = (len(kept) - 1.0 * RATE) / RATE
    assert spoken_left == pytest.approx(2 - late_ms / 1000, abs=0.02)
    assert np.array_equal(radio.late_key(x, RATE, 0), x)


def test_noise_does_not_hide_where_the_speech_began() -> None:
    x = speechlike(seconds=2)
    quiet, noisy = simulate(x, RATE, late_ms=150), simulate(x, RATE, 0, "white", late_ms=150)
    assert len(quiet) == len(noisy)


def stepped(low_db: float) -> np.ndarray:
    """A 1 kHz tone: loud 1 s, `low_db` lower 1 s, loud again 1 s."""
    t = np.arange(3 * RATE) / RATE
    level = np.where((t >= 1) & (t < 2), 10 ** (low_db / 20), 1.0)
    return 0.5 * level * np.sin(2 * np.pi * 1000 * t)


def gain_db(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The gain in each millisecond (one period of the tone)."""
    block = RATE // 1000
    return 10 * np.log10((y.reshape(-1, block) ** 2).sum(axis=1) / (x.reshape(-1, block) ** 2).sum(axis=1))


@pytest.mark.parametrize("boost_db", [6, 18])
def test_gain_rises_in_pauses_by_no_more_than_it_may(boost_db: int) -> None:
    x = stepped(-40)
    gain = gain_db(x, radio.agc(x, RATE, boost_db=boost_db))
    assert gain[1950] - gain[950] == pytest.approx(boost_db, abs=0.3)


def test_gain_attacks_within_milliseconds_and_releases_in_150() -> None:
    """Release: the envelope falls to 1/e in its time constant, so the gain has risen by 8.7 dB after 150 ms."""
    x = stepped(-40)
    gain = gain_db(x, radio.agc(x, RATE, boost_db=18)) - gain_db(x, radio.agc(x, RATE, boost_db=18))[950]
    assert gain[1150] == pytest.approx(8.69, abs=0.5)
    assert gain[1075] == pytest.approx(4.34, abs=0.5)
    assert gain[2000 + 10] < 1  # 18 dB too loud when speech returns; all but 1 dB is gone after 10 ms
    assert gain[2000] > 6


def test_loud_speech_comes_out_at_the_clipping_level_whatever_it_came_in_with() -> None:
    for level in (0.005, 0.5):
        out = radio.hard_clip(radio.agc(speechlike(level=level), RATE))
        assert np.abs(out).max() == radio.CLIP
        assert 0.0005 < np.mean(np.abs(out) == radio.CLIP) < 0.2


def test_hiss_lies_35_decibels_under_the_speech_and_inside_the_band() -> None:
    x = band(speechlike(), RATE)
    hiss = radio.add_hiss(x, RATE, 35, seed=2) - x
    active = x[round(0.5 * RATE) : -round(1.0 * RATE)]
    assert 10 * np.log10(np.mean(active**2) / np.mean(hiss**2)) == pytest.approx(35, abs=0.5)
    frequency, spectrum = welch(hiss, RATE, nperseg=2048)
    outside = spectrum[(frequency < 120) | (frequency > 5500)].max()
    assert 10 * np.log10(np.median(spectrum[(frequency > 500) & (frequency < 3000)]) / outside) > 30


@pytest.mark.parametrize("tail_ms", [0, 180, 400])
def test_the_squelch_tail_lasts_as_long_as_it_should(tail_ms: int) -> None:
    x = band(speechlike(tail=0.5), RATE)
    y = radio.squelch_tail(x, RATE, tail_ms)
    assert len(y) - len(x) == round(tail_ms * RATE / 1000)
    assert np.array_equal(y[: len(x)], x)
    if tail_ms:
        loud = np.flatnonzero(np.abs(y) > 0.02)
        quiet_before = y[len(x) - 3200 : len(x)]
        assert np.abs(quiet_before).max() < 1e-3
        assert (loud[-1] - loud[loud >= len(x)][0]) / RATE * 1000 == pytest.approx(tail_ms, abs=5)


def test_the_mulaw_line_carries_nothing_above_four_kilohertz() -> None:
    rng = np.random.default_rng(3)
    y = radio.line_8k_mulaw(0.2 * rng.standard_normal(4 * RATE), RATE)
    frequency, spectrum = welch(y, RATE, nperseg=2048)
    inside = np.median(spectrum[(frequency > 500) & (frequency < 3000)])
    assert 10 * np.log10(inside / spectrum[frequency > 4600].max()) > 40


def test_what_comes_out_lies_in_the_band() -> None:
    y = simulate(speechlike(), RATE, snr_db=10, noise="white", seed=1)
    frequency, spectrum = welch(y, RATE, nperseg=2048)
    near = spectrum[(frequency >= 250) & (frequency <= 4000)].sum()  # the band and the first of its skirts
    assert near / spectrum.sum() > 0.98
    assert spectrum[frequency > 6800].max() < 1e-3 * spectrum.max()


def test_the_whole_radio_follows_its_seed_and_nothing_else() -> None:
    x = speechlike(seconds=1)
    first = simulate(x, RATE, 10, "jackhammer", late_ms=100, mulaw=True, seed=5)
    assert np.array_equal(first, simulate(x, RATE, 10, "jackhammer", late_ms=100, mulaw=True, seed=5))
    assert not np.array_equal(first, simulate(x, RATE, 10, "jackhammer", late_ms=100, mulaw=True, seed=6))
    assert first.dtype == np.float32


@settings(max_examples=25, deadline=None)
@given(
    count=st.integers(0, 12000),
    rate=st.sampled_from([8000, 16000, 22050, 48000]),
    noise=st.sampled_from(sorted(NOISES)),
    snr=st.none() | st.floats(-20, 60),
    late=st.floats(0, 2000),
    mulaw=st.booleans(),
    level=st.sampled_from([0.0, 1e-6, 0.1, 1.0]),
)
def test_any_sound_comes_out_finite_and_within_full_scale(
    count: int, rate: int, noise: str, snr: float | None, late: float, mulaw: bool, level: float
) -> None:
    x = level * np.random.default_rng(count).uniform(-1, 1, count)
    y = simulate(x, rate, snr, noise, late, mulaw)
    assert np.isfinite(y).all()
    assert np.abs(y).max(initial=0) <= 1
    assert len(y) <= count + round(0.18 * rate)


def test_a_rate_too_low_for_the_band_is_refused() -> None:
    with pytest.raises(ValueError, match="8000 Hz or more"):
        simulate(np.zeros(100), 6000)
