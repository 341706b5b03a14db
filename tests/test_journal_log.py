"""`callout log`: what goes in comes out in every shape, and the papers of a shift hold what happened.

Outside source of the form: the block order of ICS 214 (1 incident name, 2 operational period, 3 name, 4 ICS position,
5 home agency and unit, 6 resources assigned, 7 activity log, 8 prepared by), 24-hour clock.
"""

import csv
import io
import json
import re
import sqlite3
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from callout.cli.log import log
from callout.dialogue.records import Record
from callout.errors import BadInput, CalloutError
from callout.journal import Journal
from callout.journal.activity import activity_log, as_csv, as_html
from callout.journal.handover import as_text, handover
from callout.journal.pages import handover_page
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock


def run(*arguments):
    """What the command printed, and its exit code. A user's error is raised here; `callout` makes one line of it."""
    done = CliRunner().invoke(log, [str(a) for a in arguments], catch_exceptions=False, standalone_mode=False)
    return done.stdout, done.return_value


def a_shift():
    """One build picked in part, one callout waiting, a count of the stock, an alarm."""
    talk = Talk.new(make_stock())
    talk.released(ELEVEN_SIXTY)
    talk.key("ready")
    talk.say(Callout(insertion=ft(8), angle_deg=45, position=2))
    return talk


@pytest.fixture
def shift(tmp_path):
    talk = a_shift()
    path = tmp_path / "yard.journal"
    with Journal.open(path) as journal:
        for record in talk.records:
            journal.append(record)
        journal.append(Record(event="alarm", speaker="measurer", text="evacuate", data={"halted": "evacuate"}))
    return path


def test_every_line_is_printed_with_its_time_and_who(shift):
    printed, code = run(shift)
    assert code == 0
    lines = printed.splitlines()
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", lines[0])
    with Journal.open(shift, writer=False) as journal:
        for record in journal.records():
            assert (
                any(
                    line.startswith(f"{record.seq:>6}  {record.time[11:19]}  {record.speaker}") and record.text in line
                    for line in lines
                    if record.event != "affirmed"
                )
                or record.event == "affirmed"
            )
    assert any("2 x six foot strut" in line for line in lines), "the parts list stands under its release"


def test_json_is_the_published_shape_and_nothing_else(shift):
    printed, _ = run(shift, "--json")
    shapes = [json.loads(line) for line in printed.splitlines()]
    with Journal.open(shift, writer=False) as journal:
        assert shapes == [record.to_json() for record in journal.records()]
    fields = {"version", "seq", "time", "event", "speaker", "build_id", "text", "meaning", "build", "happened"}
    assert set(shapes[0]) == fields


def test_csv_reads_back_with_the_standard_reader(shift):
    printed, _ = run(shift, "--csv")
    rows = list(csv.DictReader(io.StringIO(printed)))
    with Journal.open(shift, writer=False) as journal:
        records = list(journal.records())
    assert [int(row["seq"]) for row in rows] == [record.seq for record in records]
    released = next(row for row in rows if row["event"] == "released")
    assert json.loads(released["meaning"])["angle_deg"] == 60


def test_filters_by_event_and_by_build(shift):
    printed, _ = run(shift, "--json", "--filter", "released", "--filter", "picked")
    assert {json.loads(line)["event"] for line in printed.splitlines()} == {"released", "picked"}
    printed, _ = run(shift, "--json", "--build", "1")
    assert {json.loads(line)["build_id"] for line in printed.splitlines()} == {1}


def test_a_build_is_asked_for_by_the_number_that_people_call_it(tmp_path):
    """The first build of a day that was called out for position seven."""
    talk = Talk.new(make_stock()).released(Callout(insertion=ft(11), angle_deg=60, position=7))
    with Journal.open(tmp_path / "j") as journal:
        for record in talk.records:
            journal.append(record)
    printed, _ = run(tmp_path / "j", "--build", "7")
    assert "build 7 released" in printed
    printed, _ = run(tmp_path / "j", "--build", "1")
    assert printed == ""


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--handover", "--verify"], "--verify and --handover are two jobs"),
        (["--merge", "other", "--ics214", "x.html"], "--ics214 and --merge are two jobs"),
        (["--handover", "--follow"], "--follow does not go with --handover"),
        (["--ics214", "x.html", "--build", "1"], "--build does not go with --ics214"),
        (["--verify", "--csv"], "--csv does not go with --verify"),
        (["--csv", "--json"], "--csv and --json are two shapes"),
    ],
)
def test_nothing_that_is_asked_for_is_passed_over_in_silence(shift, tmp_path, monkeypatch, options, says):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput, match=says):
        run(shift, *options)
    assert not (tmp_path / "x.html").exists()


