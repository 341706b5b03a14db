"""What a stock can build, before anybody needs it: pairs of rakers over a ladder of heights and angles."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from callout.shoring.holdings import Holdings
from callout.shoring.plan import Planner
from callout.shoring.stock import Stock
from callout.values import Callout, Length

Outcome = Literal["whole", "short", "refused"]

#: Heights of the insertion that a first look goes through, in feet, and the angles of the standard builds.
HEIGHTS = tuple(Length.imperial(feet) for feet in range(3, 21))
ANGLES = (45, 60)


@dataclass(frozen=True)
class Reach:
    """One pair of rakers from all of a stock. `why`: what is short, or why there is none; empty when whole."""

    insertion: Length
    angle_deg: int
    outcome: Outcome
    why: str = ""


def reach(
    stock: Stock, planner: Planner, heights: Iterable[Length] = HEIGHTS, angles: Sequence[int] = ANGLES
) -> tuple[Reach, ...]:
    """Each pair of rakers planned by itself from all of the stock, lowest first."""
    full = Holdings.of(stock)
    found = []
    for height in heights:
        for angle in angles:
            build = planner.plan(1, Callout(insertion=height, angle_deg=angle), stock, full)
            if build.refused is not None:
                found.append(Reach(height, angle, "refused", build.refused.reason))
            elif build.missing:
                lacking = ", ".join(f"{line.quantity} x {line.name}" for line in build.missing)
                found.append(Reach(height, angle, "short", lacking))
            else:
                found.append(Reach(height, angle, "whole"))
    return tuple(found)
