"""One writer at a time: a lock on a file beside the journal, which the system drops when its holder dies."""

from __future__ import annotations

import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class WriterLock:
    """Held while open. The file stays behind, empty or with the last holder's process number; that is harmless."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: int | None = None

    def take(self) -> bool:
        """False when another process holds it. Raises OSError when the folder cannot be written."""
        file = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            if sys.platform == "win32":
                os.lseek(file, 2**30, os.SEEK_SET)
                msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(file)
            return False
        os.ftruncate(file, 0)
        os.write(file, str(os.getpid()).encode())
        self._file = file
        return True

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
