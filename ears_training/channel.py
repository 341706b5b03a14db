"""What happens to speech between a mouth and our ears, drawn anew for every utterance, on the GPU.

Room and microphone, noise, gain control, clipping, the radio's band, hiss, eight-kilohertz companding, squelch, level
and 16-bit rounding; late keys, tight cuts and clips with no speech at all. The shapes and ranges are this module's own;
the simulator that judges the ears is another.
"""

import math
from dataclasses import dataclass, replace

import torch
import torch.nn.functional as F
from torch import Tensor

from ears_training.corpus import SLOWEST, Batch, read_between
from ears_training.noise import LENGTH, Bank
from ears_training.revoice import revoiced
from ears_training.signals import RATE, Draw, decibels, filtered, peak, to_16_bits


@dataclass(frozen=True)
class Setting:
    """How hard the channel is. `strength` scales every chance (0 is clean speech); `revoiced` is the share of rows
    that get another voice before it."""

    strength: float = 1.0
    revoiced: float = 0.0
    no_speech: float = 0.06
    late_key: float = 0.13
    lowest_snr: float = -4.0


@dataclass(frozen=True)
class Placed:
    """Speech laid into buffers: (b, n) samples, where it starts and ends, which rows hold speech (`told`: on CPU)."""

    x: Tensor
    lead: Tensor
    end: Tensor
    speech: Tensor
    active: Tensor
    told: Tensor


@dataclass(frozen=True)
class Heard:
    """What the ears get (`noisy`), the same speech as the mouth made it (`clean`), which rows hold any (on the CPU)."""

    noisy: Tensor
    clean: Tensor
    speech: Tensor


