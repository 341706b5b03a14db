"""What several test files begin with."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.team_words import forget


@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The folder of a team's own words, empty."""
    monkeypatch.setenv("CALLOUT_TEAM", str(tmp_path))
    forget()
    yield tmp_path
    monkeypatch.undo()
    forget()
