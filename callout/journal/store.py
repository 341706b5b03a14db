"""The journal on disk: an append-only SQLite file with one writer, each line on the disk before `append` returns."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path

import platformdirs
from pydantic_core import from_json

from callout.dialogue.records import Record
from callout.errors import BadInput, CalloutError
from callout.files import private_folder
from callout.journal.chain import START, ChainVerdict, JournalLine, as_here, canonical, chained, link
from callout.journal.database import (
    Rest,
    connect_beside_writer,
    connect_reader,
    connect_writer,
    explain,
    fold_in,
    pausing_collection,
)
from callout.journal.lock import WriterLock

#: A clock that goes back by less than this (seconds) is being trimmed; more is written into the line as a note.
TRIM = 1.0
#: Seconds after which a look at the writer's lock is over.
LOOKED_AT = 0.05
_COLUMNS = "seq, origin, origin_seq, origin_hash, build_id, note, body, hash"

Clock = Callable[[], datetime]


def local_time() -> datetime:
    return datetime.now().astimezone()


class Journal:
    """Open one with `Journal.open`. Safe to use from several threads; closes itself as a context manager.

    `writable` is False for a reader; `notice` is then the line that says why (empty when only reading was asked for).
    `origin` is the journal's own name, 32 hexadecimal digits.
    """

    def __init__(
        self, path: Path, connection: sqlite3.Connection, lock: WriterLock | None, notice: str, clock: Clock
    ) -> None:
        self.path = path
        self.notice = notice
        self._connection = connection
        self._writer_lock = lock
        self._clock = clock
        self._lock = threading.RLock()
        self._last_time: datetime | None = None
        self._rest = Rest(self._fold)
        with self._told():
            facts = dict(connection.execute("SELECT key, value FROM fact"))
            self.origin: str = facts["origin"]
            self._head_seq, self._head_hash = int(facts["head_seq"]), facts["head_hash"]
            last = self.last_record()
            if last is not None and last.time is not None:
                self._last_time = datetime.fromisoformat(last.time)

    @classmethod
    def open(cls, path: Path | str, writer: bool = True, clock: Clock = local_time) -> Journal:
        """Open or make the journal at `path`.

        With `writer` and another process writing already, the journal is opened to read only and `notice` says so; a
        file that the other has only begun to make is waited for.
        Raises `BadInput` for a file that is not a journal (or not there, for a reader), `CalloutError` when the disk,
        the folder or another program is in the way; nothing is changed then.
        """
        path = Path(path)
        if path.is_dir():
            raise BadInput(f"{path} is a folder, not a journal; name a file in it")
        if path.exists() and not path.is_file():
            raise BadInput(f"{path} is not a file that a journal can be in; name another")
        lock = WriterLock(path.with_name(path.name + ".lock"), also=path)
        if not writer:
            _fold_in(path, lock)
            return cls(path, connect_reader(path), None, "", clock)
        try:
            private_folder(path.parent)
            taken = _taken(lock)
        except OSError as failed:
            raise CalloutError(
                f"cannot write a journal in {path.parent} ({failed.strerror}); name a file in another folder"
            ) from failed
        if not taken:
            holder = lock.holder()
            who = f"process {holder}" if holder else "another process"
            notice = f"{path} is being written by {who}; opened to read only"
            try:
                return cls(path, connect_beside_writer(path), None, notice, clock)
            except CalloutError as failed:
                if os.access(path, os.R_OK):
                    raise
                raise BadInput(
                    f"{path} is being written by {who}, and is private to another user; name another file"
                ) from failed
        try:
            return cls(path, connect_writer(path), lock, "", clock)
        except BaseException:
            lock.drop()
            raise

    @property
    def writable(self) -> bool:
        return self._writer_lock is not None

    def somebody_writes(self) -> bool | None:
        """Whether this process or another has the journal open to write; None where that cannot be told."""
        return self.writable or WriterLock(self.path.with_name(self.path.name + ".lock")).held()

    @property
    def head(self) -> int:
        """The number of the last line that this process wrote or found."""
        return self._head_seq

    @property
    def last_seq(self) -> int:
        """The number of the last line, 0 when there is none. Readers see what the writer has added meanwhile."""
        with self._lock, self._told():
            row = self._connection.execute("SELECT max(seq) FROM line").fetchone()
            return int(row[0] or 0)

    def fact(self, key: str) -> str | None:
        """Something that is kept of the journal as a whole, beside its lines."""
        with self._lock, self._told():
            row = self._connection.execute("SELECT value FROM fact WHERE key = ?", (f"kept_{key}",)).fetchone()
            return None if row is None else str(row[0])

    def keep_fact(self, key: str, value: str) -> None:
        with self._lock, self._told():
            self._must_write()
            self._connection.execute("INSERT OR REPLACE INTO fact VALUES (?, ?)", (f"kept_{key}", value))

    def append(self, record: Record) -> Record:
        """Write one line; it is on the disk when this returns. -> the record with `seq`, and `time` unless it had one.

        Raises `CalloutError` with nothing written when the disk is full, the file locked or broken.
        """
        with self._lock, self._told():
            self._must_write()
            seq = self._head_seq + 1
            time, note = self._stamp(record.time)
            written = record.model_copy(update={"seq": seq, "time": time})
            body = canonical(written.model_dump(mode="json"))
            self._write([chained(self._head_hash, JournalLine(seq, self.origin, seq, None, None, note, body))])
            return written

    def add_lines(self, lines: Iterable[JournalLine]) -> None:
        """Take over another journal's lines, all or none. They carry their origin; `seq` and `hash` are made here."""
        with self._lock, self._told():
            self._must_write()
            linked: list[JournalLine] = []
            for line in lines:
                before = linked[-1].hash if linked else self._head_hash
                linked.append(chained(before, line._replace(seq=self._head_seq + len(linked) + 1)))
            self._write(linked)

    def _must_write(self) -> None:
        if not self.writable:
            raise CalloutError(self.notice or f"{self.path} is open to read only")

    def _write(self, lines: list[JournalLine]) -> None:
        if not lines:
            return
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            moved = self._connection.execute(
                "UPDATE fact SET value = ? WHERE key = 'head_hash' AND value = ?", (lines[-1].hash, self._head_hash)
            ).rowcount
            if moved != 1:  # whatever became of the locks: two writers must never tell two stories
                raise CalloutError(f"{self.path} was written by another program meanwhile; end this callout")
            self._connection.executemany(
                f"INSERT INTO line ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                lines,
            )
            self._connection.execute("UPDATE fact SET value = ? WHERE key = 'head_seq'", (str(lines[-1].seq),))
            self._connection.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise
        self._head_seq, self._head_hash = lines[-1].seq, lines[-1].hash
        self._rest.wake()

    def _fold(self) -> None:
        """Nobody writes just now: bring all lines into the one file, so that a copy of it is whole."""
        with self._lock, contextlib.suppress(sqlite3.Error):
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def _stamp(self, given: str | None) -> tuple[str, str]:
        """-> the time of the next line, and a note when the clock was set back since the last one."""
        now = self._clock() if given is None else datetime.fromisoformat(given)
        last, self._last_time = self._last_time, now
        note = ""
        if last is not None and (last - now).total_seconds() >= TRIM:
            note = f"clock set back by {(last - now).total_seconds():.0f} s"
        return given or now.isoformat(timespec="milliseconds"), note

    def lines(self, since: int = 0) -> Iterator[JournalLine]:
        """The lines after number `since`, as they lie in the file."""
        with self._told():
            cursor = self._connection.execute(f"SELECT {_COLUMNS} FROM line WHERE seq > ? ORDER BY seq", (since,))
            yield from map(JournalLine._make, cursor)

    def records(self, since: int = 0) -> Iterator[Record]:
        """The records after number `since`. Of a merged line only what counts for the stock is kept in `data`, and
        its build has the number it was given here (see `callout.journal.chain`).
        """
        with self._told():
            cursor = self._connection.execute(
                "SELECT seq, body, origin_hash FROM line WHERE seq > ? ORDER BY seq", (since,)
            )
            for seq, body, origin_hash in cursor:
                if origin_hash is None:
                    yield _record(seq, body)
                else:
                    yield as_here(next(self.lines(seq - 1)), self.builds_of)

    def sound(self) -> tuple[list[Record], ChainVerdict]:
        """The records that the chain vouches for, from the first on, and what became of the rest: both in one pass over
        the file, which is how a long journal is opened. Never raises.
        """
        found: list[Record] = []
        with pausing_collection():
            verdict = self.verify(lambda line: found.append(self._read(line)))
        return found[: verdict.lines], verdict

    def told(self, since: int = 0, before: str | None = None) -> Iterator[tuple[JournalLine, Record | None, str]]:
        """Every line after number `since` as far as it can be read (else None), with what is wrong with it ("" where
        the chain vouches for it). `before`: the hash of line `since`.
        """
        number, link_to = since, START if since == 0 else before
        for line in self.lines(since):
            wrong = ""
            try:
                if line.seq != number + 1:
                    wrong = f"lines {number + 1} to {line.seq - 1} are missing before it"
                elif link_to is not None and link(link_to, line) != line.hash:
                    wrong = "it was changed, or a line before it removed"
                record: Record | None = self._read(line)
                _ = record and record.what  # what it says happened must be readable, too
            except (ValueError, TypeError, KeyError, AttributeError):
                record, wrong = None, "it cannot be read"
            yield line, record, wrong
            number, link_to = (line.seq if isinstance(line.seq, int) else number + 1), line.hash

    def _read(self, line: JournalLine) -> Record:
        return as_here(line, self.builds_of) if line.foreign else _record(line.seq, line.body)

    def builds_of(self, origin: str) -> dict[int, int]:
        """Build numbers of another journal -> the numbers that its builds were given here."""
        found: dict[int, int] = {}
        with self._told():
            rows = self._connection.execute(
                "SELECT body, build_id FROM line WHERE origin = ? AND build_id IS NOT NULL", (origin,)
            )
            for body, build_id in rows:
                found[json.loads(body)["build_id"]] = build_id
        return found

    def last_record(self) -> Record | None:
        last = self.last_seq
        return next(self.records(last - 1), None) if last else None

    def verify(self, each: Callable[[JournalLine], object] = lambda line: None) -> ChainVerdict:
        """Check every line, the chain between them, and that none is missing at the end; `each` gets the sound ones.
        Never raises.
        """
        with self._lock:
            try:
                self._connection.execute("BEGIN")  # one view of the file, whatever a writer adds meanwhile
                return self._verdict(each)
            except sqlite3.Error as failed:
                return ChainVerdict(0, f"the file cannot be read ({failed})")
            finally:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("COMMIT")

    def _verdict(self, each: Callable[[JournalLine], object]) -> ChainVerdict:
        count, before = 0, START
        try:
            for line in self.lines():
                if line.seq != count + 1:
                    return ChainVerdict(count, f"line {count + 1} is missing")
                if link(before, line) != line.hash:
                    return ChainVerdict(count, f"line {line.seq} was changed, or a line before it removed")
                each(line)
                count, before = line.seq, line.hash
            facts = dict(self._connection.execute("SELECT key, value FROM fact"))
            damage = self._connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        except (CalloutError, sqlite3.Error, ValueError, TypeError, KeyError, AttributeError) as failed:
            return ChainVerdict(count, f"the file cannot be read after line {count} ({failed.__cause__ or failed})")
        if (facts.get("head_seq"), facts.get("head_hash")) != (str(count), before):
            return ChainVerdict(count, f"what came after line {count} is missing, or the end of the chain was changed")
        return ChainVerdict(count, "" if damage == "ok" else "the file is damaged: " + " ".join(str(damage).split()))

    def close(self) -> None:
        self._rest.end()
        with self._lock:
            with contextlib.suppress(sqlite3.Error):
                self._connection.close()
            if self._writer_lock is not None:
                self._writer_lock.drop()

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """Turns the database's errors into one line that says what to do."""
        try:
            yield
        except (sqlite3.Error, KeyError, ValueError, TypeError, AttributeError) as failed:
            raise explain(failed, self.path) from failed


def _taken(lock: WriterLock) -> bool:
    """Take the writer's lock. Whoever only looks whether it is held (`WriterLock.held`) has it for an instant, and must
    not make a conversation read-only.
    """
    if lock.take():
        return True
    time.sleep(LOOKED_AT)
    return lock.take()


def _record(seq: int, body: str) -> Record:
    """A line of this journal as a record. Raises ValueError for one that is damaged."""
    record = Record.model_validate(from_json(body))  # the same as in one step, in four fifths of its time
    if record.seq != seq:
        raise ValueError(f"line {seq} calls itself {record.seq}")
    return record


def _fold_in(path: Path, lock: WriterLock) -> None:
    """Where a writer was killed and nobody writes now, its last lines lie beside the journal: bring them in."""
    if not path.is_file() or not path.with_name(path.name + "-wal").exists():
        return
    with contextlib.suppress(OSError):
        if lock.take():
            try:
                fold_in(path)
            finally:
                lock.drop()


def default_path() -> Path:
    """$CALLOUT_JOURNAL, else callout/journal.sqlite in the user's folder for state, as the system has it."""
    named = os.environ.get("CALLOUT_JOURNAL")
    return Path(named) if named else platformdirs.user_state_path("callout", appauthor=False) / "journal.sqlite"
