"""What is out of range: of the language itself (data in `grammars/`), and of the context of the conversation."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from callout.files import data_folder, read_toml
from callout.language.context import Context
from callout.language.parse import Reading
from callout.values import Callout, Command, Length, Meaning


@dataclass(frozen=True)
class Trouble:
    """Why a meaning cannot be taken, and the nearest one that can."""

    reason: str
    nearest: Meaning | None = None


class Complaint(NamedTuple):
    """A fault that the wider grammar knows by name. `before` is the word that lacks in front of `part`."""

    reason: str
    missing: tuple[str, ...]
    before: str | None = None
    part: str | None = None

    def better(self, reading: Reading, words: tuple[str, ...]) -> tuple[str, ...]:
        """The sentence with the missing word put in."""
        start = next((p.start for p in reading.parts if p.name == self.part), None)
        if self.before is None or start is None:
            return ()
        return (" ".join((*words[:start], self.before, *words[start:])),)


class TwinLimits(NamedTuple):
    """In natural-log score below the best heard: how near a reading must be to matter."""

    stress: float
    ask: float
    set_aside: float


@lru_cache(maxsize=1)
def complaints() -> dict[str, Complaint]:
    table = read_toml(data_folder("grammars") / "complaints.toml")
    return {
        name: Complaint(row["reason"], tuple(row["missing"]), row.get("before"), row.get("part"))
        for name, row in table.items()
    }


def complaint(reading: Reading) -> Complaint | None:
    """What the wider grammar holds against a reading, or None."""
    return next((complaints()[note] for note in reading.notes if note in complaints()), None)


@lru_cache(maxsize=1)
def twin_limits() -> TwinLimits:
    row = read_toml(data_folder("grammars") / "twins.toml")["limits"]
    return TwinLimits(float(row["stress"]), float(row["ask"]), float(row["set_aside"]))


@lru_cache(maxsize=1)
def _ranges() -> dict[str, tuple[Any, Any]]:
    table = read_toml(data_folder("grammars") / "ranges.toml")
    lengths = {n: (Length.nearest(Fraction(a)), Length.nearest(Fraction(b))) for n, (a, b) in table["lengths"].items()}
    return {**lengths, **{n: (a, b) for n, (a, b) in table["numbers"].items()}}


def trouble(reading: Reading, context: Context) -> Trouble | None:
    """What keeps a reading from being taken: a length finer than the tape, a range, or the context."""
    meaning = reading.meaning
    if reading.inexact is not None:
        rounded = next(part.value for part in reading.parts if part.name == reading.inexact)
        return Trouble(f"finer than a sixteenth of an inch or a millimetre; the nearest is {rounded}", meaning)
    if isinstance(meaning, Callout):
        return _callout(meaning, context)
    if meaning.patch is not None:
        found = _callout(meaning.patch, context)
        return found if found is None else Trouble(found.reason)
    caller = next((part.value for part in reading.parts if part.name == "caller"), None)
    if caller is not None and caller != context.caller:
        return Trouble(f"the readback is not for {caller}")
    return _command(meaning, context)


def _callout(callout: Callout, context: Context) -> Trouble | None:
    for name, value in callout.said.items():
        low, high = _ranges().get(name, (value, value))
        if not low <= value <= high:
            return _outside(callout, name, value, low, high, "the range of a callout")
    if context.angles is not None and callout.angle_deg is not None and callout.angle_deg not in context.angles:
        wanted = callout.angle_deg
        legal = sorted(context.angles)
        nearest = min(legal, key=lambda a: abs(a - wanted), default=None)
        reason = f"{wanted} degrees is not possible here; possible: {', '.join(map(str, legal))}"
        return Trouble(reason, None if nearest is None else callout.model_copy(update={"angle_deg": nearest}))
    if context.reach is not None and callout.insertion is not None:
        low, high = context.reach
        if not low <= callout.insertion <= high:
            return _outside(callout, "insertion", callout.insertion, low, high, "the reach of the stock")
    return None


def _outside(callout: Callout, name: str, value: Any, low: Any, high: Any, what: str) -> Trouble:
    nearest = low if value < low else high
    reason = f"{name.replace('_deg', '').replace('_', ' ')} {value} is outside {what}, {low} to {high}"
    return Trouble(reason, callout.model_copy(update={name: nearest}))


def _command(command: Command, context: Context) -> Trouble | None:
    if context.items is not None and command.item is not None and not 1 <= command.item <= context.items:
        reason = f"no item {command.item}: the list has {context.items}"
        return Trouble(reason, command.model_copy(update={"item": context.items}) if context.items else None)
    if context.builds and command.build is not None and command.build not in context.builds:
        wanted = command.build
        nearest = min(context.builds, key=lambda b: abs(b - wanted))
        builds = ", ".join(map(str, context.builds))
        there = "there is build" if len(context.builds) == 1 else "there are builds"
        return Trouble(f"no build {wanted}: {there} {builds}", command.model_copy(update={"build": nearest}))
    return None
