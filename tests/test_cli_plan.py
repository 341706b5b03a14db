"""`callout plan` as a user types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from callout.cli import main


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as end:
        main(["plan", *arguments])
    out, err = capsys.readouterr()
    assert isinstance(end.value.code, int)
    return end.value.code, out, err


def test_json_has_the_geometry_by_rule_and_exactly(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "--insertion", "11 ft", "--angle", "60", "--json")
    assert code == 0
    assert err == ""
    assert out.count("\n") == 1
    build = json.loads(out)["build"]
    assert build["geometry"]["raker"]["rule"]["text"] == "12 ft 10 in"
    assert build["geometry"]["raker"]["exact"]["eightieths_mm"] == round(132 / 0.8660254037844386 * 2032)
    assert build["geometry"]["base"]["rule"]["text"] == "6 ft 5 in"
    assert build["missing"] == []
    assert build["parts"][0]["item"] == 1


@pytest.mark.parametrize("typed", ["11 ft 6 1/2 in", "eleven feet six and a half inches", "11' 6 1/2\""])
def test_lengths_as_they_are_written_or_said(capsys: pytest.CaptureFixture[str], typed: str) -> None:
    _, out, _ = run(capsys, "--insertion", typed, "--angle", "45", "--json")
    assert json.loads(out)["build"]["request"]["insertion"]["text"] == "11 ft 6 1/2 in"


def test_the_sheet_is_text_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--insertion", "8 ft", "--angle", "60", "--sole", "solid")
    assert code == 0
    for heading in ("BUILD 1", "LENGTHS", "PARTS", "PICK UP", "CUT", "STEPS", "CHECK BEFORE LOAD", "CAUTIONS"):
        assert heading in out


def test_the_drawing_goes_to_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "shore.svg"
    assert run(capsys, "--insertion", "11 ft", "--angle", "60", "--svg", str(file))[0] == 0
    assert file.read_text().startswith("<svg")


def test_geometry_is_there_when_the_stock_cannot_build(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from callout.shoring.stockfile import PACKAGED

    bare = tmp_path / "bare.toml"
    lines = PACKAGED.read_text().splitlines()
    bare.write_text("\n".join("quantity = 0" if line.startswith("quantity") else line for line in lines))
    code, out, _ = run(capsys, "--insertion", "11 ft", "--angle", "60", "--stock", str(bare), "--json")
    build = json.loads(out)["build"]
    assert code == 0
    assert not build["possible"]
    assert build["missing"]
    assert build["geometry"]["raker"]["rule"]["text"] == "12 ft 10 in"


def test_a_shore_that_does_not_exist_is_an_answer_not_an_error(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--insertion", "11 ft", "--angle", "25", "--json")
    assert code == 0
    assert "not 25" in json.loads(out)["build"]["refused"]["reason"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["--insertion", "banana", "--angle", "60"],
        ["--insertion", "11", "--angle", "60"],
        ["--angle", "60"],
        ["--insertion", "11 ft", "--angle", "sixty-ish"],
        ["--insertion", "11 ft", "--angle", "60", "--stock", "/nowhere/stock.toml"],
        ["--insertion", "11 ft", "--angle", "60", "--rules", "/nowhere/rules.toml"],
        ["--insertion", "11 ft", "--angle", "60", "--svg", "/nowhere/shore.svg"],
        ["--insertion", "11 ft", "--angle", "60", "--rakers", "0"],
    ],
)
def test_bad_input_is_exit_two_without_a_traceback(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    code, out, err = run(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    assert "fault in the program" not in err
