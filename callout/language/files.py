"""The files of the language, ours and a team's: plain text of a bounded size, or one line that says what is wrong."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

from callout.errors import BadInput
from callout.toml import tomllib

#: Bytes. All of ours together come to a third of it.
LARGEST = 200_000


def read_text(file: Path) -> str:
    """The text of a file of the language. Raises BadInput for what is no regular file, is too large, or no UTF-8.

    A pipe or a device is told by its kind and never opened: opening it could wait for ever.
    """
    try:
        if not stat.S_ISREG(os.stat(file).st_mode):
            raise BadInput(f"{file.name} is no plain file; put a text file in its place, or take it away")
        with file.open("rb") as opened:
            raw = opened.read(LARGEST + 1)
    except OSError as wrong:
        raise BadInput(f"cannot read {file.name}: {wrong.strerror}; make it readable, or take it away") from None
    if len(raw) > LARGEST:
        raise BadInput(f"{file.name} is larger than {LARGEST:,} bytes, too large for words; make it smaller")
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
