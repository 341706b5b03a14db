"""Files for people: the one way to write one (it is there whole, or not at all), and to try a folder for them."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from callout.errors import BadInput

#: What people said is theirs: journals and recordings are made so that only their owner can open them.
PRIVATE_FILE = 0o600
PRIVATE_FOLDER = 0o700


def must_be_a_file(path: Path) -> None:
    """Raises BadInput for a pipe or a device. They are never opened: that could wait, or read, for ever."""
    if path.exists() and not path.is_dir() and not path.is_file():
        raise BadInput(f"{path} is a pipe or a device; name a file on the disk")


def private_folder(folder: Path) -> None:
    """Make a folder that only its owner can look into; one that is there already stays as it is. Raises OSError."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)


def private(path: str, flags: int) -> int:
    """The `opener` of a new file that only its owner can read: `open(path, "wb", opener=private)`."""
    return os.open(path, flags, PRIVATE_FILE)


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[TextIO]:
    """A UTF-8 text file, line ends as given: written beside `path`, and moved into its place when all of it is on the
    disk. What was there before stays until then. A pipe or a device is written straight. Raises OSError.
    """
    if path.exists() and not path.is_file():
        with path.open("w", encoding="utf-8", newline="") as file:
            yield file
        return
    target = Path(os.path.realpath(path))  # a link goes on pointing where it pointed
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def try_folder(folder: Path) -> None:
    """Make a folder, and write into it to see whether that can be done. Raises OSError."""
    private_folder(folder)
    with tempfile.TemporaryFile(dir=folder):
        pass
