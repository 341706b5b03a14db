"""Needs of all open builds met from the stock on hand: the one door to selection.

The aims, each before the next: every build possible at all; fewest substitutions; fewest pieces; least weight to
carry; least waste (offcuts, and pieces longer than asked for); least scarce lines used; then the stock's order by
name, so that equal questions have equal answers. No piece is promised twice.

A build keeps what it holds. One that its own pieces still suffice for is left as it is; its reserved pieces may move
to others only if the ledger handed in has let them go (`Holdings.release`). One that runs short keeps as much as can be
kept: all its pieces if it can be made whole with them, else those picked or placed, else those placed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from callout.shoring.allocation import Allocation, Bar, CutNeed, Lacking, Need, SpanNeed
from callout.shoring.holdings import Held, Holdings
from callout.shoring.selection.answer import Given, allocations_of, bars_of
from callout.shoring.selection.bars import all_cuts, cuts_of
from callout.shoring.selection.choose import Choice, Picks, choose, total
from callout.shoring.selection.nesting import Sawn, can_be_sawn, nest, price
from callout.shoring.selection.patterns import AIMS, Catalogue, Cost, Patterns, grouped, handed_out
from callout.shoring.selection.program import Clock, Unsettled
from callout.shoring.selection.shortage import (
    choose_short,
    hopeless,
    missing_bar,
    missing_cut,
    most_builds,
    nest_short,
    too_long,
)
from callout.shoring.stock import Stock, Timber

Needs = Mapping[int, Sequence[Need]]
#: Seconds after which the best plan so far stands, its gaps reported; of these, what is kept for each build of a plan
#: of many, to give it what is left and name what it lacks.
SECONDS, AFTERWARDS = 8.0, 0.01
_NONE = Held()


@dataclass(frozen=True)
class Outcome:
    """`aims` sums the builds that are whole, in the order of `patterns.AIMS`; `gaps` names each aim that could not be
    proven least in the time, and by how much it may be off ("builds": how many more might be made)."""

    allocations: dict[int, Allocation]
    whole: tuple[int, ...]
    aims: Cost
    gaps: dict[str, int] = field(default_factory=dict)


class Question:
    """One question to the stock, and what is left of it step by step: what builds keep, which can be whole, what the
    rest lack."""

    def __init__(self, stock: Stock, holdings: Holdings, clock: Clock) -> None:
        self.stock, self.holdings, self.clock = stock, holdings, clock
        self.gaps: dict[str, int] = {}
        self.sums = [0] * len(AIMS)
        self.given: dict[int, Given] = {}
        self._counted = False

    def outcome(self, needs: Needs) -> Outcome:
        self._count(needs)
        kept = [build for build in needs if build in self.own and self._keep(build, needs[build])]
        left = {build: mine for build, mine in needs.items() if build not in kept}
        whole = set(kept)
        if left:
            whole |= set(self._settle(left))
        for build in left:
            if build not in whole:
                self._partly(build, needs[build])
        allocations = allocations_of(needs, self.given, self.stock)
        sums = self.sums
        return Outcome(
            allocations, tuple(sorted(whole)), (sums[0], sums[1], sums[2], sums[3], sums[4], sums[5]), self.gaps
        )

    def can_make(self, build: int, mine: Sequence[Need]) -> bool:
        """One build whole or not; nothing is said of what it lacks. Nothing is taken: it may be asked again."""
        needs = {build: mine}
        if not self._counted:
            self._count(needs)
        owners = frozenset(needs.keys() & self.own.keys())
        try:
            wishes = grouped(needs, self.patterns, owners)
            if choose(Choice(wishes.groups, self.free, self._hardware(owners)), self.clock) is None:
                return False
            there = dict(self.free)
            self._pool_timber(there, owners, needs, {})
            return can_be_sawn(cuts_of(mine), self.catalogue, there, self.clock)
        except Unsettled:
            return False

    def _count(self, needs: Needs) -> None:
        """What is free of each line, and what each build of the question holds itself."""
        self._counted = True
        holdings, lines = self.holdings, self.stock.lines
        over = holdings.overpromised()
        self.free: dict[int, int] = {}
        self.own: dict[int, dict[int, int]] = {}
        self.promised: dict[int, dict[int, int]] = {}  # of these, what still lies in its place
        for number, line in enumerate(lines):
            free = holdings.on_hand.get(line.name, 0) - holdings.promised.get(line.name, 0)
            for build in needs:
                held = holdings.held(build).get(line.name, _NONE)
                reserved = held.reserved
                if line.name in over:  # more promised than there is: nobody's promise counts
                    free += reserved
                    reserved = 0
                if reserved + held.out:
                    self.own.setdefault(build, {})[number] = reserved + held.out
                    self.promised.setdefault(build, {})[number] = reserved
            self.free[number] = max(0, free)
        available = [
            self.free[number] + sum(own.get(number, 0) for own in self.own.values()) for number in range(len(lines))
        ]
        self.catalogue = Catalogue(self.stock, available)
        self.patterns = Patterns(self.catalogue)
        self.endless = Patterns(self.catalogue, unlimited=True)

    def _keep(self, build: int, mine: Sequence[Need]) -> bool:
        """The build is whole with what it holds, and stays as it is."""
        try:
            return self._make_whole({build: mine}, {}, {build})
        except Unsettled:
            return False

    def _settle(self, needs: Needs) -> tuple[int, ...]:
        """Make whole as many of these builds as can be; which they are."""
        must_be_left = 0
        owners = frozenset(build for build in needs if build in self.own)
        with suppress(Unsettled):
            if self._make_whole(needs, self.free, owners):
                return tuple(needs)
        try:
            wishes = grouped(needs, self.patterns, owners)
            free = dict(self.free)
            kept = self._own_timber(needs, owners, self.gaps)
            sawing = self._without_cuts(needs, kept)
            self._pool_timber(free, owners, sawing, kept)
            choice = Choice(wishes.groups, free, self._hardware(owners))
            choosing = Clock(4 * self.clock.share(5))  # the rest is for the pieces of those chosen
            chosen, sawn = most_builds(sawing, wishes, choice, self.catalogue, choosing, self.gaps)
            if self._make_whole({build: needs[build] for build in chosen}, self.free, owners, sawn):
                return chosen
        except Unsettled as unsettled:
            must_be_left = unsettled.least
        return self._one_by_one(needs, must_be_left)

    def _one_by_one(self, needs: Needs, must_be_left: int) -> tuple[int, ...]:
        """The time is over: builds in the order in which they were called, and the gap says what that may cost."""
        made = []
        for build, mine in needs.items():
            try:
                if self._make_whole({build: mine}, self.free, {build} & self.own.keys()):
                    made.append(build)
            except Unsettled:
                continue
        self.gaps["builds"] = self.gaps.get("builds", 0) + max(0, len(needs) - len(made) - must_be_left)
        return tuple(made)

    def _make_whole(
        self, needs: Needs, free: Mapping[int, int], sharing: Collection[int], known: list[Sawn] | None = None
    ) -> bool:
        """Settle these builds from `free` and what they hold. False, and nothing changed, if not all can be whole.

        `sharing`: builds whose uncut timber serves them too. `known`: bars that are known to suffice; they stand if
        the time does not allow to find better ones.
        """
        owners = frozenset(build for build in needs if build in self.own)
        wishes = grouped(needs, self.patterns, owners)
        gaps: dict[str, int] = {}
        picks = None
        for must in self._musts(owners):
            picks = choose(Choice(wishes.groups, free, self._hardware(owners), must), self.clock, gaps)
            if picks is not None:
                break
        if picks is None:
            return False
        kept = self._own_timber(needs, sharing, gaps)
        sawing = self._without_cuts(needs, kept)
        there = dict(free)
        self._pool_timber(there, sharing, sawing, kept)
        sawn = nest(all_cuts(sawing), self.catalogue, there, self.clock, gaps, known)
        if sawn is None:
            return False
        for build in needs:
            self.given[build] = Given()
        for build, items in handed_out(wishes, picks).items():
            given = self.given[build]
            for (_, need), wish, option, times in items:
                given.pieces += [(need, wish.label, line, number * times) for line, number in option.uses]
                if isinstance(need, SpanNeed):
                    given.spans += [(need, wish.label, option)] * times
                for line, number in option.uses:
                    self._take(build, line, number * times)
        for build, mine in kept.items():
            self._saw(mine, bars_of(mine, {build: needs[build]}, self.stock))
        self._saw(sawn, bars_of(sawn, sawing, self.stock))
        for rank, value in enumerate(total(wishes.groups, picks)):
            self.sums[rank] += value
        for rank, value in enumerate(price([*sawn, *(bar for mine in kept.values() for bar in mine)])):
            self.sums[rank] += value
        for name, gap in gaps.items():
            self.gaps[name] = self.gaps.get(name, 0) + gap
        return True

    def _own_timber(self, needs: Needs, owners: Collection[int], gaps: dict[str, int]) -> dict[int, list[Sawn]]:
        """The builds whose own timber suffices for all their cuts, and its bars: they saw nothing else."""
        found: dict[int, list[Sawn]] = {}
        for build in sorted(owners & needs.keys()):
            mine = {n: has for n, has in self.own[build].items() if isinstance(self.stock.lines[n], Timber)}
            cuts = cuts_of(needs[build])
            if mine and cuts:
                with suppress(Unsettled):
                    sawn = nest(cuts, self.catalogue, mine, self.clock, gaps)
                    if sawn is not None:
                        found[build] = sawn
        return found

    def _without_cuts(self, needs: Needs, kept: Collection[int]) -> Needs:
        return {b: [n for n in mine if b not in kept or not isinstance(n, CutNeed)] for b, mine in needs.items()}

    def _pool_timber(
        self, there: dict[int, int], owners: Collection[int], needs: Needs, kept: Mapping[int, list[Sawn]]
    ) -> None:
        """Timber promised to builds that are planned together and not yet picked serves them all, beyond what they
        saw themselves (`kept`). Where one build alone still needs timber, what it has picked serves it as well."""
        sawing = {build for build, mine in needs.items() if cuts_of(mine)}
        for build in sorted(owners):
            used = Counter(bar.use.line for bar in kept.get(build, ()))
            for line, number in self.own[build].items():
                if isinstance(self.stock.lines[line], Timber):
                    left = number - used[line]
                    mine = left if sawing == {build} else min(left, self.promised[build][line])
                    there[line] = there.get(line, 0) + mine

    def _hardware(self, owners: Collection[int]) -> dict[int, dict[int, int]]:
        return {build: self._no_timber(self.own[build]) for build in sorted(owners)}

    def _no_timber(self, counts: Mapping[int, int]) -> dict[int, int]:
        return {line: n for line, n in counts.items() if n and not isinstance(self.stock.lines[line], Timber)}

    def _musts(self, owners: Collection[int]) -> list[dict[int, dict[int, int]]]:
        """What the builds must go on using, the most first: all they hold, what is picked or placed, what is placed."""
        if not owners:
            return [{}]
        names = {line.name: number for number, line in enumerate(self.stock.lines)}
        every, out, placed = {}, {}, {}
        for build in sorted(owners):
            held = {names[name]: held for name, held in self.holdings.held(build).items() if name in names}
            every[build] = self._hardware([build])[build]
            out[build] = self._no_timber({line: has.out for line, has in held.items()})
            placed[build] = self._no_timber({line: has.placed for line, has in held.items()})
        return [every, out, placed, {}]

    def _take(self, build: int, line: int, number: int) -> int:
        """Take pieces from what the build holds, then from what is free; how many there were."""
        mine = self.own.get(build, {})
        first = min(number, mine.get(line, 0))
        if first:
            mine[line] -= first
        rest = min(number - first, self.free.get(line, 0))
        self.free[line] = self.free.get(line, 0) - rest
        return first + rest

    def _saw(self, sawn: Sequence[Sawn], bars: Sequence[Bar]) -> None:
        """Book the bars: each to the first of its builds that holds such a bar, else to the first of its builds."""
        for bar, whole in zip(sawn, bars, strict=True):
            line, builds = bar.use.line, sorted({cut.build for cut in whole.cuts})
            holder = next((build for build in builds if self.own.get(build, {}).get(line, 0)), builds[0])
            for build in builds:
                self.given[build].bars.append(whole.model_copy(update={"held_by": holder}))
            if not self._take(holder, line, 1):  # from timber that another build of this plan holds
                self._take(next(build for build in self.own if self.own[build].get(line, 0)), line, 1)

    def _partly(self, build: int, mine: Sequence[Need]) -> None:
        """What is left goes to a build that stays incomplete, and what it lacks is named."""
        owners = frozenset({build} & self.own.keys())
        wishes = grouped({build: mine}, self.endless, owners)
        given = self.given[build] = Given(missing=hopeless(wishes))
        picks = None
        for must in self._musts(owners):
            picks = self._picks_short(Choice(wishes.groups, self.free, self._hardware(owners), must))
            if picks is not None:
                break
        for (_, need), wish, option, times in handed_out(wishes, picks or ()).get(build, []):
            lacking = False
            for line, number in option.uses:
                got = self._take(build, line, number * times)
                if got:
                    given.pieces.append((need, wish.label, line, got))
                if got < number * times:
                    lacking = True
                    given.missing.append(self._missing(wish.label, line, number * times, got))
            if isinstance(need, SpanNeed) and not lacking:
                given.spans.append((need, wish.label, option))
        self._saw_partly(build, mine)

    def _picks_short(self, choice: Choice) -> Picks | None:
        try:
            return choose_short(choice, self.clock)
        except Unsettled:  # the time is over: the first pattern of each need
            return tuple({0: group.count} if group.options else {} for group in choice.groups)

    def _saw_partly(self, build: int, mine: Sequence[Need]) -> None:
        given, there = self.given[build], dict(self.free)
        self._pool_timber(there, {build} & self.own.keys(), {build: mine}, {})
        hopeless_cuts = too_long(mine, self.catalogue)
        given.missing += [missing_cut(need) for need in hopeless_cuts]
        sawable = [need for need in mine if need not in hopeless_cuts]
        try:
            sawn, lacking = nest_short(cuts_of(sawable), self.catalogue, there, self.clock)
        except Unsettled:
            given.missing += [missing_cut(need) for need in sawable if isinstance(need, CutNeed)]
            return
        bars = bars_of([*sawn, *lacking], {build: sawable}, self.stock)
        self._saw(sawn, bars[: len(sawn)])
        given.missing += [missing_bar(bar) for bar in bars[len(sawn) :]]

    def _missing(self, label: str, line: int, wanted: int, got: int) -> Lacking:
        piece, number = self.stock.lines[line], wanted - got
        reason = f"{wanted} wanted, {got} left to take" if got else "none left"
        return Lacking(
            label=label, part=piece.kind, quantity=number, length=piece.size, name=piece.name, reason=reason
        )


def allocate(needs_by_build: Needs, stock: Stock, holdings: Holdings | None = None) -> dict[int, Allocation]:
    """What each build gets, by build. `holdings` None: the stock untouched. A label names one need of a build."""
    return allocate_all(needs_by_build, stock, holdings).allocations


def allocate_all(
    needs_by_build: Needs, stock: Stock, holdings: Holdings | None = None, *, seconds: float = SECONDS
) -> Outcome:
    """The same with the aims reached and what could not be proven in `seconds`."""
    needs = {build: tuple(needs_by_build[build]) for build in sorted(needs_by_build)}
    clock = Clock(seconds - min(seconds / 2, AFTERWARDS * len(needs)))
    return Question(stock, Holdings.of(stock) if holdings is None else holdings, clock).outcome(needs)


class WhatIf:
    """Whether a build can be whole with what it holds and what is free; quicker than a plan. It is asked many times:
    while the ledger is the same, its stock is counted once."""

    def __init__(self, stock: Stock, build: int) -> None:
        self._stock, self._build = stock, build
        self._question: Question | None = None

    def __call__(self, needs: Sequence[Need], holdings: Holdings) -> bool:
        if self._question is None or self._question.holdings is not holdings:
            self._question = Question(self._stock, holdings, Clock(SECONDS))
        self._question.clock = Clock(SECONDS)
        return self._question.can_make(self._build, needs)
