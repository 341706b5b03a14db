"""Commands that many others lean on: what leaves a question standing, how a list goes on, how the voice is changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from callout.dialogue.events import ChangeVoice, Opened, Say, Unpair, Uttered
from callout.dialogue.machine import start
from callout.dialogue.records import Record
from callout.dialogue.settings import load_settings
from callout.dialogue.state import on_hand
from callout.dialogue.walk_words import WALK_WORDS
from callout.language.commands import commands_that
from callout.language.outcome import Near
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Callout, Command
from tests.dialogue_kit import FakePlanner, Talk, ft, make_stock
from tests.test_dialogue_restart import again

NINE = Callout(insertion=ft(9), angle_deg=60)
FIRST = "answer the readback first. affirm, or negative."


def asked() -> Talk:
    """ "Sort one" was heard in the walk; "short one, of the six foot struts?" is asked."""
    talk = Talk.new().released()
    near = Near(("sort", "one"), likely=Command(command="short", quantity=1), sentence="short one")
    talk.put(Uttered(near, "sort one", "logistics", 9.0, True))
    assert talk.said == ["short one, of the six foot struts?"]
    talk.time = 10.0
    return talk


def waits(talk: Talk) -> str | None:
    pending = talk.now.seat("measurer").pending
    return None if pending is None else pending.kind


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("say_again", ["i say again. short one, of the six foot struts?"]),
        ("read_back", ["i say again. short one, of the six foot struts?"]),
        ("repeat", ["i say again. short one, of the six foot struts?"]),
        ("go_ahead", ["i say again. short one, of the six foot struts?"]),
        ("stand_by", ["standing by."]),
        ("hold", ["standing by."]),
        ("stop", []),
        ("closing", []),
        ("roger", ["roger is not a yes. say affirm, or negative."]),
        ("wilco", ["roger is not a yes. say affirm, or negative."]),
        ("teach", ["answer the readback first. affirm, or negative."]),
    ],
)
def test_a_question_stands_after_what_is_no_answer_to_it(word: str, says: list[str]) -> None:
    talk = asked().say(word)
    assert talk.said == says
    assert waits(talk) == "near"
    assert talk.say("affirm").count("stock_changed") == 1


def test_help_leaves_a_question_standing() -> None:
    assert waits(asked().say("help")) == "near"


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("negative", "not affirmed. nothing changes."),
        ("disregard", "disregarded."),
        ("cancel", "disregarded."),
        ("undo", "disregarded."),
    ],
)
def test_a_no_answers_the_question_and_nothing_else(word: str, says: str) -> None:
    talk = asked().say(word)
    assert talk.said == [says]
    assert talk.events.count("voided") == 1
    assert waits(talk) is None
    assert list(talk.now.open) == [1]
    assert talk.say("affirm").count("stock_changed") == 0


@pytest.mark.parametrize("word", ["status", "list", "how_many", "slower", "radio_check", "ready"])
def test_a_yes_after_any_other_command_is_no_yes_to_the_question_before_it(word: str) -> None:
    talk = asked().say(word)
    assert waits(talk) is None
    assert talk.events[:2] == ["heard", "voided"]
    assert talk.say("affirm").count("stock_changed") == 0


def test_no_word_of_the_walk_ends_the_silence_after_a_stop_word() -> None:
    """What is done in the walk needs a voice that speaks: three words wake it, and none of them books anything."""
    assert commands_that("wake") == {"go_ahead", "radio_check", "status"}
    assert not commands_that("wake") & set(WALK_WORDS)


def test_nothing_was_set_aside_and_go_ahead_says_where_the_crew_is_and_no_more() -> None:
    talk = Talk.new().released().say("hold").say("go_ahead")
    assert talk.said == ["item one. two struts, six feet. rack A."]


def test_a_spoken_ready_at_the_end_of_the_walk_is_asked_and_books_nothing() -> None:
    """Heard, not typed: whether the build stands is asked, with its own affirm."""
    talk = Talk.new().released()
    while talk.now.open[1].at.kind != "end":
        talk.say("ready")
    talk.say("ready", certain=False, agreed=True)
    assert talk.events == ["heard", "readback"]
    assert waits(talk) == "stands"


def test_builds_that_are_short_are_planned_again_when_work_goes_on() -> None:
    """The count was put right before the stop word, and the program stopped before it planned again."""
    talk = Talk.new(make_stock(six=0, eight=0)).released()
    assert talk.now.open[1].plan["missing"]
    talk.say("evacuate")
    talk.now = replace(talk.now, changes={"eight foot strut": 2})
    talk.say("go_ahead")
    assert talk.said[0] == "going on."
    assert "two struts, eight feet" in talk.said[1]
    assert not talk.now.open[1].plan["missing"]


@pytest.mark.parametrize("word", ["evacuate", "cease_operations"])
def test_a_stop_word_sets_a_question_aside_and_does_not_void_it(word: str) -> None:
    talk = asked().say(word)
    assert talk.events == ["heard", "alarm", "parked"]
    assert talk.records[-2].speaker == "measurer"
    assert (talk.records[-1].build_id, talk.records[-1].meaning) == (None, None)
    assert talk.say("go_ahead").said == ["going on.", "a readback was set aside. say read back.",
                                         "item one. two struts, six feet. rack A."]  # fmt: skip


def test_a_change_that_a_stop_word_set_aside_keeps_its_callout_and_its_build() -> None:
    talk = Talk.new().released()
    talk.say(Command(command="correction", patch=Callout(angle_deg=45)))
    parked = talk.say("evacuate").records[-1]
    assert (parked.event, parked.build_id) == ("parked", 1)
    assert parked.meaning is not None
    assert parked.meaning["angle_deg"] == 45


@pytest.mark.parametrize("word", ["slower", "faster", "louder", "softer"])
def test_the_voice_is_changed_before_it_says_so(word: str) -> None:
    talk = Talk.new().say(word)
    at = talk.effects.index(ChangeVoice(word))  # type: ignore[arg-type]
    assert talk.said == [f"{word}."]
    assert all(isinstance(effect, Record) for effect in talk.effects[:at])


def long_walk() -> Talk:
    """A build of the packaged stock, which has more items than are listed at once."""
    talk = Talk(start(load_stock(), ShorePlanner(), load_settings(seconds_a_word=0.0)))
    talk.put(Opened(0.0))
    return talk.released()


@pytest.mark.parametrize("word", ["list", "parts_list"])
def test_the_same_word_again_goes_on_with_the_list(word: str) -> None:
    talk = long_walk().say(word)
    assert "item one, " in talk.said[0]
    assert "item six, " not in talk.said[0]
    talk.say(word)
    assert "item one, " not in talk.said[0]
    assert "item six, " in talk.said[0]


@pytest.mark.parametrize("word", ["status", "how_many", "say_again", "roger"])
def test_after_any_other_command_the_list_begins_anew(word: str) -> None:
    talk = long_walk().say("list").say(word).say("list")
    assert "item one, " in talk.said[0]


def test_one_goes_on_with_the_list_of_the_other_word() -> None:
    assert "item six, " in long_walk().say("list").say("parts_list").said[0]


# --- whose words they are


@pytest.mark.parametrize("order", [Command(command="skip"), Command(command="say_again", item=1)])
def test_what_the_yard_alone_may_say_is_refused_to_the_measurer_and_written_as_refused(order: Command) -> None:
    talk = Talk.new(one_source=False).released().say(order)
    assert talk.heard_by == [("measurer", "that word is for the yard.")]
    assert talk.events == ["heard", "refused"]


def test_an_item_of_no_list_is_not_said_again() -> None:
    talk = Talk.new().say(Command(command="say_again", item=1))
    assert talk.said == ["no build is open."]
    assert talk.events == ["heard", "refused"]


def test_the_measurer_who_names_a_build_hears_what_it_is_and_the_walk_stays_where_it_was() -> None:
    talk = Talk.new(one_source=False).released().released(NINE)
    walked = talk.now.walked
    talk.say(Command(command="build", build=2))
    assert talk.heard_by == [("measurer", "build two. insertion: nine feet; sixty degrees. released.")]
    assert talk.now.walked == walked


def test_before_the_voice_has_said_anything_there_is_nothing_to_say_again() -> None:
    talk = Talk(start(make_stock(), FakePlanner(), load_settings())).say("say_again")
    assert talk.said == ["nothing was said yet."]
    assert talk.events == ["heard", "refused"]


@pytest.mark.parametrize(
    "named", [Command(command="ready", item=2), Command(command="next", part="anchor"),
              Command(command="ready", part="strut", quantity=1)],
)  # fmt: skip
def test_a_ready_that_names_another_piece_is_written_as_refused_and_books_nothing(named: Command) -> None:
    talk = Talk.new().released().say(named)
    assert talk.events == ["heard", "refused", "said"]
    assert talk.said == ["that is not what this item asks for.", "item one. two struts, six feet. rack A."]
    assert on_hand(talk.now)["six foot strut"] == 4


def test_a_key_opens_the_build_that_waits_for_its_walk_and_books_nothing_of_it() -> None:
    talk = Talk.new().released().released(NINE).say(Command(command="cancel", build=1))
    assert talk.now.walked is None
    talk.key("ready")
    assert talk.said[0] == "yard. build two. item one. two struts, six feet. rack A."
    assert talk.count("picked") == 0
    assert talk.key("ready").count("picked") == 1


def test_the_cautions_are_said_whole_to_who_asks_for_them_as_often_as_they_do() -> None:
    talk = Talk.new().say("cautions")
    assert talk.said == ["no build is open. say insertion, the height, the angle."]
    talk.released()
    for _ in range(2):
        assert talk.say("cautions").said == ["working estimate, not an approval."]


@pytest.mark.parametrize("word", ["bare_number", "sing"])
def test_a_word_that_is_no_command_of_the_conversation_answers_nothing_and_voids_nothing(word: str) -> None:
    """A number alone, which the program has inside; the name of a command that another version had."""
    assert Talk.new().say(word).said == []
    talk = Talk.new().say(NINE).say(word)
    assert talk.said == ["say affirm, or correction."]
    assert talk.events == ["heard", "asked"]
    assert talk.count("released") == 0
    assert talk.say("affirm").count("released") == 1


# --- what waits for an answer comes first


def test_a_no_to_a_readback_puts_back_nothing_that_was_fetched() -> None:
    talk = Talk.new().released().say("ready").say("back").say(NINE)
    lying = on_hand(talk.now)
    talk.say("negative")
    assert talk.events == ["heard", "voided", "asked"]
    assert on_hand(talk.now) == lying
    assert talk.say("affirm").count("released") == 1


def at_the_end(*, booked: bool) -> Talk:
    """All checks of build one are gone through, with its items booked or not."""
    talk = Talk.new().released().say("ready" if booked else "step_by_step")
    while talk.now.open[1].at.kind != "end":
        talk.say("ready")
    return talk


@pytest.mark.parametrize(("word", "booked"), [("ready", True), ("ready", False), ("skip", False)])
def test_whether_a_build_stands_is_not_asked_before_the_callout_that_waits_is_answered(word: str, booked: bool) -> None:
    talk = at_the_end(booked=booked).say(NINE).say(word)
    assert talk.said == [FIRST]
    assert waits(talk) == "callout"
    assert (talk.say("affirm").count("released"), talk.count("placed")) == (2, 0)


@pytest.mark.parametrize(("word", "booked"), [("ready", True), ("ready", False), ("skip", False)])
def test_whether_a_build_stands_is_asked_anew_when_the_word_is_said_again(word: str, booked: bool) -> None:
    talk = at_the_end(booked=booked).say(word)
    asked = talk.said
    assert talk.say(word).said == asked
    assert waits(talk) == "stands"


def test_skip_at_the_end_of_a_build_that_is_all_booked_asks_nothing() -> None:
    """Nothing is left to be passed over; that the shore stands is for the crew to say."""
    talk = at_the_end(booked=True).say("skip")
    assert talk.said == ["all checked. say build one stands, once it does."]
    assert waits(talk) is None


ANEW = [
    Command(command="stock_set", part="strut", length=ft(6), quantity=3), Command(command="stock_out", part="anchor"),
    Command(command="stock_add", part="strut", length=ft(6), quantity=3),
    Command(command="stock_lost", part="strut", length=ft(6)), Command(command="stands", build=1),
    Command(command="take_down", build=1), Command(command="site_wall", part="brick"),
    Command(command="move", part="anchor", quantity=1, build=1),
]  # fmt: skip


@pytest.mark.parametrize("order", ANEW, ids=lambda order: order.command)
def test_a_callout_that_gives_way_to_another_line_is_void_and_that_is_said(order: Command) -> None:
    talk = Talk.new().released().say(NINE).say(order)
    assert talk.said[0] == "the callout that waited is void. say it again after this."
    assert len(talk.said) == 2
    assert talk.say("affirm").count("released") == 1


# --- a question about what was meant, and a restart


def test_the_yes_to_what_was_near_does_it_after_a_restart_too() -> None:
    meant = Command(command="stock_lost", part="strut", length=ft(6), quantity=1)
    near = Near(("one", "six", "footer", "is", "brokn"), likely=meant, sentence="one six foot strut is broken")
    talk = Talk.new().released()
    talk.put(Uttered(near, "one six footer is brokn", "measurer", 9.0, True))
    talk = again(talk).say("affirm")
    assert talk.said == ["lost or broken. one strut, six feet. affirm, or negative."]
    assert talk.say("affirm").count("stock_changed") == 1


# --- after a stop word, and what the voice says of tablets


def test_the_key_for_the_affirm_releases_nothing_after_a_stop_word_and_the_console_says_why() -> None:
    talk = Talk.new().say(NINE).say("evacuate").key("affirm")
    assert talk.events == ["refused"]
    assert talk.said == []
    assert talk.records[-1].text == "silent since evacuate. say go ahead."
    assert talk.say("go_ahead").say("read_back").key("affirm").count("released") == 1


def test_go_ahead_wakes_the_voice_while_it_is_asked_which_command_is_taught(team: Path) -> None:
    talk = Talk.new().say("teach").say("evacuate").say("go_ahead")
    assert talk.said[0] == "going on."
    assert talk.now.measurer.teaching == {"command": None, "phrase": None}
    assert not talk.now.halted


def test_tablets_may_press_no_more_before_anybody_is_told_so() -> None:
    talk = Talk.new(one_source=False).say("unpair")
    assert talk.heard_by == [("both", "no tablet may press any more.")]
    kinds = [type(effect) for effect in talk.effects]
    assert kinds.index(Unpair) < kinds.index(Say)
