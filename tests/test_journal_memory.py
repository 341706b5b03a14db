"""The journal that goes on when the disk does not: what is kept, when the disk is tried again, what is told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timezone
from pathlib import Path
from types import SimpleNamespace

import pytest

from callout.dialogue.records import Record
from callout.errors import BadInput, CalloutError
from callout.journal import memory
from callout.journal.memory import GOING_ON, RETRY, EnduringJournal, MemoryJournal, open_journal
from callout.journal.store import Journal

NOON = datetime(2030, 1, 31, 12, 0, 0, 123456, tzinfo=timezone.utc)
STAMP = "2030-01-31T12:00:00.123+00:00"


def said(text: str, **more: object) -> Record:
    return Record(event="said", text=text, **more)  # type: ignore[arg-type]


def kept_before(tmp_path: Path, text: str) -> Path:
    """A journal on the disk that holds one sentence."""
    path = tmp_path / "day.journal"
    with Journal.open(path) as first:
        first.append(said(text))
    return path


class Disk:
    """A journal on a disk that may be full."""

    path = Path("day.journal")

    def __init__(self) -> None:
        self.full, self.closed = False, False
        self.lines: list[Record] = []
        self.facts: dict[str, str] = {}
        self.tried = 0

    @property
    def head(self) -> int:
        return len(self.lines)

    def append(self, record: Record) -> Record:
        self.tried += 1
        if self.full:
            raise CalloutError("the disk is full")
        written = record.model_copy(update={"seq": self.head + 1, "time": record.time or "by the disk"})
        self.lines.append(written)
        return written

    def records(self, since: int = 0) -> Iterator[Record]:
        return iter(self.lines[since:])

    def fact(self, key: str) -> str | None:
        if self.full:
            raise CalloutError("the disk is full")
        return self.facts.get(key)

    def keep_fact(self, key: str, value: str) -> None:
        if self.full:
            raise CalloutError("the disk is full")
        self.facts[key] = value

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Seconds since the machine was started, which are few where it was just switched on."""
    now = SimpleNamespace(seconds=0.25)
    monkeypatch.setattr(memory.time, "monotonic", lambda: now.seconds)
    return now


@pytest.fixture
def told() -> list[str]:
    return []


def enduring(disk: Disk, told: list[str], kept: list[Record] | None = None) -> EnduringJournal:
    return EnduringJournal(disk, told.append, lambda: NOON, kept)  # type: ignore[arg-type]


def test_what_the_disk_refuses_is_kept_numbered_and_written_later(clock: SimpleNamespace, told: list[str]) -> None:
    disk = Disk()
    journal = enduring(disk, told)
    assert journal.append(said("one")).seq == 1
    disk.full = True
    two, three = journal.append(said("two")), journal.append(said("three", time="their own"))
    assert [(record.seq, record.time) for record in (two, three)] == [(2, STAMP), (3, "their own")]
    assert journal.waiting == 2
    assert told == [f"the disk is full. {GOING_ON}"]
    assert told[0].aloud == "not_kept"  # type: ignore[attr-defined]
    assert [record.text for record in journal.records()] == ["one", "two", "three"]
    assert [record.text for record in journal.records(1)] == ["two", "three"]
    assert [record.text for record in journal.records(2)] == ["three"]
    assert [record.text for record in journal.records(3)] == []
    disk.full = False
    clock.seconds += RETRY - 0.01
    assert journal.append(said("four")).seq == 4
    assert disk.head == 1  # too soon to try again
    clock.seconds += 0.01
    assert journal.append(said("five")).seq == 5
    assert [(record.seq, record.text) for record in disk.lines] == [
        (1, "one"), (2, "two"), (3, "three"), (4, "four"), (5, "five"),
    ]  # fmt: skip
    assert disk.lines[1].time == STAMP
    assert journal.waiting == 0
    assert told[1:] == ["day.journal is being written again, nothing is missing"]
    assert told[1].aloud == "kept_again"  # type: ignore[attr-defined]


def test_a_disk_that_stays_full_is_not_tried_at_every_line(clock: SimpleNamespace, told: list[str]) -> None:
    disk = Disk()
    disk.full = True
    journal = enduring(disk, told)
    for _ in range(3):
        journal.append(said("word"))
    assert disk.tried == 1
    for tried in (2, 3):
        clock.seconds += RETRY
        journal.append(said("word"))
        journal.append(said("word"))
        assert disk.tried == tried
    assert len(told) == 1, "it is told once"


def test_what_was_just_read_is_given_once_and_only_whole(told: list[str]) -> None:
    disk = Disk()
    disk.lines = [said("on the disk", seq=1)]
    kept = [said("just read", seq=1)]
    journal = enduring(disk, told, kept)
    assert [record.text for record in journal.records(0)] == ["just read"]
    assert [record.text for record in journal.records(0)] == ["on the disk"]
    part = enduring(disk, told, kept)
    assert list(part.records(1)) == []
    grown = enduring(disk, told, kept)
    grown.append(said("new"))
    assert [record.text for record in grown.records()] == ["on the disk", "new"]


def test_at_the_end_what_waits_is_written_or_its_number_is_told(told: list[str]) -> None:
    disk = Disk()
    disk.full = True
    journal = enduring(disk, told)
    journal.append(said("one"))
    journal.append(said("two"))
    journal.close()
    assert told[1:] == ["lines never written to day.journal: 2"]
    assert disk.closed
    disk.full = False
    again = enduring(disk, told)
    again.append(said("one"))
    again.close()
    assert told[2:] == []
    late = enduring(disk, told)
    disk.full = True
    late.append(said("two"))
    disk.full = False
    late.close()
    assert [record.text for record in disk.lines] == ["one", "two"]


