"""How the file is laid out, and how a file of an older layout is brought forward.

A released layout never changes. A new one gets the next number, a step in `STEPS` from the one before, and the last
file of the old one under `tests/data/`.
"""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path

from callout.errors import BadInput
from callout.journal.lines import START

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
