"""The recordings are what their manifests say, and come out of their plan again."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audio_fixtures import build, voices
from callout.values import meaning_from_json

SETS = ("demo", "balanced")


def manifest(name: str) -> list[dict]:
    return list(build.read_manifest(build.HERE / name / "manifest.jsonl").values())


@pytest.mark.parametrize("name", SETS)
def test_every_recording_is_the_one_in_the_manifest(name: str) -> None:
    folder = build.HERE / name
    lines = manifest(name)
    assert {p.name for p in folder.glob("*.flac")} == {line["file"] for line in lines}
    for line in lines:
        assert hashlib.sha256((folder / line["file"]).read_bytes()).hexdigest() == line["sha256"], line["file"]
        info = soundfile.info(folder / line["file"])
        assert (info.samplerate, info.channels, info.subtype) == (16000, 1, "PCM_16")
        assert 0.5 < info.duration < 12


@pytest.mark.parametrize("name", SETS)
def test_every_recording_names_its_maker_and_its_licence(name: str) -> None:
    for line in manifest(name):
        assert line["licence"]
        assert line["made"]


@pytest.mark.parametrize("name", SETS)
def test_the_manifest_says_what_the_plan_says(name: str) -> None:
    planned = {line["file"]: (build.words_of(line), build.meaning_of(line["meaning"])) for line in build.plan(name)}
    assert {line["file"]: (line["words"], line["meaning"]) for line in manifest(name)} == planned
    for _, meaning in planned.values():
        meaning_from_json(meaning)


def test_both_sets_together_are_small() -> None:
    sizes = {name: sum(p.stat().st_size for p in (build.HERE / name).iterdir()) for name in SETS}
    assert sizes["demo"] < 3e6
    assert sum(sizes.values()) < 25e6


def test_the_set_is_balanced() -> None:
    """Every kind of utterance, every noise, natural and old voices, clean as often as through the radio."""
    lines = manifest("balanced")
    groups = Counter(line["group"] for line in lines)
    assert set(groups) == {"callout", "part", "command", "correction", "chatter", "cut_off", "silence", "noise"}
    spoken = [line for line in lines if line["speaker"]]
    channels = Counter(line["channel"] for line in spoken)
    assert channels["clean"] * 2 == len(spoken)
    dealt = [channels[name] for name in build.DEALT]
    assert max(dealt) - min(dealt) <= 1
    speakers = Counter(line["speaker"] for line in spoken)
    assert set(speakers) == set(build.VOICES)
    assert max(speakers.values()) - min(speakers.values()) <= 4
    holds_nothing = sum(line["meaning"] is None for line in lines)
    assert 0.2 < holds_nothing / len(lines) < 0.4


def test_the_babble_is_five_voices_without_a_figure() -> None:
    """Babble made of callouts would test something else."""
    from callout.language.numerals import NUMBER_WORDS
    from callout.scoring.conditions import babble_voices

    assert len(babble_voices()) == len(build.BABBLE) == 5
    for text in build.BABBLE.values():
        assert NUMBER_WORDS.isdisjoint(text.split())
        assert "insertion" not in text


def test_the_meanings_by_hand_are_those_of_the_resolver() -> None:
    """The plan was written by hand; what the words mean to the program must be the same."""
    from callout.language.resolve import resolve_text
    from callout.values import meaning_json

    for name in SETS:
        for line in build.plan(name):
            if line["group"] == "cut_off":
                continue
            result = resolve_text(build.words_of(line))
            understood = meaning_json(result.meaning) if result.outcome == "understood" else None
            assert understood == build.meaning_of(line["meaning"]), line["say"]


def test_noise_and_silence_come_out_again_to_the_bit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Computed from a seed with numpy and scipy alone. Filters may differ in the last bit on another processor."""
    lines = [
        line
        for line in build.plan("balanced")
        if line["group"] in ("silence", "noise") and line.get("noise") != "babble"
    ]
    monkeypatch.setattr(build, "plan", lambda name: iter(lines))
    assert build.build("balanced", tmp_path) == len(lines) == 12
    for line in lines:
        ours = soundfile.read(build.HERE / "balanced" / line["file"], dtype="int16")[0].astype(int)
        again = soundfile.read(tmp_path / line["file"], dtype="int16")[0].astype(int)
        assert np.abs(ours - again).max() <= 1


def test_a_missing_engine_leaves_its_recordings_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def missing(voice: str, text: str, speed: float = 1.0) -> np.ndarray:
        raise voices.EngineMissing("install it")

    monkeypatch.setattr(build, "speak", missing)
    (tmp_path / "manifest.jsonl").write_text(json.dumps({"file": "whole_clean.flac", "kept": True}) + "\n")
    assert build.build("demo", tmp_path) == 1
    assert "engine missing: hibari:heart: install it" in capsys.readouterr().err
    assert [line["file"] for line in build.read_manifest(tmp_path / "manifest.jsonl").values()] == ["whole_clean.flac"]


@pytest.mark.slow
@pytest.mark.parametrize("name", SETS)
def test_the_whole_set_comes_out_with_equal_hashes(name: str, tmp_path: Path) -> None:
    """Needs every engine of audio_fixtures/README.md; those that are missing are left out of the comparison."""
    build.build(name, tmp_path)
    again = build.read_manifest(tmp_path / "manifest.jsonl")
    kept = build.read_manifest(build.HERE / name / "manifest.jsonl")
    assert again
    assert {file: line["sha256"] for file, line in again.items()} == {file: kept[file]["sha256"] for file in again}
