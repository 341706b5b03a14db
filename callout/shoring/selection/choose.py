"""Settling a choice of patterns for spans and pieces: the plain search for small parts, the solver for the rest, both
exact.

A choice: each group takes `count` options, each option uses pieces of the lines, and no line is used beyond what is
free, or what the group's build holds for itself. Groups that share no line are settled apart, because the lexicographic
least of a sum over independent parts is the sum of their leasts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate

from callout.shoring.selection.patterns import AIMS, Cost, Group, Option
from callout.shoring.selection.program import Clock, Program, solve

#: Past this many steps the solver is faster.
STEPS = 4_000
#: No sum of costs reaches this, so six sums fit side by side in one whole number and compare in order of rank.
_PLACE = 1 << 64
MISSING = _PLACE**6
#: More groups than this in one part go to the solver at once.
GROUPS = 10


@dataclass(frozen=True)
class Choice:
    """Groups with what is free of each line. `own`: by build and line, pieces that only this build may use.
    `must`: by build and line, pieces that the build has to use (it has picked or placed them)."""

    groups: tuple[Group, ...]
    free: Mapping[int, int]
    own: Mapping[int, Mapping[int, int]] = field(default_factory=dict)
    must: Mapping[int, Mapping[int, int]] = field(default_factory=dict)


#: For each group, how many times each option (by its place) is taken.
Picks = tuple[dict[int, int], ...]
#: (counts, line, how many there were) in the order in which pieces were taken.
_Taken = list[tuple[dict[int, int], int, int]]


class GaveUp(Exception):
    """More steps than this search is meant for."""


def total(groups: Sequence[Group], picks: Picks) -> Cost:
    """The sum of the aims over all that was taken."""
    sums = [0] * 6
    for group, taken in zip(groups, picks, strict=True):
        for place, times in taken.items():
            for rank, value in enumerate(group.options[place].cost):
                sums[rank] += times * value
    return (sums[0], sums[1], sums[2], sums[3], sums[4], sums[5])


def apart(groups: Sequence[Group]) -> list[list[int]]:
    """The groups' places, sorted into parts that share no line."""
    part_of: dict[int, int] = {}  # line -> the root of its part
    root: dict[int, int] = {}

    def find(at: int) -> int:
        while root[at] != at:
            root[at] = root[root[at]]
            at = root[at]
        return at

    for place, group in enumerate(groups):
        root[place] = place
        for line in {line for option in group.options for line, _ in option.uses}:
            if line in part_of:
                root[find(place)] = find(part_of[line])
            part_of[line] = place
    parts: dict[int, list[int]] = {}
    for place in range(len(groups)):
        parts.setdefault(find(place), []).append(place)
    return sorted(parts.values())


