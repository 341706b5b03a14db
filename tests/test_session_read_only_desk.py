"""A second callout on one journal: it shows and answers, and nothing that it is told changes anything."""

import json
import sqlite3
import subprocess
import sys
import threading
import time
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from callout.dialogue.commands import KNOWN
from callout.dialogue.events import Fault, Key, Tick, Uttered
from callout.dialogue.following import follow
from callout.dialogue.machine import start, step
from callout.dialogue.records import Record
from callout.dialogue.settings import load_settings
from callout.errors import CalloutError
from callout.journal import Journal, open_journal
from callout.journal.lock import WriterLock
from callout.language.outcome import Nothing, Understood
from callout.language.resolve import resolve_text
from callout.session.desk import Desk, Mouths
from callout.session.read_only_desk import QUESTIONS, REFUSAL, ReadingDesk
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock

LISTEN = [sys.executable, "-m", "callout", "listen", "--typed", "--json", "--mute"]


def talks():
    """Conversations in as many states as there are: nothing yet, half, waiting, walking, assembling, silenced."""
    yield Talk.new(make_stock())
    yield Talk.new(make_stock()).say(Callout(insertion=ft(8)))
    yield Talk.new(make_stock()).say(ELEVEN_SIXTY)
    yield Talk.new(make_stock()).released(ELEVEN_SIXTY)
    walked = Talk.new(make_stock(six=8, eight=6, anchors=40)).released(ELEVEN_SIXTY).key("ready")
    yield walked
    yield Talk.new(make_stock()).released(ELEVEN_SIXTY).say("evacuate")
    yield Talk.new(make_stock(six=8, anchors=40)).released(ELEVEN_SIXTY).say(Callout(insertion=ft(6), angle_deg=45))


def but_for_the_last_words(now):
    """What was said last is the one thing that an answer leaves behind."""
    return replace(now, measurer=replace(now.measurer, last=""), logistics=replace(now.logistics, last=""))


@pytest.mark.parametrize("command", sorted(QUESTIONS))
@pytest.mark.parametrize("part", [None, "anchor"])
def test_a_question_changes_nothing_in_whatever_state_it_is_asked(command, part):
    assert command in KNOWN
    for talk in talks():
        before = talk.now
        if before.halted:
            continue  # there the desk asks as if nobody had said a stop word
        asked = Uttered(Understood(Command(command=command, part=part), (command,)), command, "logistics", 1.0, True)
        after, effects = step(before, asked)
        assert but_for_the_last_words(after) == but_for_the_last_words(before)
        assert {e.event for e in effects if isinstance(e, Record)} <= {"heard", "said", "refused"}


@pytest.fixture
def pair(tmp_path):
    """A desk that writes and a desk that reads, on one file."""
    stock, planner, chosen = make_stock(six=8, eight=6, anchors=40), FakePlanner(), load_settings()
    shown, notes = [], []
    with Journal.open(tmp_path / "j") as journal:
        writer = Desk(start(stock, planner, chosen), journal, Mouths(), lambda record: None, print)
        store = open_journal(tmp_path / "j", notes.append)
        reader = ReadingDesk(start(stock, planner, chosen), store, shown.append, notes.append)
        reader.begin()
        yield writer, reader, shown, notes
        store.close()


def typed(desk, line, role="measurer"):
    return desk.heard(resolve_text(line, desk.contexts[role]), line, role, certain=True)


def test_what_the_first_writes_is_shown_with_its_numbers_and_the_second_s_answers_have_none(pair):
    writer, reader, shown, notes = pair
    assert "is being written by process" in notes[0]
    for line in ("insertion eleven feet sixty", "affirm", "ready"):
        typed(writer, line)
    reader.feed(Tick(time.monotonic()))
    assert [record.seq for record in shown] == list(range(1, len(shown) + 1))
    assert "released" in {record.event for record in shown}
    assert reader.conversation == writer.conversation
    answer = typed(reader, "status")
    assert [(record.event, record.seq) for record in answer] == [("heard", None), ("said", None)]
    assert answer[1].text == typed(writer, "status")[1].text
    assert all(record.time for record in answer)


