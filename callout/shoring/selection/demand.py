"""The needs of all builds as groups of a choice: equal needs of different builds become one group, counted.

Joining them is exact, because pieces of a line are alike, and it takes away most of what makes such choices hard:
which of two equal builds gets which of two equal struts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace

from callout.shoring.needs import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.selection.bars import Demand
from callout.shoring.selection.patterns import Catalogue, Option, piece_options, span_options
from callout.shoring.selection.search import Group

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


def cuts_of(needs: Sequence[Need]) -> dict[tuple[str, int], int]:
    """The timber cuts among these needs: (section, length in 1/80 mm) -> how many."""
    found: dict[tuple[str, int], int] = {}
    for need in needs:
        if isinstance(need, CutNeed) and need.quantity > 0:
            cut = (need.section, need.length.eightieths)
            found[cut] = found.get(cut, 0) + need.quantity
    return found


def all_cuts(needs: Mapping[int, Sequence[Need]]) -> Demand:
    return cuts_of([need for build in sorted(needs) for need in needs[build]])


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
