"""Which member hides which: from the farthest to the nearest, for a view from very far away.

Two convex members that do not cut into each other lie on the two sides of a face of one of them; the side that looks
toward the viewer is nearer. Where members cut into each other, the nearer middle is nearer.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush

import numpy as np
import numpy.typing as npt

from callout.shoring.drawing.solids import Solid, View

_TOUCH = 0.02  # inches by which members that bear on each other may overlap
_EDGE_ON = 1e-6

Array = npt.NDArray[np.float64]


class _Seen:
    """One member as the view sees it."""

    def __init__(self, solid: Solid, view: View) -> None:
        self.points: Array = np.array(solid.points, dtype=float)
        toward = np.array(view.toward, dtype=float)
        faces = [(face[0], looks) for face, looks in solid.faces()]
        self.looks: Array = np.array([looks for _, looks in faces], dtype=float)
        self.at: Array = np.einsum("ij,ij->i", self.looks, np.array([at for at, _ in faces], dtype=float))
        self.facing: Array = self.looks @ toward
        flat: Array = np.array([view.flat(point) for point in solid.points], dtype=float)
        self.low, self.high = flat.min(axis=0), flat.max(axis=0)
        self.near = float((self.points @ toward).mean())


def _in_front(a: _Seen, b: _Seen) -> bool | None:
    """Whether a is nearer than b, by a face of b that has all of a outside it; None where no face tells."""
    outside = (a.points @ b.looks.T >= b.at - _TOUCH).all(axis=0)
    told = outside & (np.abs(b.facing) > _EDGE_ON)
    if not told.any():
        return None
    best = int(np.argmax(np.where(told, np.abs(b.facing), -1.0)))
    return bool(b.facing[best] > 0)


def from_the_back(solids: list[Solid], view: View) -> list[Solid]:
    """The members in the order in which they are painted."""
    seen = [_Seen(solid, view) for solid in solids]
    if not seen:
        return []
    low, high = np.array([one.low for one in seen]), np.array([one.high for one in seen])
    meet = (low[:, None] < high[None] - _TOUCH).all(axis=2)
    over: list[set[int]] = [set() for _ in seen]  # what must be painted before this one
    for i, j in zip(*np.nonzero(np.tril(meet & meet.T, -1)), strict=True):
        one, other = seen[i], seen[j]
        nearer = _in_front(one, other)
        if nearer is None:
            farther = _in_front(other, one)
            nearer = (not farther) if farther is not None else one.near > other.near
        first, last = (int(j), int(i)) if nearer else (int(i), int(j))
        over[last].add(first)
    return [solids[n] for n in _sorted(over, [one.near for one in seen])]


def _sorted(over: list[set[int]], near: list[float]) -> list[int]:
    """Each after all that it is over, the farthest first; a ring of members that hide one another is cut at the one
    that hides the fewest."""
    hides: list[list[int]] = [[] for _ in over]
    for n, under in enumerate(over):
        for one in under:
            hides[one].append(n)
    waits = [len(under) for under in over]
    left, done = set(range(len(over))), []
    free = [(near[n], n) for n in left if not waits[n]]
    heapify(free)
    while left:
        following = heappop(free)[1] if free else min(left, key=lambda n: (waits[n], near[n]))
        if following not in left:
            continue
        done.append(following)
        left.remove(following)
        for n in hides[following]:
            waits[n] -= 1
            if not waits[n] and n in left:
                heappush(free, (near[n], n))
    return done
