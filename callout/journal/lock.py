"""One writer at a time: a lock on a file beside the journal, which the system drops when its holder dies."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

#: What the system answers when another holds the lock; anything else means that it cannot be asked.
_HELD = frozenset({errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK})


class WriterLock:
    """Held while open. The file stays behind, empty or with the last holder's process number; that is harmless."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: int | None = None

    def take(self) -> bool:
        """False when another process holds it. Raises OSError when the folder cannot be written, or its file system
        knows no locks.
        """
        try:
            file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
        except PermissionError:
            if self._held_by_another():  # another user's callout: to go on beside it would promise its stock twice
                return False
            raise
        try:
            _lock(file)
        except OSError as failed:
            os.close(file)
            if failed.errno in _HELD:
                return False
            raise
        self._file = file
        with contextlib.suppress(OSError):  # a full disk: the lock holds all the same, the number is for a message
            os.ftruncate(file, 0)
            os.write(file, str(os.getpid()).encode())
        return True

    def _held_by_another(self) -> bool:
        """Whether a lock that may only be looked at is held."""
        try:
            file = os.open(self.path, os.O_RDONLY)
        except OSError:
            return False
        try:
            _lock(file)
        except OSError as failed:
            return failed.errno in _HELD
        finally:
            os.close(file)
        return False

    def holder(self) -> str:
        """The process number of whoever holds it, for a message; empty when unknown."""
        try:
            return self.path.read_text().strip()
        except (OSError, UnicodeDecodeError):
            return ""

    def drop(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None


def _lock(file: int) -> None:
    """Lock an open file or raise OSError at once."""
    if sys.platform == "win32":
        os.lseek(file, 2**30, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
