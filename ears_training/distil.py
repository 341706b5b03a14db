"""Teaching the Vosk ear what the encoder ear hears: posteriors of 20 ms frames carried over to 30 ms frames."""

import torch
from torch import Tensor

TEACHER_FRAME, PUPIL_FRAME = 320, 480  # samples
PUPIL_FIRST = 200  # centre of the pupil's first window (25 ms long, none before the start)


def carried(teacher: Tensor, frames: int) -> Tensor:
    """Carry probabilities (b, t, 40) at 20 ms over to `frames` frames of 30 ms.

    Phones are spikes one frame wide, so each of the teacher's frames goes whole to the pupil's frame nearest in time;
    two frames that meet are joined as "either" (1 - (1 - p)(1 - q)), and the blank gets what the phones leave.
    """
    b, t, labels = teacher.shape
    centre = (torch.arange(t, device=teacher.device) * TEACHER_FRAME).float()
    to = ((centre - PUPIL_FIRST) / PUPIL_FRAME).round().long().clamp(0, frames - 1)
    absent = torch.zeros(b, frames, labels, device=teacher.device)
    absent.index_add_(1, to, torch.log1p(-teacher.clamp(max=1 - 1e-4)))
    phones = 1 - absent[:, :, 1:].exp()
    total = phones.sum(2, keepdim=True)
    phones = phones / total.clamp_min(1)
    return torch.cat([(1 - phones.sum(2, keepdim=True)).clamp_min(0), phones], 2)


def divergence(pupil: Tensor, target: Tensor) -> Tensor:
    """Mean over frames of KL(target || pupil); `pupil` holds log-probabilities."""
    return (target * ((target + 1e-6).log() - pupil)).sum(2).mean()
