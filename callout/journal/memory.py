"""The journal's face without a disk, and the journal that goes on when the disk does not."""

from __future__ import annotations

import contextlib
import itertools
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Protocol

from callout.dialogue.records import Record
from callout.errors import CalloutError
from callout.journal.store import Clock, Journal, local_time

#: How long after a failed write the disk is tried again, in seconds.
RETRY = 5.0


#: Ends every report of a journal that is not written any more.
GOING_ON = "Going on in memory only: what is said now is lost if the program stops"


class JournalTrouble(str):
    """One line for the eye. `aloud` names the sentence of the dialogue (under trouble) that people must also hear."""

    aloud: str

    def __new__(cls, text: str, aloud: str) -> JournalTrouble:
        made = super().__new__(cls, text)
        made.aloud = aloud
        return made


Report = Callable[[str], object]


class Store(Protocol):
    """What the conversation needs of a journal. Where it is not `writable`, another callout has it: nothing may be
    released here, or two would promise one stock.
    """

    @property
    def writable(self) -> bool: ...

    def somebody_writes(self) -> bool | None: ...

    def append(self, record: Record) -> Record: ...

    def records(self, since: int = 0) -> Iterator[Record]: ...

    def close(self) -> None: ...


def _stamped(record: Record, seq: int, clock: Clock) -> Record:
    time_given = record.time or clock().isoformat(timespec="milliseconds")
    return record.model_copy(update={"seq": seq, "time": time_given})


class MemoryJournal:
    """Lines in memory: for typed conversations without a file, and for the day on which the disk fails."""

    writable = True

    def __init__(self, records: Iterable[Record] = (), clock: Clock = local_time) -> None:
        self._records = list(records)
        self._clock = clock

    @property
    def last_seq(self) -> int:
        return (self._records[-1].seq or 0) if self._records else 0

    def somebody_writes(self) -> bool | None:
        return True

    def append(self, record: Record) -> Record:
        written = _stamped(record, self.last_seq + 1, self._clock)
        self._records.append(written)
        return written

    def records(self, since: int = 0) -> Iterator[Record]:
        return iter([record for record in self._records if (record.seq or 0) > since])

    def close(self) -> None:
        """Nothing to close; the lines go with the object."""


class EnduringJournal:
    """A journal that never stops the work: what the disk refuses is kept in memory and written as soon as it can be.

    Each change between the two is told to `report` in one line. Numbers and times are the same either way, because
    nobody else can write to the file meanwhile.
    """

    writable = True

    def __init__(
        self, journal: Journal, report: Report, clock: Clock = local_time,
        kept: Sequence[Record] | None = None,
    ) -> None:  # fmt: skip
        """`kept`: the records that are in it, where they were just read; they are given back once."""
        self._journal = journal
        self._kept = kept
        self._clock = clock
        self._report = report
        self._waiting: list[Record] = []
        self._try_after = 0.0

    @property
    def waiting(self) -> int:
        """How many lines are not on the disk yet."""
        return len(self._waiting)

    def somebody_writes(self) -> bool | None:
        return True

    def append(self, record: Record) -> Record:
        self._kept = None
        if self._waiting and time.monotonic() >= self._try_after:
            self._flush()
        if not self._waiting:
            try:
                return self._journal.append(record)
            except CalloutError as failed:
                self._try_after = time.monotonic() + RETRY
                self._report(JournalTrouble(f"{failed}. {GOING_ON}", "not_kept"))
        kept = _stamped(record, self._journal.head + len(self._waiting) + 1, self._clock)
        self._waiting.append(kept)
        return kept

    def fact(self, key: str) -> str | None:
        with contextlib.suppress(CalloutError):
            return self._journal.fact(key)
        return None

    def keep_fact(self, key: str, value: str) -> None:
        """Kept where the disk allows it; else it is asked again at the next start."""
        with contextlib.suppress(CalloutError):
            self._journal.keep_fact(key, value)

    def _flush(self) -> None:
        while self._waiting:
            try:
                self._journal.append(self._waiting[0])
            except CalloutError:
                self._try_after = time.monotonic() + RETRY
                return
            del self._waiting[0]
        self._report(JournalTrouble(f"{self._journal.path} is being written again, nothing is missing", "kept_again"))

    def records(self, since: int = 0) -> Iterator[Record]:
        if since == 0 and self._kept is not None:
            found, self._kept = self._kept, None
            return iter(found)
        held = (record for record in self._waiting if (record.seq or 0) > since)
        return itertools.chain(self._journal.records(since), held)

    def close(self) -> None:
        if self._waiting:
            self._flush()
        if self._waiting:
            self._report(f"lines never written to {self._journal.path}: {len(self._waiting)}")
        self._journal.close()


def open_journal(path: Path | None, report: Report, clock: Clock = local_time) -> Store:
    """The journal for a conversation, whatever the disk does.

    None: in memory. A file that the disk, its folder or another program refuses, or that is damaged: in memory too,
    with the lines that can still be read, and one line to `report`: nobody else works from it, and the work goes on.
    A file that another callout is writing: to read only, because that one works from it. Raises `BadInput` for a file
    that is something else (a folder, another program's database), because then the wrong name was given, and
    `CalloutError` for a damaged one that another callout is writing.
    """
    if path is None:
        return MemoryJournal(clock=clock)
    try:
        journal = Journal.open(path, clock=clock)
    except CalloutError as failed:
        if failed.exit_code == 2:
            raise
        report(JournalTrouble(f"{failed}. {GOING_ON}", "not_kept"))
        return MemoryJournal(_readable(path), clock)
    kept, verdict = journal.sound()
    if not journal.writable:
        if not verdict.ok:
            journal.close()
            raise CalloutError(f"{journal.notice}, and {verdict.problem}; end that callout and start a new journal")
        report(f"{journal.notice}. To take over, end that callout and start this one again")
        return journal
    if verdict.ok:
        return EnduringJournal(journal, report, clock, kept)
    why = f"{path}: {verdict.problem}; keep the file and name a new one"
    report(JournalTrouble(f"{why}. {GOING_ON}", "broken_journal"))
    journal.close()
    return MemoryJournal(kept, clock)


def _readable(path: Path) -> list[Record]:
    try:
        with Journal.open(path, writer=False) as journal:
            return journal.sound()[0]
    except CalloutError:
        return []
