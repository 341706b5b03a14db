"""A command of callout in this process: what it prints and how it ends, without the second that a start costs.

What is asked of the process itself (its signals, its pipes, a stream that is closed, what it loads) needs a real start,
and each file whose tests begin here keeps one.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from callout.cli import main


@dataclass(frozen=True)
class Done:
    """How a command ended: named as `subprocess` names it."""

    returncode: int
    stdout: str
    stderr: str


def run_here(*words: object, text: str = "", folder: Path | None = None) -> Done:
    """`callout WORDS` with `text` on its standard input, in `folder` if one is named."""
    given, out, err = (io.TextIOWrapper(io.BytesIO(data), encoding="utf-8", newline="\n", write_through=True)
                       for data in (text.encode(), b"", b""))  # fmt: skip
    with (
        _inside(folder),
        mock.patch.dict(os.environ),
        mock.patch.object(sys, "stdin", given),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main([str(word) for word in words])
        except SystemExit as ended:
            code = int(ended.code or 0)
    return Done(code, _text(out), _text(err))


def _text(stream: io.TextIOWrapper) -> str:
    written = stream.buffer
    assert isinstance(written, io.BytesIO)
    return written.getvalue().decode()


@contextlib.contextmanager
def _inside(folder: Path | None) -> Iterator[None]:
    before = Path.cwd()
    try:
        if folder is not None:
            os.chdir(folder)
        yield
    finally:
        os.chdir(before)
