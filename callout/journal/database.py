"""The SQLite file of a journal: its layout, files of older layouts brought forward, connections, and rest.

A released layout never changes. A new one gets the next number, a step in `STEPS` from the one before, and the last
file of the old one under `tests/data/`.
"""

from __future__ import annotations

import contextlib
import gc
import sqlite3
import threading
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path

from callout.errors import BadInput, CalloutError
from callout.journal.chain import START

VERSION = 2
#: Marks the file as a journal of ours for programs such as file(1): the letters "cout".
APPLICATION = 0x636F7574

_V1 = """
CREATE TABLE line (
    seq INTEGER PRIMARY KEY,
    origin TEXT NOT NULL,
    origin_seq INTEGER NOT NULL,
    origin_hash TEXT,
    build_id INTEGER,
    note TEXT NOT NULL,
    body TEXT NOT NULL,
    hash TEXT NOT NULL,
    UNIQUE (origin, origin_seq)
);
CREATE TABLE fact (key TEXT PRIMARY KEY, value TEXT NOT NULL);
"""


#: All that is in a file of ours, the indexes that SQLite makes by itself with them.
_NAMES = frozenset({"line", "fact"})


def _first(connection: sqlite3.Connection) -> None:
    for statement in _V1.split(";"):
        connection.execute(statement)
    facts = {
        "origin": uuid.uuid4().hex,
        "created": datetime.now().astimezone().isoformat(timespec="seconds"),
        "head_seq": "0",
        "head_hash": START,
    }
    connection.executemany("INSERT INTO fact VALUES (?, ?)", facts.items())
    connection.execute(f"PRAGMA application_id = {APPLICATION}")


def _more_events(connection: sqlite3.Connection) -> None:
    """The same tables. Lines of layout 2 tell of acts that a program of layout 1 does not know (a shore struck,
    or does not stand after all), and it would count wrong in silence."""


#: layout -> the step that makes it from the one before (0 is an empty file).
STEPS: Mapping[int, Callable[[sqlite3.Connection], None]] = {1: _first, 2: _more_events}


def _ours(kind: str, name: str) -> bool:
    return kind in ("table", "index") and (name in _NAMES or name.startswith("sqlite_"))


