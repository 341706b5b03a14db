"""After a shore stands: when it is looked at again, how far anything has moved, and what that calls for. Pure.

`due` says when the next look is; `movements` sets the readings of every mark against the first one and the one before.
No print was found with limits for rescue work: those in `rules/aftercare.toml` are a start, from memory, that a team
puts its own in place of. Nothing here says that a shore is safe.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.shoring.rules import Rules, packaged_rules
from callout.shoring.units import Writing, many
from callout.values import Length
from callout.values.sights import Looked, MarkReading

#: Why somebody looks: the clock, or something that happened.
Reason = Literal["clock", "aftershock", "wind", "change", "sound", "loose", "over"]
Level = Literal["steady", "look", "out"]
#: What is looked at, whatever the shore: it stands on the form, and may be spoken.
LOOK_AT = (
    "wedges, screws and pins: tight, and tightened again",
    "the ground at every heel and sole: nothing sunk, nothing slid",
    "timber at every cleat, header and sole: no crushing, no splitting, no bow",
    "nails, gussets, clamps and anchors: nothing drawn",
    "every crack and every plumb mark: read it and write it down",
)


class Inspection(Looked):
    """One look at a shore, when it was, and why."""

    at: datetime
    reason: Reason = "clock"
    remark: str = ""


class Happening(BaseModel):
    """Something after which every shore is looked at. `speed` of the wind, in miles an hour."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: datetime
    reason: Reason
    speed: float | None = Field(default=None, ge=0, le=300)


class Due(BaseModel):
    """The next look. `minutes` until then, negative when it is overdue."""

    model_config = ConfigDict(frozen=True)

    at: datetime
    reason: Reason
    minutes: int
    why: str
    say: str


class Movement(BaseModel):
    """What one mark did. `moved` since its first reading, `before` what it had moved at the look before the last;
    `per_day` at the pace of the last two looks, where there are two."""

    model_config = ConfigDict(frozen=True)

    mark: str
    level: Level
    moved: Length
    before: Length
    per_day: Length | None = None
    say: str


def due(
    stood_at: datetime, looks: Sequence[Inspection], happened: Iterable[Happening], now: datetime,
    rules: Rules | None = None,
) -> Due:  # fmt: skip
    """When the shore is looked at next: once its first hour is over, then each shift; at once after an aftershock, a
    wind over the limit, a change or a sound, or where something was not tight; within the hour again while a reading is
    over its limit."""
    book = (rules or packaged_rules()).opened()
    last = max((look.at for look in looks), default=None)
    since = [
        one for one in happened
        if one.at >= stood_at and (last is None or one.at > last)
        and (one.reason != "wind" or one.speed is None or one.speed > book.number("wind_out"))
    ]  # fmt: skip
    if since:
        first = min(since, key=lambda one: one.at)
        return _due(first.at, first.reason, now)
    if last is None:
        return _due(stood_at + timedelta(minutes=book.number("look_after_first")), "clock", now, first=True)
    latest = max(looks, key=lambda look: look.at)
    if latest.tight is False:
        return _due(last, "loose", now)
    if any(one.level != "steady" for one in movements(looks, rules)):
        return _due(last + timedelta(minutes=book.number("look_after_first")), "over", now)
    return _due(last + timedelta(minutes=book.number("look_each_shift")), "clock", now)


_WHY: Mapping[Reason, str] = {
    "clock": "it is time", "aftershock": "after an aftershock", "wind": "after wind over the limit",
    "change": "after a change", "sound": "after a sound", "loose": "it was not tight",
    "over": "a reading is over its limit",
}  # fmt: skip


def _due(at: datetime, reason: Reason, now: datetime, first: bool = False) -> Due:
    minutes = math.floor((at - now).total_seconds() / 60)
    why = _WHY[reason]
    if reason == "clock" and minutes > 0:  # "it is time" is only true when it is
        why = "when its first hour is over" if first else "once a shift"
    elif first:
        why = "its first hour is over"
    if minutes <= 0:
        say = f"look at it now, {why}; tighten wedges and screws, read every mark"
    else:
        say = f"the next look is in {_span(minutes)}"
    return Due(at=at, reason=reason, minutes=minutes, why=why, say=say)


