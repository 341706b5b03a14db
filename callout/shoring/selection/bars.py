"""Timber as bars: which line of the stock serves which section, and every full way to saw a bar.

One bar is sawn for one section: its own, or one that its line may stand in for (a substitution). For cut lists too
varied to write every way down, `made_ways` makes them as they are needed (Gilmore and Gomory, "A linear programming
approach to the cutting-stock problem", Operations Research 9, 1961): the relaxed problem prices each cut, and the best
way under these prices is added until none pays. What comes out are few good ways, and the relaxed minimum, below which
no nesting can go.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from callout.shoring.allocation import CutNeed, Need
from callout.shoring.selection.patterns import Catalogue, Cost, stands_for
from callout.shoring.selection.program import Clock
from callout.shoring.stock import Timber

#: (section, length in 1/80 mm) -> how many are wanted.
Demand = Mapping[tuple[str, int], int]
#: More ways than this to saw the bars, and ways are made as they are needed (see `made_ways`).
MOST_WAYS = 2_000
ROUNDS = 400  # of making ways
LONG_LIST = 60  # cuts, beyond which two ways of each use are made in one round: fewer rounds lead to the end
#: Marks on a bar up to which every room is looked at: 24 ft in sixteenths of an inch are 4,608.
FINEST_GRID = 20_000


@dataclass(frozen=True)
class Use:
    """Bars of one line sawn for one section: `room` is their length plus one kerf; `cost` is for one bar, its whole
    length counted as waste (what is sawn from it comes off later)."""

    line: int
    section: str
    room: int
    cost: Cost


@dataclass(frozen=True)
class Way:
    """One bar of a use with the cuts sawn from it: (length, how many), longest first."""

    use: Use
    cuts: tuple[tuple[int, int], ...]


def cuts_of(needs: Sequence[Need]) -> dict[tuple[str, int], int]:
    """The timber cuts among these needs: (section, length in 1/80 mm) -> how many."""
    found: dict[tuple[str, int], int] = {}
    for need in needs:
        if isinstance(need, CutNeed) and need.quantity > 0:
            cut = (need.section, need.length.eightieths)
            found[cut] = found.get(cut, 0) + need.quantity
    return found


def all_cuts(needs: Mapping[int, Sequence[Need]]) -> Demand:
    return cuts_of([need for build in sorted(needs) for need in needs[build]])


def uses_for(demand: Demand, catalogue: Catalogue) -> list[Use]:
    """What may serve the sections in demand, in the stock's order."""
    kerf = catalogue.stock.kerf.eightieths
    found = []
    for number in catalogue.timbers:
        line = catalogue.lines[number]
        assert isinstance(line, Timber)
        for section in sorted({section for section, _ in demand}):
            exact = line.section == section
            if exact or stands_for(line, section, None):
                cost = catalogue.price(
                    Counter({number: 1}), substitutions=int(not exact), waste=line.length.eightieths
                )
                found.append(Use(number, section, line.length.eightieths + kerf, cost))
    return found


def parts_of(demand: Demand, uses: list[Use]) -> list[tuple[dict[tuple[str, int], int], list[Use]]]:
    """The demand split into parts that share no line of timber."""
    left = sorted({section for section, _ in demand})
    parts = []
    while left:
        sections, grown = {left[0]}, True
        while grown:
            lines = {use.line for use in uses if use.section in sections}
            more = {use.section for use in uses if use.line in lines} - sections
            sections |= more
            grown = bool(more)
        parts.append(
            (
                {cut: n for cut, n in sorted(demand.items()) if cut[0] in sections},
                [use for use in uses if use.section in sections],
            )
        )
        left = [section for section in left if section not in sections]
    return parts


