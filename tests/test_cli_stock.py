"""A team's own stock file within the hour: from a table of the yard, refused until it is whole, then what it builds."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from callout.cli.stock import stock
from callout.errors import BadInput
from callout.schemas import schema_of
from callout.session.stock_questions import KIT, ask_about_yard
from callout.session.stock_report import stock_report
from callout.shoring.kit import Kit
from callout.shoring.plan import ShorePlanner, reach
from callout.shoring.stock import load_stock, parse_stock
from callout.shoring.stock_start import EXAMPLE, stock_text
from callout.shoring.stock_table import read_table
from callout.values import Length

OTHER_KIT = Path(__file__).parent / "data" / "other_kit.toml"


def run(*words: str) -> str:
    result = CliRunner().invoke(stock, [str(word) for word in words], catch_exceptions=False, standalone_mode=False)
    return result.stdout


def filled_in(text: str) -> str:
    """The figures of an invented kit in the place of each FILL IN: those of the packaged stock."""
    packaged = load_stock().kit
    return re.sub(
        r'^(\w+) = "FILL IN"( # .*)?$', lambda line: f"{line[1]} = {json.dumps(getattr(packaged, line[1]).text)}", text,
        flags=re.M,
    )  # fmt: skip


def test_a_table_of_the_yard_becomes_a_stock_file(tmp_path: Path) -> None:
    table, file = tmp_path / "yard.csv", tmp_path / "yard.toml"
    table.write_text(run("--columns"))
    run("--init", "--from", table, file)
    with pytest.raises(BadInput, match="plate_length"):
        load_stock(file)  # the maker's figures are never guessed
    file.write_text(filled_in(file.read_text()))
    found = load_stock(file)
    assert {line.name: line.quantity for line in found.lines} == {
        "strut, 6 ft": 8, "brace, 20 in": 6, "extension, 2 ft": 6, "4x4 timber, 16 ft": 10, "brick anchor": 60,
        "picket, 4 ft": 40, "16d nail": 500,
    }  # fmt: skip
    strut = found.by_name["strut, 6 ft"]
    assert (strut.closed, strut.open, strut.screw) == (Length.imperial(6), Length.imperial(9), Length.imperial(3))


#: The yard of `EXAMPLE` as a person answers, with slips: each is told and its question comes again.
ANSWERS = """strut
six
6 ft
5 ft
9 ft
many
8

rack B
29
timber
4x4
16 ft
10
timber bay
heavy
44
anchor
brick

60
crate 5
0.4

