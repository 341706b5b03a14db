"""No input ends a conversation: a fault of the program becomes an `error` record, and the next line is answered."""

from __future__ import annotations

import json
import os
import stat
import sys
from pathlib import Path

import numpy as np
import pytest

import callout
from callout.cli import main
from callout.dialogue import machine
from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.records import Record
from callout.journal.audio import AudioStore
from callout.journal.memory import MemoryJournal
from callout.journal.store import Journal
from callout.scoring.drill import PastRounds
from callout.scoring.recording import Recordings
from callout.session import desk as desk_room
from callout.session.demonstration import MARK, make_room
from callout.session.desk import Desk, Mouths
from callout.session.sources import take_line
from tests.dialogue_kit import FakePlanner, make_stock
from tests.here import run_here
from tests.one_demonstration import EARLIER, THEIRS, Demonstration


@pytest.fixture
def desk() -> Desk:
    made = Desk(start(make_stock(), FakePlanner()), MemoryJournal(), Mouths(), lambda record: None, print)
    made.feed(Opened(0.0))
    return made


def events(desk: Desk) -> list[str]:
    return [record.event for record in desk._store.records()]


def test_a_line_that_breaks_the_reading_is_written_as_an_error(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ValueError("Exceeds the limit (4300 digits)\nand more")

    with monkeypatch.context() as patch:
        patch.setattr(desk_room, "resolve_text", broken)
        take_line(desk, "insertion eleven feet sixty", "measurer")
    last = list(desk._store.records())[-1]
    assert last.event == "error"
    assert "ValueError: Exceeds the limit (4300 digits)" in last.text
    assert "say again" in last.text
    take_line(desk, "insertion eleven feet sixty", "measurer")
    assert "readback" in events(desk)


def test_a_fault_in_the_conversation_changes_nothing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise KeyError("kind")

    before = desk.conversation
    with monkeypatch.context() as patch:
        patch.setattr(machine, "_answer", broken)
        take_line(desk, "insertion eleven feet sixty", "measurer")
    assert events(desk)[-1] == "error"
    assert desk.conversation.measurer == before.measurer
    take_line(desk, "insertion eleven feet sixty", "measurer")
    assert "readback" in events(desk)


@pytest.mark.parametrize("line", ["insertion " + "9" * 5000, "9" * 200_000, "(" * 50_000, "\x00" * 9000, "'\"" * 9000])
def test_lines_that_nobody_says(line: str) -> None:
    done = run_here("listen", "--typed", "--mute", "--json", text=f"{line}\ninsertion eleven feet sixty\n")
    assert done.returncode == 0, done.stderr[-500:]
    assert "readback" in [json.loads(text)["event"] for text in done.stdout.splitlines()]


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.skipif(sys.platform == "win32", reason="rights of POSIX")
def test_journals_and_kept_voices_are_their_owners_own(tmp_path: Path) -> None:
    path = tmp_path / "new" / "day.journal"
    with Journal.open(path) as journal:
        journal.append(Record(event="said", text="radio check"))
        assert {rights(file) for file in path.parent.glob("day.journal*") if file.suffix != ".lock"} == {0o600}
        kept = AudioStore.beside(path, print)
        name = kept.keep(np.zeros(1600, np.int16))
    assert name is not None
    assert rights(path.parent) == 0o700
    assert rights(kept.path(name)) == 0o600
    assert {rights(folder) for folder in (kept.folder, kept.path(name).parent)} == {0o700}


@pytest.mark.skipif(sys.platform == "win32", reason="rights of POSIX")
def test_recordings_rounds_and_spoken_files_are_their_owners_own(tmp_path: Path) -> None:
    """Though the user's own mask forbids nobody anything."""
    before = os.umask(0)
    try:
        Recordings(tmp_path / "kim").keep(np.zeros(1600, np.float32), "affirm", None, {"speaker": "Kim"})
        PastRounds("Kim", tmp_path / "rounds").add({"n": 1})
        with callout.Session(tmp_path / "new" / "j", voice=tmp_path / "voice") as talk:
            talk.text("insertion eleven feet sixty")
    finally:
        os.umask(before)
    kept = [path for path in tmp_path.rglob("*") if path.is_file() and path.suffix != ".lock"]
    assert len(kept) >= 5
    assert {path.name: oct(rights(path)) for path in kept if rights(path) != 0o600} == {}
    folders = [tmp_path / "kim", tmp_path / "rounds" / "drill", tmp_path / "voice", tmp_path / "new"]
    assert {folder.name: oct(rights(folder)) for folder in folders if rights(folder) != 0o700} == {}


def demo(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    with pytest.raises(SystemExit) as stop:
        main(["demo", *arguments])
    return int(stop.value.code or 0), capsys.readouterr().err


@pytest.mark.parametrize("theirs", ["voice/0001-yard.wav", "demo.journal"])
def test_a_demonstration_deletes_nothing_of_the_users(
    theirs: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / theirs
    own.parent.mkdir(exist_ok=True)
    own.write_text("mine")
    code, err = demo(capsys, "--folder", str(tmp_path))
    assert code == 2
    assert "name another folder" in err
    assert own.read_text() == "mine"


def test_a_first_demonstration_makes_its_folder_its_own(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    folder.mkdir()
    (folder / "0001-yard.wav").write_text("mine")
    make_room(folder)
    assert {path.name for path in folder.iterdir()} == {MARK, "voice", "0001-yard.wav"}
    assert list((folder / "voice").iterdir()) == []
    if os.name == "posix":
        assert rights(folder / "voice") == 0o700


@pytest.mark.audio
def test_a_second_demonstration_clears_its_own_away_and_leaves_the_rest(demonstration: Demonstration) -> None:
    made = Path(demonstration.folder)
    assert demonstration.returncode == 0, demonstration.stderr
    assert {(made / name).read_text() for name in THEIRS} == {"mine"}
    spoken = {path.name for path in (made / "voice").iterdir()} - {"mine.wav"}
    assert len(spoken) > 20
    assert not spoken & {Path(name).name for name in EARLIER}
    with Journal.open(made / "demo.journal", writer=False) as journal:
        assert journal.verify().ok
    if os.name == "posix":
        assert rights(made / "voice") == 0o700
        assert {rights(made / "voice" / name) for name in spoken} == {0o600}
        assert rights(made / "demo.journal") == 0o600


@pytest.mark.parametrize("ends_with", [0, 1, 7])
def test_a_demonstration_whose_child_breaks_does_not_end_well(
    ends_with: int, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from callout.session import demonstration as room

    command = [sys.executable, "-c", f"raise SystemExit({ends_with})"]
    monkeypatch.setattr(room, "module_command", lambda *_: command)
    code, err = demo(capsys, "--folder", str(tmp_path))
    assert code == 1
    assert f"the first half ended by itself (exit {ends_with})" in err