class Channel:
    """Makes training audio from utterances of the corpus."""

    def __init__(self, samples: Tensor, bank: Bank) -> None:
        self.samples, self.bank = samples, bank
        self.few = torch.nonzero((bank.talkers == 0) | (bank.talkers >= 3))[:, 0]

    def __call__(self, batch: Batch, setting: Setting) -> Heard:
        """Return audio for a batch."""
        d = Draw(len(batch.utterances), self.samples.device, setting.strength)
        p = self.place(batch, d, setting)
        if setting.strength == 0:
            return Heard(to_16_bits(p.x / peak(p.x) * 0.7), p.x, p.told)
        x = self.at_microphone(replace(p, x=revoiced(p.x, setting.revoiced)), d, setting)
        x = self.gain_and_clip(x, d)
        x = self.radio(x, p, d)
        level = torch.exp(d.between(math.log(0.03), 0.0))
        faint = ~p.speech & d.yes(0.2)
        x = x / peak(x) * torch.where(faint, level * 0.01, level)
        return Heard(to_16_bits(x), p.x, p.told)

    def place(self, batch: Batch, d: Draw, s: Setting) -> Placed:
        """Lay each utterance into its buffer at a drawn pace, with a drawn lead; late keys lose its beginning."""
        column = lambda v: torch.tensor(v, device=d.device)[:, None]  # noqa: E731
        rows, size = batch.utterances, batch.size
        start = column([u.start for u in rows])
        on, off = column([float(u.on) for u in rows]), column([float(u.off) for u in rows])
        active = column([u.active for u in rows])
        late = d.yes(s.late_key)
        source = torch.where(late, on + d.between(0, 0.15) * RATE, (on - d.between(0, 0.05) * RATE).clamp_min(0))
        if batch.tight:
            lead, tail = d.between(0, 0.04) * RATE, d.between(0, 0.06) * RATE
            pace = ((off - source) / (size - lead - tail)).clamp(0.7, 1.4)
        else:
            lead = torch.where(late, d.between(0, 0.02), d.between(0.02, 0.5)) * RATE
            pace = torch.where(d.yes(0.75), d.between(SLOWEST, 1.2), torch.ones_like(on))
        n = torch.arange(size, device=d.device)[None]
        offset = (n - lead) * pace + source
        inside = (n >= lead) & (offset < off)
        x = read_between(self.samples, start, offset.clamp(0, None)) * inside / 32768
        told = torch.rand(len(rows)) >= s.no_speech * d.strength  # on the CPU: the labels need it without waiting
        speech = told.to(d.device)[:, None]
        return Placed(x * speech, lead, (off - source) / pace + lead, speech, active, told)

    def at_microphone(self, p: Placed, d: Draw, s: Setting) -> Tensor:
        """Room, microphone and noise; the ratio is set on active speech inside 300 to 3400 Hz."""
        rows, size = p.x.shape
        bins = size // 2 + 1
        f = torch.linspace(0, RATE / 2, bins, device=d.device)[None]
        q = torch.arange(int(0.4 * RATE), device=d.device)[None] / RATE
        room = torch.randn(rows, q.shape[1], device=d.device) * torch.exp(-q * 6.9 / d.between(0.08, 0.7)) * (q > 0.002)
        room = room / room.norm(dim=1, keepdim=True) * decibels(-d.between(0, 14)) * d.yes(0.35)
        room[:, 0] = 1
        flat = torch.ones(1, device=d.device)
        X = torch.fft.rfft(p.x) * torch.fft.rfft(room, size) * torch.where(d.yes(0.8), d.curve(bins, 5), flat)
        band = ((f > 300) & (f < 3400)).float()
        power = lambda Z: (Z.abs().square() * band).sum(1, keepdim=True) + 1e-9  # noqa: E731
        pick = torch.randint(len(self.bank.sounds), (rows,), device=d.device)
        calm = self.few[torch.randint(len(self.few), (rows,), device=d.device)]
        pick = torch.where(p.speech[:, 0], pick, calm)  # one or two voices are speech, not noise alone
        at = torch.randint(LENGTH, (rows, 1), device=d.device)
        sound = self.bank.sounds[pick[:, None], (torch.arange(size, device=d.device)[None] + at) % LENGTH].float()
        Z = torch.fft.rfft(sound) * torch.where(d.yes(0.6), d.curve(bins, 4), flat)
        share = ((p.end - p.lead) / size).clamp(0.05, 1) * p.active.clamp(0.3, 1)
        snr = torch.where(d.yes(0.75), d.between(s.lowest_snr, 26), d.between(26, 50))
        talk = (self.bank.talkers[pick] > 0) & (self.bank.talkers[pick] < 3)
        snr = torch.where(talk[:, None], snr.clamp_min(5), snr)
        wanted = torch.where(p.speech, (power(X) / share / power(Z)).sqrt() * decibels(-snr), power(Z).rsqrt())
        X = X + Z * wanted * (d.yes(0.85) | ~p.speech)
        x = torch.fft.irfft(X, size)
        return x / peak(x) * 0.7

    def gain_and_clip(self, x: Tensor, d: Draw) -> Tensor:
        """Gain control that follows a smoothed envelope, then hard or soft clipping."""
        size = x.shape[1]
        e = F.max_pool1d(x.abs()[:, None], 320, 160, 160)[:, :, : size // 160 + 1]
        e = F.avg_pool1d(F.max_pool1d(e, 5, 1, 2), 15, 1, 7)
        e = F.interpolate(e, size=size, mode="linear")[:, 0]
        e = torch.maximum((e / peak(e)).clamp_min(1e-4), decibels(-d.between(3, 24)))
        x = torch.where(d.yes(0.6), x * e ** -d.between(0.4, 1), x)
        x = x / peak(x)
        top = torch.where(d.yes(0.5), d.between(0.12, 0.9), torch.ones(1, device=d.device))
        return torch.where(d.yes(0.5), torch.tanh(x / top) * top, x.clamp(-top, top))

    def radio(self, x: Tensor, p: Placed, d: Draw) -> Tensor:
        """The radio's band, hiss, companding at 8 kHz, squelch before and after."""
        rows, size = x.shape
        f = torch.linspace(0, RATE / 2, size // 2 + 1, device=d.device)[None].clamp_min(1)
        n = torch.arange(size, device=d.device)[None]
        by_radio = d.yes(0.8)
        low, high = d.between(120, 450), torch.where(d.yes(0.5), d.between(3200, 3600), d.between(2400, 4200))
        steep = d.between(2, 7), d.between(2, 10)
        gain = ((1 + (low / f) ** (2 * steep[0])) * (1 + (f / high) ** (2 * steep[1]))).rsqrt()
        gain = torch.where(by_radio, gain, torch.ones(1, device=d.device))
        x = filtered(x, gain)
        share = ((p.end - p.lead) / size).clamp(0.05, 1) * p.active.clamp(0.3, 1)
        level = (x.square().mean(1, keepdim=True) / share).sqrt() + 1e-6
        hiss = filtered(torch.randn(rows, size, device=d.device), gain)
        hiss = hiss / (hiss.std(1, keepdim=True) + 1e-9) * level
        x = x + hiss * decibels(-d.between(12, 50)) * d.yes(0.85)
        x = torch.where(d.yes(0.25) & by_radio, companded(x, d.between(0.1, 0.95)), x)
        closes = p.end + d.between(0, 0.35) * RATE
        burst = torch.where(n < closes + d.between(0.03, 0.3) * RATE, hiss * d.between(0.3, 1.5), torch.zeros_like(x))
        x = torch.where(d.yes(0.5) & by_radio & p.speech & (n > closes), burst, x)
        opens = (p.lead - d.between(0, 0.4) * RATE).clamp_min(0)
        return torch.where(d.yes(0.35) & by_radio & p.speech & (n < opens), torch.zeros_like(x), x)


def companded(x: Tensor, level: Tensor) -> Tensor:
    """Through 8 kHz and eight bits with mu-law (255, as ITU-T G.711 has it in principle) and back."""
    size = x.shape[1]
    half = torch.fft.irfft(torch.fft.rfft(x)[:, : size // 4 + 1] / 2, size // 2)
    top = peak(half)
    v = half / top * level
    v = torch.sign(v) * torch.log1p(255 * v.abs()) / math.log(256)
    v = (v * 127).round() / 127
    v = torch.sign(v) * torch.expm1(v.abs() * math.log(256)) / 255 / level * top
    return torch.fft.irfft(F.pad(torch.fft.rfft(v) * 2, (0, size // 2 - size // 4)), size)
