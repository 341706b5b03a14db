"""The answer to each build put together from what selection settled: pieces, settings, bars, what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from callout.shoring.allocation import (
    Allocation,
    Bar,
    CutNeed,
    Lacking,
    Need,
    PieceNeed,
    SawnCut,
    SpanNeed,
    SpanSet,
    Taken,
)
from callout.shoring.selection.nesting import Sawn
from callout.shoring.selection.patterns import Option, lock_for
from callout.shoring.stock import Adjustable, Coupler, Extension, Line, Stock, Timber
from callout.values import Length


@dataclass
class Given:
    """What one build gets. `pieces`: (need, label, line, number); `spans`: members all of whose pieces are there."""

    pieces: list[tuple[SpanNeed | PieceNeed, str, int, int]] = field(default_factory=list)
    spans: list[tuple[SpanNeed, str, Option]] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    missing: list[Lacking] = field(default_factory=list)


def allocations_of(
    needs: Mapping[int, Sequence[Need]], given: Mapping[int, Given], stock: Stock
) -> dict[int, Allocation]:
    """The allocations, everything in the order in which the build states its needs."""
    return {build: _allocation(build, needs[build], given.get(build, Given()), stock) for build in sorted(needs)}


def _allocation(build: int, needs: Sequence[Need], given: Given, stock: Stock) -> Allocation:
    place = {need.label: number for number, need in reversed(list(enumerate(needs)))}
    taken: dict[tuple[str, int], list[tuple[SpanNeed | PieceNeed, int]]] = {}
    for piece in given.pieces:
        taken.setdefault((piece[1], piece[2]), []).append((piece[0], piece[3]))
    items = [
        (place[label], _rank(stock.lines[line]), line, _taken(label, stock.lines[line], found))
        for (label, line), found in taken.items()
    ]
    timbers: dict[tuple[str, str | None], int] = {}
    for bar in given.bars:
        if bar.held_by == build:
            timbers[bar.name, bar.stands_for] = timbers.get((bar.name, bar.stands_for), 0) + 1
    whole = [
        _piece("timber", stock.by_name[name], number, stands_for)
        for (name, stands_for), number in sorted(timbers.items(), key=repr)
    ]
    spans = sorted(given.spans, key=lambda span: place[span[1]])
    return Allocation(
        build=build,
        taken=tuple(item for *_, item in sorted(items, key=lambda item: item[:3])) + tuple(whole),
        spans=tuple(_span_set(need, label, option, stock) for need, label, option in spans),
        bars=tuple(given.bars),
        missing=tuple(sorted(given.missing, key=lambda lacking: place[lacking.label])),
    )


def _rank(line: Line) -> int:
    """Within one need the adjustable piece first, then extensions, then couplers."""
    return next((n for n, kind in enumerate((Adjustable, Extension, Coupler)) if isinstance(line, kind)), 3)


def _taken(label: str, line: Line, found: list[tuple[SpanNeed | PieceNeed, int]]) -> Taken:
    return _piece(label, line, sum(number for _, number in found), _stands_for(line, found[0][0]))


def _stands_for(line: Line, need: SpanNeed | PieceNeed) -> str | None:
    if isinstance(need, SpanNeed):
        return need.family if isinstance(line, Adjustable) and line.family != need.family else None
    exact = line.kind == need.part and need.variant in (None, getattr(line, "variant", None))
    return None if exact else need.part if need.variant is None else f"{need.variant} {need.part}"


def _piece(label: str, line: Line, quantity: int, stands_for: str | None) -> Taken:
    return Taken(
        label=label, part=line.kind, name=line.name, quantity=quantity, length=line.size, where=line.where,
        weight_lb=round(quantity * line.weight_lb, 2), stands_for=stands_for,
    )  # fmt: skip


def _span_set(need: SpanNeed, label: str, option: Option, stock: Stock) -> SpanSet:
    used = [(stock.lines[line], number) for line, number in option.uses]
    member = next(line for line, _ in used if isinstance(line, Adjustable))
    extensions = [line for line, number in used if isinstance(line, Extension) for _ in range(number)]
    extensions.sort(key=lambda line: -line.length.eightieths)
    couplers = [line for line, number in used if isinstance(line, Coupler) for _ in range(number)]
    added = sum((line.length for line in extensions), Length(0)) + sum((line.adds for line in couplers), Length(0))
    setting = need.wanted - need.deduct
    lock = lock_for(member, setting - added, need.slack_in, need.slack_out)
    assert lock is not None
    return SpanSet(
        label=label,
        family=need.family,
        wanted=need.wanted,
        setting=setting,
        closed=member.closed + added,
        open=member.open + added,
        member=member.name,
        member_setting=setting - added,
        lock=lock,
        screw_out=setting - added - lock,
        turn_in=setting - added - lock,
        turn_out=lock + member.screw - (setting - added),
        extensions=tuple(line.name for line in extensions),
        couplers=tuple(line.name for line in couplers),
        extension_end=member.fixed_end if extensions else None,
    )


def bars_of(sawn: Sequence[Sawn], needs: Mapping[int, Sequence[Need]], stock: Stock) -> list[Bar]:
    """The bars with whose cuts they hold, handed out in order of builds and needs; a bar's first build holds it."""
    waiting: dict[tuple[str, int], list[tuple[int, str]]] = {}
    for build in sorted(needs):
        for need in needs[build]:
            if isinstance(need, CutNeed):
                queue = waiting.setdefault((need.section, need.length.eightieths), [])
                queue.extend([(build, need.label)] * need.quantity)
    found: list[Bar] = []
    for bar in sawn:
        line = stock.lines[bar.use.line]
        assert isinstance(line, Timber)
        cuts = []
        for length in bar.cuts:
            build, label = waiting[bar.use.section, length].pop(0)
            cuts.append(SawnCut(build=build, label=label, length=Length(length)))
        kerfs = stock.kerf * (len(cuts) - 1)
        left = line.length - sum((cut.length for cut in cuts), Length(0)) - kerfs
        found.append(
            Bar(
                name=line.name, section=line.section, length=line.length, where=line.where, cuts=tuple(cuts),
                stands_for=None if line.section == bar.use.section else bar.use.section,
                held_by=min(cut.build for cut in cuts), offcut=max(Length(0), left - stock.kerf),
            )
        )  # fmt: skip
    return found
