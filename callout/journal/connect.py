"""Connections to the file, and plain words for what the database reports."""

from __future__ import annotations

import contextlib
import sqlite3
import time
from pathlib import Path

from callout.errors import BadInput, CalloutError
from callout.journal.layout import bring_forward, version_of

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
