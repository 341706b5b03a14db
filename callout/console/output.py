"""What every command prints: JSON on standard output, remarks on standard error.

It knows nothing of conversations, so that `callout --help` need not load one.
"""

from __future__ import annotations

import json
import sys
from typing import Any


def emit(value: Any) -> None:
    """One JSON object on one line of standard output, flushed at once."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, separators=(", ", ": ")) + "\n")
    sys.stdout.flush()


def say(text: str) -> None:
    """Progress and remarks: standard error, so that standard output stays clean."""
    print(text, file=sys.stderr, flush=True)


def level_bar(decibels: float) -> None:
    """How loud it is just now, for whoever turns a knob or speaks louder meanwhile: a mark for each 2 dB from -60."""
    say(f"  {decibels:6.1f} dB  {'#' * max(0, round((decibels + 60) / 2))}")


def draw(lines: list[str]) -> None:
    """A picture of our own signs and colours, on standard error where that is a terminal; nowhere else."""
    if sys.stderr.isatty():
        print("\n".join(lines), file=getattr(sys.stderr, "untamed", sys.stderr), flush=True)
