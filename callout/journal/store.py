"""The journal on disk: an append-only SQLite file with one writer, each line on the disk before `append` returns."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path

from callout.dialogue.events import Record
from callout.errors import BadInput, CalloutError
from callout.journal.chain import START, Line, Verdict, canonical, chained, link
from callout.journal.connect import connect_beside_writer, connect_reader, connect_writer, explain
from callout.journal.foreign import as_here
from callout.journal.lock import WriterLock
from callout.whole_file import private_folder

#: A clock that goes back by less than this (seconds) is being trimmed; more is written into the line as a note.
TRIM = 1.0
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
        if not writer:
            return cls(path, connect_reader(path), None, "", clock)
        lock = WriterLock(path.with_name(path.name + ".lock"))
        try:
            private_folder(path.parent)
            taken = lock.take()
        except OSError as failed:
            raise CalloutError(
                f"cannot write a journal in {path.parent} ({failed.strerror}); name a file in another folder"
            ) from failed
        if not taken:
            holder = lock.holder()
            who = f"process {holder}" if holder else "another process"
            notice = f"{path} is being written by {who}; opened to read only"
            return cls(path, connect_beside_writer(path), None, notice, clock)
        try:
            return cls(path, connect_writer(path), lock, "", clock)
        except BaseException:
            lock.drop()
            raise

    @property
    def writable(self) -> bool:
        return self._writer_lock is not None

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
            self._write([chained(self._head_hash, Line(seq, self.origin, seq, None, None, note, body))])
            return written

    def add_lines(self, lines: Iterable[Line]) -> None:
        """Take over another journal's lines, all or none. They carry their origin; `seq` and `hash` are made here."""
        with self._lock, self._told():
            self._must_write()
            linked: list[Line] = []
            for line in lines:
                before = linked[-1].hash if linked else self._head_hash
                linked.append(chained(before, line._replace(seq=self._head_seq + len(linked) + 1)))
            self._write(linked)

    def _must_write(self) -> None:
        if not self.writable:
            raise CalloutError(self.notice or f"{self.path} is open to read only")

    def _write(self, lines: list[Line]) -> None:
        if not lines:
            return
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            self._connection.executemany(
                f"INSERT INTO line ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                lines,
            )
            self._connection.executemany(
                "UPDATE fact SET value = ? WHERE key = ?",
                [(str(lines[-1].seq), "head_seq"), (lines[-1].hash, "head_hash")],
            )
            self._connection.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise
        self._head_seq, self._head_hash = lines[-1].seq, lines[-1].hash

    def _stamp(self, given: str | None) -> tuple[str, str]:
        """-> the time of the next line, and a note when the clock was set back since the last one."""
        now = self._clock() if given is None else datetime.fromisoformat(given)
        last, self._last_time = self._last_time, now
        note = ""
        if last is not None and (last - now).total_seconds() >= TRIM:
            note = f"clock set back by {(last - now).total_seconds():.0f} s"
        return given or now.isoformat(timespec="milliseconds"), note

    def lines(self, since: int = 0) -> Iterator[Line]:
        """The lines after number `since`, as they lie in the file."""
        with self._told():
            cursor = self._connection.execute(f"SELECT {_COLUMNS} FROM line WHERE seq > ? ORDER BY seq", (since,))
            for row in cursor:
                yield Line(*row)

    def records(self, since: int = 0) -> Iterator[Record]:
        """The records after number `since`. Of a merged line only what counts for the stock is kept in `data`, and
        its build has the number it was given here (see `callout.journal.foreign`).
        """
        with self._told():
            cursor = self._connection.execute(
                "SELECT seq, body, origin_hash FROM line WHERE seq > ? ORDER BY seq", (since,)
            )
            read = Record.model_validate_json
            for seq, body, origin_hash in cursor:
                yield read(body) if origin_hash is None else as_here(next(self.lines(seq - 1)), self.builds_of)

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

    def verify(self) -> Verdict:
        """Check every line, the chain between them, and that none is missing at the end. Never raises."""
        with self._lock:
            try:
                self._connection.execute("BEGIN")  # one view of the file, whatever a writer adds meanwhile
                return self._verdict()
            except sqlite3.Error as failed:
                return Verdict(0, f"the file cannot be read ({failed})")
            finally:
                with contextlib.suppress(sqlite3.Error):
                    self._connection.execute("COMMIT")

    def _verdict(self) -> Verdict:
        count, before = 0, START
        try:
            for line in self.lines():
                if line.seq != count + 1:
                    return Verdict(count, f"line {count + 1} is missing")
                if link(before, line) != line.hash:
                    return Verdict(count, f"line {line.seq} was changed, or a line before it removed")
                count, before = line.seq, line.hash
            facts = dict(self._connection.execute("SELECT key, value FROM fact"))
            damage = self._connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        except (CalloutError, sqlite3.Error) as failed:
            return Verdict(count, f"the file cannot be read after line {count} ({failed.__cause__ or failed})")
        if (facts.get("head_seq"), facts.get("head_hash")) != (str(count), before):
            return Verdict(count, f"what came after line {count} is missing, or the end of the chain was changed")
        return Verdict(count, "" if damage == "ok" else "the file is damaged: " + " ".join(str(damage).split()))

    def close(self) -> None:
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
        except (sqlite3.Error, KeyError) as failed:
            raise explain(failed, self.path) from failed
