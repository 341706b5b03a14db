"""What several test files begin with."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from callout.cli import GARBAGE
from tests.one_demonstration import Demonstration, demonstrated
from tests.team_words import forget

if TYPE_CHECKING:
    from callout.hearing.ears import Ears
    from callout.speaking.process import SpeechProcess

#: jsonschema takes this where it is there, for web addresses in schemas, of which we have none; it builds a parser for
#: over a second, in each worker.
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]

#: Their tests start the whole program, or wait as long as people talk. They come first, so that at the end of a run no
#: worker waits for the other's last one; and so one worker has them all, as each begins with a stretch of its own.
LONG = ("test_sound_card", "test_house_alone", "test_session_faults", "test_hearing_people", "test_session_own_voice",
        "test_speaking_voice", "test_session_desk", "test_journal_restart", "test_site")  # fmt: skip


#: As the commands have it.
gc.set_threshold(*GARBAGE)


def pytest_configure(config: pytest.Config) -> None:
    """There are more workers than processors, because the first one's tests wait most of the time. The others make way
    for it: sound that is late is not what was tested."""
    first = getattr(config, "workerinput", {}).get("workerid", "gw0") == "gw0"
    if not first and hasattr(os, "nice"):
        os.nice(5)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: LONG.index(item.path.stem) if item.path.stem in LONG else len(LONG))


@pytest.fixture(scope="session")
def demonstration(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Demonstration:
    """One for the whole run, whichever worker makes it."""
    base = tmp_path_factory.getbasetemp()
    workers = hasattr(request.config, "workerinput")
    return demonstrated((base.parent if workers else base) / "demonstration")


@pytest.fixture(scope="session")
def ears() -> Iterator[Ears]:
    """The ears by the words we ship: opened once in each worker, with the processes that they start."""
    from callout.hearing.ears import Ears

    made = Ears()
    yield made
    made.close()


@pytest.fixture(scope="session")
def voice() -> Iterator[SpeechProcess]:
    """The voice in its own process, started once in each worker."""
    from callout.speaking.process import SpeechProcess

    made = SpeechProcess()
    yield made
    made.close()


@pytest.fixture
def team(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Path]:
    """The folder of a team's own words, empty. What the ears keep of them is kept apart, or all the other tests would
    have to make theirs anew."""
    monkeypatch.setenv("CALLOUT_TEAM", str(tmp_path))
    monkeypatch.setenv("CALLOUT_CACHE", str(tmp_path_factory.mktemp("cache")))
    forget()
    yield tmp_path
    monkeypatch.undo()
    forget()
