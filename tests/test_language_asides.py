"""What a word or two say of a whole sentence, and what is an alarm: tables that a rescuer can read."""

from __future__ import annotations

import pytest

from callout.language import asides, grammar
from callout.language.grammar_reader import Ref
from callout.language.outcome import Near, Nothing
from callout.language.resolve import resolve_text
from tests.people_talk import context, taken_for
from tests.test_language_phrases import in_short

STATES = ("idle", "walk", "confirm_walk")


def of_pieces(said: str, state: str) -> bool:
    """Whether a sentence is taken, or offered, as one that counts pieces."""
    result = resolve_text(said, context(state))
    meant = result.likely if isinstance(result, Near) else result.meaning
    return meant is not None and (getattr(meant, "command", "") == "short" or "stock" in getattr(meant, "command", ""))


@pytest.mark.parametrize(
    "said",
    [
        "need another minute", "need one more minute", "need two more minutes", "we need five minutes",
        "just need one more second", "need ten more seconds", "give me two more minutes", "need a bit more time",
        "give me another minute", "need another couple of minutes", "another five minutes", "i need an hour",
    ],
)  # fmt: skip
@pytest.mark.parametrize("state", ["walk", "confirm_walk"])
def test_who_needs_time_is_waited_for(said: str, state: str) -> None:
    assert in_short(resolve_text(said, context(state))) == "stand_by"


