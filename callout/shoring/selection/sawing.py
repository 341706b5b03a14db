"""Small cut lists nested exactly without the solver: sets of bars from the cheapest up, the first that holds all cuts.

The aims depend on the bars alone, not on which cut lies where; so the first set of bars into which the cuts can be
laid is the best.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from callout.shoring.selection.bars import Demand, Use
from callout.shoring.selection.search import GaveUp, packed

#: Steps of the search, and sets of bars, past which the solver is faster; longer lists go to it at once.
STEPS = 20_000
SETS = 6_000
CUTS = 24


@dataclass(frozen=True)
class Sawn:
    """One bar of a line, sawn for a section into lengths (1/80 mm), longest first."""

    use: Use
    cuts: tuple[int, ...]


class _Steps:
    def __init__(self, left: int) -> None:
        self.left = left

    def one(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise GaveUp


def search_bars(
    demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int, steps: int = STEPS
) -> list[Sawn] | None:
    """The best bars with their cuts, None if there are none. GaveUp past `steps`."""
    cuts: dict[str, list[int]] = {}
    for (section, length), n in sorted(demand.items(), reverse=True):
        cuts.setdefault(section, []).extend([length + kerf] * n)
    counter = _Steps(steps)
    usable = sorted((use for use in uses if free.get(use.line, 0)), key=lambda use: (-use.room, use.line, use.section))
    known = _at_once(cuts, usable, free)
    for _, bars in sorted(_sets(cuts, usable, free, known), key=lambda found: (found[0], repr(found[1]))):
        sawn: list[Sawn] = []
        for section, mine in cuts.items():
            here = [use for use in bars if use.section == section]
            laid = _lay(mine, [use.room for use in here], counter)
            if laid is None:
                break
            sawn += [Sawn(use, tuple(n - kerf for n in on)) for use, on in zip(here, laid, strict=True) if on]
        else:
            return sawn
    return None


def _at_once(cuts: Mapping[str, list[int]], uses: list[Use], free: Mapping[int, int]) -> int | None:
    """What it costs to lay each cut into the first bar with room, a new one being the longest there is; a bound."""
    left, cost = dict(free), 0
    for section, mine in cuts.items():
        rooms: list[int] = []
        for cut in mine:
            place = next((place for place, room in enumerate(rooms) if room >= cut), None)
            if place is None:
                use = next((u for u in uses if u.section == section and left.get(u.line, 0) and u.room >= cut), None)
                if use is None:
                    return None
                left[use.line] -= 1
                cost += packed(use.cost)
                rooms.append(use.room)
                place = len(rooms) - 1
            rooms[place] -= cut
    return cost


def fits_at_once(demand: Demand, uses: list[Use], free: Mapping[int, int], kerf: int) -> bool:
    """Whether the cuts can be laid one after the other, longest first; False says nothing."""
    cuts: dict[str, list[int]] = {}
    for (section, length), n in sorted(demand.items(), reverse=True):
        cuts.setdefault(section, []).extend([length + kerf] * n)
    usable = sorted((use for use in uses if free.get(use.line, 0)), key=lambda use: (-use.room, use.line, use.section))
    return _at_once(cuts, usable, free) is not None


def _sets(
    cuts: Mapping[str, list[int]], uses: list[Use], free: Mapping[int, int], known: int | None
) -> list[tuple[int, tuple[Use, ...]]]:
    """Every set of bars that has room enough for each section and costs at most `known`; GaveUp past SETS."""
    prices = [packed(use.cost) for use in uses]
    found: list[tuple[int, tuple[Use, ...]]] = []
    lacking = {section: sum(mine) for section, mine in cuts.items()}
    most = {section: len(mine) for section, mine in cuts.items()}
    left = dict(free)
    tried = 0

    def go(at: int, cost: int, bars: tuple[Use, ...]) -> None:
        nonlocal tried
        tried += 1
        if tried > 4 * SETS or len(found) > SETS:
            raise GaveUp
        if at == len(uses):
            if all(room <= 0 for room in lacking.values()):
                found.append((cost, bars))
            return
        use = uses[at]
        taken = 0
        while True:
            go(at + 1, cost + taken * prices[at], bars + (use,) * taken)
            more = cost + (taken + 1) * prices[at]
            if not left[use.line] or not most[use.section] or (known is not None and more > known):
                break
            taken += 1
            left[use.line] -= 1
            most[use.section] -= 1
            lacking[use.section] -= use.room
        left[use.line] += taken
        most[use.section] += taken
        lacking[use.section] += taken * use.room

    go(0, 0, ())
    return found


def _lay(cuts: list[int], rooms: list[int], counter: _Steps) -> list[list[int]] | None:
    """The cuts (longest first) laid into bars with these rooms, or None if they cannot be."""
    laid: list[list[int]] = [[] for _ in rooms]
    spare = sum(rooms) - sum(cuts)
    left = list(rooms)

    def go(at: int, first: int, wasted: int) -> bool:
        counter.one()
        if at == len(cuts):
            return True
        cut, seen = cuts[at], set()
        again = at + 1 < len(cuts) and cuts[at + 1] == cut  # equal cuts go into bars in order
        for place in range(first, len(left)):
            room = left[place]
            if room < cut or room in seen:
                continue
            seen.add(room)
            after = room - cut
            lost = after if after < cuts[-1] else 0  # no cut is short enough for it
            if wasted + lost > spare:
                continue
            left[place] = after
            laid[place].append(cut)
            if go(at + 1, place if again else 0, wasted + lost):
                return True
            left[place] = room
            laid[place].pop()
        return False

    return laid if spare >= 0 and go(0, 0, 0) else None
