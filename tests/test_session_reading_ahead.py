"""The first sentence that is typed is answered as soon as any other."""

from __future__ import annotations

import subprocess
import sys
from types import SimpleNamespace
from typing import Literal

import pytest

from callout.session.sources import Source, somebody_types

#: The processor's seconds of reading ahead in a fresh process, then of the first sentences there.
TIMED = """
import time
from callout.language.context import Context
from callout.language.resolve import resolve_text
from callout.session.reading_ahead import read_ahead
began = time.process_time()
read_ahead().join()
print(time.process_time() - began)
for state, line in [("idle", "insertion nine feet sixty"), ("idle", "the coffee is over there"), ("walk", "bring it")]:
    began = time.process_time()
    resolve_text(line, Context(state=state))
    print(time.process_time() - began)
"""


def test_after_it_no_sentence_waits_for_what_is_read_in() -> None:
    done = subprocess.run([sys.executable, "-c", TIMED], capture_output=True, text=True, check=True)
    reading, *sentences = map(float, done.stdout.split())
    assert len(sentences) == 3
    assert sum(sentences) < reading / 5


@pytest.mark.parametrize(
    ("what", "terminal", "types"), [("typed", True, True), ("typed", False, False), ("mic", True, False)]
)
def test_it_is_begun_where_a_person_types_and_nobody_is_listened_to(
    what: Literal["typed", "mic"], terminal: bool, types: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda: terminal))
    assert somebody_types([Source(what, "", "measurer")], None) == types
