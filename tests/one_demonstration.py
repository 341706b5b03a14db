"""One `callout demo`, started as people start it, that several tests look at: it takes eight seconds of a processor. In
its folder lies what an earlier demonstration left, and something of its user's."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from callout.journal.lock import WriterLock
from callout.session.demonstration import make_room

#: What lies there of an earlier demonstration, to be cleared away; and of the user's own, to be left.
EARLIER = ("voice/0001-old.wav", "demo.journal", "demo.journal-wal")
THEIRS = ("0001-yard.wav", "voice/mine.wav")


@dataclass(frozen=True)
class Demonstration:
    """What it printed, how it ended, and where it wrote. Who changes something in the folder takes a copy."""

    folder: str
    returncode: int
    stdout: str
    stderr: str


def demonstrated(place: Path) -> Demonstration:
    """The demonstration in `place`, made by whichever process asks first; the others wait for it."""
    place.mkdir(parents=True, exist_ok=True)
    told = place / "told.json"
    lock = WriterLock(place / "first.lock")
    while not lock.take():
        time.sleep(0.1)
    try:
        if not told.exists():
            told.write_text(json.dumps(asdict(_made(place))))
        return Demonstration(**json.loads(told.read_text()))
    finally:
        lock.drop()


def _made(place: Path) -> Demonstration:
    folder = place / "demo-output"
    folder.mkdir()
    make_room(folder)
    for name in (*EARLIER, *THEIRS):
        (folder / name).write_text("mine" if name in THEIRS else "from a run before")
    done = subprocess.run(
        [sys.executable, "-m", "callout", "demo", "--folder", str(folder)], capture_output=True, text=True, timeout=280
    )
    return Demonstration(str(folder), done.returncode, done.stdout, done.stderr)
