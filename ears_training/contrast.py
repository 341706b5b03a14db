"""Teaching an ear to tell a sentence from those that are nearly it.

CTC alone asks that the right phones are likely; it does not ask that "fifteen" is likelier than "fifty". Here the loss
is that of choosing the right sentence among its rivals (see `rivals`), each weighed by its whole CTC probability.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import torch
import torch.nn.functional as F
from torch import Tensor

from ears_training.rivals import Labels

Row = tuple[int, Labels, Sequence[Labels]]


def scores(logp: Tensor, rows: Sequence[Row]) -> Tensor:
    """(rows, 1 + most rivals) log CTC probabilities, the right one first; -inf where there is none, or where a
    sequence does not fit into the frames. `rows` are (row of the batch, labels, rivals), `logp` (b, t, 40)."""
    most = max(len(others) for _, _, others in rows) + 1
    which, flat, counts, missing = [], [], [], []
    for row, right, others in rows:
        choices = [right, *others]
        missing.append([False] * len(choices) + [True] * (most - len(choices)))
        choices += [right] * (most - len(choices))
        which += [row] * most
        counts += [len(c) for c in choices]
        flat += [label for c in choices for label in c]
    losses = F.ctc_loss(
        logp[torch.tensor(which, device=logp.device)].transpose(0, 1),
        torch.tensor(flat, dtype=torch.long, device=logp.device),
        torch.full((len(which),), logp.shape[1], dtype=torch.long),
        torch.tensor(counts),
        reduction="none",
        zero_infinity=True,  # an impossible sequence comes out as exactly nought
    ).view(len(rows), most)
    gone = torch.tensor(missing, device=logp.device) | (losses == 0)
    return (-losses).masked_fill(gone, -math.inf)


def contrast(logp: Tensor, rows: Sequence[Row]) -> Tensor:
    """Mean of -log P(right | right or a rival) over the rows whose right labels fit into the frames."""
    if not rows:
        return logp.new_zeros(())
    found = scores(logp, rows)
    usable = found[:, 0].isfinite()
    kept = torch.where(usable[:, None], found, torch.zeros_like(found))
    told = -kept.log_softmax(1)[:, 0] * usable
    return told.sum() / usable.sum().clamp_min(1)