def test_facts_are_kept_where_the_disk_allows_it(told: list[str]) -> None:
    disk = Disk()
    journal = enduring(disk, told)
    journal.keep_fact("stock", "yard")
    assert journal.fact("stock") == "yard"
    disk.full = True
    journal.keep_fact("stock", "other")
    assert journal.fact("stock") is None
    disk.full = False
    assert journal.fact("stock") == "yard"


def test_a_journal_in_memory_numbers_and_stamps_its_lines() -> None:
    journal = MemoryJournal([said("old", seq=None)], lambda: NOON)
    assert journal.last_seq == 0
    one, two = journal.append(said("one")), journal.append(said("two", time="their own"))
    assert [(record.seq, record.time) for record in (one, two)] == [(1, STAMP), (2, "their own")]
    assert [record.text for record in journal.records()] == ["one", "two"]  # an old line without a number is none
    assert [record.text for record in journal.records(1)] == ["two"]
    assert MemoryJournal().last_seq == 0
    assert MemoryJournal([said("old", seq=7)]).append(said("next")).seq == 8


def test_a_wrong_name_is_refused_and_a_refusing_disk_is_told(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "folder"
    folder.mkdir()
    with pytest.raises(BadInput):
        open_journal(folder, told.append)
    assert told == []

    def refused(*_: object, **__: object) -> None:
        raise CalloutError("no space for a journal")

    monkeypatch.setattr(memory.Journal, "open", refused)
    journal = open_journal(tmp_path / "day.journal", told.append, lambda: NOON)
    assert isinstance(journal, MemoryJournal)
    assert told == [f"no space for a journal. {GOING_ON}"]
    assert told[0].aloud == "not_kept"  # type: ignore[attr-defined]
    assert journal.append(said("one")).time == STAMP
    assert isinstance(open_journal(None, told.append), MemoryJournal)


def test_a_journal_on_the_disk_has_the_time_of_the_clock_that_it_was_given(tmp_path: Path, told: list[str]) -> None:
    """On the disk and while that is full: the two must not tell of two days."""
    path = tmp_path / "day.journal"
    journal = open_journal(path, told.append, lambda: NOON)
    assert journal.append(said("one")).time == STAMP
    journal.close()
    with Journal.open(path, writer=False) as kept:
        assert [record.time for record in kept.records()] == [STAMP]


def test_what_was_read_to_check_a_journal_is_not_read_a_second_time(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A long shift is read once at a start, and work waits for no second time."""
    path = kept_before(tmp_path, "one")
    journal = open_journal(path, told.append)
    with monkeypatch.context() as disk:
        disk.setattr(Journal, "records", lambda *_: pytest.fail("read again"))
        assert [record.text for record in journal.records()] == ["one"]
    assert [record.text for record in journal.records()] == ["one"]
    journal.close()


def test_a_disk_that_can_only_be_read_still_gives_what_was_kept(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The builds of the shift are known, and what is said now follows on them."""
    path = kept_before(tmp_path, "build one stands")
    opened = Journal.open

    def to_read_only(path: Path, *, writer: bool = True, **more: object) -> Journal:
        if writer is not False:
            raise CalloutError("the disk is read-only")
        return opened(path, writer=writer, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(memory.Journal, "open", to_read_only)
    journal = open_journal(path, told.append, lambda: NOON)
    assert told == [f"the disk is read-only. {GOING_ON}"]
    assert [record.text for record in journal.records()] == ["build one stands"]
    new = journal.append(said("build two is out"))
    assert (new.seq, new.time) == (2, STAMP)


def test_a_broken_journal_is_gone_on_from_with_the_same_clock(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = kept_before(tmp_path, "one")
    kept = [said("one", seq=1)]
    broken = SimpleNamespace(ok=False, problem="line 2 was changed")
    monkeypatch.setattr(memory.Journal, "sound", lambda _: (kept, broken))
    journal = open_journal(path, told.append, lambda: NOON)
    assert told == [f"{path}: line 2 was changed; keep the file and name a new one. {GOING_ON}"]
    assert told[0].aloud == "broken_journal"  # type: ignore[attr-defined]
    assert journal.append(said("two")).time == STAMP
    assert [record.text for record in journal.records()] == ["one", "two"]


def test_a_broken_journal_that_another_callout_writes_is_not_worked_from_beside_it(
    tmp_path: Path, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two would promise one stock, each from lines that nobody can trust: it is said what is wrong and what to do."""
    path = kept_before(tmp_path, "one")
    broken = SimpleNamespace(ok=False, problem="line 2 was changed")
    with Journal.open(path):
        monkeypatch.setattr(memory.Journal, "sound", lambda _: ([], broken))
        with pytest.raises(CalloutError) as refused:
            open_journal(path, told.append)
    for part in ("is being written by process", "line 2 was changed", "end that callout and start a new journal"):
        assert part in str(refused.value)
    assert told == []


def test_work_goes_on_from_ones_own_journal_and_not_from_one_that_another_callout_writes(
    tmp_path: Path, told: list[str]
) -> None:
    """Where it is not writable nothing is released, or two would promise one stock."""
    path = tmp_path / "day.journal"
    first, alone = open_journal(path, told.append), open_journal(None, told.append)
    assert (first.writable, alone.writable, told) == (True, True, [])
    second = open_journal(path, told.append)
    assert second.writable is False
    (line,) = told
    assert line.startswith(f"{path} is being written by process")
    assert line.endswith("To take over, end that callout and start this one again")
    for journal in (second, first):
        journal.close()
