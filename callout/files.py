"""Files: where those of the package lie, how one of a team is read, and the one way to write one.

What is written is there whole, or not at all; what people said is theirs alone to open.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TextIO

from callout.errors import BadInput, CalloutError

if sys.version_info >= (3, 11):  # the one way to read TOML: the same reader as a package before
    import tomllib
else:
    import tomli as tomllib

__all__ = [
    "data_folder", "must_be_a_file", "private", "private_folder", "read_text", "read_toml", "tomllib", "try_folder",
    "whole_file",
]  # fmt: skip

_PACKAGE = Path(__file__).resolve().parent


def data_folder(name: str) -> Path:
    """Return the folder `name` ("grammars", "audio_fixtures") wherever this installation keeps it."""
    for place in (_PACKAGE / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise CalloutError(f"the folder {name!r} is missing from this installation; install callout again")


#: Bytes. All of ours together come to a third of it.
LARGEST = 200_000


def read_bytes(file: Path, largest: int = LARGEST) -> bytes:
    """The bytes of a file. Raises BadInput for what is no regular file, or larger than `largest` bytes.

    A pipe or a device is told by its kind and never opened: opening it could wait for ever.
    """
    try:
        if not stat.S_ISREG(os.stat(file).st_mode):
            raise BadInput(f"{file.name} is no plain file; put a text file in its place, or take it away")
        with file.open("rb") as opened:
            raw = opened.read(largest + 1)
    except OSError as wrong:
        raise BadInput(f"cannot read {file.name}: {wrong.strerror}; make it readable, or take it away") from None
    if len(raw) > largest:
        raise BadInput(f"{file.name} is larger than {largest:,} bytes, too large for what it is; make it smaller")
    return raw


def read_text(file: Path, largest: int = LARGEST) -> str:
    """The text of a file, as `read_bytes` reads it. Raises BadInput also for what is no UTF-8."""
    raw = read_bytes(file, largest)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = raw.count(b"\n", 0, wrong.start) + 1
        raise BadInput(f"{file.name}, line {line}: not UTF-8; save the file as UTF-8 text") from None


def read_toml(file: Path) -> dict[str, Any]:
    """A data file of the language; raises BadInput naming the file and the fault."""
    try:
        table: dict[str, Any] = tomllib.loads(read_text(file))
        return table
    except (tomllib.TOMLDecodeError, RecursionError) as wrong:
        raise BadInput(f"{file.name}: {wrong}; mend the line or take it out") from None


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
def whole_file(path: Path, opener: Callable[[str, int], int] | None = None) -> Iterator[TextIO]:
    """A UTF-8 text file, line ends as given: written beside `path`, and moved into its place when all of it is on the
    disk. What was there before stays until then. A pipe or a device is written straight. `opener` as for `open`:
    `private` for a file that is its owner's. Raises OSError.
    """
    if path.exists() and not path.is_file():
        with path.open("w", encoding="utf-8", newline="") as file:
            yield file
        return
    target = Path(os.path.realpath(path))  # a link goes on pointing where it pointed
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        with open(part, "w", encoding="utf-8", newline="", opener=opener) as file:
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
