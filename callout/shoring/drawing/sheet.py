"""The whole build as a readable sheet of plain text, for a terminal or a printer. Cautions stand on it once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from callout.shoring.build import Build, Setting
from callout.shoring.drawing.scene import written
from callout.shoring.drawing.terminal import terminal_drawing
from callout.shoring.writing import Writing
from callout.values import Length

Tape = Callable[[Length | None], str]


def sheet(build: Build) -> str:
    """Every part of the build, in the order in which a crew needs it."""
    return "\n".join(_lines(build, written(build))) + "\n"


def _lines(build: Build, writing: Writing) -> Iterator[str]:
    def tape(length: Length | None) -> str:
        return "-" if length is None else writing.length(length)

    def value_of(value: Any) -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        return writing.length(value) if isinstance(value, Length) else str(value)

    yield f"BUILD {build.build_id}: {build.title}"
    if build.refused is not None:
        yield f"Not built: {build.refused.reason}."
        nearest = build.refused.nearest
        if nearest is not None:
            said = ", ".join(f"{name.replace('_', ' ')} {value_of(value)}" for name, value in nearest.said.items())
            yield f"Nearest that exists: {said}."
        return
    for choice in build.chosen:
        yield f"  chosen: {choice.part.replace('_', ' ')} {value_of(choice.value)} ({choice.why})"
    yield "\nLENGTHS" + " " * 22 + "by rule".ljust(18) + "exactly"
    for name, pair in build.geometry.items():
        yield f"  {name.replace('_', ' '):<27}{tape(pair.rule):<18}{tape(pair.exact)}".rstrip()
    if build.end_cuts is not None:
        cuts = build.end_cuts
        more = f", return cut {tape(cuts.return_cut)}" if cuts.return_cut else ""
        yield f"  end cuts: {cuts.top_deg:g} degrees top, {cuts.bottom_deg:g} bottom{more}. {cuts.note}".rstrip(". ")
    yield ""
    yield terminal_drawing(build)
    yield from _what(build, tape, writing)
    yield from _how(build, tape, writing)
    yield "\nCAUTIONS"
    yield from (f"  {caution}" for caution in build.cautions)


def _what(build: Build, tape: Tape, writing: Writing) -> Iterator[str]:
    if build.missing:
        yield "MISSING: the stock cannot build this"
        yield from (f"  {lack.text}" for lack in build.missing)
        yield from (f"  would work: {remedy.text}" for remedy in build.remedies)
        yield ""
    people = "1 person" if build.lift_people == 1 else f"{build.lift_people} people"
    yield f"PARTS  ({writing.weight(build.weight_lb)} in all; {people} for the heaviest lift)"
    names = max((len(part.name) for part in build.parts), default=0) + 2
    places = max((len(part.where) for part in build.parts), default=0) + 2
    for part in build.parts:
        instead = f" [stands for {part.stands_for}]" if part.stands_for else ""
        yield f"  {part.item:>3}. {part.quantity:>3} x {part.name:<{names}}{part.where:<{places}}{part.use}{instead}"
    yield "\nPICK UP"
    for place in build.pick_list:
        items = ", ".join(str(item) for item in place.items)
        yield f"  {place.where}: items {items} ({writing.weight(place.weight_lb)})"
    if build.cuts:
        yield "\nCUT"
        for cut in build.cuts:
            what = f"{cut.label} ({cut.ends}; true {cut.size})"
            yield f"  {cut.quantity:>3} x {cut.section:<5} {tape(cut.length):<18}{what}"
        for bar in build.nesting:
            yield f"      from {bar.name} ({bar.where}): {', '.join(tape(c) for c in bar.cuts)}; left {tape(bar.rest)}"
    if build.setting:
        yield "\nSET"
        yield from (_setting(one, tape) for one in build.setting)


def _setting(one: Setting, tape: Tape) -> str:
    said = f"  {one.label}: set {tape(one.setting)} ({tape(one.member)} on the member; exactly {tape(one.exact)})"
    if one.closed is None or one.open is None:
        return said
    pieces = " + ".join(one.pieces)
    if one.extension_end is not None and len(one.pieces) > 1:
        pieces += f" (on the {one.extension_end})"
    if one.lock is not None and one.screw_out is not None:
        pieces += f", lock at {tape(one.lock)}, screw out {tape(one.screw_out)}"
    left = f"turn left {tape(one.turn_in)} in, {tape(one.turn_out)} out"
    return f"{said}\n      {pieces}: closed {tape(one.closed)}, open {tape(one.open)}, {left}"


def _how(build: Build, tape: Tape, writing: Writing) -> Iterator[str]:
    yield "\nPOSITIONS"
    for place in build.positions:
        yield f"  {place.name}: {place.text}" + (f", {tape(place.at)}" if place.at is not None else "")
    if build.fasteners:
        yield "\nFASTENERS"
        yield from (f"  {one.joint}: {one.quantity} {one.what}" for one in build.fasteners)
    yield f"\nTOOLS  {', '.join(build.tools)}"
    yield "\nSTEPS"
    yield from (f"  {step.number:>2}. {step.who}: {step.text}" for step in build.steps)
    yield "\nCHECK BEFORE LOAD"
    yield from (f"  [ ] {look}" for look in build.before_load)
    yield "\nWATCH AFTERWARDS"
    yield from (f"  {what}" for what in build.watch)
    yield "\nLOADS (working estimates)" + (f", governed by: {build.governs}" if build.governs else "")
    for check in build.checks:
        if check.share is None:
            yield f"  NOT CHECKED {check.name}: {check.note}"
        else:
            yield f"  {round(check.share * 100):>4} % used: {check.name}"
    for figure in build.loads:
        yield f"  {figure.name}: {writing.figure(figure.value, figure.unit)}  [{figure.grade}] {figure.source}"
    yield "\nNOTES"
    yield from (f"  {note}" for note in build.notes)
    yield "\nSOURCES"
    yield from (f"  {source}" for source in build.sources)
