"""The encoder ear's picture of sound: 80 log-mel bands every 10 ms, as Whisper's front end draws them.

Source: A. Radford et al., "Robust Speech Recognition via Large-Scale Weak Supervision" (2022), and its published
code: 400-sample Hann windows, hop 160, Slaney mel scale and norm, log10, floor 8 below the peak, (x + 4) / 4.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from callout.hearing.audio import RATE, Samples

BANDS = 80
WINDOW = 400
HOP = 160


def mel_bank(bands: int = BANDS, rate: int = RATE, width: int = WINDOW) -> NDArray[np.float32]:
    """(bands, width / 2 + 1) triangles on the Slaney mel scale: linear to 1 kHz, then 27 bands to a factor of 6.4."""
    edges = _hertz(np.linspace(0.0, _mel(rate / 2), bands + 2))
    bins = np.linspace(0.0, rate / 2, width // 2 + 1)
    gaps = np.diff(edges)
    away = edges[:, None] - bins[None]
    rising, falling = -away[:-2] / gaps[:-1, None], away[2:] / gaps[1:, None]
    triangles = np.maximum(0.0, np.minimum(rising, falling))
    bank: NDArray[np.float32] = (triangles * (2.0 / (edges[2:] - edges[:-2]))[:, None]).astype(np.float32)
    return bank


def log_mel(samples: Samples) -> NDArray[np.float32]:
    """(n,) samples at 16 kHz -> (80, n // 160) log-mel picture. Needs at least 201 samples."""
    padded = np.pad(samples.astype(np.float32), WINDOW // 2, mode="reflect")
    count = (len(padded) - WINDOW) // HOP
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[::HOP][:count] * _HANN
    power = np.abs(np.fft.rfft(frames, axis=1)) ** 2
    mel = np.log10(np.maximum(power.astype(np.float32) @ _BANK.T, 1e-10))
    mel = np.maximum(mel, mel.max() - 8.0)
    return np.ascontiguousarray(((mel + 4.0) / 4.0).T, np.float32)


def _mel(hertz: float) -> float:
    return hertz * 3 / 200 if hertz < 1000 else 15 + np.log(hertz / 1000) / (np.log(6.4) / 27)


def _hertz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.where(mel < 15, mel * 200 / 3, 1000 * np.exp((mel - 15) * np.log(6.4) / 27))


_HANN = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype(np.float32)
_BANK = mel_bank()
