"""Typed lines: Tab offers what may be said next, and nothing else; no line costs more than one that somebody types."""

import io
import sys
import tracemalloc
from typing import Any

import pytest

from callout.language.context import EVERYTHING, Context
from callout.language.outcome import NotUnderstood
from callout.language.resolve import resolve_text
from callout.session.sources import completions, typed_lines


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("inser", ["insertion"]),
        ("insertion eleven f", ["feet", "foot"]),
        ("insertion eleven feet six", ["six", "sixteen", "sixty"]),
        ("affirm ", ["insertion"]),
        ("insertion nonsense ", []),
    ],
)
def test_offered_words(line: str, offered: list[str]) -> None:
    assert set(offered) <= set(completions(line, EVERYTHING))
    if not offered:
        assert completions(line, EVERYTHING) == []


class Endless(io.RawIOBase):
    """So many nines without a line's end, then what follows."""

    def __init__(self, nines: int, then: bytes) -> None:
        self._left, self._then = nines, then

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        some = min(len(buffer), self._left)
        if some:
            buffer[:some] = b"9" * some
            self._left -= some
            return some
        some = min(len(buffer), len(self._then))
        buffer[:some], self._then = self._then[:some], self._then[some:]
        return some


def test_a_line_that_does_not_end_costs_no_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BufferedReader(Endless(50_000_000, b"\naffirm\nlast"))))
    tracemalloc.start()
    try:
        long, *rest = typed_lines(lambda: Context())
        assert tracemalloc.get_traced_memory()[1] < 2_000_000
    finally:
        tracemalloc.stop()
    assert rest == ["affirm\n", "last"]
    assert isinstance(resolve_text(long.strip()), NotUnderstood)  # by its length, and never a shorter callout
    assert "at most 10,000" in resolve_text(long.strip()).reasons[0]


@pytest.mark.parametrize("length", [9_999, 10_000, 10_001, 10_002, 10_003])
def test_lines_about_the_limit_stay_lines(length: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{'9' * length}\naffirm\n"))
    long, after = typed_lines(lambda: Context())
    assert len(long) == min(length, 10_001) + 1
    assert after == "affirm\n"


def test_only_what_the_state_allows() -> None:
    assert completions("insertion ", Context(state="digits")) == []
    assert "seven" in completions("", Context(state="digits"))
