"""Reminding the yard of shores that stand: one sentence when a look is due, and again until somebody has looked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from callout.dialogue.events import LookDue
from callout.dialogue.records import Record
from callout.dialogue.state import Conversation
from callout.dialogue.watch import Watch, watch
from callout.journal.memory import Store
from callout.journal.store import local_time

EVERY = 20.0  # seconds between two looks at the clock
AGAIN = 900.0  # seconds until a shore that nobody looked at is named again


class Reminders:
    """Reads the journal when it is first asked, then every line that is added. `clock` is the journal's."""

    def __init__(self, store: Store, clock: Callable[[], datetime] = local_time) -> None:
        self._store, self._clock = store, clock
        self._watch: Watch | None = None
        self._looked = -EVERY
        self._told: dict[int, tuple[str, float]] = {}  # build -> what it was named for, and when

    def after(self, record: Record) -> None:
        if self._watch is not None:
            self._watch.after(record)

    def due(self, now: Conversation, time: float) -> list[LookDue]:
        """The shores to be named now. `time` is the conversation's clock, in seconds."""
        if time - self._looked < EVERY or not now.standing:
            return []
        self._looked = time
        if self._watch is None:
            self._watch = watch(self._store.records())
        found = []
        for build_id, build in now.standing.items():
            if build_id not in self._watch.shores:
                continue
            look = self._watch.due(build_id, self._clock())
            if look.minutes > 0:
                self._told.pop(build_id, None)
                continue
            what, told = look.at.isoformat(), self._told.get(build_id)
            if told is None or told[0] != what or time - told[1] >= AGAIN:
                self._told[build_id] = (what, time)
                found.append(LookDue(build.number, look.why, time))
        return found
