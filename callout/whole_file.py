"""Files for people: the one way to write one (it is there whole, or not at all), and to try a folder for them."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO


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
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryFile(dir=folder):
        pass