@pytest.mark.parametrize(
    "said",
    [
        "we're short two minutes", "only two minutes left", "only five minutes", "we have two minutes",
        "need two more minutes", "it's two o'clock", "two more minutes", "down two minutes", "missing two hours",
        "there are five minutes left", "two struts in two minutes", "ready in a minute", "we lost an hour",
    ],
)  # fmt: skip
@pytest.mark.parametrize("state", STATES)
def test_time_is_no_piece(said: str, state: str) -> None:
    assert not of_pieces(said, state)
    assert not taken_for(resolve_text(said, context(state)), "moves")


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("hang on a minute we're two short", "short 2"), ("the second one is broken", "stock_lost 1"),
        ("hang on a second one is broken", "stock_lost 1"),
    ],
)  # fmt: skip
def test_a_wait_and_then_a_count_is_the_count(said: str, meaning: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == meaning


@pytest.mark.parametrize(
    "said",
    [
        "i've only one of them so far", "only two so far", "i only have two so far", "we only found two so far",
        "only one at the moment", "got two so far", "can't find it yet", "i don't see it yet", "don't have it yet",
        "i haven't got it yet", "haven't found them all yet", "still looking", "still looking for one more",
        "i'm still looking for the second one",
    ],
)  # fmt: skip
def test_who_has_not_all_yet_is_waited_for(said: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == "stand_by"


@pytest.mark.parametrize("said", ["two missing so far", "we have none right now", "we are ready for now"])
def test_what_may_still_change_is_asked(said: str) -> None:
    assert isinstance(resolve_text(said, context("walk")), Near)


@pytest.mark.parametrize("said", ["can't find it", "don't have it", "i don't see it", "don't see them"])
def test_without_yet_a_piece_that_is_not_found_is_short(said: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == "short"


@pytest.mark.parametrize("said", ["i have both", "both in hand", "got both", "we've got both of them", "both here"])
def test_both_are_two(said: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == "ready 2"


# --- who leaves, and who goes on

@pytest.mark.parametrize(
    "said", ["I have to run", "sorry guys, I've got to run", "well, i have to run now", "i need to run"]
)
@pytest.mark.parametrize("state", STATES)
def test_who_must_leave_raises_no_alarm(said: str, state: str) -> None:
    assert isinstance(resolve_text(said, context(state)), Nothing)


@pytest.mark.parametrize(
    "said",
    ["run", "run!", "everybody run", "we have to run", "run for it", "i have to run for it",
     "i have to run, the wall is moving", "i have to run everybody run"],
)  # fmt: skip
@pytest.mark.parametrize("state", STATES)
def test_who_runs_from_something_raises_the_alarm(said: str, state: str) -> None:
    assert in_short(resolve_text(said, context(state))) == "evacuate"


@pytest.mark.parametrize(
    ("said", "on"),
    [
        ("okay, carry on", True), ("go on", True), ("let's continue", True), ("got it, go on", False),
        ("ready", False), ("next", False), ("it", False),
    ],
)  # fmt: skip
def test_words_that_only_go_on_have_nothing_in_hand(said: str, on: bool) -> None:
    assert asides.goes_on(resolve_text(said, context("walk")).words) is on


@pytest.mark.parametrize(
    "said",
    ["get out the tape", "pull out the long one", "back off the screw a bit", "back off the screw", "clear out the box",
     "pull them out of the rack", "stand clear of the saw"],
)  # fmt: skip
@pytest.mark.parametrize("state", STATES)
def test_what_is_done_with_a_thing_raises_no_alarm(said: str, state: str) -> None:
    assert in_short(resolve_text(said, context(state))) != "evacuate"


@pytest.mark.parametrize(
    "said",
    ["get out the back", "get out the wall is moving", "get out the saw is falling", "get out of the long building now",
     "get out the right side", "pull them out", "back off", "back off the wall is going", "stand clear of the wall",
     "get out that strut is going"],
)  # fmt: skip
@pytest.mark.parametrize("state", STATES)
def test_what_may_be_a_way_out_raises_the_alarm(said: str, state: str) -> None:
    assert in_short(resolve_text(said, context(state))) == "evacuate"


# --- alarms

ALARMS = [
    "the wall is coming down", "the wall's coming down", "it's coming down", "the wall is moving",
    "wait the wall is moving", "the shore is moving", "the raker is moving",
    "hang on the wall is moving", "wait it's coming down", "the building is shifting", "the building is going",
    "the building is shifting wait", "the roof is giving way", "it is collapsing", "the wall is about to go",
    "stop the wall is moving", "emergency, get out", "emergency", "mayday", "mayday mayday mayday", "withdraw",
    "withdraw now", "everybody withdraw", "run", "everybody run", "back off", "everybody back off", "evac", "evac now",
    "evacuation", "stand clear", "wait everybody out",
]  # fmt: skip


@pytest.mark.parametrize("said", ALARMS)
@pytest.mark.parametrize("state", STATES)
def test_what_silences_everything_at_once(said: str, state: str) -> None:
    assert taken_for(resolve_text(said, context(state)), "alarm")


@pytest.mark.parametrize(
    "said",
    [
        "the truck is moving", "it is going well", "it's going fine", "run the list", "can you run the list",
        "run that by me", "the wall is going up nicely", "the wall is not moving", "is the wall moving",
        "if the wall is moving", "the wall is moving along nicely", "i'm coming down", "we're coming down",
        "we're moving",
        "the rain is coming down", "she is coming down with the flu", "the ladder is coming down",
        "back off you are talking too fast", "the wall is going to be twelve feet", "it's about to rain",
    ],
)  # fmt: skip
@pytest.mark.parametrize("state", STATES)
def test_other_talk_is_no_alarm(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert not taken_for(result, "alarm")
    assert not (isinstance(result, Near) and result.likely.command == "evacuate")


@pytest.mark.parametrize("said", ["it's moving", "it's shifting"])
def test_what_may_be_an_alarm_is_one_and_no_question(said: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == "evacuate"


# --- questions that book nothing, and what is named


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("what's after this", "after_this"), ("what do i need after that", "after_this"),
        ("what comes after this", "after_this"), ("can you tell me what's next", "after_this"),
        ("what's the next item", "after_this"), ("read me the next item", "after_this"), ("what's next", "ready"),
        ("next", "next"), ("all right those are on the pile what's after that", "ready"),
        ("which step are we on", "repeat"), ("what comes next", "after_this"), ("which is next", "after_this"),
        ("what's next on the list", "after_this"), ("what's next for us", "after_this"), ("okay what's next", "ready"),
        ("what else do you need", "after_this"), ("anything else we need", "after_this"),
        ("i have them here, what comes next", "ready"), ("that's done what else you need", "ready"),
        ("check it", "repeat"), ("check that", "repeat"), ("check again", "repeat"),
        ("check", "ready"), ("check next", "ready"), ("checked it", "ready"), ("keep going", "ready"),
        ("have it ready for me", "not understood"), ("have them ready for us", "not understood"),
        ("we have it ready", "ready"),
        ("what did i skip", "parts_list"), ("go back to the first build", "build 1"),
        ("switch to number two", "build 2"), ("go to the other one", "build"), ("we found the rest", "found"),
        ("no wait there's another one behind the truck", "found"), ("wait no i see them all now", "found"),
        ("keep it", "not understood"), ("i took only one strut", "not understood"),
    ],
)  # fmt: skip
def test_what_is_asked_of_the_list_and_of_the_builds(said: str, meaning: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == meaning


@pytest.mark.parametrize(
    "said",
    [
        "i'll get it in a second", "i'll have it in a minute", "give me a second", "one second", "in a minute",
        "we'll have that in a moment", "get it in a sec", "just a second",
    ],
)  # fmt: skip
def test_a_second_is_no_second_item(said: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) in ("stand_by", "not understood")


@pytest.mark.parametrize(
    "said",
    [
        "check the tape", "check your six", "check in", "check them off", "be ready", "done yet", "fetch it",
        "hand over", "i take over",
    ],
)  # fmt: skip
def test_no_yes_to_ready_follows_an_order_or_a_question(said: str) -> None:
    result = resolve_text(said, context("walk"))
    meant = result.likely if isinstance(result, Near) else result.meaning
    assert getattr(meant, "command", "") not in ("ready", "next")


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("put build two on hold", "rearrange build 2"), ("hold build two", "rearrange build 2"),
        ("hold item three", "rearrange item 3"), ("swap build one and build three", "rearrange build 1"),
        ("are all parts picked for build one", "what_picked build 1"), ("what did i pick", "what_picked"),
        ("what is picked", "what_picked"), ("which ones are done", "what_picked"), ("i take over", "handover"),
        ("which items are open", "parts_list"), ("which first", "repeat"), ("which one first", "repeat"),
        ("items two three and four are picked", "one_at_a_time"), ("give me the next three", "one_at_a_time"),
        ("go back two", "one_at_a_time"), ("go back one", "back"), ("ready but only three", "short have 3"),
        ("found two more", "stock_add 2"), ("they're all bent", "stock_lost have 0"),
        ("all three are bent", "stock_lost 3"), ("both are bent", "stock_lost 2"), ("all good", "ready"),
    ],
)  # fmt: skip
def test_what_moves_nothing_is_told(said: str, meaning: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == meaning


def test_the_second_is_the_second_item() -> None:
    assert in_short(resolve_text("get the second", context("walk"))) == "item 2"


def test_what_is_not_known_yet_is_said_in_the_same_words_in_the_grammar_and_in_the_list() -> None:
    assert set(grammar._sentences(grammar.load().wide_rules, Ref("so far"), None)) == asides._table().so_far


@pytest.mark.parametrize(
    ("said", "stance"),
    [
        ("that is not a split sole", "refuses"), ("wait until i have measured again", "refuses"),
        ("scrap the lot", "drops"), ("we do not need it any more", "drops"), ("we never want it", "drops"),
        ("yep that is right", "approves"), ("good readback", "approves"),
        ("affirm three rakers", ""), ("i need a steeper angle", ""),
    ],
)  # fmt: skip
def test_what_a_sentence_is_to_a_readback(said: str, stance: str) -> None:
    assert asides.stance(said.split()) == stance
