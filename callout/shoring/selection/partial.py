"""What a build that cannot be whole still gets from what is left, and exactly what it lacks.

Fewest missing pieces come first, then the usual aims. A missing piece is named by the line of the stock that would
do, where there is such a line, though none of it is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from callout.shoring.allocation import Bar, Lacking
from callout.shoring.needs import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.selection.bars import Demand, full_ways, made_ways, uses_for
from callout.shoring.selection.choose import add_groups, aims_of, musts_can_be_met, parts_of_choice
from callout.shoring.selection.demand import Grouped, Wish
from callout.shoring.selection.nesting import aims_of_ways, covering, laid_out, nest
from callout.shoring.selection.patterns import Catalogue
from callout.shoring.selection.program import Clock, Program, Unsettled, solve
from callout.shoring.selection.sawing import Sawn
from callout.shoring.selection.search import Choice, GaveUp, Picks, search


def choose_short(choice: Choice, clock: Clock) -> Picks | None:
    """Picks of one build that use the fewest pieces beyond those there; None if they cannot use all of `must`.

    A group without options takes nothing.
    """
    groups = choice.groups
    picks: list[dict[int, int]] = [{} for _ in groups]
    usable = [place for place, group in enumerate(groups) if group.options]
    for smaller, part in parts_of_choice(choice, usable):
        try:
            found = search(smaller, short=True)
        except GaveUp:
            found = _short_by_solver(smaller, clock)
        if found is None:
            return None
        for place, taken in zip(part, found, strict=True):
            picks[place] = taken
    return tuple(picks) if musts_can_be_met(choice) else None


def _short_by_solver(choice: Choice, clock: Clock) -> Picks | None:
    program = Program()
    variables = add_groups(program, choice.groups)
    uses: dict[int, dict[int, int]] = {}
    for group, mine in zip(choice.groups, variables, strict=True):
        program.row(dict.fromkeys(mine, 1), group.count, group.count)
        for option, variable in zip(group.options, mine, strict=True):
            for line, number in option.uses:
                uses.setdefault(line, {})[variable] = number
    lacking = {}
    for line, factors in sorted(uses.items()):
        there = choice.free.get(line, 0) + sum(own.get(line, 0) for own in choice.own.values())
        lacking[line] = program.variable(sum(program.upper[v] * n for v, n in factors.items()))
        program.row({**factors, lacking[line]: -1}, high=there)
        program.row(factors, low=sum(must.get(line, 0) for must in choice.must.values()))
    program.aims = [dict.fromkeys(lacking.values(), 1), *aims_of(choice.groups, variables)]
    answer = solve(program, clock)
    if answer is None:
        return None
    return tuple({p: answer.values[v] for p, v in enumerate(mine) if answer.values[v]} for mine in variables)


def nest_short(
    demand: Demand, catalogue: Catalogue, there: Mapping[int, int], clock: Clock
) -> tuple[list[Sawn], list[Sawn]]:
    """(bars to saw, bars that are not there): as few missing bars as can be. Every cut must fit some line."""
    try:
        whole = nest(demand, catalogue, there, clock)
    except Unsettled:
        whole = None
    if whole is not None:
        return whole, []
    kerf = catalogue.stock.kerf.eightieths
    uses = uses_for(demand, catalogue)
    endless = {use.line: sum(demand.values()) for use in uses}
    ways = full_ways(demand, uses, kerf)
    if ways is None:
        ways, _ = made_ways(demand, uses, endless, kerf, clock)
    program = Program()
    bars = [program.variable(endless[way.use.line]) for way in ways]
    lacking = {line: program.variable(most) for line, most in sorted(endless.items())}
    for line, variable in lacking.items():
        mine = {bar: 1 for way, bar in zip(ways, bars, strict=True) if way.use.line == line}
        program.row({**mine, variable: -1}, high=there.get(line, 0))
    for cut, n in sorted(demand.items()):
        program.row(covering(cut, ways, bars), low=n)
    program.aims = [dict.fromkeys(lacking.values(), 1), *aims_of_ways(ways, bars)]
    answer = solve(program, clock)
    if answer is None:
        raise Unsettled
    left = dict(there)
    sawn: list[Sawn] = []
    missing: list[Sawn] = []
    for bar in laid_out(demand, ways, [answer.values[v] for v in bars]):
        left[bar.use.line] = left.get(bar.use.line, 0) - 1
        (sawn if left[bar.use.line] >= 0 else missing).append(bar)
    return sawn, missing


def hopeless(grouped: Grouped) -> list[Lacking]:
    """Needs that no line of the stock meets, however many there were."""
    found = []
    for (_, need), group, wishes in zip(grouped.keys, grouped.groups, grouped.wishes, strict=True):
        if group.options:
            continue
        found += [
            _no_such_span(wish, need) if isinstance(need, SpanNeed) else _no_such_piece(wish, need) for wish in wishes
        ]
    return found


def _no_such_span(wish: Wish, need: SpanNeed) -> Lacking:
    length = need.wanted - need.deduct
    reason = f"nothing in the stock sets a {need.family} to that with thread left both ways"
    return Lacking(label=wish.label, part=need.family, quantity=wish.count, length=length, reason=reason)


def _no_such_piece(wish: Wish, need: PieceNeed) -> Lacking:
    part = need.part if need.variant is None else f"{need.variant} {need.part}"
    least = " that long" if need.min_length is not None else ""
    reason = f"the stock has no line for {part}{least}"
    return Lacking(label=wish.label, part=part, quantity=wish.count, length=need.min_length, reason=reason)


def too_long(needs: Sequence[Need], catalogue: Catalogue) -> list[CutNeed]:
    """Cuts that no timber of the stock is long enough for, however many there were."""
    kerf = catalogue.stock.kerf.eightieths
    cuts = [need for need in needs if isinstance(need, CutNeed) and need.quantity > 0]
    room = dict.fromkeys({need.section for need in cuts}, 0)
    for use in uses_for({(section, 1): 1 for section in room}, catalogue):
        room[use.section] = max(room[use.section], use.room)
    return [need for need in cuts if need.length.eightieths + kerf > room[need.section]]


def missing_cut(need: CutNeed) -> Lacking:
    reason = f"the stock has no {need.section} that long"
    return Lacking(label=need.label, part=need.section, quantity=need.quantity, length=need.length, reason=reason)


def missing_bar(bar: Bar) -> Lacking:
    """A timber that is not there, under the first need that is sawn from it."""
    labels = ", ".join(dict.fromkeys(cut.label for cut in bar.cuts))
    return Lacking(
        label=bar.cuts[0].label, part=bar.section, quantity=1, length=bar.length, name=bar.name,
        reason=f"none left to saw {labels} from",
    )  # fmt: skip
