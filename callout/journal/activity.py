"""The activity log of a shift in the block order of ICS 214, as a page that prints and as CSV.

The order of the blocks is that of the public form: 1 incident name, 2 operational period, 3 name, 4 ICS position,
5 home agency and unit, 6 resources assigned, 7 activity log, 8 prepared by. Dates and times are on the 24-hour clock.
What nobody told the program is left empty, to be written in by hand.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from callout.dialogue.records import EventName, Record, WasReleased, WasVoided
from callout.pages import render
from callout.untrusted_text import Table
from callout.values import meaning_from_json
from callout.values.meaning import Callout

#: What stands in block 7 unless other events are asked for.
NOTABLE: frozenset[EventName] = frozenset(
    ("released", "voided", "parked", "placed", "stock_changed", "site_changed", "alarm", "error", "resumed",
     "inspected", "look_called", "sized_up", "taken")
)
ROLES = ("measurer", "logistics", "callout")
#: Events whose name is no word of a log.
_WORDS: dict[EventName, str] = {
    "look_called": "every shore to be looked at", "site_changed": "place", "sized_up": "sized up",
    "inspected": "looked at", "parked": "set aside", "resumed": "taken up again",
}  # fmt: skip
#: Empty rows in block 6, for those whom the program does not know.
ROWS_BY_HAND = 4


@dataclass(frozen=True)
class Activity:
    """One row of block 7."""

    time: str
    text: str


@dataclass(frozen=True)
class ActivityLog:
    """The form. Names are what the user gave; `resources` are the speakers who gave a name."""

    incident: str = ""
    name: str = ""
    position: str = ""
    agency: str = ""
    begins: str = ""
    ends: str = ""
    resources: Sequence[str] = ()
    activities: Sequence[Activity] = field(default_factory=tuple)


def activity_log(records: Iterable[Record], events: frozenset[EventName] = NOTABLE, **given: str) -> ActivityLog:
    """`given`: incident, name, position, agency."""
    every = list(records)
    numbers = {r.build_id: r.number for r in every if r.event == "released" and r.number is not None}
    rows = [
        Activity(_when(record), text)
        for record in every
        if record.event in events and (text := _text(record, numbers.get(record.build_id, record.build_id)))
    ]
    speakers = dict.fromkeys(r.speaker for r in every if r.speaker and r.speaker not in ROLES)
    return ActivityLog(
        begins=_when(every[0]) if every else "",
        ends=_when(every[-1]) if every else "",
        resources=[speaker for speaker in speakers if speaker],
        activities=rows,
        **given,
    )


def as_html(log: ActivityLog) -> str:
    """One page that prints; the head of block 7 is repeated on every sheet."""
    empty = [""] * max(0, ROWS_BY_HAND - len(log.resources))
    return render(Path(__file__).with_name("activity.html"), log=log, resources=[*log.resources, *empty])


def as_csv(log: ActivityLog) -> str:
    """The same blocks as rows: block, name of the block, values."""
    text = io.StringIO()
    table = Table(text)
    table.row(["block", "what", "value", "more"])
    table.row([1, "incident name", log.incident, ""])
    table.row([2, "operational period from, to", log.begins, log.ends])
    table.row([3, "name", log.name, ""])
    table.row([4, "ICS position", log.position, ""])
    table.row([5, "home agency and unit", log.agency, ""])
    table.rows([6, "resource assigned", name, ""] for name in log.resources)
    table.rows([7, "activity", row.time, row.text] for row in log.activities)
    table.row([8, "prepared by: name, position", log.name, log.position])
    return text.getvalue()


def _when(record: Record) -> str:
    """2031-05-04 14:07: the record's own clock."""
    return datetime.fromisoformat(record.time).strftime("%Y-%m-%d %H:%M") if record.time else ""


def _text(record: Record, number: int | None) -> str:
    """`number`: what the build is called by."""
    build = f"build {number}"
    if record.event == "released":
        changed = isinstance(record.what, WasReleased) and record.what.replaces
        again = "changed and released" if changed else "released"
        short = "; the stock is short" if record.build and record.build.get("missing") else ""
        return f"{build} {again}: {_callout(record.meaning)}{short}"
    if record.event == "placed":
        return f"{build} stands at the wall"
    if record.event == "voided":
        of_build = isinstance(record.what, WasVoided) and record.what.what == "build"
        return f"{build} taken back" if of_build else ""
    if record.event == "stock_changed":
        changes = ", ".join(f"{change.item} {change.delta:+d}" for change in record.changes)
        return f"stock counted: {changes}" if changes else record.text
    who = f"{record.speaker}: " if record.speaker and record.speaker != "callout" else ""
    return f"{who}{_WORDS.get(record.event, record.event)}: {record.text}" if record.text else ""


def _callout(shape: dict[str, Any] | None) -> str:
    """A callout for the eye: "raker, insertion 11 ft, angle 60"."""
    meaning = meaning_from_json(shape)
    if not isinstance(meaning, Callout):
        return ""
    words = [meaning.kind.replace("_", " ")]
    for name, value in meaning.said.items():
        if name != "kind":
            words.append(f"{name.removesuffix('_deg').replace('_', ' ')} {value}")
    return ", ".join(words)
