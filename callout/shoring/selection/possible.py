"""Which builds to make whole when the stock does not suffice for all: as many as possible, then by the other aims.

One programme over all builds, spans, pieces and timber at once, so that the answer is exact; the pieces of the builds
chosen are settled afterwards, part by part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from callout.shoring.needs import CutNeed, Need
from callout.shoring.selection.bars import full_ways, made_ways, parts_of, uses_for
from callout.shoring.selection.choose import add_groups, add_lines, aims_of
from callout.shoring.selection.demand import Grouped, all_cuts, bare, cuts_of
from callout.shoring.selection.nesting import add_ways, aims_of_ways, covering, laid_out
from callout.shoring.selection.patterns import AIMS, Catalogue
from callout.shoring.selection.program import Clock, Program, Unsettled, solve
from callout.shoring.selection.sawing import Sawn
from callout.shoring.selection.search import Choice

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
        relaxed = solve(Program(program.upper, program.rows, [{kind.left: 1 for kind in alike}]), Clock(clock.share(4)))
        at_least_left = relaxed.aims[0] - relaxed.gaps[0] if relaxed is not None else 0
        ways, _ = made_ways(demand, uses, choice.free, kerf, clock)
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
        answer = solve(program, clock)
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


