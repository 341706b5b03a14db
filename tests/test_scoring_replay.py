"""A day's kept audio through other ears: what is the same, and what is not."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from pydantic import TypeAdapter

from callout.cli.replay import replay as command
from callout.dialogue.machine import start
from callout.dialogue.records import Record
from callout.journal.audio import AudioStore, audio_file, audio_folder
from callout.journal.store import Journal
from callout.language.context import Context
from callout.scoring.replay import AUDIO, replay
from callout.scoring.schemas import ReplayLine
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Command, meaning_json
from tests.dialogue_kit import ELEVEN_SIXTY, Talk
from tests.scripted_ears import ELEVEN, STEP, TWELVE, ScriptedHeard, listen, read


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """Six utterances with kept audio: what was heard then, and the number of what the scripted ears hear now."""
    path = tmp_path / "day.journal"
    eleven, twelve = meaning_json(ELEVEN), meaning_json(TWELVE)
    then = [(eleven, 1), (eleven, 2), (twelve, 4), (None, 7), (None, 0), (eleven, 9)]
    with Journal.open(path) as journal:
        store = AudioStore.beside(path, print)
        for meaning, number in then:
            name = store.keep(np.full(16000 + 160 * number, number * STEP, np.float32))
            journal.append(
                Record(
                    event="heard",
                    speaker="measurer",
                    text="then",
                    meaning=meaning,
                    data={AUDIO: name, "seat": "measurer"},
                )
            )
        journal.append(Record(event="said", speaker="callout", text="one one feet"))
        journal.append(Record(event="heard", speaker="measurer", text="no audio kept", meaning=eleven))
        last = store.path(name or "")
    last.unlink()
    return path


def test_what_would_now_be_heard_differently(day: Path) -> None:
    folder, begun = audio_folder(day), start(load_stock(None), ShorePlanner())
    with Journal.open(day, writer=False) as journal:
        found = list(replay(journal.records(), begun, lambda name: audio_file(folder, name), read, listen))
    assert [again.change for again in found] == ["same", "other", "lost", "gained", "same", "unreadable"]
    assert found[3].now_meaning == meaning_json(Command(command="affirm"))
    assert found[1].now_text == "insertion twelve feet sixty"
    assert found[5].error
    json.dumps([again.to_json() for again in found])


def test_the_command_tells_what_differs_and_counts(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ears = SimpleNamespace(hear=listen, close=lambda: None)
    monkeypatch.setattr("callout.hearing.ears.open_ears", lambda model: ears)
    monkeypatch.setattr("callout.hearing.audio.read_audio", read)

    def told(*options: str) -> list[str]:
        done = CliRunner().invoke(command, [str(day), *options], standalone_mode=False, catch_exceptions=False)
        return str(done.output).splitlines()

    assert [line.split()[1] for line in told() if " then " in line] == ["other:", "lost:", "gained:", "unreadable:"]
    assert len([line for line in told("--all") if " then " in line]) == 6
    assert told()[-1] == "2 same, 1 other, 1 lost, 1 gained, 1 unreadable of 6 utterances with kept audio"
    assert json.loads(told("--json")[-1])["heard_again"] == 6
    with Journal.open(day, writer=False) as journal:
        assert journal.last_seq == 8  # it was read only


def test_each_word_is_heard_in_the_state_in_which_it_was_spoken(tmp_path: Path) -> None:
    talk = Talk.new()
    before = talk.now
    talk.say(ELEVEN_SIXTY).say("negative").say("affirm")
    records = [
        record.model_copy(update={"data": {**record.data, AUDIO: "x"}}) if record.event == "heard" else record
        for record in talk.records
    ]
    states: list[str | None] = []

    def noting(samples: np.ndarray, context: Context) -> ScriptedHeard:
        states.append(context.state)
        return listen(samples, context)

    found = list(replay(records, before, lambda name: tmp_path, lambda path: np.zeros(800), noting))
    assert [again.change for again in found] == ["lost"] * 3
    assert states == ["idle", "confirm", states[2]]
    assert states[2] != "confirm"


@pytest.mark.audio
@pytest.mark.slow
def test_a_day_from_the_live_loop_to_the_replay(tmp_path: Path) -> None:
    """A whole conversation with kept audio through the live loop; the replay hears each word in its state."""
    import subprocess
    import sys

    import soundfile

    from callout.files import data_folder

    demo = data_folder("audio_fixtures") / "demo"
    silence = np.zeros(8000, np.float32)
    parts = [soundfile.read(demo / f"{name}_clean.flac", dtype="float32")[0] for name in ("whole", "chatter")]
    soundfile.write(
        tmp_path / "day.wav", np.concatenate([x for part in parts for x in (silence, part, silence)]), 16000
    )
    journal = tmp_path / "day.journal"
    listen_command = [sys.executable, "-m", "callout", "listen", "--from", str(tmp_path / "day.wav"), "--mute",
                      "--journal", str(journal), "--keep-audio", "--json"]  # fmt: skip
    done = subprocess.run(listen_command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    replayed = subprocess.run(
        [sys.executable, "-m", "callout", "replay", str(journal), "--json"], capture_output=True, text=True, timeout=120
    )
    assert replayed.returncode == 0, replayed.stderr
    lines = [json.loads(line) for line in replayed.stdout.splitlines()]
    for line in lines:
        TypeAdapter(ReplayLine).validate_python(line, strict=True)
    assert lines[-1]["heard_again"] == lines[-1]["same"] >= 1
    assert lines[0]["now"]["meaning"]["insertion"]["text"] == "11 ft"
