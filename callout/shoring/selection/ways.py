"""Ways to saw a bar, made as they are needed, for cut lists too varied to write every way down (Gilmore and Gomory,
"A linear programming approach to the cutting-stock problem", Operations Research 9, 1961).

The relaxed problem prices each cut; the best way under these prices is added until none pays. What comes out are few
good ways, and the relaxed minimum, below which no nesting can go.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from callout.shoring.selection.bars import Demand, Use, Way
from callout.shoring.selection.program import Clock

ROUNDS = 400


def made_ways(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int, clock: Clock
) -> tuple[list[Way], int]:
    """(ways, the number of bars below which no nesting can go; 0 if the time was over before that was known).

    Made for the aim "pieces", with the bar's length breaking ties, so that bars and waste come out near their least.
    """
    import numpy as np
    from scipy.optimize import linprog

    cuts = sorted(demand)
    known = {way for use in uses for way in _first_ways(use, demand, kerf)}
    ways = sorted(known, key=_key)
    lines = sorted({use.line for use in uses})
    longest = max((use.room for use in uses), default=1)
    least = 0
    for _ in range(ROUNDS):
        cost = [1.0 + way.use.room / (1000.0 * longest) for way in ways] + [1000.0] * len(cuts)
        matrix = np.zeros((len(cuts) + len(lines), len(cost)))
        for column, way in enumerate(ways):
            for length, number in way.cuts:
                matrix[cuts.index((way.use.section, length)), column] = -number
            matrix[len(cuts) + lines.index(way.use.line), column] = 1
        for row in range(len(cuts)):
            matrix[row, len(ways) + row] = -1  # a cut left out, at a price that keeps the problem solvable
        limits = [-demand[cut] for cut in cuts] + [free.get(line, 0) for line in lines]
        relaxed = linprog(cost, A_ub=matrix, b_ub=limits, method="highs")
        prices = -relaxed.ineqlin.marginals
        worth = {cut: float(prices[row]) for row, cut in enumerate(cuts)}
        new = []
        for use in uses:
            rent = 1.0 + use.room / (1000.0 * longest) + float(prices[len(cuts) + lines.index(use.line)])
            way, value = _best_way(use, worth, demand, kerf)
            if value > rent + 1e-7 and way not in known:
                new.append(way)
        if not new:
            least = max(0, math.ceil(float(relaxed.fun) / 1.001 - 1e-6)) if relaxed.fun < 1000 else 0
        if not new or clock.left < 0.3:
            break
        known.update(new)
        ways += sorted(new, key=_key)
    return ways, least


def _key(way: Way) -> tuple[int, str, tuple[tuple[int, int], ...]]:
    return (way.use.line, way.use.section, way.cuts)


def _first_ways(use: Use, demand: Demand, kerf: int) -> list[Way]:
    """Each cut alone, as often as it fits, the rest of the bar filled longest first."""
    lengths = sorted((length for section, length in demand if section == use.section), reverse=True)
    found = []
    for first in lengths:
        room, taken = use.room, dict.fromkeys(lengths, 0)
        for length in [first, *lengths]:
            number = min(demand[use.section, length] - taken[length], room // (length + kerf))
            taken[length] += number
            room -= number * (length + kerf)
        if taken[first]:
            found.append(Way(use, tuple((length, n) for length, n in taken.items() if n)))
    return found


def _best_way(
    use: Use, worth: Mapping[tuple[str, int], float], demand: Demand, kerf: int
) -> tuple[Way, float]:
    """The way of greatest worth for one bar: a small knapsack by branch and bound."""
    cuts = sorted(
        ((value / (length + kerf), length, value) for (section, length), value in worth.items()
         if section == use.section and value > 1e-9),
        reverse=True,
    )  # fmt: skip
    best: tuple[float, tuple[tuple[int, int], ...]] = (0.0, ())

    def go(at: int, room: int, value: float, taken: tuple[tuple[int, int], ...]) -> None:
        nonlocal best
        if value > best[0] + 1e-12:
            best = (value, taken)
        if at == len(cuts) or value + cuts[at][0] * room <= best[0] + 1e-12:
            return
        _, length, each = cuts[at]
        for number in range(min(demand[use.section, length], room // (length + kerf)), -1, -1):
            more = ((length, number),) if number else ()
            go(at + 1, room - number * (length + kerf), value + number * each, taken + more)

    go(0, use.room, 0.0, ())
    return Way(use, tuple(sorted(best[1], reverse=True))), best[0]
