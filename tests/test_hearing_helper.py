"""A helper process gives back the memory that it no longer needs."""

from __future__ import annotations

import platform
import time
from pathlib import Path

import pytest

from callout.hearing.helper import Helper
from tests.hoarder import PIECE

PIECES = 2000  # 200 MB


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="another C library has its own ways")
def test_what_an_answer_used_is_given_back_though_a_little_of_it_is_kept() -> None:
    helper = Helper("tests.hoarder")
    try:
        for _ in range(3):
            assert helper.ask(PIECES, 30.0) == PIECES
        ends = time.monotonic() + 10
        while (held := resident(helper)) > PIECES * PIECE / 4 and time.monotonic() < ends:
            time.sleep(0.05)
        assert held < PIECES * PIECE / 4, f"{held / 1e6:.0f} MB"
    finally:
        helper.close()


def resident(helper: Helper) -> int:
    """Bytes of memory that the process has."""
    status = Path(f"/proc/{helper.pid}/status").read_text("utf-8")
    return 1024 * next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS:"))
