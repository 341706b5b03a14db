"""Timber as bars: which line of the stock serves which section, and every full way to saw a bar.

One bar is sawn for one section: its own, or one that its line may stand in for (a substitution).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from callout.shoring.selection.patterns import Catalogue, Cost, stands_for
from callout.shoring.stock import Timber

#: (section, length in 1/80 mm) -> how many are wanted.
Demand = Mapping[tuple[str, int], int]
#: More ways than this to saw the bars, and ways are made as they are needed (see `callout.shoring.selection.ways`).
MOST_WAYS = 12_000


@dataclass(frozen=True)
class Use:
    """Bars of one line sawn for one section: `room` is their length plus one kerf; `cost` is for one bar, its whole
    length counted as waste (what is sawn from it comes off later)."""

    line: int
    section: str
    room: int
    cost: Cost


@dataclass(frozen=True)
class Way:
    """One bar of a use with the cuts sawn from it: (length, how many), longest first."""

    use: Use
    cuts: tuple[tuple[int, int], ...]


def uses_for(demand: Demand, catalogue: Catalogue) -> list[Use]:
    """What may serve the sections in demand, in the stock's order."""
    kerf = catalogue.stock.kerf.eightieths
    found = []
    for number in catalogue.timbers:
        line = catalogue.lines[number]
        assert isinstance(line, Timber)
        for section in sorted({section for section, _ in demand}):
            exact = line.section == section
            if exact or stands_for(line, section, None):
                cost = catalogue.price(
                    Counter({number: 1}), substitutions=int(not exact), waste=line.length.eightieths
                )
                found.append(Use(number, section, line.length.eightieths + kerf, cost))
    return found


def parts_of(demand: Demand, uses: list[Use]) -> list[tuple[dict[tuple[str, int], int], list[Use]]]:
    """The demand split into parts that share no line of timber."""
    left = sorted({section for section, _ in demand})
    parts = []
    while left:
        sections, grown = {left[0]}, True
        while grown:
            lines = {use.line for use in uses if use.section in sections}
            more = {use.section for use in uses if use.line in lines} - sections
            sections |= more
            grown = bool(more)
        parts.append(
            (
                {cut: n for cut, n in sorted(demand.items()) if cut[0] in sections},
                [use for use in uses if use.section in sections],
            )
        )
        left = [section for section in left if section not in sections]
    return parts


def full_ways(demand: Demand, uses: list[Use], kerf: int, most: int = MOST_WAYS) -> list[Way] | None:
    """Every way to saw each use's bar so that no further wanted cut fits; None if there are more than `most`.

    Full ways suffice: a cut too many costs nothing and is dropped afterwards.
    """
    found: list[Way] = []
    for use in uses:
        lengths = sorted((length for section, length in demand if section == use.section), reverse=True)
        wanted = [demand[use.section, length] for length in lengths]

        def fill(at: int, room: int, taken: list[int], use: Use, lengths: list[int], wanted: list[int]) -> bool:
            if at == len(lengths):
                over = any(n < w and length + kerf <= room for n, w, length in zip(taken, wanted, lengths, strict=True))
                if not over and any(taken):
                    cuts = tuple((length, n) for length, n in zip(lengths, taken, strict=True) if n)
                    found.append(Way(use, cuts))
                return len(found) <= most
            step = lengths[at] + kerf
            for number in range(min(wanted[at], room // step), -1, -1):
                if not fill(at + 1, room - number * step, [*taken, number], use, lengths, wanted):
                    return False
            return True

        if not fill(0, use.room, [], use, lengths, wanted):
            return None
    return found
