"""Marking a trainee: tables from what was asked and answered to what it was worth."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from pydantic import TypeAdapter

from callout.cli import drill as cli
from callout.hearing.sources import MemorySource
from callout.scoring.drill import (
    Exercise,
    MarkedAnswer,
    PastRounds,
    Round,
    in_order,
    mark,
    spoken_answers,
    understand_text,
)
from callout.scoring.prompts import Prompt, as_prompt
from callout.scoring.schemas import DrillLine

CALL = "insertion fifteen feet six inches sixty"


def prompt(text: str) -> Prompt:
    found = as_prompt(text)
    assert found is not None
    return found


def marked(kind: str, asked: str, answer: str, **more: object) -> MarkedAnswer:
    given = understand_text(answer, 3.0)
    return mark(Exercise(kind, prompt(asked)), given.result, given.words, 3.0, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "asked", "answer", "right", "skills"),
    [
        ("call", CALL, CALL, True, {"numbers": True, "twins": True, "order": True}),
        ("call", CALL, "insertion one five feet six inches six zero", True,
         {"numbers": True, "twins": True, "order": True}),
        ("call", CALL, "insertion five feet six inches sixty", False,
         {"numbers": False, "twins": False, "order": True}),
        ("call", CALL, "fifteen feet six inches sixty", False, {"numbers": True, "twins": True, "order": False}),
        ("call", CALL, "sixty fifteen feet six inches", False, {"order": False}),
        ("call", CALL, "", False, {"numbers": False, "order": False}),
        ("listen", CALL, CALL, True, {"numbers": True, "twins": True}),
        ("listen", CALL, "fifteen feet six inches sixty", True, {"numbers": True, "twins": True}),  # no lead-in needed
        ("listen", CALL, "insertion fifteen feet sixty", False, {"numbers": False, "twins": False}),
        ("listen", "insertion eight feet forty five", "insertion eight feet forty five", True, {"numbers": True}),
    ],
)  # fmt: skip
def test_an_answer_is_marked_by_skill(kind: str, asked: str, answer: str, right: bool, skills: dict) -> None:
    found = marked(kind, asked, answer)
    assert found.right is right
    assert {name: found.skills[name] for name in skills} == skills
    assert bool(found.advice) is not right


@pytest.mark.parametrize(("key", "good"), [((0.5, 0.6), True), ((0.05, 0.6), False), ((0.5, 0.0), False)])
def test_push_to_talk_is_marked_when_a_voice_answered(key: tuple[float, float], good: bool) -> None:
    assert marked("call", CALL, CALL, key=key).skills["push_to_talk"] is good
    assert "push_to_talk" not in marked("call", CALL, CALL).skills


@pytest.mark.parametrize(
    ("words", "ordered"),
    [
        (CALL, True),
        ("insertion eleven feet", False),  # no angle
        ("eleven feet sixty", False),
        ("insertion sixty eleven feet", False),
        ("insertion", False),
        ("", False),
    ],
)
def test_the_order_of_a_callout(words: str, ordered: bool) -> None:
    assert in_order(words.split()) is ordered


def test_a_round_adds_up_by_skill() -> None:
    done = Round("Kim", [marked("call", CALL, CALL), marked("call", CALL, "insertion six feet sixty")])
    assert done.by_skill() == {
        "numbers": {"right": 1, "n": 2}, "order": {"right": 2, "n": 2}, "twins": {"right": 1, "n": 2}}  # fmt: skip
    assert done.to_json()["right"] == 1


def test_progress_is_kept_per_name_and_survives_a_damaged_line(tmp_path: Path) -> None:
    kept = PastRounds("Kim O'Neil / 2", tmp_path)
    assert kept.rounds() == []
    kept.add({"n": 10, "right": 7})
    with kept.path.open("a") as file:
        file.write('{"n": 1')
    file_name = kept.path.name
    assert file_name == "kim-o-neil-2.jsonl"
    assert PastRounds("Kim O'Neil / 2", tmp_path).rounds() == [{"n": 10, "right": 7}]
    assert PastRounds("Sam", tmp_path).rounds() == []


def drill(tmp_path: Path, arguments: list[str], text: str = "") -> tuple[str, str]:
    result = CliRunner().invoke(cli.drill, arguments, input=text, env={"CALLOUT_DATA": str(tmp_path)})
    assert result.exit_code == 0, result.output
    return result.stdout, result.stderr


def test_a_typed_round_from_beginning_to_end(tmp_path: Path) -> None:
    _, shown = drill(tmp_path, ["Kim", "--typed", "--mute", "--seed", "4"])
    assert "1: call this out: insertion point" in shown
    import random
    from itertools import islice

    from callout.scoring.prompts import callout_prompts

    answers = "\n".join(p.text for p in islice(callout_prompts(random.Random(4)), 10))
    out, _ = drill(tmp_path, ["Kim", "--typed", "--mute", "--seed", "4", "--json"], answers + "\n")
    lines = [json.loads(line) for line in out.splitlines()]
    assert len(lines) == 11
    for line in lines:
        TypeAdapter(DrillLine).validate_python(line, strict=True)
    assert all(line["right"] for line in lines[:10])
    assert lines[10]["right"] == lines[10]["n"] == 10
    out, _ = drill(tmp_path, ["Kim", "--progress"])
    assert out.count("10/10") >= 1


@pytest.mark.audio
@pytest.mark.parametrize("keyed", [False, True])
def test_an_answer_by_voice_goes_through_the_ears(keyed: bool) -> None:
    """The demo's recording stands for a trainee at the microphone."""
    from callout.files import data_folder
    from callout.hearing.audio import read_audio

    samples = read_audio(data_folder("audio_fixtures") / "demo" / "whole_clean.flac")
    source = MemorySource(np.pad(samples, (8000, 16000)))
    with spoken_answers(lambda: source, keyed, lambda text: None) as answers:
        given = answers()
    assert given is not None
    assert given.result.outcome == "understood"
    assert (given.key is not None) is keyed
    found = mark(Exercise("call", prompt("insertion eleven feet sixty")), given.result, given.words, given.seconds,
                 key=given.key, confidence=given.confidence)  # fmt: skip
    assert found.right
    assert found.skills.get("push_to_talk", True)


def test_what_is_listened_to_comes_over_a_bad_radio() -> None:
    tone = (8000 * np.sin(np.arange(22050) / 10)).astype(np.int16)
    heard = cli.over_the_radio(tone, 22050, 5.0, "babble", 1)
    assert heard.dtype == np.int16
    assert len(heard) > len(tone) + 22050 * 0.9
    assert np.array_equal(heard, cli.over_the_radio(tone, 22050, 5.0, "babble", 1))
