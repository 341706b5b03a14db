"""One writer at a time: locks of the system, which drops them when their holder dies.

Two files are locked: one beside the journal, which every system can lock and which names the holder, and on Linux the
journal itself: whoever deletes the file beside it takes the name away, not the lock.
"""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

from callout.files import private


class WriterLock:
    """Held while open. The file stays behind, empty or with the last holder's process number; that is harmless.
    `also`: a file that is locked with it, and made where it is not there yet.
    """

    def __init__(self, path: Path, also: Path | None = None) -> None:
        self.path = path
        self._also = also
        self._files: list[int] = []

    def take(self) -> bool:
        """False when another process holds it. Raises OSError when the folder cannot be written, or its file system
        knows no locks.
        """
        try:
            file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
        except PermissionError:
            if self.held():  # another user's callout: to go on beside it would promise its stock twice
                return False
            raise
        if not _locked(file):
            return False
        if self._also is not None and not self._take_also(self._also):
            os.close(file)
            return False
        self._files.append(file)
        with contextlib.suppress(OSError):  # a full disk: the lock holds all the same, the number is for a message
            os.ftruncate(file, 0)
            os.write(file, str(os.getpid()).encode())
        return True

    def _take_also(self, path: Path) -> bool:
        """On Linux a lock of this kind and SQLite's own locks on the same file do not meet. Elsewhere they may, and the
        file beside the journal has to do.
        """
        try:
            file = os.open(path, os.O_RDWR) if path.exists() else private(str(path), os.O_RDWR | os.O_CREAT)
        except OSError:
            return True  # the database will say what is wrong with it
        if not sys.platform.startswith("linux"):
            os.close(file)
            return True
        try:
            taken = _locked(file)
        except OSError:  # this file system cannot
            return True
        if taken:
            self._files.append(file)  # open as long as the database is: to close it would drop the database's locks
        return taken

    def held(self) -> bool | None:
        """Whether anybody holds it now; None where that cannot be told. It is only looked at: several may look at once,
        and whoever takes it at that very moment finds it free a moment later.
        """
        try:
            file = os.open(self.path, os.O_RDONLY)
        except FileNotFoundError:
            return False
        except OSError:
            return None
        try:
            free = _locked(file, shared=True)
        except OSError:
            return None
        if free:
            os.close(file)
        return not free

    def holder(self) -> str:
        """The process number of whoever holds it, for a message; empty when unknown."""
        try:
            return self.path.read_text().strip()
        except (OSError, UnicodeDecodeError):
            return ""

    def drop(self) -> None:
        while self._files:
            os.close(self._files.pop())


def _locked(file: int, *, shared: bool = False) -> bool:
    """Lock an open file; closed again, and False, where another holds it. Raises OSError where it cannot be locked."""
    import portalocker

    kind = portalocker.LockFlags.SHARED if shared else portalocker.LockFlags.EXCLUSIVE
    try:
        portalocker.lock(file, kind | portalocker.LockFlags.NON_BLOCKING)
    except portalocker.AlreadyLocked:
        os.close(file)
        return False
    except portalocker.LockException as failed:
        os.close(file)
        cause = failed.__cause__ or failed
        raise cause if isinstance(cause, OSError) else OSError(f"no lock can be held: {failed}") from failed
    return True
