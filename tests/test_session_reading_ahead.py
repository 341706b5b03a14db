"""The first sentence of a conversation is answered as soon as any other."""

from __future__ import annotations

import subprocess
import sys
from types import SimpleNamespace
from typing import Literal

import pytest

from callout.session.sources import Source, somebody_types

#: The processor's seconds of each line, in a fresh process, after reading ahead ("read") or without.
TIMED = """
import sys, time
from callout.language.context import Context
from callout.language.resolve import resolve_text
from callout.session.reading_ahead import read_ahead
if sys.argv[1] == "read":
    read_ahead().join()
said = [("idle", "insertion eleven feet sixty"), ("idle", "the coffee is over there"), ("walk", "bring it")]
for state, line in said:
    began = time.process_time()
    resolve_text(line, Context(state=state))
    print(time.process_time() - began)
"""


def seconds(*arguments: str) -> list[float]:
    done = subprocess.run([sys.executable, "-c", TIMED, *arguments], capture_output=True, text=True, check=True)
    return [float(line) for line in done.stdout.splitlines()]


def test_after_it_no_sentence_waits_for_what_is_read_in() -> None:
    cold, read = seconds("cold"), seconds("read")
    assert sum(read) < sum(cold) / 5, (cold, read)


@pytest.mark.parametrize(
    ("what", "terminal", "types"), [("typed", True, True), ("typed", False, False), ("mic", True, False)]
)
def test_it_is_begun_where_a_person_types_and_nobody_is_listened_to(
    what: Literal["typed", "mic"], terminal: bool, types: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", SimpleNamespace(isatty=lambda: terminal))
    assert somebody_types([Source(what, "", "measurer")], None) == types
