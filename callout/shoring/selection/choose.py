"""Settling a choice: the plain search for small parts, the solver for the rest, both exact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from callout.shoring.selection.patterns import AIMS
from callout.shoring.selection.program import Clock, Program, solve
from callout.shoring.selection.search import Choice, GaveUp, Group, Picks, apart, search

#: More groups than this in one part go to the solver at once.
GROUPS = 10


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