def test_verify_may_stand_before_or_after_the_file(shift):
    assert run("verify", shift) == run(shift, "verify") == run(shift, "--verify")


def test_follow_prints_what_is_added(shift):
    command = [sys.executable, "-m", "callout", "log", str(shift), "--follow", "--json", "--filter", "error"]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        time.sleep(0.8)
        with Journal.open(shift) as journal:
            journal.append(Record(event="error", text="the microphone is gone"))
            assert json.loads(child.stdout.readline())["text"] == "the microphone is gone"
    finally:
        child.kill()
        child.wait()
        child.stdout.close()


@pytest.mark.parametrize("words", [("--verify",), ("verify",)])
def test_verify_says_whether_the_chain_is_whole(shift, words, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    arguments = [shift, *words] if words[0].startswith("--") else [*words, shift]
    printed, code = run(*arguments)
    assert (code, "the chain is whole" in printed) == (0, True)
    connection = sqlite3.connect(shift)
    connection.execute("UPDATE line SET body = replace(body, 'eleven', 'seven') WHERE seq = 3")
    connection.execute("UPDATE line SET body = body || ' ' WHERE seq = 3")
    connection.commit()
    connection.close()
    assert run(*arguments)[1] == 2
    printed, code = run(*arguments, "--json")
    assert json.loads(printed) == {
        "ok": False,
        "lines": 2,
        "problem": "line 3 was changed, or a line before it removed",
    }


def test_merge_says_how_many_and_under_which_number(shift, tmp_path):
    other = tmp_path / "second.journal"
    with Journal.open(other) as journal:
        journal.append(Record(event="picked", build_id=1, data={"line": 0, "pieces": [["six foot strut", 1]]}))
    assert run(shift, "--merge", other) == (
        f"1 lines added from {other}, 0 were here already\ntheir build 1 is build 2 here\n", 0,
    )  # fmt: skip
    assert json.loads(run(shift, "--merge", other, "--json")[0]) == {"added": 0, "known": 1, "builds": {}}
    assert "from another journal, line 1" in run(shift)[0]
    assert run(shift, "--verify")[1] == 0
    assert run(shift, "--handover")[1] == 0


def test_merge_waits_for_nobody(shift, tmp_path):
    other = tmp_path / "second.journal"
    Journal.open(other).close()
    with Journal.open(shift), pytest.raises(CalloutError, match="end that callout and merge again"):
        run(shift, "--merge", other)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["gone.journal"], "there is no journal"),
        (["gone.journal", "--merge", "x"], "there is no journal"),
        (["."], "is a folder"),
        (["one", "two"], "one journal at a time"),
    ],
)
def test_a_wrong_file_is_one_line(arguments, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput, match=says):
        run(*arguments)
    assert list(tmp_path.iterdir()) == []


def test_without_a_file_the_usual_journal_is_read(shift, monkeypatch):
    monkeypatch.setenv("CALLOUT_JOURNAL", str(shift))
    assert run("--verify")[1] == 0


def test_the_activity_log_has_the_blocks_in_their_order(shift, tmp_path):
    page = tmp_path / "shift.html"
    run(shift, "--ics214", page, "--incident", "Quarry Lane <3>", "--name", "A. Keeper", "--position", "scribe")
    text = page.read_text()
    found = [int(n) for n in re.findall(r"<(?:small|th[^>]*)>(\d)\. ", text)]
    assert found == [1, 2, 3, 4, 5, 6, 7, 8]
    assert "Quarry Lane &lt;3&gt;" in text, "what a user writes is never markup"
    assert "build 1 released: raker, insertion 11 ft, angle 60" in text
    assert re.search(r'class="when">\d{4}-\d\d-\d\d \d\d:\d\d<', text)
    assert "alarm: evacuate" in text
    assert "http" not in text, "the page needs nothing from elsewhere"


