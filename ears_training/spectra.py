"""The two front ends as torch modules: log-mel for the encoder ear, Kaldi's MFCC for the Vosk ear.

They equal what runs at the site (`callout.hearing.features`, Vosk's own front end) when neither warp nor mask is
asked for. Warp stretches the frequency axis (another length of throat); mask hides bands and moments.
"""

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor, nn

RATE = 16000
WARPS = np.linspace(0.86, 1.16, 13)


def slaney_bank(warp: float = 1.0, bands: int = 80) -> npt.NDArray[np.float64]:
    """(bands, 201) triangles on the Slaney mel scale, as Whisper's front end has them."""

    def to_mel(f: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return np.where(f < 1000, f * 3 / 200, 15 + np.log(np.maximum(f, 1e-9) / 1000) / (np.log(6.4) / 27))

    def to_hertz(m: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return np.where(m < 15, m * 200 / 3, 1000 * np.exp((m - 15) * np.log(6.4) / 27))

    edges = to_hertz(np.linspace(to_mel(np.array(0.0)), to_mel(np.array(RATE / 2)), bands + 2))
    gaps = np.diff(edges)
    away = edges[:, None] - (np.linspace(0, RATE / 2, 201) * warp)[None]
    triangles = np.maximum(0, np.minimum(-away[:-2] / gaps[:-1, None], away[2:] / gaps[1:, None]))
    return triangles * (2 / (edges[2:] - edges[:-2]))[:, None]


def kaldi_bank(warp: float = 1.0, bands: int = 40, low: float = 20, high: float = 7600) -> npt.NDArray[np.float64]:
    """(bands, 257) triangles on Kaldi's mel scale."""

    def to_mel(f: npt.NDArray[np.float64] | float) -> npt.NDArray[np.float64]:
        return np.asarray(1127 * np.log(1 + np.asarray(f) / 700))

    m = to_mel(np.clip(np.arange(257) * RATE / 512 * warp, 0, RATE / 2))
    step = (to_mel(high) - to_mel(low)) / (bands + 1)
    left = to_mel(low) + np.arange(bands)[:, None] * step
    bank = np.clip(np.minimum((m - left) / step, (left + 2 * step - m) / step), 0, None)
    bank[:, 256] = 0
    return np.asarray(bank)


def _banks(make: object) -> Tensor:
    return torch.tensor(np.stack([make(w) for w in (1.0, *WARPS)]), dtype=torch.float32)  # type: ignore[operator]


def masked(m: Tensor, bands: int, widest: int, longest: int = 12) -> Tensor:
    """Hide up to two stripes of bands and two of frames in m (b, t, bands), each with even odds."""
    b, t, _ = m.shape
    mean = m.mean(1, keepdim=True)
    draw = lambda: torch.rand(b, 1, 1, device=m.device)  # noqa: E731
    band = torch.arange(bands, device=m.device)[None, None]
    frame = torch.arange(t, device=m.device)[None, :, None]
    for _ in range(2):
        at, wide = draw() * bands, draw() * widest * (draw() < 0.5)
        m = torch.where((band >= at) & (band < at + wide), mean, m)
        at, wide = draw() * t, draw() * longest * (draw() < 0.5)
        m = torch.where((frame >= at) & (frame < at + wide), mean, m)
    return m


class LogMel(nn.Module):
    """(b, n) samples in +-1 -> (b, 80, n / 160)."""

    def __init__(self) -> None:
        super().__init__()
        self.register_buffer("window", torch.hann_window(400))
        self.register_buffer("bank", _banks(slaney_bank))

    def forward(self, x: Tensor, warp: Tensor | None = None, mask: bool = False) -> Tensor:
        spectrum = torch.stft(x, 400, 160, window=self.window, center=True, return_complex=True)[..., :-1]
        bank = self.bank[:1] if warp is None else self.bank[warp]
        m = torch.matmul(bank, spectrum.abs().square()).clamp_min(1e-10).log10()
        m = torch.maximum(m, m.amax((1, 2), keepdim=True) - 8)
        m = (m + 4) / 4
        return masked(m.transpose(1, 2), 80, 14).transpose(1, 2) if mask else m


class Mfcc(nn.Module):
    """(b, n) samples in +-1 -> (b, frames, 40); 25 ms windows every 10 ms, none beyond the ends."""

    def __init__(self) -> None:
        super().__init__()
        n = np.arange(400)
        povey = (0.5 - 0.5 * np.cos(2 * np.pi * n / 399)) ** 0.85
        k = np.arange(40)[:, None]
        cosines = np.sqrt(2 / 40) * np.cos(np.pi / 40 * (np.arange(40)[None] + 0.5) * k)
        cosines[0] = np.sqrt(1 / 40)
        lifted = cosines * (1 + 11 * np.sin(np.pi * k / 22))
        self.register_buffer("window", torch.tensor(povey, dtype=torch.float32))
        self.register_buffer("bank", _banks(kaldi_bank))
        self.register_buffer("cosines", torch.tensor(lifted.T.copy(), dtype=torch.float32))

    def forward(self, x: Tensor, warp: Tensor | None = None, mask: bool = False) -> Tensor:
        f = (x * 32768).unfold(1, 400, 160)
        f = f - f.mean(2, keepdim=True)
        f = f - 0.97 * torch.cat([f[..., :1], f[..., :-1]], 2)
        power = torch.fft.rfft(f * self.window, 512).abs().square()
        bank = self.bank[:1] if warp is None else self.bank[warp]
        m = torch.matmul(power, bank.transpose(1, 2)).clamp_min(1.1920929e-07).log()
        return (masked(m, 40, 7) if mask else m) @ self.cosines
