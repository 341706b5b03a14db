"""The looks at standing shores that a journal holds: when each was placed, who looked, what happened since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from callout.dialogue.records import EventName, LookCalled, LookNoted, Record, WasInspected
from callout.shoring.aftercare import Due, Happening, Inspection, after_care, due, movements
from callout.shoring.rules import Rules

#: Events that say when a shore stood, was looked at, or must be looked at.
CARE: frozenset[EventName] = frozenset({"placed", "inspected", "look_called", "look_noted"})


@dataclass
class Watched:
    """One standing shore. `begun`: a look that nobody signed yet. It puts nothing off; what it found too far counts."""

    number: int
    stood_at: datetime
    looks: list[Inspection] = field(default_factory=list)
    begun: Inspection | None = None

    @property
    def every(self) -> list[Inspection]:
        return [*self.looks, *([] if self.begun is None else [self.begun])]


@dataclass
class Watch:
    """All shores that were placed, by build, and what happened meanwhile."""

    shores: dict[int, Watched] = field(default_factory=dict)
    happened: list[Happening] = field(default_factory=list)

    def due(self, build_id: int, now: datetime, rules: Rules | None = None) -> Due:
        shore = self.shores[build_id]
        return self._with_begun(shore, due(shore.stood_at, shore.looks, self.happened, now, rules), now, rules)

    def _with_begun(self, shore: Watched, signed: Due, now: datetime, rules: Rules | None) -> Due:
        """What is due by the signed looks alone, or at once by what one that nobody signed found."""
        if shore.begun is None:
            return signed
        with_begun = due(shore.stood_at, shore.every, self.happened, now, rules)
        if with_begun.reason not in ("over", "loose"):
            return signed
        return min(signed, with_begun, key=lambda one: one.at)

    def after_care(self, build_id: int, now: datetime, rules: Rules | None = None) -> dict[str, Any]:
        shore = self.shores[build_id]
        care = after_care(shore.stood_at, shore.looks, self.happened, now, rules)
        if shore.begun is None:
            return {**care, "not_signed": False}
        return {
            **care,
            "tight": False if shore.begun.tight is False else care["tight"],
            "not_signed": True,
            "due": self._with_begun(shore, Due.model_validate(care["due"]), now, rules).model_dump(mode="json"),
            "movements": [one.model_dump(mode="json") for one in movements(shore.every, rules)],
        }

    def after(self, record: Record) -> None:
        """Fold one more line in; most say nothing of a shore. A line without a time (a conversation that keeps no
        journal) counts for nothing."""
        if record.event not in CARE or record.time is None:
            return
        at, what = datetime.fromisoformat(record.time), record.what
        if record.event == "placed" and record.build_id is not None and record.build_id not in self.shores:
            self.shores[record.build_id] = Watched(record.number or record.build_id, at)
        elif isinstance(what, LookNoted) and record.build_id in self.shores:
            self.shores[record.build_id].begun = Inspection.model_validate({**what.look, "at": at})
        elif isinstance(what, WasInspected) and record.build_id in self.shores:
            self.shores[record.build_id].looks.append(Inspection.model_validate({**what.look, "at": at}))
            self.shores[record.build_id].begun = None
        elif isinstance(what, LookCalled):
            self.happened.append(Happening.model_validate({"at": at, "reason": what.reason, "speed": what.speed}))


def watch(records: Iterable[Record]) -> Watch:
    """A fold over the journal."""
    found = Watch()
    for record in records:
        found.after(record)
    return found
