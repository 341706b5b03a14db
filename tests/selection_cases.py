"""Random small stocks and needs, and the plainest possible search for the best plan, written apart from the code.

It tries everything: each set of builds, each piece for each need, each bar for each cut. Nothing of it is shared with
`callout.shoring` but the values that go in.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations, combinations_with_replacement, product

from callout.shoring.allocation import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.kit import Kit
from callout.shoring.stock import Adjustable, Coupler, Extension, Piece, Stock, Timber
from callout.values import Length

FT, IN = Length.imperial(1), Length.imperial(0, 1)
KIT = Kit(
    plate_length=4 * FT, plate_hole_spacing=3 * IN, plate_first_hole=4 * IN, plate_thickness=IN, head_takes=4 * IN,
    base_takes=4 * IN, brace_takes=IN, clamp_takes=IN, slack_in=2 * IN, slack_out=2 * IN, waler_gap=6 * IN,
)  # fmt: skip


def random_case(seed: int, *, builds: int = 3, timber: bool = False) -> tuple[Stock, dict[int, list[Need]]]:
    """A stock of a few short lines and the needs of a few builds."""
    pick = random.Random(seed)
    few = lambda low, high: pick.randint(low, high)  # noqa: E731

    def weight() -> float:
        return pick.choice([1, 2.5, 7.25, 10])

    struts = []
    for number in range(few(2, 3)):
        closed = few(2, 8)
        travel = few(2, 5)
        screw = few(1, travel)
        struts.append(
            Adjustable(
                name=f"strut {number}", family=pick.choice(["strut", "strut", "lateral"]), closed=closed * FT,
                open=(closed + travel) * FT, screw=screw * FT, step=FT if screw < travel else Length(0),
                instead_of=pick.choice([(), ("strut",), ("lateral",)]), quantity=few(0, 4), where="rack",
                weight_lb=weight(),
            )
        )  # fmt: skip
    extensions = [
        Extension(
            name=f"extension {number}", fits=pick.choice([("strut",), ("strut", "lateral")]), length=few(1, 4) * FT,
            couplers=few(0, 1), quantity=few(0, 2), where="rack", weight_lb=weight(),
        )
        for number in range(few(0, 2))
    ]  # fmt: skip
    couplers = [
        Coupler(
            name=f"coupler {number}", fits=("strut", "lateral"), adds=few(0, 2) * IN, quantity=few(0, 3),
            where="crate", weight_lb=weight(),
        )
        for number in range(few(0, 2))
    ]  # fmt: skip
    pieces = [
        Piece(
            name=f"anchor {number}", part="anchor", variant=pick.choice(["brick", "block"]),
            length=pick.choice([None, few(1, 3) * FT]),
            instead_of=pick.choice([(), ("anchor brick",), ("anchor",), ("anchor",)]),
            quantity=few(0, 6), where="crate", weight_lb=weight(),
        )
        for number in range(few(1, 3))
    ]  # fmt: skip
    bars = [
        Timber(
            name=f"timber {number}", section=pick.choice(["4x4", "4x4", "6x6"]), length=few(4, 9) * FT,
            instead_of=pick.choice([(), ("4x4",)]), quantity=few(0, 3), where="yard", weight_lb=weight(),
        )
        for number in range(few(1, 3))
    ]  # fmt: skip
    pick.shuffle(struts)
    stock = Stock(
        name="random", kerf=pick.choice([Length(0), IN]), kit=KIT, adjustable=tuple(struts),
        extension=tuple(extensions), coupler=tuple(couplers), piece=tuple(pieces), timber=tuple(bars) if timber else (),
    )  # fmt: skip

    def wanted() -> Length:
        """Mostly what one of the struts can do."""
        strut = pick.choice(struts)
        return few(2, 13) * FT if pick.random() < 0.2 else strut.closed + few(4, 12 * 3) * IN

    needs: dict[int, list[Need]] = {}
    for build in range(1, few(1, builds) + 1):
        mine: list[Need] = [
            SpanNeed(
                f"span {number}", pick.choice(["strut", "strut", "lateral"]), wanted(),
                deduct=few(0, 4) * IN, slack_in=few(0, 3) * IN, slack_out=few(0, 3) * IN, max_extensions=few(0, 2),
            )
            for number in range(few(0, 2))
        ]  # fmt: skip
        if pick.random() < 0.7:
            variant, least = pick.choice([None, "brick", "block"]), pick.choice([None, FT, 2 * FT])
            mine.append(PieceNeed("anchors", "anchor", few(1, 3), least, variant))
        if timber:
            mine += [
                CutNeed(f"cut {number}", pick.choice(["4x4", "4x4", "6x6"]), few(1, 6) * FT, few(1, 2))
                for number in range(few(0, 2))
            ]
        needs[build] = mine
    return stock, needs


Aims = tuple[int, ...]
Taken = tuple[Counter[str], Aims]  # pieces by name, and the aims they cost


def best_plan(stock: Stock, needs: dict[int, list[Need]]) -> tuple[int, Aims]:
    """(how many builds can be whole at once, the least aims among all ways to make that many)."""
    for count in range(len(needs), -1, -1):
        found = [
            aims
            for chosen in combinations(sorted(needs), count)
            for aims in _all_ways(stock, [need for build in chosen for need in needs[build]])
        ]
        if found:
            return count, min(found)
    raise AssertionError("no build at all is always a way")


def _all_ways(stock: Stock, needs: Sequence[Need]) -> Iterator[Aims]:
    have = {line.name: line.quantity for line in stock.lines}
    ways: list[list[Taken]] = []
    for need in needs:
        if isinstance(need, SpanNeed):
            ways.append(list(_span(stock, need)))
        elif isinstance(need, PieceNeed):
            ways.append(list(_pieces(stock, need)))
    cuts = [(n.section, n.length) for n in needs if isinstance(n, CutNeed) for _ in range(n.quantity)]
    timber = min(_bars(stock, cuts, [], dict(have)), default=None)
    if timber is None:
        return
    for chosen in product(*ways):
        used: Counter[str] = Counter()
        for pieces, _ in chosen:
            used.update(pieces)
        if all(number <= have[name] for name, number in used.items()):
            yield tuple(map(sum, zip(timber, *(aims for _, aims in chosen), strict=True)))


def _aims(stock: Stock, used: Counter[str], substitutions: int, waste: int) -> Aims:
    order = sorted(line.name for line in stock.lines)
    of = {line.name: line for line in stock.lines}
    return (
        substitutions,
        sum(used.values()),
        sum(round(100 * of[name].weight_lb) * n for name, n in used.items()),
        waste,
        sum(10_000 // max(1, of[name].quantity) * n for name, n in used.items()),
        sum((order.index(name) + 1) * n for name, n in used.items()),
    )


def _span(stock: Stock, need: SpanNeed) -> Iterator[Taken]:
    length = need.wanted.eightieths - need.deduct.eightieths
    for member in stock.adjustable:
        if member.family != need.family and need.family not in member.instead_of:
            continue
        fits = [e for e in stock.extension if member.family in e.fits]
        joins = [c for c in stock.coupler if member.family in c.fits]
        for number in range(need.max_extensions + 1):
            for chosen in combinations_with_replacement(fits, number):
                for joined in combinations_with_replacement(joins, sum(e.couplers for e in chosen)):
                    rest = length - sum(e.length.eightieths for e in chosen) - sum(c.adds.eightieths for c in joined)
                    if _reaches(member, rest, need):
                        used = Counter([member.name, *(e.name for e in chosen), *(c.name for c in joined)])
                        yield used, _aims(stock, used, int(member.family != need.family), 0)


def _reaches(member: Adjustable, rest: int, need: SpanNeed) -> bool:
    at = member.closed.eightieths
    while at + member.screw.eightieths <= member.open.eightieths:
        low, high = at + need.slack_in.eightieths, at + member.screw.eightieths - need.slack_out.eightieths
        if low <= rest <= high:
            return True
        if not member.step:
            break
        at += member.step.eightieths
    return False


def _pieces(stock: Stock, need: PieceNeed) -> Iterator[Taken]:
    fitting = []
    for line in stock.piece:
        exact = line.part == need.part and (need.variant is None or need.variant == line.variant)
        stands = need.part in line.instead_of or f"{need.part} {need.variant}" in line.instead_of
        long = need.min_length is None or (line.length is not None and line.length >= need.min_length)
        if long and (exact or stands):
            over = line.length.eightieths - need.min_length.eightieths if need.min_length and line.length else 0
            fitting.append((line.name, not exact, over))
    for chosen in combinations_with_replacement(fitting, need.quantity):
        used = Counter(name for name, _, _ in chosen)
        yield used, _aims(stock, used, sum(s for _, s, _ in chosen), sum(over for _, _, over in chosen))


def _bars(
    stock: Stock, cuts: Sequence[tuple[str, Length]], open_bars: list[list[object]], have: dict[str, int]
) -> Iterator[Aims]:
    """Each cut into each open bar of its section or a new one."""
    if not cuts:
        used = Counter(str(bar[0]) for bar in open_bars)
        section_of = {line.name: line.section for line in stock.timber}
        stands = sum(section_of[str(bar[0])] != bar[1] for bar in open_bars)
        long = {line.name: line.length.eightieths for line in stock.timber}
        waste = sum(long[str(bar[0])] for bar in open_bars) - sum(int(str(bar[3])) for bar in open_bars)
        yield _aims(stock, used, stands, waste)
        return
    (section, length), rest = cuts[0], cuts[1:]
    for place, bar in enumerate(open_bars):
        needs = length.eightieths + stock.kerf.eightieths
        if bar[1] == section and needs <= int(str(bar[2])):
            after = [bar[0], section, int(str(bar[2])) - needs, int(str(bar[3])) + length.eightieths]
            yield from _bars(stock, rest, [*open_bars[:place], after, *open_bars[place + 1 :]], have)
    for line in stock.timber:
        if (line.section == section or section in line.instead_of) and have[line.name] and line.length >= length:
            room = line.length.eightieths - length.eightieths
            bar = [line.name, section, room, length.eightieths]
            yield from _bars(stock, rest, [*open_bars, bar], {**have, line.name: have[line.name] - 1})