4 ft
"""


def test_a_stock_file_comes_of_questions(tmp_path: Path) -> None:
    file = tmp_path / "yard.toml"
    done = CliRunner().invoke(stock, ["--init", "--ask", str(file)], input=ANSWERS, standalone_mode=False)
    assert done.exception is None, done.output
    for told in ("'six' is not a length", "longer than 6 ft", "write a whole number", "this one is needed",
                 "write the pounds of one piece"):  # fmt: skip
        assert told in done.output
    text = file.read_text()
    assert 'plate_length = "4 ft"' in text
    assert text.count("FILL IN") >= 10  # nobody answered any more
    found = parse_stock(filled_in(text))
    assert {line.name: (line.quantity, line.where, line.weight_lb) for line in found.lines} == {
        "strut, 6 ft": (8, "rack B", 29), "4x4 timber, 16 ft": (10, "timber bay", 44),
        "brick anchor": (60, "crate 5", 0.4),
    }  # fmt: skip


def test_the_kit_is_asked_for_whole() -> None:
    """Every figure without which a stock file is refused has its question; all answered, nothing is left to fill in."""
    needed = {name for name, about in Kit.model_fields.items() if about.is_required()}
    assert set(KIT) == needed
    packaged = load_stock().kit
    answers = iter(["", *(getattr(packaged, name).text for name in KIT)])
    given = ask_about_yard(lambda question: next(answers), lambda told: None)
    text = stock_text("yard", given.rows, "answers", given.kit)
    assert "FILL IN" not in text
    assert parse_stock(text + EXAMPLE_PART).kit.plate_length == packaged.plate_length


EXAMPLE_PART = '\n[[piece]]\nname = "anchor"\npart = "anchor"\nquantity = 1\nwhere = "crate"\nweight_lb = 1.0\n'


@pytest.mark.skipif(os.name != "posix", reason="a terminal of POSIX")
def test_in_a_terminal_it_asks_by_itself(tmp_path: Path) -> None:
    import pty

    ours, theirs = pty.openpty()
    try:
        run = subprocess.Popen(
            [sys.executable, "-m", "callout", "stock", "--init", "yard.toml"], cwd=tmp_path, stdin=theirs,
            stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        os.write(ours, b"\n\x04")  # no part; then the end of input
        assert "What lies there? strut" in run.communicate(timeout=60)[1]
    finally:
        os.close(ours)
        os.close(theirs)
    assert run.returncode == 0
    assert (tmp_path / "yard.toml").exists()


def test_it_never_replaces_a_file(tmp_path: Path) -> None:
    (tmp_path / "yard.toml").write_text("mine")
    with pytest.raises(BadInput, match="is there already"):
        run("--init", tmp_path / "yard.toml")
    assert (tmp_path / "yard.toml").read_text() == "mine"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("strut,six,9 ft,8,rack B,29,,,", "line 2: length: 'six' is not a length"),
        ("strut,6 ft,9 ft,many,rack B,29,,,", "line 2: quantity is 'many'; write a whole quantity"),
        ("timber,16 ft,,10,bay,44,,,", "line 2: section is empty"),
        (",6 ft,9 ft,8,rack B,29,,,", "line 2: what is it"),
        ("strut,6 ft,9 ft,8,rack B,29,,,,,,", "line 2: more fields"),
    ],
)
def test_a_slip_in_the_table_is_told_by_its_line(row: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        stock_text("yard", read_table(EXAMPLE.splitlines()[0] + "\n" + row, "yard.csv"), "yard.csv")


def test_what_a_stock_builds_is_what_the_planner_builds_from_it() -> None:
    poor = load_stock().with_quantities({line.name: 0 for line in load_stock().adjustable if line.family == "strut"})
    outcomes = {(row.insertion, row.angle_deg): row for row in reach(poor, ShorePlanner(), [Length.imperial(11)])}
    assert {row.outcome for row in outcomes.values()} <= {"short", "refused"}
    assert all("strut" in row.why for row in outcomes.values())
    whole = reach(load_stock(), ShorePlanner(), [Length.imperial(11)])
    assert [row.outcome for row in whole] == ["whole", "whole"]


def test_what_no_line_of_a_stock_would_do_is_named_by_what_is_wanted() -> None:
    """Another kit has no strut as short as three feet ask for, and no brace: each is named with its length."""
    text = run(OTHER_KIT)
    assert "None" not in text
    assert "2 x strut of 3 ft 7 7/16 in, for raker 1 and raker 2" in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_table_says_what_is_short_under_the_height(tmp_path: Path) -> None:
    lines = run("--json").splitlines()
    for line in lines:
        jsonschema.validate(json.loads(line), schema_of("reach"))
    assert len(lines) == 36
    text = run()
    assert re.search(r"^11 ft +whole +whole$", text, re.M)


def remarks_on(whole):
    return stock_report(whole).lines()


def test_struts_without_their_makers_table_are_told() -> None:
    text = filled_in(stock_text("yard", read_table(EXAMPLE, "yard.csv"), "yard.csv"))
    assert "NOT RATED by their maker's table: strut, 6 ft" in remarks_on(parse_stock(text))
    assert not any("NOT RATED" in line for line in remarks_on(load_stock()))


def test_a_line_that_nobody_can_ask_for_is_named() -> None:
    text = filled_in(stock_text("yard", read_table(EXAMPLE + "widget,,,3,box,1,,,\n", "yard.csv"), "yard.csv"))
    assert "  widget" in remarks_on(parse_stock(text))
    assert "every line can be asked for by voice" in remarks_on(load_stock())


def test_a_line_that_the_voice_cannot_say_is_named() -> None:
    text = filled_in(stock_text("yard", read_table(EXAMPLE + "\u9244\u9aa8,,,3,box,1,,,\n", "yard.csv"), "yard.csv"))
    report = stock_report(parse_stock(text))
    assert report.unsaid == ("\u9244\u9aa8",)
    assert "The voice cannot say these; name them in the letters of the callouts:" in report.lines()
    assert stock_report(load_stock()).unsaid == ()


@pytest.mark.parametrize("how", [[], ["--json"]])
def test_check_says_the_same_of_a_stock(how: list[str], tmp_path: Path) -> None:
    from callout.cli.check import check

    file = tmp_path / "yard.toml"
    file.write_text(filled_in(stock_text("yard", read_table(EXAMPLE, "yard.csv"), "yard.csv")))
    told = CliRunner().invoke(check, ["--stock", str(file), *how], standalone_mode=False)
    assert told.exception is None
    assert told.output == run(str(file), *how)
    with pytest.raises(BadInput, match="a check of its own"):
        CliRunner().invoke(check, ["--stock", str(file), "--radio"], standalone_mode=False, catch_exceptions=False)
    with pytest.raises(BadInput, match=r"none\.toml"):
        CliRunner().invoke(check, ["--stock", "none.toml"], standalone_mode=False, catch_exceptions=False)
