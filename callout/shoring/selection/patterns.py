"""Every way to meet one need from the lines of the stock, the patterns among which selection chooses; and the needs of
all builds as groups of a choice.

A member set to a length is one adjustable piece, at most so many extensions, and the couplers these ask for. Equal
needs of different builds become one group, counted. Joining them is exact, because pieces of a line are alike, and it
takes away most of what makes such choices hard: which of two equal builds gets which of two equal struts.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations_with_replacement

from callout.shoring.allocation import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.stock import Adjustable, Coupler, Extension, Line, Piece, Stock, Timber
from callout.values import Length

#: The aims of a choice in the order of their rank, after "every build possible at all". The last one only breaks ties.
AIMS = ("substitutions", "pieces", "weight", "waste", "scarcity", "order in the stock")
Cost = tuple[int, int, int, int, int, int]

#: A piece of a line of which `n` are there costs `SCARCE // n` under the aim "scarcity".
SCARCE = 10_000


@dataclass(frozen=True)
class Option:
    """One pattern: what it takes of each line (index in `Stock.lines`, number) and its share of each aim."""

    uses: tuple[tuple[int, int], ...]
    cost: Cost


class Catalogue:
    """The lines of a stock with their numbers and their prices under the aims, for counts that are there to take."""

    def __init__(self, stock: Stock, available: Sequence[int]) -> None:
        self.stock, self.lines = stock, stock.lines
        self.available = tuple(available)
        self._joined: dict[tuple[str, int, bool], list[tuple[Length, Counter[int]]]] = {}

    def price(self, uses: Counter[int], *, substitutions: int = 0, waste: int = 0) -> Cost:
        """(substitutions, pieces, hundredths of a pound, 1/80 mm of waste, scarcity, places in the stock's order)."""
        pieces = weight = scarcity = order = 0
        for line, number in uses.items():
            pieces += number
            weight += number * self._hundredths[line]
            scarcity += number * (SCARCE // max(1, self.available[line]))
            order += number * (line + 1)
        return (substitutions, pieces, weight, waste, scarcity, order)

    @cached_property
    def _hundredths(self) -> list[int]:
        return [round(100 * line.weight_lb) for line in self.lines]

    def option(self, uses: Counter[int], *, substitutions: int = 0, waste: int = 0) -> Option:
        return Option(tuple(sorted(uses.items())), self.price(uses, substitutions=substitutions, waste=waste))

    def numbered(self, kind: type[Line]) -> list[int]:
        return [number for number, line in enumerate(self.lines) if isinstance(line, kind)]

    def joined(self, family: str, most: int, unlimited: bool) -> list[tuple[Length, Counter[int]]]:
        """Every set of at most `most` extensions with their couplers that fits a family, by the length it adds."""
        key = (family, most, unlimited)
        if key not in self._joined:
            self._joined[key] = sorted(
                (
                    (length, uses)
                    for uses, length in self._sets(family, most, unlimited)
                    if unlimited or all(number <= self.available[n] for n, number in uses.items())
                ),
                key=lambda found: (found[0], sorted(found[1].items())),
            )
        return self._joined[key]

    def _sets(self, family: str, most: int, unlimited: bool) -> Iterator[tuple[Counter[int], Length]]:
        lines = self.lines
        there = [n for n in self.extensions if unlimited or self.available[n]]
        extensions = [n for n in there if family in _fits(lines[n])]
        couplers = [n for n in self.couplers if family in _fits(lines[n])]
        for count in range(most + 1):
            for chosen in combinations_with_replacement(extensions, count):
                joints = sum(line.couplers for n in chosen if isinstance(line := lines[n], Extension))
                length = sum((line.length for n in chosen if isinstance(line := lines[n], Extension)), Length(0))
                for joined in combinations_with_replacement(couplers, joints):
                    adds = sum((line.adds for n in joined if isinstance(line := lines[n], Coupler)), Length(0))
                    yield Counter([*chosen, *joined]), length + adds

    @cached_property
    def adjustables(self) -> list[int]:
        return self.numbered(Adjustable)

    @cached_property
    def extensions(self) -> list[int]:
        return self.numbered(Extension)

    @cached_property
    def couplers(self) -> list[int]:
        return self.numbered(Coupler)

    @cached_property
    def pieces(self) -> list[int]:
        return self.numbered(Piece)

    @cached_property
    def timbers(self) -> list[int]:
        return self.numbered(Timber)


def lock_for(member: Adjustable, setting: Length, slack_in: Length, slack_out: Length) -> Length | None:
    """The lock from which the screw reaches `setting` with both slacks left, the one with most left on its shorter
    side (the shorter lock of two equal ones); None if there is none."""
    best: Length | None = None
    most = Length(-1)
    for lock in member.locks:
        turned_in, turned_out = setting - lock, lock + member.screw - setting
        if turned_in >= slack_in and turned_out >= slack_out and min(turned_in, turned_out) > most:
            best, most = lock, min(turned_in, turned_out)
    return best


def span_options(need: SpanNeed, catalogue: Catalogue, *, unlimited: bool = False) -> list[Option]:
    """Every pattern that reaches the need, cheapest first. `unlimited`: of lines that are used up as well."""
    setting = need.wanted - need.deduct
    found: list[Option] = []
    for number in catalogue.adjustables:
        member = catalogue.lines[number]
        assert isinstance(member, Adjustable)
        substitutes = member.family != need.family
        if (substitutes and need.family not in member.instead_of) or not (unlimited or catalogue.available[number]):
            continue
        joined = catalogue.joined(member.family, need.max_extensions, unlimited)
        first = bisect_left(joined, setting - member.open, key=_added)
        for added, rest in joined[first : bisect_right(joined, setting - member.closed, key=_added)]:
            if lock_for(member, setting - added, need.slack_in, need.slack_out) is not None:
                uses = Counter({number: 1})
                uses.update(rest)
                found.append(catalogue.option(uses, substitutions=int(substitutes)))
    return sorted(found, key=lambda option: (option.cost, option.uses))


def _added(joined: tuple[Length, Counter[int]]) -> Length:
    return joined[0]


def _fits(line: Line) -> tuple[str, ...]:
    return line.fits if isinstance(line, (Extension, Coupler)) else ()


def piece_options(need: PieceNeed, catalogue: Catalogue, *, unlimited: bool = False) -> list[Option]:
    """The lines that serve a piece need, one piece each, cheapest first."""
    found: list[Option] = []
    for number in catalogue.pieces:
        line = catalogue.lines[number]
        assert isinstance(line, Piece)
        if not (unlimited or catalogue.available[number]):
            continue
        if need.min_length is not None and (line.length is None or line.length < need.min_length):
            continue
        exact = line.part == need.part and need.variant in (None, line.variant)
        if exact or stands_for(line, need.part, need.variant):
            over = 0
            if line.length is not None and need.min_length is not None:
                over = (line.length - need.min_length).eightieths
            found.append(catalogue.option(Counter({number: 1}), substitutions=int(not exact), waste=over))
    return sorted(found, key=lambda option: (option.cost, option.uses))


def stands_for(line: Line, part: str, variant: str | None) -> bool:
    """The line says that it may stand in for the part, or for this variant of it."""
    return part in line.instead_of or (variant is not None and f"{part} {variant}" in line.instead_of)


@dataclass(frozen=True)
class Group:
    """`count` times one need; `owner` is the build it belongs to, where that build holds pieces of its own."""

    count: int
    options: tuple[Option, ...]
    owner: int | None = None


#: A need without its label and number, and the build if it holds pieces of its own.
Key = tuple[int, SpanNeed | PieceNeed]
#: The owner in the key of a build that holds nothing.
NOBODY = -1


@dataclass(frozen=True)
class Wish:
    """One need of one build, `count` times."""

    build: int
    label: str
    count: int


@dataclass(frozen=True)
class Grouped:
    """Keys in a fixed order, each with its group and the wishes it joins, in the order of builds and their needs."""

    keys: tuple[Key, ...]
    groups: tuple[Group, ...]
    wishes: tuple[tuple[Wish, ...], ...]


class Patterns:
    """The options of each need, worked out once."""

    def __init__(self, catalogue: Catalogue, *, unlimited: bool = False) -> None:
        self._catalogue, self._unlimited = catalogue, unlimited
        self._known: dict[SpanNeed | PieceNeed, tuple[Option, ...]] = {}

    def of(self, bare: SpanNeed | PieceNeed) -> tuple[Option, ...]:
        if bare not in self._known:
            make = span_options(bare, self._catalogue, unlimited=self._unlimited) if isinstance(bare, SpanNeed) else (
                piece_options(bare, self._catalogue, unlimited=self._unlimited)
            )  # fmt: skip
            self._known[bare] = tuple(make)
        return self._known[bare]


def grouped(needs: Mapping[int, Sequence[Need]], patterns: Patterns, owners: Set[int] = frozenset()) -> Grouped:
    """The spans and pieces of these builds as groups; `owners` hold pieces of their own, so their needs stay apart."""
    found: dict[Key, list[Wish]] = {}
    for build in sorted(needs):
        for need in needs[build]:
            if isinstance(need, CutNeed):
                continue
            count = need.quantity if isinstance(need, PieceNeed) else 1
            if count > 0:
                key = (build if build in owners else NOBODY, bare(need))
                found.setdefault(key, []).append(Wish(build, need.label, count))
    keys = sorted(found, key=lambda key: (key[0], repr(key[1])))
    groups = tuple(
        Group(sum(wish.count for wish in found[key]), patterns.of(key[1]), None if key[0] == NOBODY else key[0])
        for key in keys
    )
    return Grouped(tuple(keys), groups, tuple(tuple(found[key]) for key in keys))


def bare(need: SpanNeed | PieceNeed) -> SpanNeed | PieceNeed:
    return replace(need, label="", quantity=1) if isinstance(need, PieceNeed) else replace(need, label="")


def handed_out(grouped: Grouped, picks: Sequence[Mapping[int, int]]) -> dict[int, list[tuple[Key, Wish, Option, int]]]:
    """What each build gets: (key, wish, option, times), builds in order and cheapest options first."""
    given: dict[int, list[tuple[Key, Wish, Option, int]]] = {}
    for key, group, wishes, taken in zip(grouped.keys, grouped.groups, grouped.wishes, picks, strict=True):
        left = [[place, times] for place, times in sorted(taken.items())]
        for wish in wishes:
            still = wish.count
            while still and left:
                now = min(still, left[0][1])
                given.setdefault(wish.build, []).append((key, wish, group.options[left[0][0]], now))
                still -= now
                left[0][1] -= now
                if not left[0][1]:
                    left.pop(0)
    return given
