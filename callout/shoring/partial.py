"""What a build that cannot be whole still gets from what is left, and exactly what it lacks.

Fewest missing pieces come first, then the usual aims. A missing piece is named by the line of the stock that would
do, where there is such a line, though none of it is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from callout.shoring.allocation import Missing
from callout.shoring.bars import Demand, full_ways, uses_for
from callout.shoring.choose import add_groups, aims_of
from callout.shoring.demand import Grouped, Wish
from callout.shoring.needs import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.nesting import Sawn, add_ways, aims_of_ways, covering, laid_out, nest
from callout.shoring.patterns import Catalogue
from callout.shoring.program import Clock, Program, Unsettled, solve
from callout.shoring.search import Choice, GaveUp, Group, Picks, apart, search
from callout.shoring.stock import Timber
from callout.shoring.ways import made_ways
from callout.values import Length


def choose_short(groups: Sequence[Group], there: Mapping[int, int], clock: Clock) -> Picks:
    """Picks that use the fewest pieces beyond those there. A group without options takes nothing."""
    picks: list[dict[int, int]] = [{} for _ in groups]
    usable = [place for place, group in enumerate(groups) if group.options]
    for part in apart([groups[place] for place in usable]):
        places = [usable[place] for place in part]
        mine = tuple(groups[place] for place in places)
        lines = sorted({line for group in mine for option in group.options for line, _ in option.uses})
        try:
            found = search(Choice(mine, {line: there.get(line, 0) for line in lines}), short=True)
        except GaveUp:
            found = _short_by_solver(mine, there, clock)
        assert found is not None
        for place, taken in zip(places, found, strict=True):
            picks[place] = taken
    return tuple(picks)


def _short_by_solver(groups: tuple[Group, ...], there: Mapping[int, int], clock: Clock) -> Picks:
    program = Program()
    variables = add_groups(program, groups)
    uses: dict[int, dict[int, int]] = {}
    for group, mine in zip(groups, variables, strict=True):
        program.row(dict.fromkeys(mine, 1), group.count, group.count)
        for option, variable in zip(group.options, mine, strict=True):
            for line, number in option.uses:
                uses.setdefault(line, {})[variable] = number
    lacking = {}
    for line, factors in sorted(uses.items()):
        lacking[line] = program.variable(sum(program.upper[v] * n for v, n in factors.items()))
        program.row({**factors, lacking[line]: -1}, high=there.get(line, 0))
    program.aims = [dict.fromkeys(lacking.values(), 1), *aims_of(groups, variables)]
    answer = solve(program, clock)
    if answer is None:
        raise Unsettled
    return tuple({p: answer.values[v] for p, v in enumerate(mine) if answer.values[v]} for mine in variables)


def nest_short(
    demand: Demand, catalogue: Catalogue, there: Mapping[int, int], clock: Clock
) -> tuple[list[Sawn], dict[tuple[str, int], int]]:
    """(bars, cuts left out): as few cuts left out as can be, then the shortest."""
    try:
        whole = nest(demand, catalogue, there, clock)
    except Unsettled:
        whole = None
    if whole is not None:
        return whole, {}
    kerf = catalogue.stock.kerf.eightieths
    uses = [use for use in uses_for(demand, catalogue) if there.get(use.line, 0)]
    ways = full_ways(demand, uses, kerf)
    if ways is None:
        ways, _ = made_ways(demand, uses, there, kerf, clock)
    program = Program()
    bars = [program.variable(there[way.use.line]) for way in ways]
    add_ways(program, ways, bars, there)
    out = {cut: program.variable(n) for cut, n in sorted(demand.items())}
    for cut, variable in out.items():
        program.row({**covering(cut, ways, bars), variable: 1}, low=demand[cut])
    program.aims = [
        dict.fromkeys(out.values(), 1),
        {variable: length for (_, length), variable in out.items()},
        *aims_of_ways(ways, bars),
    ]
    answer = solve(program, clock)
    if answer is None:
        raise Unsettled
    missing = {cut: answer.values[variable] for cut, variable in out.items() if answer.values[variable]}
    met = {cut: n - missing.get(cut, 0) for cut, n in demand.items()}
    return laid_out(met, ways, [answer.values[v] for v in bars]), missing


def hopeless(grouped: Grouped) -> list[Missing]:
    """Needs that no line of the stock meets, however many there were."""
    found = []
    for (_, need), group, wishes in zip(grouped.keys, grouped.groups, grouped.wishes, strict=True):
        if group.options:
            continue
        found += [
            _no_such_span(wish, need) if isinstance(need, SpanNeed) else _no_such_piece(wish, need) for wish in wishes
        ]
    return found


def _no_such_span(wish: Wish, need: SpanNeed) -> Missing:
    length = need.wanted - need.deduct
    left = f"{need.slack_in.text} left to shorten and {need.slack_out.text} to lengthen"
    reason = f"nothing in the stock sets a {need.family} to {length.text} with {left}"
    return Missing(label=wish.label, part=need.family, quantity=wish.count, length=length, reason=reason)


def _no_such_piece(wish: Wish, need: PieceNeed) -> Missing:
    part = need.part if need.variant is None else f"{need.variant} {need.part}"
    least = f" of {need.min_length.text} or more" if need.min_length is not None else ""
    reason = f"the stock has no line for {part}{least}"
    return Missing(label=wish.label, part=part, quantity=wish.count, length=need.min_length, reason=reason)


def missing_cuts(needs: Sequence[Need], left_out: Mapping[tuple[str, int], int], catalogue: Catalogue) -> list[Missing]:
    """The cuts left out, by need: the last needs of a length go without."""
    left = dict(left_out)
    found = []
    for need in reversed(needs):
        if not isinstance(need, CutNeed):
            continue
        cut = (need.section, need.length.eightieths)
        now = min(need.quantity, left.get(cut, 0))
        if now > 0:
            left[cut] -= now
            name = _timber_for(need, catalogue)
            reason = f"no {need.section} left to cut it from" if name else f"the stock has no {need.section} that long"
            found.append(
                Missing(label=need.label, part=need.section, quantity=now, length=need.length, name=name, reason=reason)
            )
    return found[::-1]


def _timber_for(need: CutNeed, catalogue: Catalogue) -> str | None:
    """The shortest timber of the section that the cut could come from."""
    fitting: list[tuple[Length, str]] = [
        (line.length, line.name)
        for line in catalogue.lines
        if isinstance(line, Timber) and line.section == need.section and line.length >= need.length
    ]
    return min(fitting)[1] if fitting else None