def search(choice: Choice, steps: int = STEPS, *, short: bool = False) -> Picks | None:
    """The best picks, None if there are none; GaveUp past `steps`.

    `short`: lines may be used beyond what is there, and fewest such missing pieces is then the first aim of all.
    """
    groups = choice.groups
    order = sorted(range(len(groups)), key=lambda place: (len(groups[place].options), place))
    prices = [[packed(option.cost) for option in group.options] for group in groups]
    if any(group.count and not group.options for group in groups):
        return None
    least = [_from_there_on(choice, *one) for one in zip(groups, prices, strict=True)] if short else prices
    rest = [0]  # rest[i]: the least that the last i groups in `order` can cost
    for place in reversed(order):
        rest.append(rest[-1] + groups[place].count * (least[place][0] if least[place] else 0))
    free = dict(choice.free)
    own = {owner: dict(lines) for owner, lines in choice.own.items()}
    used: dict[int, dict[int, int]] = {owner: dict.fromkeys(lines, 0) for owner, lines in choice.must.items()}
    picks: list[dict[int, int]] = [{} for _ in groups]
    best: list[dict[int, int]] | None = None
    best_cost = -1
    left = steps

    def take(owner: int | None, option: Option, times: int, taken: _Taken) -> int:
        """Take from what the build holds itself first; how many are missing. -1, and nothing taken, if too many.
        `taken` notes each count as it was before."""
        mine = own.get(owner, {}) if owner is not None else {}
        missing = sum(max(0, n * times - free.get(line, 0) - mine.get(line, 0)) for line, n in option.uses)
        if missing and not short:
            return -1
        for line, number in option.uses:
            wanted = number * times
            if owner is not None and line in used.get(owner, {}):
                taken.append((used[owner], line, used[owner][line]))
                used[owner][line] += wanted
            if line in mine:
                taken.append((mine, line, mine[line]))
                first = min(wanted, mine[line])
                mine[line] -= first
                wanted -= first
            if wanted:
                taken.append((free, line, free.get(line, 0)))
                free[line] = max(0, free.get(line, 0) - wanted)
        return missing

    def go(at: int, place_from: int, still: int, cost: int) -> None:
        nonlocal best, best_cost, left
        left -= 1
        if left < 0:
            raise GaveUp
        if at == len(order):
            kept = all(used[o][line] >= n for o, lines in choice.must.items() for line, n in lines.items())
            if kept and (best is None or cost < best_cost):
                best, best_cost = [dict(taken) for taken in picks], cost
            return
        if not still:
            go(at + 1, 0, groups[order[at + 1]].count if at + 1 < len(order) else 0, cost)
            return
        place = order[at]
        group, after = groups[place], rest[len(order) - at - 1]
        for option_place in range(place_from, len(group.options)):
            if best is not None and cost + still * least[place][option_place] + after >= best_cost:
                return  # options are sorted by cost: the later ones are no better
            price = prices[place][option_place]
            for times in range(still, 0, -1):
                taken: _Taken = []
                missing = take(group.owner, group.options[option_place], times, taken)
                if missing >= 0:
                    picks[place][option_place] = times
                    go(at, option_place + 1, still - times, cost + times * price + missing * MISSING)
                    del picks[place][option_place]
                    for counts, line, before in reversed(taken):
                        counts[line] = before

    go(0, 0, groups[order[0]].count if order else 0, 0)
    return tuple(best) if best is not None else None


def _from_there_on(choice: Choice, group: Group, prices: Sequence[int]) -> list[int]:
    """From each option of a group on the least that one of them costs, pieces that are not there at all among it."""
    there = {line: choice.free.get(line, 0) for option in group.options for line, _ in option.uses}
    for line, number in (choice.own.get(group.owner, {}) if group.owner is not None else {}).items():
        there[line] = there.get(line, 0) + number
    alone = [
        price + MISSING * sum(max(0, number - there[line]) for line, number in option.uses)
        for option, price in zip(group.options, prices, strict=True)
    ]
    return list(accumulate(reversed(alone), min))[::-1]


def packed(cost: Cost) -> int:
    value = 0
    for part in cost:
        value = value * _PLACE + part
    return value


def choose(choice: Choice, clock: Clock, gaps: dict[str, int] | None = None) -> Picks | None:
    """The picks that make the aims least, in their order; None if it is proven that there are none.

    What could not be proven least in the time is added to `gaps` by aim. Unsettled if not even a choice was found.
    """
    picks: list[dict[int, int]] = [{} for _ in choice.groups]
    if not musts_can_be_met(choice):
        return None
    for smaller, part in parts_of_choice(choice, range(len(choice.groups))):
        found = _settle(smaller, clock, gaps if gaps is not None else {})
        if found is None:
            return None
        for place, taken in zip(part, found, strict=True):
            picks[place] = taken
    return tuple(picks)


