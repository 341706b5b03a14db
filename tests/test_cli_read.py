"""`callout read`: the published line for each utterance, whatever was typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result

from callout.cli import group

KEYS = ["file", "outcome", "words", "meaning", "confidence", "parts", "reasons", "seconds", "listener"]
CALLOUT = ["kind", "sole", "insertion", "spacing", "wall_height", "wall_thickness", "lean", "angle_deg", "rakers",
           "position", "ground", "for_whom"]  # fmt: skip
COMMAND = ["command", "item", "build", "quantity", "part", "length"]


def run(*arguments: str, stdin: str | bytes | None = None) -> Result:
    return CliRunner().invoke(group, ["read", *arguments], input=stdin)


def lines(result: Result) -> list[dict[str, object]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


def test_a_callout_as_json() -> None:
    (row,) = lines(run("insertion eleven feet sixty", "--json"))
    assert list(row) == KEYS
    assert row["outcome"] == "understood"
    assert row["words"] == ["insertion eleven feet sixty"]
    assert row["listener"] == "typed"
    assert row["confidence"] == 1.0
    assert row["seconds"] == {"audio": 0.0, "decode": 0.0}
    meaning = row["meaning"]
    assert isinstance(meaning, dict)
    assert sorted(meaning) == sorted(CALLOUT)
    assert meaning["insertion"] == {"eightieths_mm": 268224, "text": "11 ft"}
    assert meaning["angle_deg"] == 60
    assert meaning["kind"] == "raker"
    assert meaning["rakers"] is None
    sure = {"confidence": 1.0, "agreement": None}
    assert row["parts"] == [
        {"name": "insertion", "value": {"eightieths_mm": 268224, "text": "11 ft"}, **sure},
        {"name": "angle_deg", "value": 60, **sure},
    ]


def test_a_command_as_json() -> None:
    (row,) = lines(run("say again item four", "--json"))
    meaning = row["meaning"]
    assert isinstance(meaning, dict)
    assert sorted(meaning) == sorted(COMMAND)
    assert (meaning["command"], meaning["item"], meaning["part"]) == ("say_again", 4, None)


def test_a_correction_of_one_part_as_json() -> None:
    (row,) = lines(run("correction angle four five", "--json"))
    meaning = row["meaning"]
    assert isinstance(meaning, dict)
    assert (meaning["command"], meaning["part"], meaning["quantity"]) == ("correction", "angle_deg", 45)
    (row,) = lines(run("correction insertion twelve feet", "--json"))
    meaning = row["meaning"]
    assert isinstance(meaning, dict)
    assert (meaning["part"], meaning["length"]) == ("insertion", {"eightieths_mm": 292608, "text": "12 ft"})


@pytest.mark.parametrize(
    ("said", "outcome"),
    [
        ("insertion eleven feet sixty", "understood"), ("eleven feet", "ambiguous"),
        ("the kettle is on", "not_understood"),
        ("insertion fifty feet sixty", "not_possible"), ("", "nothing"),
    ],
)  # fmt: skip
def test_every_outcome_ends_with_exit_code_0(said: str, outcome: str) -> None:
    result = run(said, "--json")
    assert result.exit_code == 0
    (row,) = lines(result)
    assert row["outcome"] == outcome


def test_one_line_for_each_line_of_standard_input_a_blank_one_too() -> None:
    result = run("-", "--json", stdin="insertion eleven feet\n\nsixty\n   \naffirm\n")
    assert [row["outcome"] for row in lines(result)] == ["understood", "nothing", "understood", "nothing", "understood"]


def test_a_last_line_without_an_end() -> None:
    assert len(lines(run("-", "--json", stdin="affirm\nsixty"))) == 2


def test_empty_input_gives_no_line() -> None:
    result = run("-", "--json", stdin="")
    assert result.exit_code == 0
    assert result.stdout == ""


def test_windows_line_ends_and_a_byte_order_mark() -> None:
    rows = lines(run("-", "--json", stdin="\ufeffinsertion eleven feet sixty\r\naffirm\r\n"))
    assert [row["outcome"] for row in rows] == ["understood", "understood"]


def test_several_arguments_are_several_utterances() -> None:
    assert len(lines(run("insertion eleven feet", "sixty", "--json"))) == 2


def test_in_words_for_a_person() -> None:
    result = run("11' 6 1/2\" @60")
    assert result.exit_code == 0
    assert "11 ft 6 1/2 in" in result.stdout
    assert "readback: insertion: one one feet six and one half inches" in result.stdout
    assert "did you mean: insertion eleven feet sixty" in run("insertoin eleven feet sixty").stdout
    assert "shorthand" in result.stdout
    assert "asked: insertion" in run("eleven feet").stdout


def test_text_that_is_no_utf8_is_a_bad_input() -> None:
    result = run("-", "--json", stdin=b"insertion eleven feet\n\xff\xfe\xff\n")
    assert result.exit_code in (1, 2)
    assert result.exception is not None
    assert getattr(result.exception, "exit_code", 2) == 2


@pytest.mark.parametrize("text", ["x" * 1_000_000, "insertion " * 200_000, "\N{FIRE}" * 50_000])
def test_a_megabyte_is_refused_in_one_line(text: str) -> None:
    (row,) = lines(run("-", "--json", stdin=text))
    assert row["outcome"] == "not_understood"
    reasons = row["reasons"]
    assert isinstance(reasons, list)
    assert "10,000" in reasons[0]


def test_no_text_is_a_usage_error() -> None:
    assert run().exit_code == 2