def test_what_was_written_between_two_ticks_counts_once_for_a_screen_that_first_looks_then(pair):
    """The board of a second callout is worked out for whoever asks first: by then the store can hold lines that the
    desk has not taken in yet, and they must not count a second time when it does."""
    writer, reader, _, _ = pair
    for line in ("insertion eleven feet sixty", "affirm"):
        typed(writer, line)
    reader.feed(Tick(time.monotonic()))
    typed(writer, "ready")
    seen = reader.followed.board()
    reader.feed(Tick(time.monotonic()))
    assert reader.followed.board() == seen == follow(reader._store.records(), reader.conversation.stock).board()
    assert [item.picked for item in seen.open[0].items] == list(writer.conversation.walked.got)
    assert sum(writer.conversation.walked.got) > 0
    typed(writer, "ready")
    reader.feed(Tick(time.monotonic()))
    assert reader.followed.board().seq == writer._store.last_seq, "what comes after that is followed"


@pytest.mark.parametrize(
    "line",
    [
        "insertion twelve feet sixty", "insertion twelve feet", "affirm", "affirm insertion", "ready", "skip", "back",
        "short", "undo", "correction angle four five", "disregard", "evacuate", "say again", "build one", "relocate",
        "out of anchors", "go ahead", "what a day",
    ],
)  # fmt: skip
def test_whatever_would_change_something_is_refused_in_one_line(pair, line):
    writer, reader, _, _ = pair
    for said in ("insertion eleven feet sixty", "affirm", "ready", "insertion nine feet forty five"):
        typed(writer, said)
    before, head = writer.conversation, reader._store.last_seq
    answer = typed(reader, line)
    assert [record.event for record in answer] == ["heard", "refused"]
    assert answer[1].text == REFUSAL
    assert reader._store.last_seq == head
    assert reader.conversation == before == writer.conversation


def test_a_key_is_refused_noise_is_passed_over_and_a_fault_is_shown(pair):
    _, reader, shown, notes = pair
    assert [r.text for r in reader.feed(Key("ready", "logistics", 1.0))] == [REFUSAL]
    assert reader.feed(Uttered(Nothing(), "", "measurer", 1.0)) == []
    assert reader.feed(Uttered(resolve_text("what a day"), "what a day", "measurer", 1.0)) == []
    assert reader.feed(Fault("the microphone is gone", 1.0)) == []
    assert "the microphone is gone" in notes
    assert len(shown) == 1


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(
            st.booleans(),
            st.sampled_from(
                ["insertion eleven feet sixty", "affirm", "ready", "short", "status", "where", "parts list", "evacuate",
                 "go ahead", "undo", "build two", "insertion nine feet", "sixty", "how many anchors", "skip"]
            ),
        ),
        max_size=25,
    )
)  # fmt: skip
def test_whatever_both_are_told_only_the_first_counts(pair, said):
    writer, reader, _, _ = pair
    for to_writer, line in said:
        if to_writer:
            typed(writer, line)
        else:
            before, head = writer.conversation, reader._store.last_seq
            typed(reader, line)
            assert (writer.conversation, reader._store.last_seq) == (before, head)
    reader.feed(Tick(time.monotonic()))
    assert reader.conversation == writer.conversation
    with pytest.raises(CalloutError, match="read only"):
        reader._store.append(Record(event="said", text="no"))