def parts_of_choice(choice: Choice, places: Sequence[int]) -> list[tuple[Choice, list[int]]]:
    """The choice among these groups split where it can be settled apart, small parts first, with the groups' places."""
    found = []
    for part in sorted(apart([choice.groups[place] for place in places]), key=len):
        mine = [places[number] for number in part]
        groups = tuple(choice.groups[place] for place in mine)
        lines = {line for group in groups for option in group.options for line, _ in option.uses}
        owners = {group.owner for group in groups if group.owner is not None}
        smaller = Choice(
            groups,
            {line: choice.free.get(line, 0) for line in sorted(lines)},
            {owner: _only(choice.own.get(owner, {}), lines) for owner in sorted(owners)},
            {owner: _only(choice.must.get(owner, {}), lines) for owner in sorted(owners)},
        )
        found.append((smaller, mine))
    return found


def musts_can_be_met(choice: Choice) -> bool:
    """Every piece that a build must use is one that some of its needs could take."""
    touched = {(group.owner, line) for group in choice.groups for option in group.options for line, _ in option.uses}
    return all((o, line) in touched for o, lines in choice.must.items() for line, n in lines.items() if n)


def _only(counts: Mapping[int, int], lines: set[int]) -> dict[int, int]:
    return {line: counts[line] for line in sorted(counts) if line in lines}


def _settle(choice: Choice, clock: Clock, gaps: dict[str, int]) -> Picks | None:
    if len(choice.groups) <= GROUPS:
        try:
            return search(choice)
        except GaveUp:
            pass
    return by_solver(choice, clock, gaps)


def by_solver(choice: Choice, clock: Clock, gaps: dict[str, int] | None = None) -> Picks | None:
    """The same choice as a whole-number programme."""
    program = Program()
    variables = add_groups(program, choice.groups)
    for group, mine in zip(choice.groups, variables, strict=True):
        program.row(dict.fromkeys(mine, 1), group.count, group.count)
    add_lines(program, choice, variables)
    program.aims = aims_of(choice.groups, variables)
    answer = solve(program, clock)
    if answer is None:
        return None
    for name, gap in zip(AIMS, answer.gaps, strict=True):
        if gap and gaps is not None:
            gaps[name] = gaps.get(name, 0) + gap
    return tuple(
        {place: answer.values[v] for place, v in enumerate(mine) if answer.values[v]} for mine in variables
    )


def add_groups(program: Program, groups: Sequence[Group]) -> list[list[int]]:
    """A variable for each option of each group: how many times it is taken."""
    return [[program.variable(group.count) for _ in group.options] for group in groups]


def aims_of(groups: Sequence[Group], variables: list[list[int]]) -> list[Mapping[int, int]]:
    return [
        {
            variable: option.cost[rank]
            for group, mine in zip(groups, variables, strict=True)
            for option, variable in zip(group.options, mine, strict=True)
            if option.cost[rank]
        }
        for rank in range(len(AIMS))
    ]


def add_lines(program: Program, choice: Choice, variables: list[list[int]]) -> None:
    """No line beyond what is free, a build's own pieces apart; every `must` met."""
    uses: dict[int, dict[int, int]] = {}
    owned: dict[tuple[int, int], dict[int, int]] = {}
    for group, mine in zip(choice.groups, variables, strict=True):
        for option, variable in zip(group.options, mine, strict=True):
            for line, number in option.uses:
                if group.owner is not None and line in choice.own.get(group.owner, {}):
                    owned.setdefault((group.owner, line), {})[variable] = number
                else:
                    uses.setdefault(line, {})[variable] = number
    for (owner, line), factors in sorted(owned.items()):
        has = choice.own[owner][line]
        beyond = program.variable(choice.free.get(line, 0))  # what it takes beyond its own
        program.row({**factors, beyond: -1}, high=has)
        uses.setdefault(line, {})[beyond] = 1
        needed = choice.must.get(owner, {}).get(line, 0)
        if needed:
            program.row(factors, low=needed)
    for line, factors in sorted(uses.items()):
        program.row(factors, high=choice.free.get(line, 0))
