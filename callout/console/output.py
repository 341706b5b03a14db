"""What every command prints with: JSON one object a line, flushed; chatter on standard error."""

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
