"""Small tools for signals on the GPU: random draws a row, shaped spectra, levels."""

import math

import torch
from torch import Tensor

RATE = 16000


class Draw:
    """Random numbers, one a row of the batch, as columns (n, 1). `strength` scales every chance."""

    def __init__(self, rows: int, device: torch.device, strength: float = 1.0) -> None:
        self.rows, self.device, self.strength = rows, device, strength

    def between(self, low: float | Tensor, high: float | Tensor) -> Tensor:
        """Uniform between low and high."""
        return torch.rand(self.rows, 1, device=self.device) * (high - low) + low

    def yes(self, chance: float) -> Tensor:
        """True with this chance times `strength`."""
        return torch.rand(self.rows, 1, device=self.device) < chance * self.strength

    def curve(self, bins: int, spread: float, points: int = 9) -> Tensor:
        """A smooth random gain over frequency, (n, bins), `spread` in dB."""
        gains = torch.randn(self.rows, 1, 1, points, device=self.device) * spread
        f = torch.linspace(0, RATE / 2, bins, device=self.device)
        mel = torch.log1p(f / 700) / math.log1p(RATE / 2 / 700) * 2 - 1
        grid = torch.stack([mel, torch.zeros_like(mel)], 1).expand(self.rows, 1, bins, 2)
        drawn = torch.nn.functional.grid_sample(gains, grid, align_corners=True, padding_mode="border")
        return 10 ** (drawn[:, 0, 0] / 20)


def decibels(x: Tensor) -> Tensor:
    """An amplitude factor from decibels."""
    return 10 ** (x / 20)


def filtered(x: Tensor, gain: Tensor) -> Tensor:
    """Multiply the spectrum of x (..., n) by gain (..., n // 2 + 1)."""
    return torch.fft.irfft(torch.fft.rfft(x) * gain, x.shape[-1])


def unit(x: Tensor) -> Tensor:
    """Scale to a standard deviation of one along the last axis."""
    return x / (x.std(-1, keepdim=True) + 1e-9)


def peak(x: Tensor) -> Tensor:
    """Largest magnitude along the last axis, never nought."""
    return x.abs().amax(-1, keepdim=True) + 1e-6


def to_16_bits(x: Tensor) -> Tensor:
    """Round as a 16-bit recording does: above a radio's band only this rounding is left to hear."""
    return (x.clamp(-1, 1) * 32767).round() / 32767
