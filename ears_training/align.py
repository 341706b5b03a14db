"""Where each phone of a known sentence is heard."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Scores = npt.NDArray[np.float32]


def aligned(scores: Scores, wanted: Sequence[int]) -> list[int] | None:
    """Return the frame at which each label is heard, by the best CTC path; None when there are too few frames."""
    path = [0]
    for label in wanted:
        path += [label, 0]
    t, s = len(scores), len(path)
    best = np.full(s, -np.inf, np.float64)
    best[0] = scores[0, 0]
    if s > 1:
        best[1] = scores[0, path[1]]
    came = np.zeros((t, s), np.int8)
    emitted = scores[:, path].astype(np.float64)
    skip = np.array([i > 1 and path[i] != 0 and path[i] != path[i - 2] for i in range(s)])
    for k in range(1, t):
        one = np.concatenate([[-np.inf], best[:-1]])
        two = np.where(skip, np.concatenate([[-np.inf, -np.inf], best[:-2]]), -np.inf)
        rows = np.stack([best, one, two])
        came[k] = rows.argmax(0)
        best = rows.max(0) + emitted[k]
    at = s - 1 if best[s - 1] >= best[s - 2] else s - 2
    if not np.isfinite(best[at]):
        return None
    frames: dict[int, int] = {}
    for k in range(t - 1, -1, -1):
        if path[at]:
            frames[at // 2] = k
        at -= int(came[k, at])
    return [frames[i] for i in range(len(wanted))] if len(frames) == len(wanted) else None
