"""The journal and the hand-over sheet as pages: one file, no network, words stay words, sorted and filtered."""

import re

import pytest

from callout.dialogue.records import Record
from callout.journal import Journal
from tests.board_scene import morning
from tests.here import run_here


@pytest.fixture
def journal(tmp_path):
    path = tmp_path / "yard.journal"
    with Journal.open(path) as lines:
        for record in morning():
            lines.append(record.model_copy(update={"seq": None}))
        lines.append(Record(event="heard", speaker='"><b>x', text="<script>alert(1)</script>"))
    return path


def log(*arguments):
    return run_here("log", *arguments)


def test_the_page_of_the_journal_has_every_line_and_no_address(journal, tmp_path):
    out = tmp_path / "log.html"
    done = log(journal, "--html", out)
    assert done.returncode == 0, done.stderr
    text = out.read_text()
    assert text.count("<tr data-event") == len(morning()) + 1
    assert "the chain is whole" in text
    assert not re.search(r"https?:|(src|href)=|@import", text)
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)" in text
    assert "picket" in text, "the parts list of a release"


def test_only_what_was_asked_for_is_on_the_page(journal, tmp_path):
    out = tmp_path / "log.html"
    assert log(journal, "--html", out, "--filter", "released", "--build", "2").returncode == 0
    assert re.findall(r'data-event="(\w+)" data-build="(\d*)"', out.read_text()) == [("released", "2")]


def test_the_hand_over_as_a_page_tells_what_its_text_tells(journal, tmp_path):
    out = tmp_path / "sheet.html"
    assert log(journal, "--handover", "--html", out).returncode == 0
    page, text = out.read_text(), log(journal, "--handover").stdout
    for line in text.splitlines():
        if line.strip().startswith(("build ", "SHORT")):
            assert line.strip().split(":")[-1].strip().split(" (")[0] in page, line
    assert "SHORT: 2 picket" in page
    assert "working estimates" in page
    assert not re.search(r"https?:|(src|href)=|@import", page)


@pytest.mark.parametrize("other", ["--json", "--csv", "--follow", "--verify"])
def test_two_shapes_at_once_are_refused(journal, tmp_path, other):
    done = log(journal, "--html", tmp_path / "x.html", other)
    assert done.returncode == 2
    assert "--html" in done.stderr
    assert not (tmp_path / "x.html").exists()


def test_a_page_that_cannot_be_written_is_one_line(journal, tmp_path):
    done = log(journal, "--html", tmp_path / "none" / "x.html")
    assert done.returncode == 2
    assert "name a file in another folder" in done.stderr


@pytest.mark.slow
def test_lines_are_sorted_and_filtered_in_a_browser(journal, tmp_path):
    from tests.board_browser import browser

    out = tmp_path / "log.html"
    log(journal, "--html", out)
    with browser() as window:
        tab = window.new_page(color_scheme="dark")
        problems = []
        tab.on("pageerror", lambda problem: problems.append(str(problem)))
        tab.goto(out.as_uri())
        tab.select_option("#event", "released")
        assert tab.locator("#rows tr:visible").count() == 5
        tab.select_option("#event", "")
        tab.fill("#words", "alert(1)")
        assert tab.locator("#rows tr:visible").count() == 1
        tab.fill("#words", "")
        tab.click("th button >> text=line")
        tab.click("th button >> text=line")
        assert tab.inner_text("#rows tr:visible td:first-child >> nth=0") == str(len(morning()) + 1)
        assert problems == []
