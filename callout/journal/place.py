"""Where the journal lies when nobody names a file."""

from __future__ import annotations

import os
from pathlib import Path


def default_path() -> Path:
    """$CALLOUT_JOURNAL, else callout/journal.sqlite in the user's folder for state (XDG Base Directory 0.8)."""
    named = os.environ.get("CALLOUT_JOURNAL")
    if named:
        return Path(named)
    state = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(state) / "callout" / "journal.sqlite"
