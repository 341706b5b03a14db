"""Recording people without a microphone: the sound comes from memory, the answers from a list."""

from __future__ import annotations

import json
import random
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from callout.cli import group
from callout.cli.record import ask_consent, run_session
from callout.errors import BadInput
from callout.hearing.sources import MemorySource
from callout.scoring.manifest import read_manifest
from callout.scoring.prompts import TWIN_WORDS, all_prompts, as_prompt, callout_prompts, voice_prompts
from callout.scoring.recording import Recordings, check_level, record_until, record_utterance
from callout.scoring.schemas import RecordedLine

RATE = 16000


def speech(level: float = 0.1, lead: float = 0.5, tail: float = 0.5, noise: float = 1e-4) -> np.ndarray:
    """Two seconds of sound at `level` (root mean square) between two silences."""
    rng = np.random.default_rng(1)
    t = np.arange(2 * RATE) / RATE
    sound = np.sin(2 * np.pi * 300 * t) + np.sin(2 * np.pi * 900 * t)
    sound *= level / np.sqrt(np.mean(sound**2))
    x = np.pad(sound, (round(lead * RATE), round(tail * RATE)))
    return np.clip(x + noise * rng.standard_normal(len(x)), -1, 1).astype(np.float32)


@pytest.mark.parametrize(
    ("samples", "advice"),
    [
        (speech(), ""),
        (speech(level=0.002, noise=1e-6), "too soft"),
        (speech(level=0.9), "too loud"),
        (speech(noise=0.05), "hardly louder than the noise"),
        (speech(lead=0.0), "the beginning may be lost"),
        (speech(tail=0.0), "the end may be lost"),
        (np.zeros(RATE, np.float32), "nothing was heard"),
        (np.zeros(0, np.float32), "nothing was heard"),
    ],
)
def test_the_level_check_says_what_to_do_better(samples: np.ndarray, advice: str) -> None:
    check = check_level(samples)
    assert check.good is not bool(advice)
    assert advice in " ".join(check.advice)


def test_the_level_is_that_of_the_speech() -> None:
    check = check_level(speech(level=0.1, noise=1e-3))
    assert check.level_db == pytest.approx(-20, abs=0.6)  # 0.1 of full scale
    assert check.floor_db == pytest.approx(-60, abs=1.5)  # 0.001 of it


def sitting(folder: Path, answers: list[str], count: int = 2, as_json: bool = False) -> tuple[int, Recordings]:
    recordings = Recordings(folder)
    prompts = list(islice(callout_prompts(random.Random(1)), count))
    about = {
        "speaker": "Kim",
        "licence": "CC0-1.0",
        "channel": "handheld",
        "noise": "yard",
        "consent": "2030-01-31T14:00",
    }
    given = iter(answers)
    kept = run_session(
        recordings, prompts, about, lambda: MemorySource(speech()), lambda text: None, as_json, lambda text: next(given)
    )
    return kept, recordings


def test_a_session_leaves_recordings_that_score_can_read(tmp_path: Path) -> None:
    kept, recordings = sitting(tmp_path, ["", "", "", "", "", "k"])
    assert (kept, recordings.kept) == (2, 2)
    entries = list(read_manifest(tmp_path / "manifest.jsonl"))
    assert all(entry.given and entry.meaning for entry in entries)
    assert (entries[0].speaker, entries[0].channel, entries[0].noise) == ("Kim", "handheld", "yard")
    info = soundfile.info(tmp_path / entries[0].file)
    assert (info.format, info.samplerate, info.channels) == ("FLAC", RATE, 1)
    assert info.duration == pytest.approx(3.0, abs=0.01)
    line = json.loads((tmp_path / "manifest.jsonl").read_text().splitlines()[0])
    assert line["licence"] == "CC0-1.0"
    RecordedLine.model_validate(line)


def test_repeat_leave_out_and_quit(tmp_path: Path) -> None:
    kept, _ = sitting(tmp_path / "a", ["", "", "r", "", "", "s", "", "", "k"])  # repeated and left out, kept
    assert kept == 1
    kept, _ = sitting(tmp_path / "b", ["", "", "q"])
    assert kept == 0
    assert not list((tmp_path / "b").glob("*.flac"))


