"""Other voices for the training's speech. Needs torch: pip install 'callout[training]'.

Outside check: a vowel whose formants and pitch are known because it is made from them, by the source-filter model of
Fant, "Acoustic Theory of Speech Production" (1960): an even tube of 17.5 cm, closed at one end, resonates at odd
multiples of c / 4L = 500 Hz (from memory; so has every textbook of acoustics).
"""

import numpy as np
import pytest
from scipy.signal import lfilter

torch = pytest.importorskip("torch", reason="torch is not installed: pip install 'callout[training]'")

from ears_training import revoice  # noqa: E402
from ears_training.revoice import revoiced  # noqa: E402
from ears_training.signals import RATE, Draw  # noqa: E402

FORMANTS = (500.0, 1500.0, 2500.0)
PITCH = 110.0
KINDS = ("OWN", "BREATHY", "WHISPER", "BUZZ")


def vowel(seconds: float = 1.5) -> np.ndarray:
    """Pulses through three resonances of 60 to 120 Hz width, levelled to 0.3."""
    x = np.zeros(int(seconds * RATE))
    x[:: round(RATE / PITCH)] = 1
    for f, width in zip(FORMANTS, (60, 80, 120), strict=True):
        r = np.exp(-np.pi * width / RATE)
        x = lfilter([1], [1, -2 * r * np.cos(2 * np.pi * f / RATE), r * r], x)
    return (0.3 * x / np.abs(x).max()).astype(np.float32)


def only(monkeypatch, kind: str) -> None:
    for k in KINDS:
        monkeypatch.setattr(revoice, k, 1.0 if k == kind else 0.0)


def rows(x: np.ndarray, n: int = 6) -> "torch.Tensor":
    return torch.tensor(np.stack([x] * n))


def periodicity(x: np.ndarray) -> float:
    """Highest normalised autocorrelation at the lags of 60 to 350 Hz, of a piece from the middle."""
    piece = x[len(x) // 2 : len(x) // 2 + 2048].astype(np.float64)
    piece = piece - piece.mean()
    r = np.correlate(piece, piece, "full")[len(piece) - 1 :]
    return float((r[RATE // 350 : RATE // 60] / r[0]).max())


def peaks(x: np.ndarray) -> list[float]:
    """The three strongest hills of the smoothed spectrum, in Hz, lowest first."""
    window = torch.hann_window(revoice.SIZE)
    X = revoice._spectrum(torch.tensor(x)[None], window).abs().square().mean(2, keepdim=True)
    e = revoice._envelope((X + 1e-12).log(), torch.ones(1, 1))[0, :, 0].numpy()
    hills = [i for i in range(2, 300) if e[i] > e[i - 1] and e[i] >= e[i + 1]]
    return sorted(i * RATE / revoice.SIZE for i in sorted(hills, key=lambda i: -e[i])[:3])


def test_the_envelope_has_the_vowels_formants():
    """Within what so many quefrencies can part: the slope between two hills moves the lower one down a little."""
    found = peaks(vowel())
    assert len(found) == 3
    for lies, wanted in zip(found, FORMANTS, strict=True):
        assert abs(lies - wanted) < RATE / (2 * revoice.SMOOTH), found


@pytest.mark.parametrize("by", [0.9, 1.12])
def test_a_stretched_envelope_has_its_formants_elsewhere(by):
    e = torch.zeros(1, 513, 2)
    e[:, 64] = 5.0  # 1000 Hz
    hill = int(revoice._stretched(e, torch.tensor([[by]]))[0, :, 0].argmax())
    assert abs(hill * RATE / revoice.SIZE - 1000 * by) < 12


def test_a_whisper_has_no_pitch_and_a_buzz_has_one(monkeypatch):
    torch.manual_seed(0)
    x = rows(vowel())
    assert periodicity(x[0].numpy()) > 0.8
    only(monkeypatch, "WHISPER")
    assert max(periodicity(y.numpy()) for y in revoiced(x)) < 0.6
    only(monkeypatch, "BUZZ")
    assert np.median([periodicity(y.numpy()) for y in revoiced(x)]) > 0.75


def test_pulses_keep_to_the_pitch_of_speech():
    torch.manual_seed(1)
    p = revoice.pulses(Draw(200, torch.device("cpu")), 2 * RATE)
    assert set(p.unique().tolist()) == {0.0, 1.0}
    a_second = p.sum(1) / 2
    assert a_second.min() > 70 * 0.5
    assert a_second.max() < 320 * 1.2


@pytest.mark.parametrize("kind", KINDS)
def test_speech_stays_as_loud_and_silence_stays_silent(monkeypatch, kind):
    torch.manual_seed(2)
    only(monkeypatch, kind)
    x = np.concatenate([np.zeros(RATE // 2, np.float32), vowel(1.0), np.zeros(RATE // 2, np.float32)])
    for y in revoiced(rows(x)).numpy():
        assert np.isfinite(y).all()
        speech, silence = y[RATE // 2 + 2000 : -RATE // 2 - 2000], y[: RATE // 2 - 2000]
        assert 0.5 < np.square(speech).mean() / np.square(vowel(1.0)).mean() < 2
        assert np.abs(silence).max() < 1e-3


def test_only_the_share_asked_for_is_changed():
    torch.manual_seed(3)
    x = rows(vowel(), 10)
    same = (revoiced(x, 0.3) == x).all(1)
    assert int(same.sum()) == 7
    assert revoiced(x, 0.0) is x
    assert revoiced(torch.zeros(4, 16000)).abs().max() == 0