def version_of(connection: sqlite3.Connection, path: Path, newest: int = VERSION) -> int:
    """The layout of the file, 0 when it is empty. Raises `BadInput` for a database of another program."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    application: int = connection.execute("PRAGMA application_id").fetchone()[0]
    found = connection.execute("SELECT type, name FROM sqlite_master").fetchall()
    empty = not found
    if empty and version == 0:
        return 0
    if application != APPLICATION:
        raise BadInput(f"{path} is a database of another program, not a journal; name another file")
    if version > newest:
        raise BadInput(f"{path} was written by a newer callout (layout {version}); use that one to read it")
    strange = [f"{kind} {name}" for kind, name in found if not _ours(kind, name)]
    if strange:  # a trigger would run at our first line, a view would stand in for the lines
        raise BadInput(f"{path} holds a {strange[0]!r} that callout never made; it is not opened. Name another file")
    return version


def bring_forward(
    connection: sqlite3.Connection,
    path: Path,
    steps: Mapping[int, Callable[[sqlite3.Connection], None]] | None = None,
) -> int:
    """Bring the file to the newest layout, each step whole or not at all. -> the layout that it had."""
    steps = STEPS if steps is None else steps
    found = version_of(connection, path, max(steps))
    for version in range(found + 1, max(steps) + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            steps[version](connection)
            connection.execute(f"PRAGMA user_version = {version}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
    return found


#: How long a write waits for another program that holds the file, in seconds.
PATIENCE = 2.0


def explain(failed: Exception, path: Path) -> CalloutError:
    """One plain line for what the database met."""
    text = str(failed)
    if "full" in text:
        return CalloutError(f"the disk is full, nothing more is written to {path}; free some space")
    if "locked" in text or "busy" in text:
        return CalloutError(f"{path} is locked by another program; close that program")
    if "readonly" in text or "unable to open" in text:
        return CalloutError(f"{path} cannot be written or opened; check its folder's permissions or name another file")
    if "not a database" in text:
        return BadInput(f"{path} is not a journal; name another file")
    if "malformed" in text or "decode" in text or isinstance(failed, (KeyError, ValueError, TypeError, AttributeError)):
        return CalloutError(f"{path} is damaged; keep it for rescue and start a new journal under another name")
    return CalloutError(f"the journal {path} fails ({text}); name a file on another disk")


def _connect(name: str, uri: bool = False) -> sqlite3.Connection:
    connection = sqlite3.connect(name, uri=uri, timeout=PATIENCE, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def connect_writer(path: Path) -> sqlite3.Connection:
    connection = None
    try:
        connection = _connect(str(path))
        version_of(connection, path)  # before anything is changed in somebody else's file
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        bring_forward(connection, path)
        return connection
    except (sqlite3.Error, CalloutError) as failed:
        if connection is not None:
            connection.close()
        raise (failed if isinstance(failed, CalloutError) else explain(failed, path)) from failed


def fold_in(path: Path) -> None:
    """Bring lines that lie only in the file -wal (their writer was killed) into the journal itself: whoever copies the
    one file then has them all. Only for who holds the writer's lock. What fails costs nothing: they are read there.
    """
    with contextlib.suppress(sqlite3.Error, CalloutError):
        connection = _connect(str(path))
        try:
            if version_of(connection, path):
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        finally:
            connection.close()


def connect_reader(path: Path) -> sqlite3.Connection:
    if not path.is_file():
        raise BadInput(f"there is no journal at {path}; callout listen --journal {path} writes one")
    try:
        return _reader(path, "mode=ro")
    except sqlite3.Error as failed:
        if path.with_name(path.name + "-wal").exists():  # lines in it would be overlooked below
            raise explain(failed, path) from failed
    try:  # a folder that cannot be written, and nobody writing: the file will not change
        return _reader(path, "immutable=1")
    except sqlite3.Error as failed:
        raise explain(failed, path) from failed


def connect_beside_writer(path: Path) -> sqlite3.Connection:
    """A reader of a file that another process has the lock of, and may have only begun to make."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            return connect_reader(path)
        except CalloutError:
            if time.monotonic() >= until:
                raise
        time.sleep(0.05)


def _reader(path: Path, way: str) -> sqlite3.Connection:
    connection = _connect(f"{path.resolve().as_uri()}?{way}", uri=True)
    try:
        if version_of(connection, path) == 0:
            raise BadInput(f"{path} has nothing in it yet; callout listen --journal {path} writes it")
        return connection
    except BaseException:
        connection.close()
        raise


#: Seconds after the last line until it counts as quiet.
QUIET = 0.5


class Rest:
    """Calls `do`, in a thread of its own, once it has been quiet for a while after `wake`."""

    def __init__(self, do: Callable[[], None], quiet: float = QUIET) -> None:
        self._do = do
        self._quiet = quiet
        self._woken = threading.Event()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    def wake(self) -> None:
        self._woken.set()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="journal at rest", daemon=True)
            self._thread.start()

    def end(self) -> None:
        """Does not wait: what `do` must not meet any more, it has to see for itself."""
        self._ended.set()
        self._woken.set()

    def _work(self) -> None:
        while True:
            self._woken.wait()
            while self._woken.is_set() and not self._ended.is_set():
                self._woken.clear()
                self._ended.wait(self._quiet)
            if self._ended.is_set():
                return
            self._do()


@contextlib.contextmanager
def pausing_collection() -> Iterator[None]:
    """While millions of values are made that all stay, Python looks through them again and again for what could go:
    two thirds of the time that reading a long journal takes. Not looking costs nothing here.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
