"""What several test files begin with."""

from __future__ import annotations

import gc
import os
import sys
import tempfile
import time
from collections.abc import Generator, Iterator
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


#: The tests of the live program by sound, and how long they may take.
SOUND, SOUND_SECONDS = "test_sound_card", 180.0
COLLECTED_SECONDS = 60.0


def worker_of(config: pytest.Config) -> str:
    return str(getattr(config, "workerinput", {}).get("workerid", "gw0"))


def of_this_run(what: str) -> Path:
    """A file that is there once something has come to its end in this run, for the workers to know of one another."""
    return Path(tempfile.gettempdir()) / f"callout-{what}-{os.environ.get('PYTEST_XDIST_TESTRUNUID', os.getpid())}"


def sound_is_tested() -> Path:
    return of_this_run("sound")


def wait_for(end: Path, seconds: float) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until and not end.exists():
        time.sleep(0.2)


def tests_are_compiled() -> bool:
    """pytest compiles each file of tests in its own way, eight seconds of a processor, and keeps what it made."""
    return any((Path(__file__).parent / "__pycache__").glob("test_yard_shards.*pytest*.pyc"))


def pytest_configure(config: pytest.Config) -> None:
    """There are more workers than processors, because the first one's tests wait most of the time. The others make way
    for it: sound that is late is not what was tested."""
    if worker_of(config) != "gw0" and hasattr(os, "nice"):
        os.nice(5)


@pytest.hookimpl(wrapper=True)
def pytest_collection(session: pytest.Session) -> Generator[None, object, object]:
    """One worker compiles the tests, and the others take what it made: beside the linters nothing waits for them."""
    if worker_of(session.config) != "gw0" and not tests_are_compiled():
        wait_for(of_this_run("collected"), COLLECTED_SECONDS)
    found = yield
    if worker_of(session.config) == "gw0":
        of_this_run("collected").touch()
    return found


def pytest_runtestloop(session: pytest.Session) -> None:
    """Those of the workers that are too many begin once the tests by sound have ended."""
    if worker_of(session.config) not in ("gw0", "gw1") and any(item.path.stem == SOUND for item in session.items):
        wait_for(sound_is_tested(), SOUND_SECONDS)


def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> None:
    if item.path.stem == SOUND and (nextitem is None or nextitem.path.stem != SOUND):
        sound_is_tested().touch()


def pytest_sessionfinish() -> None:
    for what in ("sound", "collected"):
        of_this_run(what).unlink(missing_ok=True)


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
    written = any(tmp_path.iterdir())
    monkeypatch.undo()
    forget(anyway=written)
