"""`callout plan` as a user types it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

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
    for heading in ("Build 1", "PARTS", "CUT", "STEPS"):
        assert heading in out
    code, out, _ = run(capsys, "--insertion", "8 ft", "--angle", "60", "--sole", "solid", "--full", "--place", "yard")
    for heading in ("yard", "LENGTHS", "PICK UP", "CHECK BEFORE LOAD", "LOADS", "SOURCES", "CAUTIONS"):
        assert heading in out


def test_the_page_goes_to_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "shore.html"
    assert run(capsys, "--insertion", "11 ft", "--angle", "60", "--html", str(file))[0] == 0
    assert file.read_text().startswith("<!doctype html>")


@pytest.mark.parametrize("said", [["--angle", "60"], ["--angle", "45", "--sole", "split"], ["--kind", "laced_post"]])
def test_the_pdf_is_one_page(capsys: pytest.CaptureFixture[str], tmp_path: Path, said: list[str]) -> None:
    file = tmp_path / "shore.pdf"
    assert run(capsys, "--insertion", "11 ft", *said, "--pdf", str(file))[0] == 0
    data = file.read_bytes()
    assert data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type /Page\b", data)) == 1
    assert b"/Helvetica" in data


def test_no_shore_ends_with_exit_zero_and_a_blank_drawing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "shore.svg"
    code, out, err = run(capsys, "--insertion", "11 ft", "--angle", "25", "--svg", str(file))
    assert code == 1
    assert "Not built" in out
    assert "there is no such shore to draw" in err
    assert not file.exists()


def test_the_drawing_goes_to_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "shore.svg"
    assert run(capsys, "--insertion", "11 ft", "--angle", "60", "--svg", str(file))[0] == 0
    assert file.read_text().startswith("<svg")


def test_geometry_is_there_when_the_stock_cannot_build(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from callout.shoring.stock import PACKAGED

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
    assert code == 1  # so that a script does not take it for a shore
    assert "not 25" in json.loads(out)["build"]["refused"]["reason"]


def two_struts(tmp_path: Path) -> Path:
    """The packaged stock with two eight foot struts and no other."""
    from callout.shoring.stock import PACKAGED

    head, *tables = PACKAGED.read_text().split("[[")
    for number, table in enumerate(tables):
        if 'family = "strut"' in table:
            there = 2 if 'name = "eight foot strut"' in table else 0
            tables[number] = re.sub(r"quantity = \d+", f"quantity = {there}", table)
    file = tmp_path / "two.toml"
    file.write_text("[[".join([head, *tables]))
    return file


def builds(out: str) -> dict[int, dict[str, Any]]:
    return {build["build_id"]: build for build in (json.loads(line)["build"] for line in out.splitlines())}


def test_an_earlier_build_keeps_its_pieces_until_they_are_moved(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    said = ["--insertion", "11 ft", "--angle", "60", "--stock", str(two_struts(tmp_path)), "--json"]
    one = tmp_path / "one.json"
    one.write_text(run(capsys, *said)[1])
    code, out, _ = run(capsys, *said, "--after", str(one))
    assert code == 0
    assert [(n, build["possible"]) for n, build in builds(out).items()] == [(2, False)]
    code, out, _ = run(capsys, *said, "--after", str(one), "--move", "2 eight foot strut")
    assert code == 0
    assert [(n, build["possible"]) for n, build in builds(out).items()] == [(2, True), (1, False)]
    assert builds(out)[1]["missing"][0]["part"] == "strut"


@pytest.mark.parametrize(
    ("move", "says"),
    [
        ("two eight foot strut", "write it like"),
        ("0 eight foot strut", "write it like"),
        ("2 eight foot strut from 7", "no earlier build 7"),
        ("2 eight foot strut from 2", "no earlier build 2"),
        ("2 gold bar", "no build was promised a 'gold bar'"),
        ("3 eight foot strut from 1", "build 1 has 2 eight foot strut to give, 3 wanted"),
        ("1 wall plate", "build 2 would take no wall plate"),
    ],
)
def test_a_move_that_cannot_be_is_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, move: str, says: str
) -> None:
    said = ["--insertion", "11 ft", "--angle", "60", "--stock", str(two_struts(tmp_path))]
    one = tmp_path / "one.json"
    one.write_text(run(capsys, *said, "--json")[1])
    code, out, err = run(capsys, *said, "--after", str(one), "--move", move)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1


def test_earlier_builds_from_another_stock_are_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    one = tmp_path / "one.json"
    one.write_text(run(capsys, "--insertion", "15 ft", "--angle", "60", "--json")[1])
    said = ["--insertion", "11 ft", "--angle", "60", "--stock", str(two_struts(tmp_path)), "--after", str(one)]
    code, _, err = run(capsys, *said)
    assert code == 2
    assert "build 1 was not planned from this stock" in err


def test_what_the_shore_carries_and_what_it_is_written_in(capsys: pytest.CaptureFixture[str]) -> None:
    said = ["--insertion", "8 ft", "--kind", "laced_post", "--load", "40000", "--units", "metres", "--full"]
    _, out, _ = run(capsys, *said)
    assert "post 6x6: the smallest that is taken to carry 177.9 kN" in out
    assert "  insertion                  -                 2.438 m" in out
    _, out, _ = run(capsys, "--insertion", "8 ft", "--kind", "t", "--post", "6x6")
    assert out.startswith("Build 1: T shore of 6x6, void 8 ft")


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
        ["--insertion", "8 ft", "--kind", "t", "--load", "0"],
        ["--insertion", "8 ft", "--kind", "t", "--load", "nan"],
        ["--insertion", "8 ft", "--kind", "t", "--post", "8x8"],
        ["--insertion", "11 ft", "--angle", "60", "--after", "/nowhere/one.json"],
        ["--insertion", "11 ft", "--angle", "60", "--after", __file__],
    ],
)
def test_bad_input_is_exit_two_without_a_traceback(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    code, out, err = run(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    assert "fault in the program" not in err
