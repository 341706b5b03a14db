"""The desk of a second callout on one journal: it shows what the first writes, answers questions, changes nothing.

Two that released builds from one stock would promise the same pieces twice. Nothing is spoken here either: nothing may
be spoken that is not in the journal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from callout.console.record_lines import parts_of
from callout.dialogue.acts import is_content
from callout.dialogue.events import Fault, Input, Key, Uttered
from callout.dialogue.evolve import evolve
from callout.dialogue.machine import step
from callout.dialogue.records import ROLES, Record
from callout.dialogue.state import Conversation, context
from callout.errors import CalloutError
from callout.journal.memory import Store
from callout.journal.store import local_time
from callout.language.commands import commands_that
from callout.language.outcome import Resolution, Understood
from callout.session.desk import Desk, Mouths
from callout.values import Command, meaning_json

REFUSAL = "another callout has this journal; this one only reads"
#: Commands that ask, and change nothing whatever the answer is.
QUESTIONS = commands_that("question")
ASK = "nothing is spoken here. Ask: status; parts list; how many left; how many braces; where; repeat the build"
_ANSWERS = frozenset({"heard", "said", "refused"})


class ReadingDesk(Desk):
    """A desk whose conversation is the fold over what another process writes. Its own answers have no `seq`."""

    writes = False

    def __init__(
        self, conversation: Conversation, store: Store, show: Callable[[Record], None], note: Callable[[str], None]
    ) -> None:
        super().__init__(conversation, store, Mouths(), show, note)
        self._seen = 0
        self._broken = ""

    def begin(self) -> None:
        """Take in what is written so far, without showing every line again, and say where the other one is."""
        self._follow(shown=False)
        self._note(ASK)
        for build in self.conversation.open.values():
            self._note(f"build {build.number}: {build.plan['title']}")
            for line in parts_of(dict(build.plan)):
                self._note(line)

    def feed(self, event: Input, audio: str | None = None) -> list[Record]:
        """Show what was written meanwhile; answer a question, and refuse whatever would change anything."""
        with self._lock:
            self._follow()
            if isinstance(event, Fault):
                self._note(event.text)
                return []
            if isinstance(event, Uttered):
                return self._shown(self._heard(event))
            return self._shown([_own(Record(event="refused", text=REFUSAL))] if isinstance(event, Key) else [])

    def _heard(self, event: Uttered) -> list[Record]:
        result = event.resolution
        if _asks(result):
            if self.conversation.halted:
                self._note(f"silent since: {self.conversation.halted.replace('_', ' ')}")
            _, effects = step(replace(self.conversation, halted=""), event)
            return [_own(e) for e in effects if isinstance(e, Record) and e.event in _ANSWERS]
        if not (event.certain or isinstance(result, Understood) or is_content(result)):
            return []  # noise and chatter
        meaning = meaning_json(result.meaning)
        heard = Record(event="heard", speaker=event.name or event.role, text=event.text, meaning=meaning)
        return [_own(heard), _own(Record(event="refused", text=REFUSAL))]

    def _shown(self, records: list[Record]) -> list[Record]:
        for record in records:
            self._show(record)
        return records

    def _follow(self, shown: bool = True) -> None:
        try:
            for record in self._store.records(self._seen):
                self.conversation = evolve(self.conversation, record)
                if self._followed is not None and (record.seq or 0) > self._followed.seq:
                    self._followed = self._followed.after(record)
                self._seen = record.seq or self._seen
                if shown:
                    self._show(record)
            self._broken = ""
        except CalloutError as failed:
            if str(failed) != self._broken:
                self._note(f"{failed}; what is shown here may be old")
            self._broken = str(failed)
        self.contexts = {role: context(self.conversation, role) for role in ROLES}


def _asks(result: Resolution) -> bool:
    return (
        isinstance(result, Understood)
        and isinstance(result.meaning, Command)
        and result.meaning.command in QUESTIONS
    )


def _own(record: Record) -> Record:
    """A line of this process: shown with its time, and without a number, because it is in no journal."""
    speaker = record.speaker or "callout"
    return record.model_copy(update={"speaker": speaker, "time": local_time().isoformat(timespec="milliseconds")})
