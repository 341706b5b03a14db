"""The encoder ear's picture of sound, against scipy's short-time transform and published points of the scale."""

import numpy as np
import pytest
from scipy.signal import ShortTimeFFT
from scipy.signal.windows import hann

from callout.hearing.features import log_mel, mel_bank


def test_the_spectra_are_scipys() -> None:
    samples = np.random.default_rng(1).normal(0, 0.1, 16000).astype(np.float32)
    transform = ShortTimeFFT(hann(400, sym=False), 160, 16000, phase_shift=None)
    padded = np.pad(samples, 200, mode="reflect")
    power = np.stack(
        [np.abs(np.fft.rfft(padded[k : k + 400] * hann(400, sym=False))) ** 2 for k in range(0, 16000, 160)]
    )
    outside = np.abs(transform.stft(padded, p0=0, p1=None)) ** 2
    middle = slice(5, 90)  # scipy centres its windows, so its slice p is ours p - 200/160 windows later; compare shapes
    assert power[middle].mean() == pytest.approx(outside[:, 5:90].mean(), rel=0.02)
    mel = np.log10(np.maximum(power @ mel_bank().T.astype(float), 1e-10))
    expected = (np.maximum(mel, mel.max() - 8) + 4) / 4
    assert np.abs(log_mel(samples).T - expected).max() < 1e-4


def test_the_scale_has_slaneys_points() -> None:
    """M. Slaney, Auditory Toolbox (Interval Technical Report 1998-010): linear at 66.67 Hz a band to 1 kHz (band 15),
    then a factor of 6.4 in 27 bands (band 42 at 6,400 Hz). With one triangle a band up to 6.4 kHz the peaks fall so."""
    bank = mel_bank(bands=41, rate=12800, width=12800)
    peaks = bank.argmax(axis=1)  # one hertz a bin
    assert peaks[:14] == pytest.approx(np.arange(1, 15) * 200 / 3, abs=1)
    assert peaks[14] == pytest.approx(1000, abs=1)
    assert peaks[40] == pytest.approx(1000 * 6.4 ** (26 / 27), abs=2)


def test_each_triangle_has_the_area_of_one() -> None:
    """Slaney's norm: every band passes white noise alike, whatever its width."""
    areas = mel_bank(width=8000).sum(axis=1) * 2.0  # two hertz a bin
    assert areas == pytest.approx(np.ones(80), abs=0.01)


def test_a_tone_lights_the_band_it_lies_in() -> None:
    tone = np.sin(2 * np.pi * 1000 * np.arange(16000) / 16000).astype(np.float32)
    band = int(log_mel(tone)[:, 50].argmax())
    edges = mel_bank()[band].nonzero()[0] * 40.0
    assert edges.min() - 40 <= 1000 <= edges.max() + 40


@pytest.mark.parametrize("count", [640, 1000, 16000, 16001, 16319])
def test_one_column_each_ten_milliseconds(count: int) -> None:
    assert log_mel(np.zeros(count, np.float32)).shape == (80, count // 160)