def full_ways(demand: Demand, uses: list[Use], kerf: int, most: int = MOST_WAYS) -> list[Way] | None:
    """Every way to saw each use's bar so that no further wanted cut fits; None if there are more than `most`.

    Full ways suffice: a cut too many costs nothing and is dropped afterwards.
    """
    found: list[Way] = []
    for use in uses:
        lengths = sorted((length for section, length in demand if section == use.section), reverse=True)
        wanted = [demand[use.section, length] for length in lengths]

        def fill(at: int, room: int, taken: list[int], use: Use, lengths: list[int], wanted: list[int]) -> bool:
            if at == len(lengths):
                over = any(n < w and length + kerf <= room for n, w, length in zip(taken, wanted, lengths, strict=True))
                if not over and any(taken):
                    cuts = tuple((length, n) for length, n in zip(lengths, taken, strict=True) if n)
                    found.append(Way(use, cuts))
                return len(found) <= most
            step = lengths[at] + kerf
            for number in range(min(wanted[at], room // step), -1, -1):
                if not fill(at + 1, room - number * step, [*taken, number], use, lengths, wanted):
                    return False
            return True

        if not fill(0, use.room, [], use, lengths, wanted):
            return None
    return found


def made_ways(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int, clock: Clock
) -> tuple[list[Way], int]:
    """(ways, the number of bars below which no nesting can go; 0 if the time was over before that was known).

    Made for the aim "pieces", with the bar's length breaking ties, so that bars and waste come out near their least.
    """
    cuts, lines = sorted(demand), sorted({use.line for use in uses})
    known = {way for use in uses for way in _first_ways(use, demand, kerf)}
    ways = sorted(known, key=_key)
    longest = max((use.room for use in uses), default=1)
    relaxed = _Relaxed(cuts, lines, [-demand[cut] for cut in cuts] + [free.get(line, 0) for line in lines])
    least, at = 0, 0
    for _ in range(ROUNDS):
        for way in ways[at:]:
            relaxed.add(way, 1.0 + way.use.room / (1000.0 * longest))
        at = len(ways)
        total, worth, rents = relaxed.solved()
        new = []
        for use, found in zip(uses, _best_ways(uses, worth, demand, kerf), strict=True):
            rent = 1.0 + use.room / (1000.0 * longest) + rents[use.line]
            new += [way for way, value in found if value > rent + 1e-7 and way not in known]
        if not new:
            least = max(0, math.ceil(total / 1.001 - 1e-6)) if total < 1000 else 0
        if not new or clock.left < 0.3:
            break
        known.update(new)
        ways += sorted(new, key=_key)
    return ways, least


class _Relaxed:
    """The problem with parts of bars allowed: a column for each way, a row for each cut and each line of timber."""

    def __init__(self, cuts: list[tuple[str, int]], lines: list[int], limits: list[int]) -> None:
        self.cuts, self.lines, self.limits = cuts, lines, limits
        self._row = {cut: row for row, cut in enumerate(cuts)}
        self._row_of_line = {line: row for row, line in enumerate(lines, len(cuts))}
        self._cost: list[float] = []
        self._data: list[int] = []
        self._rows: list[int] = []
        self._starts = [0]

    def add(self, way: Way, cost: float) -> None:
        self._cost.append(cost)
        for row, number in sorted((self._row[way.use.section, length], number) for length, number in way.cuts):
            self._rows.append(row)
            self._data.append(-number)
        self._rows.append(self._row_of_line[way.use.line])
        self._data.append(1)
        self._starts.append(len(self._data))

    def solved(self) -> tuple[float, dict[tuple[str, int], float], dict[int, float]]:
        """(the least cost, what each cut is worth, what one more bar of each line would save)."""
        from scipy.optimize import linprog
        from scipy.sparse import csc_matrix

        count = len(self.cuts)  # a cut left out, at a price that keeps the problem solvable
        starts = [*self._starts, *range(len(self._data) + 1, len(self._data) + count + 1)]
        matrix = csc_matrix(
            ([*self._data, *[-1] * count], [*self._rows, *range(count)], starts),
            shape=(len(self.limits), len(self._cost) + count), dtype=float,
        )  # fmt: skip
        found = linprog([*self._cost, *[1000.0] * count], A_ub=matrix, b_ub=self.limits, method="highs")
        prices = [float(price) for price in -found.ineqlin.marginals]
        worth, rents = dict(zip(self.cuts, prices, strict=False)), dict(zip(self.lines, prices[count:], strict=True))
        return float(found.fun), worth, rents


def _key(way: Way) -> tuple[int, str, tuple[tuple[int, int], ...]]:
    return (way.use.line, way.use.section, way.cuts)


def _first_ways(use: Use, demand: Demand, kerf: int) -> list[Way]:
    """Each cut alone, as often as it fits, the rest of the bar filled longest first."""
    lengths = sorted((length for section, length in demand if section == use.section), reverse=True)
    found = []
    for first in lengths:
        room, taken = use.room, dict.fromkeys(lengths, 0)
        for length in [first, *lengths]:
            if room < lengths[-1] + kerf:
                break
            number = min(demand[use.section, length] - taken[length], room // (length + kerf))
            taken[length] += number
            room -= number * (length + kerf)
        if taken[first]:
            found.append(Way(use, tuple((length, n) for length, n in taken.items() if n)))
    return found


def _best_ways(
    uses: list[Use], worth: Mapping[tuple[str, int], float], demand: Demand, kerf: int
) -> list[list[tuple[Way, float]]]:
    """The ways of greatest worth for one bar of each use, and their worth: small knapsacks, one for each section. Of a
    long list the best one, and the best without its cuts."""
    found: dict[Use, list[tuple[Way, float]]] = {use: [] for use in uses}
    for section in {use.section for use in uses}:
        mine = [use for use in uses if use.section == section]
        cuts = sorted(
            ((value / (length + kerf), length, value) for (other, length), value in worth.items()
             if other == section and value > 1e-9),
            reverse=True,
        )  # fmt: skip
        grid = math.gcd(*(length + kerf for _, length, _ in cuts)) or 1
        rooms = {use.room // grid for use in mine}
        for _ in range(1 + (len(demand) > LONG_LIST)):
            steps = [((length + kerf) // grid, value, demand[section, length]) for _, length, value in cuts]
            filled = _on_a_grid(steps, sorted(room for room in rooms if room <= FINEST_GRID))
            filled |= {room: _by_branches(steps, room) for room in rooms if room > FINEST_GRID}
            used: set[int] = set()
            for use in mine:
                value, numbers = filled[use.room // grid]
                taken = {length: number for (_, length, _), number in zip(cuts, numbers, strict=True) if number}
                found[use].append((Way(use, tuple(sorted(taken.items(), reverse=True))), value))
                used |= taken.keys()
            cuts = [one for one in cuts if one[1] not in used]
            if not cuts:
                break
    return [found[use] for use in uses]


_Steps = list[tuple[int, float, int]]  # room that one takes, its worth, how many at most; the densest first


def _on_a_grid(steps: _Steps, rooms: list[int]) -> dict[int, tuple[float, list[int]]]:
    """Cuts that were read off one tape share its marks: the best worth for every room up to the largest, cut after
    cut; then, for each of `rooms`, its worth and how many of each cut."""
    import numpy as np

    room = max(rooms, default=0)
    best = np.zeros(room + 1)
    chosen = []
    for step, value, most in steps:
        before, number = best, np.zeros(room + 1, dtype=np.int32)
        best = before.copy()
        for times in range(1, min(most, room // step) + 1):
            more = before[: room + 1 - times * step] + times * value
            better = more > best[times * step :] + 1e-12
            best[times * step :][better] = more[better]
            number[times * step :][better] = times
        chosen.append(number)
    found = {}
    for whole in rooms:
        left, numbers = whole, []
        for (step, _, _), number in zip(reversed(steps), reversed(chosen), strict=True):
            numbers.append(int(number[left]))
            left -= numbers[-1] * step
        found[whole] = float(best[whole]), numbers[::-1]
    return found


def _by_branches(steps: _Steps, room: int) -> tuple[float, list[int]]:
    """The same by branch and bound, for lengths that share no marks."""
    best: tuple[float, tuple[int, ...]] = (0.0, ())

    def go(at: int, room: int, value: float, taken: tuple[int, ...]) -> None:
        nonlocal best
        if value > best[0] + 1e-12:
            best = (value, taken)
        if at == len(steps) or value + steps[at][1] / steps[at][0] * room <= best[0] + 1e-12:
            return
        step, each, most = steps[at]
        for number in range(min(most, room // step), -1, -1):
            go(at + 1, room - number * step, value + number * each, (*taken, number))

    go(0, room, 0.0, ())
    return best[0], [*best[1], *[0] * (len(steps) - len(best[1]))]
