"""The yard is reminded aloud of shores that stand, by the clock and after what happened, until somebody has looked."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from callout.dialogue.events import LookDue, Say, Tick, Uttered
from callout.dialogue.machine import restore, step
from callout.dialogue.records import LookCalled, Record, WasInspected
from callout.journal.memory import MemoryJournal
from callout.language.outcome import Understood
from callout.session.desk import Desk, Mouths
from callout.session.reminders import AGAIN, Reminders
from callout.values import Command
from callout.values.sights import Looked
from tests.dialogue_kit import FakePlanner, Talk, make_stock

NOON = datetime(2026, 11, 29, 12, 0, tzinfo=timezone.utc)


class Yard:
    """A shore that stands, a clock that is set by hand, and what is said."""

    def __init__(self) -> None:
        self.time = NOON
        talk = Talk.new(make_stock()).released()
        while "placed" not in talk.events and len(talk.events) < 400:
            talk.key("ready")
            if talk.state("logistics") in ("confirm", "confirm_walk"):
                talk.say("affirm", role="logistics")
        self.journal = MemoryJournal(clock=lambda: self.time)
        for record in talk.records:
            self.journal.append(record.model_copy(update={"seq": None, "time": None}))
        self.desk = Desk(talk.now, self.journal, Mouths(), lambda record: None, lambda note: None)
        self.desk._reminders = Reminders(self.journal, lambda: self.time)
        self.seconds = 1000.0

    def wait(self, minutes: float) -> list[str]:
        """What is said to the yard meanwhile; the clock ticks every half minute."""
        said = []
        for _ in range(int(minutes * 2)):
            self.time += timedelta(seconds=30)
            self.seconds += 30
            said += [one.text for one in self.desk.feed(Tick(self.seconds)) if one.text.startswith("look at")]
        return said


@pytest.fixture
def yard() -> Yard:
    return Yard()


def test_the_first_look_is_called_once_its_hour_is_over_and_again_until_somebody_looks(yard: Yard) -> None:
    assert yard.wait(59) == []
    assert yard.wait(2) == [
        "look at build one, its first hour is over. tighten its wedges and screws, and read every mark."
    ]
    assert yard.wait(AGAIN / 60 - 3) == []
    assert len(yard.wait(3)) == 1


def test_a_look_ends_it_and_the_next_is_a_shift_later(yard: Yard) -> None:
    yard.wait(61)
    build_id = next(iter(yard.desk.conversation.standing))
    look = WasInspected(number=1, look={"tight": True, "signed": "R. Vega"})
    record = yard.journal.append(Record(event="inspected", build_id=build_id, data=look.to_json()))
    yard.desk._reminders.after(record)
    assert yard.wait(60 * 8 - 2) == []
    assert yard.wait(4) == ["look at build one, it is time. tighten its wedges and screws, and read every mark."]


def test_an_aftershock_calls_a_look_at_once(yard: Yard) -> None:
    yard.wait(5)
    record = yard.journal.append(Record(event="look_called", data=LookCalled(reason="aftershock").to_json()))
    yard.desk._reminders.after(record)
    assert yard.wait(1)[0].startswith("look at build one, after an aftershock.")


def test_nothing_is_said_after_a_stop_word(yard: Yard) -> None:
    now, effects = step(yard.desk.conversation, LookDue(1, "it is time", 5.0))
    assert [one.text for one in effects if isinstance(one, Say)]
    halted = yard.desk.conversation
    talk_halted = halted.__class__(**{**halted.__dict__, "halted": "evacuate"})
    _, effects = step(talk_halted, LookDue(1, "it is time", 5.0))
    assert not [one for one in effects if isinstance(one, Say)]
    assert now.standing


def test_a_restart_knows_who_has_looked(yard: Yard) -> None:
    yard.wait(61)
    again = Reminders(yard.journal, lambda: yard.time)
    assert [one.number for one in again.due(yard.desk.conversation, 0.0)] == [1]


def heard(yard: Yard, command: Command) -> list[str]:
    yard.seconds += 1
    said = yard.desk.feed(Uttered(Understood(command, ()), "words", "logistics", yard.seconds, certain=True))
    return [one.text for one in said]


def started_again(yard: Yard) -> None:
    """Another program on the same journal."""
    lines = [Record.model_validate_json(record.model_dump_json()) for record in yard.journal.records()]
    now = restore(lines, make_stock(), FakePlanner(), yard.desk.conversation.settings)
    yard.desk = Desk(now, yard.journal, Mouths(), lambda record: None, lambda note: None)
    yard.desk._reminders = Reminders(yard.journal, lambda: yard.time)


def test_what_was_said_of_an_aftershock_is_reminded_of_after_a_restart_until_a_look_is_signed(yard: Yard) -> None:
    yard.wait(5)
    said = heard(yard, Command(command="happened", part="aftershock"))
    assert said[-1] == "after the aftershock, look at build one. nobody goes under before that."
    started_again(yard)
    assert yard.wait(1)[0].startswith("look at build one, after an aftershock.")
    heard(yard, Command(command="look", build=1, look=Looked(tight=True)))
    started_again(yard)
    assert len(yard.wait(AGAIN / 60 + 1)) >= 1  # begun, and nobody signed it
    heard(yard, Command(command="look", look=Looked(signed="team two")))
    started_again(yard)
    assert yard.wait(60 * 8 - 2) == []
    assert len(yard.wait(4)) == 1