def test_nothing_is_ever_written_over(tmp_path: Path) -> None:
    sitting(tmp_path, [""] * 6)
    before = {p.name: p.read_bytes() for p in tmp_path.glob("*.flac")}
    (tmp_path / "0003-kim-insertion.flac").write_bytes(b"somebody else's")
    _, recordings = sitting(tmp_path, [""] * 6)
    assert recordings.kept == 4
    for name, data in before.items():
        assert (tmp_path / name).read_bytes() == data
    assert (tmp_path / "0003-kim-insertion.flac").read_bytes() == b"somebody else's"
    assert len({entry.file for entry in read_manifest(tmp_path / "manifest.jsonl")}) == 4


def test_a_folder_with_a_table_is_refused(tmp_path: Path) -> None:
    (tmp_path / "manifest.csv").write_text("file,words\n")
    with pytest.raises(BadInput, match="use a new folder"):
        Recordings(tmp_path)


def test_without_consent_nothing_begins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("click.confirm", lambda *args, **more: False)
    assert ask_consent("Kim", "CC0-1.0", False, tmp_path) is None
    given = ask_consent("Kim", "CC BY 4.0", True, tmp_path)
    assert given is not None
    assert (given["speaker"], given["licence"]) == ("Kim", "CC BY 4.0")
    assert given["consent"][:2] == "20"


def test_a_recording_lasts_from_signal_to_signal() -> None:
    samples = record_until(MemorySource(speech()), lambda: None)
    assert np.array_equal(samples, speech())


def test_an_utterance_begins_and_ends_by_itself() -> None:
    samples, began = record_utterance(MemorySource(speech(lead=1.5, tail=3.0, noise=1e-3)))
    assert began == pytest.approx(1.0, abs=0.2)  # half a second before the sound
    assert len(samples) / RATE == pytest.approx(0.5 + 2.0 + 0.9, abs=0.3)
    silent, waited = record_utterance(MemorySource(np.zeros(5 * RATE, np.float32)), wait_s=2)
    assert len(silent) == 0
    assert waited == pytest.approx(2, abs=0.1)


def test_prompts_mean_what_they_say_and_half_of_them_hold_twins() -> None:
    prompts = list(islice(callout_prompts(random.Random(3)), 200))
    for prompt in prompts:
        again = as_prompt(prompt.text)
        assert again is not None
        assert again.meaning == prompt.meaning
        assert prompt.figures.startswith("insertion point ")
    assert sum(p.has_twin for p in prompts) > 100
    assert len({p.text for p in prompts}) > 100


def test_prompts_of_the_whole_grammar_hold_commands_too() -> None:
    prompts = list(islice(all_prompts(random.Random(3)), 60))
    assert any("command" in p.meaning for p in prompts)
    assert any("insertion" in p.meaning for p in prompts)


def test_a_voice_says_forty_different_sentences_with_every_twin_and_the_commands_of_a_conversation() -> None:
    prompts = voice_prompts(random.Random(3))
    assert len({prompt.text for prompt in prompts}) == len(prompts) == 40
    callouts = [prompt for prompt in prompts if "insertion" in prompt.meaning]
    commands = {str(prompt.meaning["command"]) for prompt in prompts if "command" in prompt.meaning}
    assert len(callouts) == 25
    assert {word for prompt in callouts for word in prompt.text.split()} >= TWIN_WORDS
    assert commands >= {"affirm", "negative", "ready", "next", "undo", "correction", "say_again", "stop"}
    assert all(len(prompt.text.split()) <= 9 for prompt in prompts), "short ones: five minutes are enough"


def test_a_voice_has_sentences_of_its_own(tmp_path: Path) -> None:
    line = ["record", str(tmp_path / "kim"), "--voice", "kim", "--state", "confirm"]
    result = CliRunner().invoke(group, line)
    assert isinstance(result.exception, BadInput)
    assert "leave out --words and --state" in str(result.exception)
    assert not (tmp_path / "kim").exists()
