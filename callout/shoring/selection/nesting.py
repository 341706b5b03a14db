"""Cut lists nested into the timber on hand, the saw's kerf counted: small lists by a plain search, larger ones by the
solver over every full way to saw a bar, the largest over ways made as they are needed (then the gap is reported).

The aims are those of all selection: fewest substitutions (bars of another section), fewest bars, least weight,
least waste, least scarce lengths. They depend on the bars alone, not on which cut lies where; so the plain search goes
through sets of bars from the cheapest up, and the first set into which the cuts can be laid is the best.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

from callout.shoring.selection.bars import Demand, Use, Way, full_ways, made_ways, parts_of, uses_for
from callout.shoring.selection.choose import MISSING, GaveUp, packed
from callout.shoring.selection.patterns import AIMS, Catalogue, Cost
from callout.shoring.selection.program import Clock, Program, Unsettled, solve

#: Steps of the search, and sets of bars, past which the solver is faster; longer lists go to it at once.
STEPS = 20_000
SETS = 6_000
CUTS = 48
#: Made ways are not all ways: there weight, waste and scarcity come within this share of the least that they allow.
NEAR = 0.005


@dataclass(frozen=True)
class Sawn:
    """One bar of a line, sawn for a section into lengths (1/80 mm), longest first."""

    use: Use
    cuts: tuple[int, ...]


class _Steps:
    def __init__(self, left: int) -> None:
        self.left = left

    def one(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise GaveUp


def search_bars(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int, steps: int = STEPS,
    there: Mapping[int, int] | None = None,
) -> list[Sawn] | None:  # fmt: skip
    """The best bars with their cuts, None if there are none. GaveUp past `steps`.

    `there`: bars of a line beyond so many are missing, and fewest such bars is then the first aim of all.
    """
    cuts, usable = _longest_first(demand, uses, free, kerf)
    counter = _Steps(steps)
    for bars in _Sets(cuts, usable, free, there).cheapest_first():
        sawn: list[Sawn] = []
        for section, mine in cuts.items():
            here = [use for use in bars if use.section == section]
            laid = _lay(mine, [use.room for use in here], counter)
            if laid is None:
                break
            sawn += [Sawn(use, tuple(n - kerf for n in on)) for use, on in zip(here, laid, strict=True) if on]
        else:
            return sawn
    return None


def _at_once(
    cuts: Mapping[str, list[int]], uses: list[Use], free: Mapping[int, int], there: Mapping[int, int] | None = None
) -> int | None:
    """What it costs to lay each cut into the first bar with room, a new one being the longest there is; a bound."""
    left, cost = dict(free), 0
    lying = None if there is None else dict(there)
    for section, mine in cuts.items():
        rooms: list[int] = []
        for cut in mine:
            place = next((place for place, room in enumerate(rooms) if room >= cut), None)
            if place is None:
                long = [u for u in uses if u.section == section and left.get(u.line, 0) and u.room >= cut]
                if not long:
                    return None
                use = long[0] if lying is None else next((u for u in long if lying[u.line] > 0), long[0])
                left[use.line] -= 1
                cost += packed(use.cost)
                if lying is not None:
                    lying[use.line] -= 1
                    cost += MISSING * (lying[use.line] < 0)
                rooms.append(use.room)
                place = len(rooms) - 1
            rooms[place] -= cut
    return cost


def fits_at_once(demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int) -> bool:
    """Whether the cuts can be laid one after the other, longest first; False says nothing."""
    return _at_once(*_longest_first(demand, uses, free, kerf), free) is not None


def _longest_first(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int
) -> tuple[dict[str, list[int]], list[Use]]:
    """The cuts of each section, a kerf on each, and the bars that are there."""
    cuts: dict[str, list[int]] = {}
    for (section, length), n in sorted(demand.items(), reverse=True):
        cuts.setdefault(section, []).extend([length + kerf] * n)
    usable = sorted((use for use in uses if free.get(use.line, 0)), key=lambda use: (-use.room, use.line, use.section))
    return cuts, usable


class _Sets:
    """Sets of bars into which the cuts may go, the cheapest first; GaveUp past SETS.

    Sets grow use after use, and the one that can still become the cheapest grows first: what it has cost, and the least
    that it costs to give what it lacks. That is measured in length, and in wholes of each length that is cut: a bar
    gives no more of them than go into it.
    """

    def __init__(
        self, cuts: Mapping[str, list[int]], uses: list[Use], free: Mapping[int, int],
        there: Mapping[int, int] | None,
    ) -> None:  # fmt: skip
        self.uses, self.free, self.there = uses, free, free if there is None else there
        self.known = _at_once(cuts, uses, free, there)
        self.prices = [packed(use.cost) + (0 if self.there[use.line] else MISSING) for use in uses]
        self.most = {section: len(mine) for section, mine in cuts.items()}
        #: By section what is wanted, and for each use what one bar of it gives, in the same measures.
        lengths = {section: sorted(set(mine)) for section, mine in cuts.items()}
        self.wanted = {
            section: (sum(mine), *(sum(cut // length for cut in mine) for length in lengths[section]))
            for section, mine in cuts.items()
        }
        self.gives = [(use.room, *(use.room // length for length in lengths[use.section])) for use in uses]
        #: From each use on, by section: the most that one bar gives, and the least that one can cost.
        self.rest: list[dict[str, tuple[tuple[int, ...], int]]] = [{}]
        for use, gives, price in zip(reversed(uses), reversed(self.gives), reversed(self.prices), strict=True):
            _, least = self.rest[-1].get(use.section, (gives, price))
            self.rest.append({**self.rest[-1], use.section: (gives, min(least, price))})  # uses: the longest first
        self.rest.reverse()

    def cheapest_first(self) -> Iterator[tuple[Use, ...]]:
        """Sets of one cost in the order of their names."""
        equal: list[tuple[Use, ...]] = []
        growing: list[tuple[int, tuple[int, ...]]] = []
        if (first := self._still(0, self.wanted)) is not None:
            growing.append((first, ()))
        cost, tried = -1, 0
        while growing:
            tried += 1
            if tried > SETS:
                raise GaveUp
            now, numbers = heappop(growing)
            if now > cost:
                yield from sorted(equal, key=repr)
                equal, cost = [], now
            if len(numbers) == len(self.uses):
                equal.append(tuple(use for use, number in zip(self.uses, numbers, strict=True) for _ in range(number)))
            else:
                self._grow(growing, now, numbers)
        yield from sorted(equal, key=repr)

    def _grow(self, growing: list[tuple[int, tuple[int, ...]]], least: int, numbers: tuple[int, ...]) -> None:
        """The set with none, one, two ... bars of the next use."""
        at = len(numbers)
        use, gives, price = self.uses[at], self.gives[at], self.prices[at]
        lacking, taken, bars = dict(self.wanted), 0, 0
        for before, given, number in zip(self.uses, self.gives, numbers, strict=False):
            lacking[before.section] = _without(lacking[before.section], given, number)
            taken += number * (before.line == use.line)
            bars += number * (before.section == use.section)
        cost = least - (self._still(at, lacking) or 0)
        most = min(self.free[use.line] - taken, self.most[use.section] - bars)
        for number in range(most + 1):
            if self.known is not None and cost > self.known:
                break
            still = self._still(at + 1, lacking)
            if still is not None and (self.known is None or cost + still <= self.known):
                heappush(growing, (cost + still, (*numbers, number)))
            lacking[use.section] = _without(lacking[use.section], gives, 1)
            cost += price + MISSING * (taken + number >= self.there[use.line] > 0)

    def _still(self, at: int, lacking: Mapping[str, tuple[int, ...]]) -> int | None:
        """What lacks costs at least so much, from the use `at` on; None where no bar is left that gives it."""
        cost = 0
        for section, measures in lacking.items():
            if max(measures) <= 0:
                continue
            if section not in self.rest[at]:
                return None
            gives, least = self.rest[at][section]
            bars = 0
            for wanted, most in zip(measures, gives, strict=True):
                if wanted > 0:
                    if not most:
                        return None
                    bars = max(bars, -(-wanted // most))
            cost += bars * least
        return cost


def _without(lacking: tuple[int, ...], gives: tuple[int, ...], number: int) -> tuple[int, ...]:
    return tuple(wanted - number * given for wanted, given in zip(lacking, gives, strict=True))


def _lay(cuts: list[int], rooms: list[int], counter: _Steps) -> list[list[int]] | None:
    """The cuts (longest first) laid into bars with these rooms, or None if they cannot be."""
    laid: list[list[int]] = [[] for _ in rooms]
    spare = sum(rooms) - sum(cuts)
    left = list(rooms)
    failed: set[tuple[int, ...]] = set()  # rooms left, into which the cuts that are left cannot be laid
    lengths = sorted(set(cuts))
    # What is over in wholes of each length: no bar gives more of them than go into it.
    over = [sum(room // length for room in rooms) - sum(cut // length for cut in cuts) for length in lengths]

    def go(at: int, wasted: int, over: list[int]) -> bool:
        counter.one()
        if at == len(cuts):
            return True
        state = tuple(sorted(left))
        if state in failed:
            return False
        cut, seen = cuts[at], set()
        for place, room in enumerate(left):
            if room < cut or room in seen:
                continue
            seen.add(room)
            after = room - cut
            lost = after if after < cuts[-1] else 0  # no cut is short enough for it
            if wasted + lost > spare:
                continue
            still = [n - (room // m - after // m - cut // m) for n, m in zip(over, lengths, strict=True)]
            if min(still) < 0:
                continue
            left[place] = after
            laid[place].append(cut)
            if go(at + 1, wasted + lost, still):
                return True
            left[place] = room
            laid[place].pop()
        failed.add(state)
        return False

    return laid if spare >= 0 and min(over, default=0) >= 0 and go(0, 0, over) else None


def nest(
    demand: Demand, catalogue: Catalogue, free: Mapping[int, int], clock: Clock, gaps: dict[str, int] | None = None,
    known: list[Sawn] | None = None,
) -> list[Sawn] | None:  # fmt: skip
    """The bars to saw; None if it is proven that the timber does not suffice. Kerf: one between two cuts, none after
    a last cut that ends with the bar. `gaps` takes what could not be proven least, by aim. `known`: bars that are known
    to suffice; those of a part stand where the time does not allow to find better ones."""
    sawn: list[Sawn] = []
    parts = parts_of({cut: n for cut, n in demand.items() if n}, uses_for(demand, catalogue))
    gaps = {} if gaps is None else gaps
    for place, (part, uses) in enumerate(sorted(parts, key=lambda one: sum(one[0].values())), 1):
        share = clock if place == len(parts) else Clock(clock.share(2))
        try:
            found = _nest(part, uses, free, catalogue.stock.kerf.eightieths, share, gaps)
        except Unsettled:
            if known is None:
                raise
            found = [bar for bar in known if any(bar.use.section == section for section, _ in part)]
            gaps["pieces"] = gaps.get("pieces", 0) + len(found)
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
    made = least is not None
    answer = solve(program, clock, brief_from=AIMS.index("scarcity") if made else None, near=NEAR if made else 0.0)
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
