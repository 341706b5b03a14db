"""What is carried when, with people and weight, and what comes back when the shore is taken down. Pure.

Carried in the order of work: whole timbers to the saw first, then stage by stage to the wall. Taken down in reverse.
What was cut comes back as what it is now, a piece of its length; nails and plywood do not come back.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cache
from importlib import resources
from typing import Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict

from callout.files import tomllib
from callout.shoring.build import Build, Cut, Part
from callout.shoring.drawing.marks import letters
from callout.shoring.loads import inches
from callout.shoring.on_paper import people_in_words, wrapped
from callout.shoring.request import writing_of
from callout.shoring.rules import Rules, packaged_rules
from callout.shoring.units import Writing, q
from callout.values import Length

Whither = Literal["saw", "wall"]


class CarryLoad(BaseModel):
    """`quantity` of one thing: `mark` is its item number, or the letter of its cut; a sawn piece has its `length`."""

    model_config = ConfigDict(frozen=True)

    mark: str
    quantity: int
    name: str
    where: str = ""
    length: Length | None = None
    weight_lb: float


class Load(BaseModel):
    """One trip: what goes together, how heavy it is, and how many people it takes."""

    model_config = ConfigDict(frozen=True)

    number: int
    stage: str
    to: Whither
    pieces: tuple[CarryLoad, ...]
    weight_lb: float
    people: int


class Back(BaseModel):
    """`quantity` of one thing that comes back: a stock line, or a timber of a `length`."""

    model_config = ConfigDict(frozen=True)

    quantity: int
    name: str
    length: Length | None = None
    where: str = ""


class TakeDown(BaseModel):
    """One stage of the taking down: what is done, and what comes back from it."""

    model_config = ConfigDict(frozen=True)

    number: int
    say: str
    back: tuple[Back, ...]


class _Stage(NamedTuple):
    name: str
    up: str
    down: str
    cuts: tuple[str, ...]
    parts: tuple[str, ...]


@cache
def _table() -> dict[str, Any]:
    loaded: dict[str, Any] = tomllib.loads(
        (resources.files("callout.shoring") / "rules" / "supply.toml").read_text("utf-8")
    )
    return loaded


@cache
def _stages() -> tuple[_Stage, ...]:
    return tuple(
        _Stage(one["name"], one["up"], one["down"], tuple(one["cuts"]), tuple(one["parts"]))
        for one in _table()["stage"]
    )


def _by_stage(build: Build) -> list[tuple[_Stage, list[Part], list[Cut]]]:
    """Each stage with the parts that it takes as they are, and what is cut for it; what no stage names, in the first.
    Timber that is sawn is in none."""
    sawn = _sawn(build)
    found: list[tuple[_Stage, list[Part], list[Cut]]] = [(stage, [], []) for stage in _stages()]
    for part in build.parts:
        if part.name not in sawn:
            next((one for one in found if part.part in one[0].parts), found[0])[1].append(part)
    for cut in build.cuts:
        next((one for one in found if cut.label in one[0].cuts), found[0])[2].append(cut)
    return found


def _sawn(build: Build) -> set[str]:
    return {bar.name for bar in build.nesting}


def carry(build: Build, people: int = 4, rules: Rules | None = None) -> tuple[Load, ...]:
    """The loads in the order in which they are needed, none heavier than `people` carry, but for a single piece."""
    book = (rules or packaged_rules()).opened()
    each = book.quantity("lift_for_one").to("lb")
    wood = book.quantity("wood")
    sawn = _sawn(build)
    trips: list[tuple[str, Whither, list[CarryLoad]]] = []
    timbers = [_part(part) for part in build.parts if part.name in sawn]
    trips.append(("timber", "saw", timbers))
    marks = letters(build)
    for stage, parts, cuts in _by_stage(build):
        pieces = [_part(part) for part in parts]
        for cut in cuts:
            wide, deep = book.rule(f"dressed_{cut.section}").value
            weight = (q(wide, "in") * q(deep, "in") * inches(cut.length) * wood).to("lb")
            pieces.append(
                CarryLoad(
                    mark=marks[cut.label], quantity=cut.quantity, name=f"{cut.section} {cut.label}",
                    length=cut.length, weight_lb=round(weight, 1),
                )
            )  # fmt: skip
        trips.append((stage.up, "wall", pieces))
    loads: list[Load] = []
    for name, to, pieces in trips:
        for load in _split(pieces, people * each):
            weight = sum(one.quantity * one.weight_lb for one in load)
            heaviest = max(_hands(one, each) for one in load)
            loads.append(
                Load(
                    number=len(loads) + 1, stage=name, to=to, pieces=tuple(load), weight_lb=round(weight, 1),
                    people=max(math.ceil(weight / each - 1e-9), heaviest),
                )
            )  # fmt: skip
    return tuple(loads)


def _hands(one: CarryLoad, each: float) -> int:
    """A single piece by its weight; what is longer than 8 ft takes two."""
    long = one.length is not None and one.length > Length.imperial(feet=8)
    return max(math.ceil(one.weight_lb / each - 1e-9), 2 if long else 1)


def _part(part: Part) -> CarryLoad:
    return CarryLoad(
        mark=str(part.item), quantity=part.quantity, name=part.name, where=part.where, length=part.length,
        weight_lb=part.weight_lb,
    )  # fmt: skip


def _split(pieces: Iterable[CarryLoad], most: float) -> Iterator[list[CarryLoad]]:
    """In their order, as many as may be carried at once; a single piece that is heavier goes alone."""
    load: list[CarryLoad] = []
    weight = 0.0
    for one in pieces:
        left = one.quantity
        while left:
            room = int((most - weight) // one.weight_lb) if one.weight_lb else left
            fits = min(left, max(room, 0 if load else 1))
            if fits:
                load.append(one.model_copy(update={"quantity": fits}))
                weight += fits * one.weight_lb
                left -= fits
            if left:
                yield load
                load, weight = [], 0.0
    if load:
        yield load


def take_down(build: Build) -> tuple[TakeDown, ...]:
    """In reverse of the order of work, each stage with what comes back from it. The first line is the condition."""
    table = _table()["back"]
    whole = set(table["whole"])
    found = [TakeDown(number=1, say=table["first"], back=())]
    for stage, parts, cuts in reversed(_by_stage(build)):
        if not parts and not cuts:
            continue
        back = [
            Back(quantity=part.quantity, name=part.name, where=part.where, length=part.length)
            for part in parts if part.part in whole
        ] + [Back(quantity=cut.quantity, name=f"{cut.section} timber", length=cut.length) for cut in cuts]  # fmt: skip
        if back or any(part.part not in ("nail",) for part in parts):
            found.append(TakeDown(number=len(found) + 1, say=stage.down, back=tuple(back)))
    if build.cuts:
        found.append(TakeDown(number=len(found) + 1, say=table["timber"], back=()))
    return tuple(found)


def offcuts(build: Build) -> tuple[Back, ...]:
    """What the saw leaves of each timber: it stays at the saw, and is on the rack before the shore stands."""
    return tuple(
        Back(quantity=1, name=f"{bar.section} timber", length=bar.rest, where=bar.where)
        for bar in build.nesting
        if bar.rest
    )


def supply_text(build: Build, down: bool = False, people: int = 4) -> str:
    """The loads, or the taking down, as lines of at most eighty letters."""
    writing = writing_of(build.request, build.site)
    lines: list[str] = []
    if not down:
        lines.append(f"CARRY  {people} people, in the order of work")
        for load in carry(build, people):
            hands = people_in_words(load.people)
            head = f"{load.number:>2} to the {load.to}, {writing.weight(round(load.weight_lb))}, {hands}: {load.stage}"
            lines += [*wrapped(head, 3), *(line for one in load.pieces for line in wrapped(_line(one, writing), 8))]
        for one, number in Counter(offcuts(build)).items():
            left = one.model_copy(update={"quantity": number})
            lines += wrapped(_back_line("left at the saw", left, writing), 9)
        return "\n".join(lines) + "\n"
    lines.append("TAKE DOWN  in reverse of the order of work")
    for stage in take_down(build):
        lines += wrapped(f"{stage.number:>2} {stage.say}", 3)
        for one in stage.back:
            lines += wrapped(_back_line("back", one, writing), 9)
    return "\n".join(lines) + "\n"


def _back_line(what: str, one: Back, writing: Writing) -> str:
    long = f" of {writing.length(one.length)}" if one.length is not None and "timber" in one.name else ""
    place = f", to {one.where}" if one.where else ""
    return f"   {what}: {one.quantity} x {one.name}{long}{place}"


def _line(one: CarryLoad, writing: Writing) -> str:
    long = f" {writing.length(one.length)}" if one.length is not None and not one.mark.isdigit() else ""
    return f"   {one.mark:>2} {one.quantity:>3} x {one.name}{long}" + (f", {one.where}" if one.where else "")
