"""How much of a long search runs every day: a part of it, always the same. `make long` runs all of it."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Any

import pytest

#: Set by `make long`.
LONG = bool(os.environ.get("TESTS_LONG"))


def one_in(every: int, cases: Iterable[Any]) -> list[Any]:
    """The cases of a parametrised test: of so many one runs every day, the rest with -m slow."""
    return [_slow(case) if i % every else case for i, case in enumerate(cases)]


def blocks(every_day: int, total: int) -> list[Any]:
    """0, 1, 2 ... `total`: those before `every_day` run every day, the rest with -m slow."""
    return [n if n < every_day else _slow(n) for n in range(total)]


def examples(whole: int, every_day: int) -> int:
    """How many examples are drawn."""
    return whole if LONG else every_day


def _slow(case: Any) -> Any:
    return pytest.param(*case if isinstance(case, tuple) else (case,), marks=pytest.mark.slow)
