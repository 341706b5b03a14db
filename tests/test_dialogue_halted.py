"""What is said of trouble and of stop words, to whom, and which commands the conversation knows.

The sentences are those of the pages (docs/dialogue.md), written out here; who must hear what is common practice on a
site, no source: everybody hears that the tool fell silent, failed or goes on.
"""

from __future__ import annotations

from typing import get_args

import pytest

from callout.dialogue import commands
from callout.dialogue.events import Fault, LookDue, Tick, Uttered
from callout.dialogue.records import ActKind, Record
from callout.dialogue.walk_words import WALK_WORDS
from callout.language.commands import commands as rows
from callout.language.commands import commands_that
from callout.language.outcome import NotPossible
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk

TROUBLE = {
    "not_taught": "the new words are not kept. the disk refuses them.",
    "not_kept": "what is said now is not kept. the disk refuses it.",
    "kept_again": "everything is kept again.",
    "broken_journal": "the journal is broken. a new start knows only what was before the break.",
    "other_stock": "the stock is not that of the last shift. check the counts.",
    "ear_lost": "one ear is lost. affirm by key.",
    "ears_lost": "the ears failed. say again.",
    "ears_back": "both ears hear again.",
}
FIRST = "answer the readback first. affirm, or negative."


def written(talk: Talk) -> list[Record]:
    return [effect for effect in talk.effects if isinstance(effect, Record)]


@pytest.mark.parametrize(("name", "sentence"), TROUBLE.items())
def test_trouble_is_told_to_both_and_written_with_its_line(name: str, sentence: str) -> None:
    talk = Talk.new()
    talk.put(Fault("a line for the eye", 5.0, name))
    assert talk.heard_by == [("both", sentence)]
    assert ("error", "a line for the eye") in [(record.event, record.text) for record in written(talk)]


def test_after_a_stop_word_trouble_and_looks_are_written_and_not_spoken() -> None:
    talk = Talk.new().say("evacuate")
    talk.put(Fault("a line for the eye", 5.0, "ear_lost"))
    assert talk.said == []
    assert [record.text for record in written(talk)] == ["a line for the eye"]
    assert talk.put(LookDue(1, "an hour went by", 6.0)).said == []
    assert Talk.new().put(LookDue(1, "an hour went by", 6.0)).said == [
        "look at build one, an hour went by. tighten its wedges and screws, and read every mark."
    ]


def test_a_stop_word_says_who_said_it_and_going_on_is_told_to_both() -> None:
    talk = Talk.new().say("cease_operations", "logistics")
    assert talk.said == []
    alarm = next(record for record in written(talk) if record.event == "alarm")
    assert alarm.text == "cease operations heard from logistics. callout is silent. this is not the alarm."
    talk.say("list")
    assert [record.text for record in written(talk)][1:] == ["silent since cease operations. say go ahead."]
    assert talk.events == ["heard", "refused"]
    assert ("both", "going on.") in talk.say("go_ahead").heard_by


def test_a_stop_word_sets_aside_what_waits_at_its_own_seat() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("evacuate", "logistics")
    parked = [record for record in written(talk) if record.event == "parked"]
    assert [Callout.model_validate(record.meaning) for record in parked] == [ELEVEN_SIXTY]
    assert talk.say("go_ahead").say("affirm").count("released") == 0


@pytest.mark.parametrize(
    "word", ["size_up", "size_up_new", "work_out", "take_it", "look", "look_at", "carry", "come_down"]
)
def test_what_cannot_be_now_waits_behind_the_answer_that_is_due(word: str) -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    talk.put(Uttered(NotPossible(Command(command=word), (), "there is none"), "words", "measurer", 9.0, True))
    assert talk.said == [FIRST]
    assert talk.say("affirm").count("released") == 1


def test_every_command_that_may_be_said_has_an_answer_and_every_answer_a_command() -> None:
    answered = {*commands._ANYWHERE, *WALK_WORDS}
    assert commands.KNOWN - commands_that("alarm") <= answered
    assert answered <= set(rows())


def test_every_kind_of_readback_has_what_an_affirm_does() -> None:
    assert set(commands._CONFIRMED) == set(get_args(ActKind))


def test_a_doubt_that_was_cleared_up_is_forgotten() -> None:
    """Only doubts in a row are given up on."""
    talk = Talk.new(times_asked=1).say(ELEVEN_SIXTY)
    talk.now = talk.now.with_seat("measurer", talk.now.seat("measurer").__class__(**{
        **vars(talk.now.seat("measurer")), "doubts": 5,
    }))
    talk.say("status")
    assert talk.now.seat("measurer").doubts == 0


def test_a_tick_says_nothing_where_nothing_waits() -> None:
    assert Talk.new().put(Tick(1.0)).said == []
