"""When the stock does not suffice for all builds: which to make whole, and what the others still get.

As many as possible are made whole, then by the other aims: one programme over all builds, spans, pieces and timber at
once, so that the answer is exact; the pieces of the builds chosen are settled afterwards, part by part. A build that
cannot be whole gets what is left, fewest missing pieces first, and is told exactly what it lacks: a missing piece is
named by the line of the stock that would do, where there is such a line, though none of it is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from callout.shoring.allocation import Bar, CutNeed, Lacking, Need, PieceNeed, SpanNeed
from callout.shoring.selection.bars import Demand, Use, all_cuts, cuts_of, full_ways, made_ways, parts_of, uses_for
from callout.shoring.selection.choose import (
    Choice,
    GaveUp,
    Picks,
    add_groups,
    add_lines,
    aims_of,
    musts_can_be_met,
    parts_of_choice,
    search,
)
from callout.shoring.selection.nesting import CUTS, Sawn, add_ways, aims_of_ways, covering, laid_out, nest, search_bars
from callout.shoring.selection.patterns import AIMS, Catalogue, Grouped, Wish, bare
from callout.shoring.selection.program import Clock, Program, Unsettled, solve

Needs = Mapping[int, Sequence[Need]]


@dataclass(frozen=True)
class _Alike:
    """Builds with the very same needs, none of which holds pieces of its own: any of them may be the one made."""

    builds: tuple[int, ...]
    whole: int  # variable: how many are made
    left: int  # variable: how many are not


def most_builds(
    needs: Needs, grouped: Grouped, choice: Choice, catalogue: Catalogue, clock: Clock, gaps: dict[str, int]
) -> tuple[tuple[int, ...], list[Sawn]]:
    """The builds to make whole, and bars that suffice for them. Among equal choices, the builds called first."""
    program = Program()
    variables = add_groups(program, grouped.groups)
    owners = {key[0] for key in grouped.keys}
    alike = _alike(needs, owners, program)
    first = {kind.builds[0]: kind.whole for kind in alike}
    for wishes, mine in zip(grouped.wishes, variables, strict=True):
        factors = dict.fromkeys(mine, 1)
        for wish in wishes:
            if wish.build in first:
                factors[first[wish.build]] = factors.get(first[wish.build], 0) - wish.count
        program.row(factors, 0, 0)
    add_lines(program, Choice(choice.groups, choice.free, choice.own), variables)

    demand, kerf = all_cuts(needs), catalogue.stock.kerf.eightieths
    uses = [use for use in uses_for(demand, catalogue) if choice.free.get(use.line, 0)]
    cuts = {kind: cuts_of(needs[kind.builds[0]]) for kind in alike}
    for part, lines in parts_of(demand, uses):  # no more length than there is: follows from the rest, and is quick
        room = {use.line: use.room * choice.free[use.line] for use in lines}
        lengths = {k.whole: sum((c[1] + kerf) * n for c, n in cuts[k].items() if c in part) for k in alike}
        program.row(lengths, high=sum(room.values()))
    ways = full_ways(demand, uses, kerf)
    at_least_left, made = 0, ways is None
    if ways is None:
        # Ways that are not made could make more builds possible; kit and length alone bound how many.
        bounding = Program(program.upper, program.rows, [{kind.left: 1 for kind in alike}])
        with suppress(Unsettled):  # without a bound the choice itself may still be found in the time
            relaxed = solve(bounding, Clock(clock.share(4)))
            at_least_left = relaxed.aims[0] - relaxed.gaps[0] if relaxed is not None else 0
        making = Clock(clock.share(3))  # the choice of builds is worth more than better ways
        made_by_part = [made_ways(part, mine, choice.free, kerf, making) for part, mine in parts_of(demand, uses)]
        ways = [way for found, _ in made_by_part for way in found]
    bars = [program.variable(choice.free[way.use.line]) for way in ways]
    add_ways(program, ways, bars, choice.free)
    for cut in sorted(demand):
        factors = covering(cut, ways, bars)
        for kind in alike:
            if cut in cuts[kind]:
                factors[kind.whole] = -cuts[kind][cut]
        program.row(factors, low=0)

    aims = [{**a, **b} for a, b in zip(aims_of(grouped.groups, variables), aims_of_ways(ways, bars), strict=True)]
    for kind in alike:  # a bar counts whole as waste: what is not sawn from it for a build left out stays waste
        length = sum(length * n for (_, length), n in cuts[kind].items())
        if length:
            aims[AIMS.index("waste")][kind.left] = length
    in_order = {kind.left: len(needs) - sorted(needs).index(kind.builds[0]) for kind in alike}
    program.aims = [{kind.left: 1 for kind in alike}, *aims, in_order]
    try:
        answer = solve(program, clock, brief_from=1 + AIMS.index("waste"))
    except Unsettled:
        raise Unsettled(at_least_left) from None
    assert answer is not None, "making no build at all keeps every row"
    unproven = dict(zip(("builds", *AIMS), answer.gaps, strict=False))
    if made:
        unproven["builds"] = max(0, answer.aims[0] - at_least_left)
    for name, gap in unproven.items():
        if gap:
            gaps[name] = gaps.get(name, 0) + gap
    chosen = tuple(sorted(build for kind in alike for build in kind.builds[: answer.values[kind.whole]]))
    sawn = laid_out(all_cuts({build: needs[build] for build in chosen}), ways, [answer.values[bar] for bar in bars])
    return chosen, sawn


def _alike(needs: Needs, owners: set[int], program: Program) -> list[_Alike]:
    found: dict[object, list[int]] = {}
    for build in sorted(needs):
        key: object = build
        if build not in owners:
            key = tuple(sorted(repr((_plain(need), getattr(need, "quantity", 1))) for need in needs[build]))
        found.setdefault(key, []).append(build)
    kinds = []
    for builds in found.values():
        whole, left = program.variable(len(builds)), program.variable(len(builds))
        program.row({whole: 1, left: 1}, len(builds), len(builds))
        kinds.append(_Alike(tuple(builds), whole, left))
    return kinds


def _plain(need: Need) -> object:
    return (need.section, need.length) if isinstance(need, CutNeed) else bare(need)


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
    sawn: list[Sawn] = []
    missing: list[Sawn] = []
    for part, uses in parts_of(demand, uses_for(demand, catalogue)):
        left = {use.line: there.get(use.line, 0) for use in uses}
        for bar in _least_missing(part, uses, left, catalogue, clock):
            left[bar.use.line] -= 1
            (sawn if left[bar.use.line] >= 0 else missing).append(bar)
    return sawn, missing


def _least_missing(
    demand: Demand, uses: list[Use], there: Mapping[int, int], catalogue: Catalogue, clock: Clock
) -> list[Sawn]:
    """The bars of one part, those that are not there among them."""
    with suppress(Unsettled):
        whole = nest(demand, catalogue, there, clock)
        if whole is not None:
            return whole
    kerf = catalogue.stock.kerf.eightieths
    if sum(demand.values()) <= CUTS:
        with suppress(GaveUp):
            found = search_bars(demand, uses, dict.fromkeys(there, sum(demand.values())), kerf, there=there)
            assert found is not None, "every cut fits some line"
            return found
    return least_missing_by_solver(demand, uses, there, kerf, clock)


def least_missing_by_solver(
    demand: Demand, uses: list[Use], there: Mapping[int, int], kerf: int, clock: Clock
) -> list[Sawn]:
    """The same by the solver."""
    endless = dict.fromkeys(there, sum(demand.values()))
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
    return laid_out(demand, ways, [answer.values[v] for v in bars])


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
