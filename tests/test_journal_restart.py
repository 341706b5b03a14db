"""After a crash the conversation stands where it stood: rebuilt from the file, and from nothing else."""

import json
import os
import signal
import subprocess
import sys

import pytest

from callout.dialogue.builds import holdings
from callout.dialogue.machine import restore
from callout.journal import Journal
from callout.journal.merge import merge
from callout.values import Callout
from tests.dialogue_kit import ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock
from tests.how_much import one_in


def a_long_talk():
    talk = Talk.new(make_stock(six=8, eight=6, anchors=40), one_source=False)
    talk.released(ELEVEN_SIXTY)
    talk.key("ready")
    talk.say(Callout(insertion=ft(8), angle_deg=45, position=2)).say("affirm")
    talk.say("short", "logistics")
    talk.key("ready")
    talk.say(Callout(insertion=ft(15), angle_deg=60))
    return talk


def written(path, talk):
    with Journal.open(path) as journal:
        for record in talk.records:
            journal.append(record)
    return path


def restored(path, talk):
    with Journal.open(path) as journal:
        return restore(journal.records(), talk.now.stock, FakePlanner(), talk.now.settings)


def test_the_state_comes_back_from_the_file(tmp_path):
    talk = a_long_talk()
    assert restored(written(tmp_path / "j", talk), talk) == talk.now


def test_the_stock_comes_back_to_the_piece(tmp_path):
    talk = a_long_talk()
    assert holdings(restored(written(tmp_path / "j", talk), talk)) == holdings(talk.now)
    assert sum(held.picked for mine in holdings(talk.now).builds.values() for held in mine.values()) > 0


def test_merging_adds_the_other_laptop_s_pieces_and_leaves_the_conversation(tmp_path):
    """The sums, worked out by hand: each side picked two six foot struts for one build of its own."""
    ours = Talk.new(make_stock(six=8, anchors=40)).released(ELEVEN_SIXTY).key("ready")
    theirs = Talk.new(make_stock(six=8, anchors=40)).released(ELEVEN_SIXTY).key("ready")
    theirs.say(Callout(insertion=ft(8), angle_deg=45, position=2))
    written(tmp_path / "ours", ours)
    written(tmp_path / "theirs", theirs)
    for _ in range(2):
        with Journal.open(tmp_path / "ours") as here, Journal.open(tmp_path / "theirs", writer=False) as there:
            merge(here, there)
    after = restored(tmp_path / "ours", ours)
    ledger = holdings(after)
    assert ledger.on_hand["six foot strut"] == 8 - 2 - 2
    assert {build: mine["six foot strut"].picked for build, mine in ledger.builds.items()} == {1: 2, 2: 2}
    assert (after.measurer, after.focus) == (ours.now.measurer, ours.now.focus), "their readback waits for them, not us"
    assert after.next_id == 3


@pytest.mark.parametrize("lines", one_in(3, [2, 3, 5]))
def test_kill_9_and_start_again(tmp_path, lines):
    """The program itself, killed in the middle of a typed conversation."""
    said = ["insertion eleven feet sixty", "affirm", "ready", "ready", "ready"]
    command = [sys.executable, "-m", "callout", "listen", "--typed", "--mute", "--json", "--journal", tmp_path / "j"]
    first = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    shown = []
    for line in said[:lines]:
        first.stdin.write(line + "\n")
        first.stdin.flush()
        while not shown or shown[-1]["text"] != line:
            shown.append(json.loads(first.stdout.readline()))
    os.kill(first.pid, signal.SIGKILL)
    shown += [json.loads(line) for line in first.communicate()[0].splitlines()]

    with Journal.open(tmp_path / "j") as journal:
        assert journal.verify().ok
        kept = [record.to_json() for record in journal.records()]
    assert kept[: len(shown)] == shown, "what was shown had been written"

    second = subprocess.run(command, input="affirm\nwhere\n", capture_output=True, text=True, timeout=60)
    events = [json.loads(line) for line in second.stdout.splitlines()]
    assert events[0]["event"] == "resumed"
    assert events[0]["text"].startswith("started again")
    assert events[0]["seq"] == len(kept) + 1
    released = [event for event in [*kept, *events] if event["event"] == "released"]
    assert len(released) <= 1, "what was confirmed is not released a second time"