def test_the_activity_log_as_csv_has_the_same_rows(shift, tmp_path):
    run(shift, "--ics214", tmp_path / "shift.csv", "--incident", "Quarry Lane")
    rows = list(csv.reader((tmp_path / "shift.csv").open(newline="")))
    blocks = [int(row[0]) for row in rows[1:]]
    assert blocks == sorted(blocks)
    assert {1, 2, 3, 4, 5, 7, 8} <= set(blocks)
    assert ["1", "incident name", "Quarry Lane", ""] in rows


def test_what_is_notable_is_told_in_words():
    at = "2031-05-04T23:05:00+00:00"
    page = activity_log(
        [
            Record(time=at, event="placed", build_id=1, data={"pieces": []}),
            Record(time=at, event="voided", build_id=2, data={"what": "build"}),
            Record(time=at, event="voided", data={"what": "readback"}),
            Record(time=at, event="stock_changed", data={"changes": [{"item": "picket", "delta": -3, "quantity": 5}]}),
            Record(time=at, event="heard", text="mind the hose"),
            Record(time=at, event="error", speaker="callout", text="the microphone is gone"),
            Record(time=at, event="look_called", speaker="kim", text="after an aftershock. look at build one."),
        ]
    )
    assert [row.text for row in page.activities] == [
        "build 1 stands at the wall", "build 2 taken back", "stock counted: picket -3", "error: the microphone is gone",
        "kim: every shore to be looked at: after an aftershock. look at build one.",
    ]  # fmt: skip


def test_speakers_who_gave_a_name_are_resources():
    log_page = activity_log([Record(event="heard", speaker="kim", text="x", time="2031-05-04T23:05:00+00:00")])
    assert list(log_page.resources) == ["kim"]
    assert log_page.begins == "2031-05-04 23:05"
    assert "kim" in as_html(log_page)
    assert "kim" in as_csv(log_page)


def test_an_empty_shift_still_makes_a_page():
    assert "7. Activity log" in as_html(activity_log([]))


def test_the_hand_over_sheet_tells_where_everything_stands():
    talk = a_shift()
    sheet = handover(talk.now, talk.records, counted=True)
    assert [build["build"] for build in sheet["open"]] == [1]
    assert sheet["open"][0]["parts"][0] == {"name": "six foot strut", "wanted": 2, "picked": 2, "where": "rack A"}
    assert len(sheet["waiting"]) == 1
    assert "eight feet" in sheet["waiting"][0]
    stock = {row["name"]: row for row in sheet["stock"]}
    assert (stock["six foot strut"]["on_hand"], stock["six foot strut"]["picked"]) == (2, 2)
    assert (stock["brick anchor"]["on_hand"], stock["brick anchor"]["reserved"]) == (12, 4)
    assert "structures specialist" in sheet["caution"]


def test_the_hand_over_sheet_names_where_each_build_is_for_and_for_whom():
    wanted = ELEVEN_SIXTY.merged(Callout(place="north wall", position=3, for_whom="team two"))
    talk = Talk.new(make_stock()).released(wanted)
    sheet = handover(talk.now, talk.records, counted=True)
    words = "11 ft @ 60°, north wall, position 3, for team two (given by"
    assert words in as_text(sheet, "journal")
    page = handover_page(sheet, "journal", "the chain is whole", "0")
    assert words in page.replace("\n", " ")


def test_the_next_shift_is_told_what_is_known_of_the_place():
    talk = a_shift().say(Command(command="site_wall", part="block")).say("affirm")
    sheet = handover(talk.now, talk.records, counted=True)
    assert sheet["place"] == "wall block"
    assert "KNOWN OF THE PLACE\n  wall block\n" in as_text(sheet, "journal")
    assert any("wall block" in row.text for row in activity_log(talk.records).activities)


def test_on_hand_is_not_guessed_without_the_stock_file(shift):
    printed, _ = run(shift, "--handover", "--json")
    assert {row["on_hand"] for row in json.loads(printed)["stock"]} == {None}
    assert "told with --stock FILE" in run(shift, "--handover")[0]


def test_the_hand_over_sheet_is_the_same_from_the_file_as_from_the_talk(shift):
    printed, _ = run(shift, "--handover", "--json")
    sheet = json.loads(printed)
    assert sheet["silent_since"] == "evacuate"
    assert [build["build"] for build in sheet["open"]] == [1]
    assert sheet["alarms"][0][1] == "evacuate"
