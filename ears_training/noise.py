"""Noise to train in, made anew from a seed: families of this project's own, none of the judging simulator's.

Each family draws its own parameters, so no two of a bank are alike: coloured noise, engines, hammering and drilling,
saws and sirens, wind, tones and tunes, and voices of the training set laid over one another.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor

from ears_training.corpus import Corpus
from ears_training.signals import RATE, filtered, unit

SECONDS = 12
LENGTH = SECONDS * RATE


@dataclass(frozen=True)
class Bank:
    """`sounds` (k, LENGTH), unit level; `talkers` (k,) how many people talk in each (0: none)."""

    sounds: Tensor
    talkers: Tensor


class _Maker:
    def __init__(self, device: torch.device, rng: np.random.Generator) -> None:
        self.device, self.rng = device, rng
        self.t = torch.arange(LENGTH, device=device) / RATE
        self.f = torch.linspace(0, RATE / 2, LENGTH // 2 + 1, device=device).clamp_min(20)

    def white(self) -> Tensor:
        return torch.randn(LENGTH, device=self.device)

    def coloured(self, slope: float) -> Tensor:
        return unit(filtered(self.white(), (self.f / 1000) ** slope))

    def phase(self, hertz: Tensor | float) -> Tensor:
        """Phase in radians of a frequency that may wander; summed in float64, since it grows large."""
        steps = torch.as_tensor(hertz, device=self.device, dtype=torch.float64).expand(LENGTH)
        return (2 * np.pi * torch.cumsum(steps, 0) / RATE).remainder(2 * np.pi * 64).float()

    def swing(self, rate: float, depth: float) -> Tensor:
        return 1 + depth * torch.sin(2 * np.pi * rate * self.t + self.rng.uniform(0, 6))

    def hiss(self) -> Tensor:
        return self.coloured(self.rng.uniform(-1.2, 0.5))

    def engine(self) -> Tensor:
        """Harmonics of a wandering fundamental, and exhaust noise beating with it."""
        r = self.rng
        f0 = float(np.exp(r.uniform(np.log(18), np.log(220))))
        drift = self.swing(r.uniform(0.1, 3), r.uniform(0, 0.03)) + 0.002 * unit(torch.cumsum(self.white(), 0))
        phase = self.phase(f0 * drift)
        fall = r.uniform(0.2, 1.4)
        y = torch.zeros(LENGTH, device=self.device)
        for j in range(1, min(60, int(5000 / f0)) + 1):
            y += float(r.exponential() / j**fall) * torch.sin(j * phase + r.uniform(0, 6))
        beat = 1 + r.uniform(0.2, 1) * torch.sin(phase * float(r.choice([0.25, 0.5, 1])))
        return unit(y) + r.uniform(0.1, 2) * unit(self.coloured(r.uniform(-1, 0.2)) * beat)

    def hammer(self) -> Tensor:
        """A train of ringing hits, on for a while and off for a while."""
        r = self.rng
        n = int(r.uniform(0.01, 0.12) * RATE)
        q = torch.arange(n, device=self.device) / RATE
        hit = torch.randn(n, device=self.device) * torch.exp(-q / r.uniform(0.002, 0.03)) * r.uniform(0, 1.5)
        for _ in range(r.integers(1, 5)):
            ring = torch.sin(2 * np.pi * r.uniform(150, 4000) * q) * torch.exp(-q / r.uniform(0.002, 0.03))
            hit = hit + float(r.uniform(0.2, 1)) * ring
        rate, loose = np.exp(r.uniform(np.log(2), np.log(45))), r.uniform(0, 0.4)
        on, off = r.uniform(0.3, 3), r.uniform(0, 1.5)
        blows = np.zeros(LENGTH, np.float32)
        at = 0.0
        while at < SECONDS - 0.1:
            if at % (on + off) < on:
                blows[int(at * RATE)] += r.uniform(0.5, 1.3)
            at += max(1 / rate * (1 + loose * r.normal()), 0.004)
        train = torch.fft.rfft(torch.tensor(blows, device=self.device), 2 * LENGTH)
        y = torch.fft.irfft(train * torch.fft.rfft(hit, 2 * LENGTH), 2 * LENGTH)[:LENGTH]
        return unit(y) + r.uniform(0.02, 0.4) * self.white()

    def saw(self) -> Tensor:
        """A saw, a grinder or a siren: a sweeping tone with its harmonics, and its noise."""
        r = self.rng
        phase = self.phase(r.uniform(150, 1600) * self.swing(r.uniform(0.05, 4), r.uniform(0, 0.4)))
        y = torch.zeros(LENGTH, device=self.device)
        for j in range(1, 8):
            y += float(r.uniform(0, 1) / j) * torch.sin(j * phase)
        y = unit(y) + r.uniform(0.05, 2) * self.coloured(r.uniform(-0.5, 0.7))
        return y * self.swing(r.uniform(0.1, 2), r.uniform(0, 0.9))

    def wind(self) -> Tensor:
        r = self.rng
        slow = filtered(self.white(), (self.f < r.uniform(21, 25)).float() * torch.exp(-self.f / 5))
        gusts = (1 + r.uniform(0.3, 1) * unit(slow)).abs()
        return self.coloured(-r.uniform(0.8, 1.6)) * gusts + r.uniform(0, 0.3) * self.white()

    def tones(self) -> Tensor:
        """Beeps, chords and tunes: one to four notes at a time, changing, with rests."""
        r = self.rng
        y = torch.zeros(LENGTH, device=self.device)
        for _ in range(r.integers(1, 5)):
            note = np.exp(r.uniform(np.log(120), np.log(2500)))
            pitch, loud, at = np.zeros(LENGTH), np.zeros(LENGTH), 0
            while at < LENGTH:
                n = int(r.uniform(0.06, 0.8) * RATE)
                pitch[at : at + n] = note * 2 ** (r.integers(-7, 8) / 12)
                loud[at : at + n] = r.random() > 0.25
                at += n
            phase = self.phase(torch.tensor(pitch, device=self.device))
            voice = (
                torch.sin(phase) + r.uniform(0, 0.5) * torch.sin(2 * phase) + r.uniform(0, 0.3) * torch.sin(3 * phase)
            )
            y += voice * torch.tensor(loud, dtype=torch.float32, device=self.device)
        return unit(y) + r.uniform(0.001, 0.2) * self.white()


def _babble(maker: _Maker, corpus: Corpus, samples: Tensor, talkers: int) -> Tensor:
    rng, people = maker.rng, corpus.training()
    y = torch.zeros(LENGTH, device=maker.device)
    for _ in range(talkers):
        at = int(rng.uniform(0, 0.5) * RATE)
        while at < LENGTH:
            u = people[rng.integers(len(people))]
            x = unit(samples[u.start + u.on : u.start + u.off].float())[: LENGTH - at]
            y[at : at + len(x)] += x * float(rng.uniform(0.5, 1.2))
            at += len(x) + int(rng.uniform(0, 0.4) * RATE)
    return y


def make_bank(corpus: Corpus, samples: Tensor, count: int, seed: int) -> Bank:
    """Make `count` noises; `samples` is the corpus on the device."""
    rng = np.random.default_rng(seed)
    maker = _Maker(samples.device, rng)
    alone: list[Callable[[], Tensor]] = [
        maker.hiss, maker.engine, maker.engine, maker.hammer, maker.hammer, maker.saw, maker.wind, maker.tones,
    ]  # fmt: skip
    sounds, talkers = [], []
    for k in range(count):
        family = k % (len(alone) + 3)
        n = (
            0
            if family < len(alone)
            else int(rng.choice([1, 2, 3, 4, 5, 6, 8], p=[0.05, 0.1, 0.2, 0.2, 0.2, 0.15, 0.1]))
        )
        sounds.append(unit(_babble(maker, corpus, samples, n) if n else alone[family]()))
        talkers.append(n)
    return Bank(torch.stack(sounds), torch.tensor(talkers, device=samples.device))
