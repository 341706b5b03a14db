"""The typed conversation, event by event, as another program sees it."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from callout.files import data_folder
from tests.here import run_here

FIELDS = ["version", "seq", "time", "event", "speaker", "build_id", "text", "meaning", "build", "happened"]


LISTEN = ("listen", "--typed", "--mute", "--json")


def converse(lines: list[str], *options: str) -> list[dict[str, Any]]:
    done = run_here(*LISTEN, *options, text="".join(line + "\n" for line in lines))
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def names(events: list[dict[str, Any]]) -> list[str]:
    return [event["event"] for event in events]


def only(events: list[dict[str, Any]], name: str) -> list[dict[str, Any]]:
    return [event for event in events if event["event"] == name]


def test_a_callout_is_read_back_and_only_affirm_releases_it() -> None:
    """In a process of its own; the others hold their conversations in this one."""
    done = subprocess.run(
        [sys.executable, "-m", "callout", *LISTEN], input="insertion eleven feet sixty\naffirm\n", capture_output=True,
        text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert [list(event) for event in events] == [FIELDS] * len(events)
    assert [event["seq"] for event in events] == list(range(1, len(events) + 1))
    order = [name for name in names(events) if name in ("heard", "readback", "affirmed", "released")]
    assert order == ["heard", "readback", "heard", "affirmed", "released"]
    released = only(events, "released")[0]
    assert released["build_id"] == 1
    assert released["meaning"]["insertion"] == {"eightieths_mm": 268224, "text": "11 ft"}
    assert released["meaning"]["rakers"] is None
    assert {"part": "rakers", "value": 2} in [
        {"part": c["part"], "value": c["value"]} for c in released["build"]["chosen"]
    ]
    assert released["build"]["missing"] == []


@pytest.mark.parametrize(
    "lines",
    [
        ["insertion eleven feet sixty"],
        ["insertion eleven feet sixty", "negative", "affirm"],
        ["insertion eleven feet sixty", "roger"],
        ["insertion eleven feet sixty", "disregard", "affirm"],
        ["affirm"],
        ["insertion eleven feet", "affirm"],
        ["hello there", "affirm"],
    ],
)
def test_nothing_else_releases(lines: list[str]) -> None:
    assert "released" not in names(converse(lines))


def test_new_content_voids_the_readback_and_the_last_one_counts() -> None:
    events = converse(["insertion eleven feet sixty", "insertion twelve feet forty five", "affirm"])
    released = only(events, "released")
    assert len(released) == 1
    assert released[0]["meaning"]["insertion"]["text"] == "12 ft"
    assert released[0]["meaning"]["angle_deg"] == 45
    assert "voided" in names(events)


def test_half_and_its_other_half_and_a_correction() -> None:
    events = converse(["insertion eleven feet", "sixty", "correction angle four five", "affirm"])
    assert "asked" in names(events)
    assert only(events, "released")[0]["meaning"]["angle_deg"] == 45


def test_say_again_voids_nothing() -> None:
    events = converse(["insertion eleven feet sixty", "say again", "affirm"])
    assert len(only(events, "released")) == 1


def test_a_stock_that_is_too_small_still_releases_and_says_what_is_missing() -> None:
    events = converse(["out of anchors", "affirm", "insertion eleven feet sixty", "affirm"])
    assert len(only(events, "stock_changed")) == 1
    released = only(events, "released")
    assert len(released) == 1
    assert released[0]["build"]["missing"]


def test_a_new_start_goes_on_where_the_journal_ends(tmp_path: Path) -> None:
    journal = str(tmp_path / "day.journal")
    first = converse(["insertion eleven feet sixty", "affirm", "ready"], "--journal", journal)
    second = converse(["ready"], "--journal", journal)
    assert second[0]["event"] == "resumed"
    assert second[0]["seq"] == first[-1]["seq"] + 1
    assert "picked" in names(second)
    assert "released" not in names(second)


def test_a_line_may_name_who_speaks() -> None:
    events = converse(["insertion eleven feet sixty", "affirm", "logistics: ready"])
    assert only(events, "picked")[0]["speaker"] == "logistics"


@pytest.mark.parametrize(
    ("options", "fix"),
    [
        (["--typed", "--from", "x.wav"], "--typed stands alone"),
        (["--measurer", "mic"], "--logistics SOURCE"),
        (["--from", "nowhere.wav"], "no such recording"),
        (["--typed", "--keep-audio"], "--journal FILE"),
        (["--typed", "--stock", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_a_wrong_option_is_one_line_that_names_the_fix(options: list[str], fix: str) -> None:
    done = run_here("listen", "--mute", *options)
    assert done.returncode == 2
    assert fix in done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "options",
    [
        ["--from", "notes.wav"],
        ["--measurer", "notes.wav", "--logistics", "typed"],
        ["--from", "sound.wav", "--model", "."],
    ],
)
def test_nobody_is_told_ready_before_the_ears_are_open(tmp_path: Path, options: list[str]) -> None:
    (tmp_path / "notes.wav").write_text("insertion eleven feet sixty")
    soundfile.write(tmp_path / "sound.wav", np.zeros(16000, np.float32), 16000)
    done = run_here("listen", "--mute", "--journal", "j", *options, folder=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "j").exists()


def test_a_letter_that_is_no_utf_8_costs_one_line_and_no_conversation() -> None:
    """As a terminal with another alphabet sends it; Python's own reading would end the program."""
    done = subprocess.run(
        [sys.executable, "-m", "callout", "listen", "--typed", "--mute", "--json"],
        input=b"insertion \xff\xfe\ninsertion eleven feet sixty\naffirm\n", capture_output=True, timeout=60,
        env={**os.environ, "PYTHONIOENCODING": "utf-8:strict"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(only(events, "released")) == 1


def test_a_terminal_without_the_letters_shows_the_rest() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "callout", "read", "eleven feet six ½"], capture_output=True, timeout=60,
        env={**os.environ, "PYTHONIOENCODING": "ascii:strict", "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_source_that_breaks_in_whatever_way_ends_the_conversation() -> None:
    """A thread that died alone would leave a conversation that hears nothing and says nothing of it."""
    import queue

    from callout.session.sources import Work, _guarded

    def breaks() -> None:
        raise ValueError("odd sound")

    inbox: queue.SimpleQueue[Work | None] = queue.SimpleQueue()
    _guarded(inbox, breaks)
    told = inbox.get_nowait()
    assert told is not None
    with pytest.raises(ValueError, match="odd sound"):
        told()


def test_voice_files_that_were_announced_and_not_written_are_told_and_end_with_an_error(tmp_path: Path) -> None:
    """The folder goes away under the program: it is replaced by a file as soon as the first sentence is announced."""
    folder = tmp_path / "voice"
    program = subprocess.Popen(
        [sys.executable, "-m", "callout", "listen", "--typed", "--json", "--voice-dir", str(folder)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PULSE_SERVER": "none:"},
    )  # fmt: skip
    while not list(folder.glob("*.wav")):
        assert program.poll() is None
    for wav in folder.iterdir():
        wav.unlink()
    folder.rmdir()
    folder.touch()
    out, err = program.communicate("insertion eleven feet sixty\n", timeout=60)
    errors = only([json.loads(line) for line in out.splitlines()], "error")
    assert "cannot write" in errors[0]["text"]
    assert program.returncode == 1
    assert "could not be written" in err
    assert "Traceback" not in err


@pytest.mark.audio
def test_a_recording_as_if_live_is_cut_heard_and_answered(tmp_path: Path) -> None:
    """Half a callout, its other half, chatter, and an affirm of another voice, a pause between each."""
    demo = data_folder("audio_fixtures") / "demo"
    pause = np.zeros(int(1.5 * 16000), np.float32)
    pieces = [pause]
    for name in ("chatter_radio", "first_half_radio", "second_half_radio", "affirm_george_radio"):
        pieces += [soundfile.read(demo / f"{name}.flac", dtype="float32")[0], pause]
    stream = tmp_path / "stream.wav"
    soundfile.write(stream, np.concatenate(pieces), 16000)
    done = subprocess.run(
        [sys.executable, "-m", "callout", "listen", "--from", stream, "--mute", "--json"],
        capture_output=True, text=True, timeout=240,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    events = [json.loads(line) for line in done.stdout.splitlines()]
    released = only(events, "released")
    assert [event["meaning"]["insertion"]["text"] for event in released] == ["12 ft"]
    assert released[0]["meaning"]["angle_deg"] == 60
    heard = only(events, "heard")
    assert heard[0]["meaning"] is None
    assert len(only(events, "readback")) == 1


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--typed"], "is for a microphone"),
        (["--from", "x.wav"], "is for a microphone"),
        (["--measurer", "mic", "--logistics", "typed"], "is for a microphone"),
        ([], "needs the keys of a terminal"),
    ],
)
def test_a_key_to_talk_that_nobody_can_press_is_refused(options: list[str], says: str, tmp_path: Path) -> None:
    """Heard without it would be what nobody meant to be heard."""
    (tmp_path / "x.wav").touch()
    done = run_here("listen", "--mute", "--key-to-talk", *options, folder=tmp_path)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stdout == ""