def test_two_programs_on_one_file(tmp_path):
    first = subprocess.Popen(
        [*LISTEN, "--journal", tmp_path / "j"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    shown = []
    for line in ("insertion eleven feet sixty", "affirm"):
        first.stdin.write(line + "\n")
        first.stdin.flush()
        while not shown or shown[-1]["text"] != line:
            shown.append(json.loads(first.stdout.readline()))
    while shown[-1]["event"] != "said" or not shown[-1]["text"].startswith("Some figures"):
        shown.append(json.loads(first.stdout.readline()))
    said = "status\ninsertion nine feet sixty\naffirm\nready\nparts list\n"
    second = subprocess.run(
        [*LISTEN, "--keep-audio", "--journal", tmp_path / "j"], input=said, capture_output=True, text=True, timeout=60
    )
    first.stdin.close()
    assert first.wait(20) == 0
    first.stdout.close()
    assert second.returncode == 0
    assert "is being written by process" in second.stderr
    events = [json.loads(line) for line in second.stdout.splitlines()]
    assert [event["event"] for event in events] == [
        "heard", "said", "heard", "refused", "heard", "refused", "heard", "refused", "heard", "said",
    ]  # fmt: skip
    assert {event["text"] for event in events if event["event"] == "refused"} == {REFUSAL}
    with Journal.open(tmp_path / "j", writer=False) as journal:
        assert journal.verify().ok
        assert journal.last_seq == shown[-1]["seq"]
        assert [record.event for record in journal.records()].count("released") == 1
    assert not (tmp_path / "j.audio").exists()


def test_a_file_that_another_program_locks_is_no_second_callout_and_the_work_goes_on(tmp_path):
    """A tool that copies or repairs the file does not release builds: the text console goes on, and says how."""
    Journal.open(tmp_path / "j").close()
    other = sqlite3.connect(tmp_path / "j", isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    done = subprocess.run(
        [*LISTEN, "--journal", tmp_path / "j"], input="insertion eleven feet sixty\naffirm\n", capture_output=True,
        text=True, timeout=60,
    )  # fmt: skip
    other.close()
    assert done.returncode == 0
    assert "locked by another program" in done.stderr
    assert "Going on in memory only" in done.stderr
    assert "released" in [json.loads(line)["event"] for line in done.stdout.splitlines()]


def test_a_file_that_the_first_has_only_begun_to_make_is_waited_for(tmp_path):
    lock = WriterLock(tmp_path / "j.lock")
    assert lock.take()
    made = threading.Timer(0.3, lambda: _filled(tmp_path / "j"))
    made.start()
    second = Journal.open(tmp_path / "j")
    made.join()
    assert not second.writable
    second.close()
    lock.drop()


def _filled(path):
    from callout.journal.database import connect_writer

    connect_writer(path).close()


def test_another_user_s_callout_is_a_second_callout_too(tmp_path, monkeypatch):
    """The lock's file belongs to somebody else: it can be looked at, not written. The refusal is put in by hand,
    because the tests may run as a user whom nothing refuses."""
    import os

    path, real = tmp_path / "j", os.open
    Journal.open(path).close()

    def refuse(name, flags, *rest, **more):
        if str(name).endswith(".lock") and flags & os.O_RDWR:
            raise PermissionError(13, "Permission denied")
        return real(name, flags, *rest, **more)

    first = WriterLock(tmp_path / "j.lock")
    assert first.take()
    monkeypatch.setattr("callout.journal.lock.os.open", refuse)
    notes = []
    store = open_journal(path, notes.append)
    assert not store.writable
    store.close()
    first.drop()
    store = open_journal(path, notes.append)
    assert store.writable, "nobody has it: the work goes on in memory"
    assert "Going on in memory only" in notes[-1]


def test_a_look_at_the_lock_keeps_nobody_from_writing(tmp_path):
    """A board looks every few seconds whether the journal is written: a conversation that begins at that very moment
    must not find itself read-only."""
    import portalocker

    Journal.open(tmp_path / "j").close()
    lock = WriterLock(tmp_path / "j.lock")
    assert lock.held() is False
    with open(tmp_path / "j.lock") as looking:
        portalocker.lock(looking, portalocker.LockFlags.SHARED)
        assert lock.held() is False, "several may look at once"
        over = threading.Timer(0.02, lambda: portalocker.unlock(looking))
        over.start()
        writer = Journal.open(tmp_path / "j")
        over.join()
    assert writer.writable
    reader = Journal.open(tmp_path / "j", writer=False)
    assert reader.somebody_writes()
    writer.close()
    assert reader.somebody_writes() is False
    (tmp_path / "j.lock").unlink()
    assert reader.somebody_writes() is False
    reader.close()


def test_the_screen_of_a_second_callout_tells_when_the_first_has_ended(tmp_path, monkeypatch):
    from callout.session import large_screen

    monkeypatch.setattr(large_screen, "LOOK_FOR_WRITER", 0.0)
    stock, planner, chosen = make_stock(), FakePlanner(), load_settings()
    writer = Journal.open(tmp_path / "j")
    store = open_journal(tmp_path / "j", print)
    reader = ReadingDesk(start(stock, planner, chosen), store, print, print)
    reader.begin()
    shown = large_screen.DeskBoard()
    shown.desk = reader
    assert shown().live is True
    writer.close()
    assert shown().live is False
    store.close()


def test_a_file_system_without_locks_is_no_second_callout(tmp_path, monkeypatch):
    import errno

    def unknown(file):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("callout.journal.lock._locked", unknown)
    notes = []
    store = open_journal(tmp_path / "j", notes.append)
    assert store.writable
    assert "No locks available" in notes[0]


def test_a_damaged_file_that_another_is_writing_is_refused(tmp_path):
    with Journal.open(tmp_path / "j") as first:
        for text in ("one", "two"):
            first.append(Record(event="said", text=text))
        other = sqlite3.connect(tmp_path / "j")
        other.execute("UPDATE line SET note = 'x' WHERE seq = 1")
        other.commit()
        other.close()
        with pytest.raises(CalloutError, match="line 1 was changed") as told:
            open_journal(tmp_path / "j", print)
    assert told.value.exit_code == 1
    assert "\n" not in str(told.value)
