"""Cut lists nested into the timber on hand, the saw's kerf counted: small lists by a plain search, larger ones by the
solver over every full way to saw a bar, the largest over ways made as they are needed (then the gap is reported).

The aims are those of all selection: fewest substitutions (bars of another section), fewest bars, least weight,
least waste, least scarce lengths.
"""

from __future__ import annotations

from collections.abc import Mapping

from callout.shoring.selection.bars import Demand, Use, Way, full_ways, made_ways, parts_of, uses_for
from callout.shoring.selection.patterns import AIMS, Catalogue, Cost
from callout.shoring.selection.program import Clock, Program, Unsettled, solve
from callout.shoring.selection.sawing import CUTS, Sawn, fits_at_once, search_bars
from callout.shoring.selection.search import GaveUp


def nest(
    demand: Demand, catalogue: Catalogue, free: Mapping[int, int], clock: Clock, gaps: dict[str, int] | None = None
) -> list[Sawn] | None:
    """The bars to saw; None if it is proven that the timber does not suffice. Kerf: one between two cuts, none after
    a last cut that ends with the bar. `gaps` takes what could not be proven least, by aim."""
    sawn: list[Sawn] = []
    for part, uses in parts_of({cut: n for cut, n in demand.items() if n}, uses_for(demand, catalogue)):
        found = _nest(part, uses, free, catalogue.stock.kerf.eightieths, clock, gaps if gaps is not None else {})
        if found is None:
            return None
        sawn += found
    return sorted(sawn, key=lambda bar: (bar.use.section, [-length for length in bar.cuts], bar.use.line))


def can_be_sawn(demand: Demand, catalogue: Catalogue, free: Mapping[int, int], clock: Clock) -> bool:
    """Whether the timber suffices; the solver is asked only where laying one cut after the other does not do it."""
    kerf = catalogue.stock.kerf.eightieths
    for part, uses in parts_of({cut: n for cut, n in demand.items() if n}, uses_for(demand, catalogue)):
        if fits_at_once(part, uses, free, kerf):
            continue
        if _nest(part, uses, free, kerf, clock, {}) is None:
            return False
    return True


def price(sawn: list[Sawn]) -> Cost:
    """The aims summed over all bars; waste is the offcuts and the kerfs."""
    sums = [0] * len(AIMS)
    for bar in sawn:
        for rank, value in enumerate(bar.use.cost):
            sums[rank] += value
        sums[3] -= sum(bar.cuts)
    return (sums[0], sums[1], sums[2], sums[3], sums[4], sums[5])


def _nest(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int, clock: Clock, gaps: dict[str, int]
) -> list[Sawn] | None:
    if not _could_fit(demand, uses, free, kerf):
        return None
    if sum(demand.values()) <= CUTS:
        try:
            return search_bars(demand, uses, free, kerf)
        except GaveUp:
            pass
    return by_ways(demand, uses, free, kerf, clock, gaps)


def _could_fit(demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int) -> bool:
    """A quick no: a cut longer than every bar, or more length in all than there is."""
    for (section, length), _ in demand.items():
        if not any(use.section == section and free.get(use.line, 0) and use.room >= length + kerf for use in uses):
            return False
    room = sum(max(use.room for use in uses if use.line == line) * free.get(line, 0) for line in {u.line for u in uses})
    return sum((length + kerf) * n for (_, length), n in demand.items()) <= room


def by_ways(
    demand: Demand,
    uses: list[Use],
    free: Mapping[int, int],
    kerf: int,
    clock: Clock,
    gaps: dict[str, int] | None = None,
) -> list[Sawn] | None:
    """The same by the solver: how many bars to saw in each way."""
    usable = [use for use in uses if free.get(use.line, 0)]
    ways = full_ways(demand, usable, kerf)
    least: int | None = None
    if ways is None:
        ways, least = made_ways(demand, usable, free, kerf, clock)
    program = Program()
    variables = [program.variable(min(free[way.use.line], sum(demand.values()))) for way in ways]
    add_ways(program, ways, variables, free)
    for cut, n in sorted(demand.items()):
        program.row(covering(cut, ways, variables), low=n)
    program.aims = aims_of_ways(ways, variables)
    answer = solve(program, clock)
    if answer is None:
        if least is not None:
            raise Unsettled  # these ways do not suffice; others might
        return None
    if gaps is not None:
        for rank, gap in enumerate(answer.gaps):
            unproven = gap
            if least is not None and AIMS[rank] == "pieces":
                unproven = max(gap, answer.aims[rank] - least)
            elif least is not None and AIMS[rank] == "waste":
                unproven = answer.aims[rank] - sum(length * n for (_, length), n in demand.items())
            if unproven > 0:
                gaps[AIMS[rank]] = gaps.get(AIMS[rank], 0) + unproven
    return laid_out(demand, ways, [answer.values[v] for v in variables])


def add_ways(program: Program, ways: list[Way], variables: list[int], free: Mapping[int, int]) -> None:
    """No more bars of a line than are free."""
    by_line: dict[int, dict[int, int]] = {}
    for way, variable in zip(ways, variables, strict=True):
        by_line.setdefault(way.use.line, {})[variable] = 1
    for line, factors in sorted(by_line.items()):
        program.row(factors, high=free.get(line, 0))


def covering(cut: tuple[str, int], ways: list[Way], variables: list[int]) -> dict[int, int]:
    """How many of a cut each way gives."""
    section, length = cut
    return {
        variable: number
        for way, variable in zip(ways, variables, strict=True)
        if way.use.section == section
        for wanted, number in way.cuts
        if wanted == length
    }


def aims_of_ways(ways: list[Way], variables: list[int]) -> list[Mapping[int, int]]:
    return [
        {v: way.use.cost[rank] for way, v in zip(ways, variables, strict=True) if way.use.cost[rank]}
        for rank in range(len(AIMS))
    ]


def laid_out(demand: Demand, ways: list[Way], times: list[int]) -> list[Sawn]:
    """Bars with exactly the cuts in demand: what a way gives beyond them is dropped."""
    left = dict(demand)
    sawn: list[Sawn] = []
    for way, number in zip(ways, times, strict=True):
        for _ in range(number):
            cuts: list[int] = []
            for length, most in way.cuts:
                now = min(most, left.get((way.use.section, length), 0))
                left[way.use.section, length] = left.get((way.use.section, length), 0) - now
                cuts += [length] * now
            sawn.append(Sawn(way.use, tuple(cuts)))
    return [bar for bar in sawn if bar.cuts]
