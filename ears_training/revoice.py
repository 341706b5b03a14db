"""Other throats for the speech that there is: what excites the vocal tract, and the tract's length and sharpness.

Speech is parted into a smooth envelope (the tract) and what excites it, by the cepstrum as in Oppenheim and Schafer's
homomorphic vocoder. The excitation is kept, mixed with breath, or replaced: by breath alone (a whisper), or by pulses
of another pitch (a buzzing voice). Phones and their times stay as they are, so the labels do, too.
"""

import math

import torch
from torch import Tensor

from ears_training.signals import RATE, Draw

SIZE, HOP = 1024, 256
SMOOTH = 36
"""Quefrencies in samples that make the envelope: below the pitch period of a voice of up to 400 Hz."""

OWN, BREATHY, WHISPER, BUZZ = 0.45, 0.15, 0.2, 0.2
"""How often each excitation is drawn; together one."""


def revoiced(x: Tensor, share: float = 1.0) -> Tensor:
    """Give `share` of the rows of x (b, n) another voice; the others are returned as they are.

    How many rows is the same in every batch of one shape, since a new shape costs a GPU as much as twenty steps.
    """
    rows = torch.randperm(len(x), device=x.device)[: round(len(x) * share)]
    if not len(rows):
        return x
    out = x.clone()
    out[rows] = _another_voice(x[rows])
    return out


def _another_voice(x: Tensor) -> Tensor:
    d = Draw(len(x), x.device)
    window = torch.hann_window(SIZE, device=x.device)
    X = _spectrum(x, window)
    power = X.abs().square()
    floor = power.amax((1, 2), keepdim=True) * 1e-9 + 1e-20
    envelope = _envelope((power + floor).log(), d.between(0.75, 1.25))
    exciting = X * (-envelope / 2).exp()
    chosen = _excitation(exciting, voiced(power), d, x.shape[1], window)
    Y = chosen * (_stretched(envelope, d.between(0.88, 1.14)) / 2).exp()
    Y = Y * (power.sum(1, keepdim=True) / (Y.abs().square().sum(1, keepdim=True) + floor)).sqrt()
    return torch.istft(Y, SIZE, HOP, window=window, length=x.shape[1])


def _spectrum(x: Tensor, window: Tensor) -> Tensor:
    return torch.stft(x, SIZE, HOP, window=window, return_complex=True)


def _envelope(log_power: Tensor, sharp: Tensor) -> Tensor:
    """(b, 513, t) smoothed log power; `sharp` (b, 1) scales its hills and valleys, not its level and tilt."""
    cepstrum = torch.fft.irfft(log_power, dim=1)
    q = torch.arange(SIZE, device=log_power.device)
    q = torch.minimum(q, SIZE - q)
    kept = torch.where(q < SMOOTH, 0.5 + 0.5 * torch.cos(math.pi * q / SMOOTH), torch.zeros_like(q, dtype=torch.float))
    scaled = torch.where(q > 1, sharp, torch.ones_like(sharp))
    return torch.fft.rfft(cepstrum * (kept * scaled)[..., None], dim=1).real


def _stretched(envelope: Tensor, by: Tensor) -> Tensor:
    """Stretch the frequency axis of envelopes (b, 513, t): by 1.1, a formant at 1000 Hz comes to lie at 1100."""
    bins = envelope.shape[1]
    at = (torch.arange(bins, device=envelope.device)[None] / by).clamp(max=bins - 1.001)
    low = at.long()
    part = (at - low)[..., None]
    rows = torch.arange(len(envelope), device=envelope.device)[:, None]
    return envelope[rows, low] * (1 - part) + envelope[rows, low + 1] * part


def voiced(power: Tensor) -> Tensor:
    """(b, 1, t) from 0 to 1: more power below 1 kHz than above 3 kHz is taken for voice."""
    hertz = RATE / SIZE
    low = power[:, int(100 / hertz) : int(1000 / hertz)].sum(1, keepdim=True)
    high = power[:, int(3000 / hertz) :].sum(1, keepdim=True)
    return torch.sigmoid(1.5 * ((low + 1e-12) / (high + 1e-12)).log())


def pulses(d: Draw, n: int) -> Tensor:
    """(b, n) pulses of a pitch that falls and sways as in speech, from 70 to 320 Hz."""
    t = torch.arange(n, device=d.device)[None] / RATE
    base = torch.exp(d.between(math.log(70), math.log(320)))
    sway = d.between(0, 0.15) * torch.sin(2 * math.pi * d.between(0.3, 3) * t + d.between(0, 6.3))
    fall = d.between(-0.3, 0.05) * t / t[0, -1]
    phase = torch.cumsum((base * (1 + sway + fall)).double() / RATE, 1)  # float32 would lose pulses in a long buffer
    return torch.diff(phase.floor(), dim=1, prepend=torch.zeros_like(phase[:, :1])).float()


def _excitation(own: Tensor, voice: Tensor, d: Draw, n: int, window: Tensor) -> Tensor:
    """One of the four excitations a row, all of unit power in each frame."""
    # Noise of one piece: frames of their own noise would lose half their level where they overlap.
    noise = _unit(_spectrum(torch.randn(len(own), n, device=own.device), window))
    buzz = _unit(_spectrum(pulses(d, n), window)) * voice.sqrt() + noise * (1 - voice).sqrt()
    kind, breath = d.between(0, 1)[..., None], d.between(0.3, 0.9)[..., None]
    own = _unit(own)
    out = torch.where(kind < OWN + BREATHY, own * (1 - breath) + noise * breath, noise)
    out = torch.where(kind < OWN, own, out)
    return torch.where(kind > 1 - BUZZ, buzz, out)


def _unit(X: Tensor) -> Tensor:
    return X / (X.abs().square().mean(1, keepdim=True) + 1e-12).sqrt()