def _span(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    said = [many(hours, "hour")] if hours else []
    if rest or not hours:
        said.append(many(rest, "minute"))
    return " ".join(said)


def movements(looks: Sequence[Inspection], rules: Rules | None = None) -> tuple[Movement, ...]:
    """Every mark that was read, those that call for most first. Lists looks in any order."""
    book = (rules or packaged_rules()).opened()
    ordered = sorted(looks, key=lambda look: look.at)
    read: dict[tuple[str, str], list[tuple[datetime, MarkReading]]] = {}
    for look in ordered:
        for one in look.readings:
            read.setdefault((one.kind, one.mark), []).append((look.at, one))
    found = []
    for series in read.values():
        limit = _limit(series[-1][1], book.length("crack_look"), book.number("lean_look"))
        found.append(_movement(series, limit, book.number("growth_out")))
    if ordered and ordered[-1].sounds:
        none = Length(0)
        found.append(
            Movement(mark="sound", level="out", moved=none, before=none, say="it was heard: everybody out, then look")
        )
    rank = {"out": 0, "look": 1, "steady": 2}
    return tuple(sorted(found, key=lambda one: (rank[one.level], one.mark)))


def _limit(reading: MarkReading, crack: Length, degrees: float) -> Length:
    """How far the mark may move before somebody looks: a width, or what the tilt is over its height."""
    if reading.kind == "crack" or reading.over is None:
        return crack
    return Length(round(abs(reading.over.eightieths) * math.tan(math.radians(degrees))))


def _movement(series: Sequence[tuple[datetime, MarkReading]], limit: Length, growth: float) -> Movement:
    values = [one.value for _, one in series]
    moved = _off(values[-1], values[0])
    before = _off(values[-2], values[0]) if len(values) > 1 else Length(0)
    mark = series[-1][1].mark
    tape = Writing.of(values).length
    level: Level = "steady"
    said = f"{mark}: moved {tape(moved)}" if moved else f"{mark}: has not moved"
    if len(values) == 1:
        said = f"{mark}: first reading"
    elif moved >= limit and moved.eightieths > 0:
        level, said = "look", f"{mark}: moved {tape(moved)}, the limit is {tape(limit)}: look at it, call the officer"
        doubled = before.eightieths > 0 and moved.eightieths >= growth * before.eightieths
        if doubled or moved.eightieths >= growth * limit.eightieths:
            level = "out"
            said = f"{mark}: moved {tape(moved)}, {tape(before)} at the look before: everybody out"
    return Movement(mark=mark, level=level, moved=moved, before=before, per_day=_pace(series), say=said)


def _off(value: Length, first: Length) -> Length:
    return Length(abs((value - first).eightieths))


def _pace(series: Sequence[tuple[datetime, MarkReading]]) -> Length | None:
    """A day's movement at the pace between the last two looks; None with one look, or two at once."""
    if len(series) < 2:
        return None
    (t0, a), (t1, b) = series[-2:]
    seconds = (t1 - t0).total_seconds()
    return Length(round(abs((b.value - a.value).eightieths) * 86_400 / seconds)) if seconds > 0 else None


def after_care(
    stood_at: datetime, looks: Sequence[Inspection], happened: Iterable[Happening], now: datetime,
    rules: Rules | None = None,
) -> dict[str, Any]:  # fmt: skip
    """All of it for one shore, as JSON, for a hand-over sheet."""
    last = max(looks, key=lambda look: look.at, default=None)
    return {
        "stood_since": stood_at.isoformat(),
        "looks": len(looks),
        "last": None if last is None else last.at.isoformat(),
        "signed": None if last is None else last.signed or None,
        "tight": None if last is None else last.tight,
        "due": due(stood_at, looks, happened, now, rules).model_dump(mode="json"),
        "movements": [one.model_dump(mode="json") for one in movements(looks, rules)],
    }
