"""Where the journal lies when nobody names a file."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs


def default_path() -> Path:
    """$CALLOUT_JOURNAL, else callout/journal.sqlite in the user's folder for state, as the system has it."""
    named = os.environ.get("CALLOUT_JOURNAL")
    return Path(named) if named else platformdirs.user_state_path("callout", appauthor=False) / "journal.sqlite"
