"""A whole-number programme with aims in order of rank, and the exact solver behind one function.

Nothing else in the project knows the solver, HiGHS through `scipy.optimize.milp`. It is imported at the first
question that the plain search (`callout.shoring.selection.choose`) leaves to it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Sum = Mapping[int, int]  # variable -> whole factor
BRIEF = 0.1  # seconds
SMALL = 500  # variables: up to so many, the time is no matter, and only a busy machine would lack it


@dataclass
class Program:
    """Whole variables from 0 to `upper`, rows `low <= sum <= high`, and sums to make least, the first first."""

    upper: list[int] = field(default_factory=list)
    rows: list[tuple[Sum, float, float]] = field(default_factory=list)
    aims: list[Sum] = field(default_factory=list)

    def variable(self, upper: int) -> int:
        self.upper.append(upper)
        return len(self.upper) - 1

    def row(self, factors: Sum, low: float = -math.inf, high: float = math.inf) -> None:
        self.rows.append((factors, low, high))


@dataclass(frozen=True)
class Answer:
    """Values that keep every row exactly. `gaps[i]` is how far aim i may be from its least value: 0 where proven."""

    values: tuple[int, ...]
    aims: tuple[int, ...]
    gaps: tuple[int, ...]


class Unsettled(Exception):
    """The time was over before any answer was found, or before it was proven that there is none.

    `least`: what is known all the same, the least that the first aim can be.
    """

    def __init__(self, least: int = 0) -> None:
        super().__init__()
        self.least = least


class Clock:
    """A budget of seconds, shared by all the questions of one plan."""

    def __init__(self, seconds: float) -> None:
        self._end = time.monotonic() + seconds

    @property
    def left(self) -> float:
        return max(0.05, self._end - time.monotonic())

    def share(self, parts: int) -> float:
        """What one of `parts` questions still to come may take."""
        return max(0.05, self.left / max(1, parts))


def solve(
    program: Program, clock: Clock, *, brief_from: int | None = None, near: float = 0.0
) -> Answer | None:
    """The best values, aim after aim; None if it is proven that there are none. Unsettled if the time is over first.

    Where the time ends while an aim is being proven, its best value so far stands and its gap says so. Aims from rank
    `brief_from` on only break ties and get `BRIEF` seconds each at most, but for a small programme. `near`: the share
    by which aims after the first that is decided need not be proven least.
    """
    aims = program.aims or [{}]
    if not program.upper:  # nothing to decide
        nothing = (0,) * len(aims)
        return Answer((), nothing, nothing) if all(low <= 0 <= high for _, low, high in program.rows) else None
    rows = list(program.rows)
    best: tuple[int, ...] | None = None
    reached: list[int] = []
    gaps: list[int] = []
    for rank, aim in enumerate(aims):
        shrunk, factor = _shrunk(aim)
        if best is not None and any(aims[rank + 1 :]) and _none_of(shrunk, best):  # no less can be: nothing to prove
            rows.append((shrunk, -math.inf, 0))
            reached.append(0)
            gaps.append(0)
            continue
        if not shrunk and (best is not None or any(aims[rank + 1 :])):  # a later aim leads to a first answer sooner
            reached.append(0)
            gaps.append(0)
            continue
        still = len(aims) - rank if brief_from is None else brief_from + 1 - rank
        seconds = clock.share(2 if best is None else still)
        if brief_from is not None and rank >= brief_from and len(program.upper) > SMALL:
            seconds = min(seconds, BRIEF)
        found, bound = _least(program.upper, rows, shrunk, seconds, 0.0 if best is None else near)
        if found is None:
            if best is None and bound is None:
                return None
            if best is None:
                raise Unsettled
            found, bound = best, 0.0  # this aim found nothing better in its time
        elif not _keeps(found, program.upper, rows):
            if best is None:
                raise Unsettled  # within the solver's tolerance and not exactly: not taken
            found, bound = best, 0.0
        if best is not None and _value(shrunk, best) < _value(shrunk, found):
            found = best
        best = found
        value = _value(shrunk, best)
        least = math.ceil((bound if bound is not None else 0.0) - 1e-6)
        reached.append(value * factor)
        gaps.append(max(0, value - least) * factor)
        if shrunk:
            rows.append((shrunk, -math.inf, value))
    assert best is not None
    return Answer(best, tuple(reached), tuple(gaps))


def _shrunk(aim: Sum) -> tuple[Sum, int]:
    """The aim over its factors' greatest common divisor: small figures keep the solver exact."""
    factors = {variable: factor for variable, factor in aim.items() if factor}
    common = math.gcd(*factors.values()) if factors else 1
    return {variable: factor // common for variable, factor in factors.items()}, common


def _none_of(factors: Sum, values: tuple[int, ...]) -> bool:
    """Whether the sum is nothing, and can be no less: every factor counts up."""
    return bool(factors) and min(factors.values()) > 0 and _value(factors, values) == 0


def _value(factors: Sum, values: tuple[int, ...]) -> int:
    return sum(factor * values[variable] for variable, factor in factors.items())


def _keeps(values: tuple[int, ...], upper: list[int], rows: list[tuple[Sum, float, float]]) -> bool:
    return all(0 <= value <= top for value, top in zip(values, upper, strict=True)) and all(
        low <= _value(factors, values) <= high for factors, low, high in rows
    )


def _least(
    upper: list[int], rows: list[tuple[Sum, float, float]], aim: Sum, seconds: float, near: float
) -> tuple[tuple[int, ...] | None, float | None]:
    """(values, bound under the aim). (None, None): proven impossible. (None, 0.0): nothing found in the time."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_matrix

    cost = np.zeros(len(upper))
    for variable, factor in aim.items():
        cost[variable] = factor
    constraints: list[Any] = []
    if rows:
        data = [factor for factors, _, _ in rows for factor in factors.values()]
        columns = [variable for factors, _, _ in rows for variable in factors]
        starts = np.cumsum([0] + [len(factors) for factors, _, _ in rows])
        matrix = csr_matrix((data, columns, starts), shape=(len(rows), len(upper)), dtype=float)
        constraints = [LinearConstraint(matrix, [low for _, low, _ in rows], [high for _, _, high in rows])]
    result = milp(
        cost,
        integrality=np.ones(len(upper)),
        bounds=Bounds(0, np.array(upper, dtype=float)),
        constraints=constraints,
        options={"mip_rel_gap": near, "time_limit": seconds},
    )
    if result.x is None:
        return (None, None) if result.status == 2 else (None, 0.0)
    bound = result.mip_dual_bound if result.mip_dual_bound is not None else result.fun
    return tuple(round(value) for value in result.x), float(bound)
