"""Typed: a command and why it is said, in one breath. The first clause decides, unless what follows turns it round.

The phrases are invented; common practice, no source.
"""

from __future__ import annotations

import pytest

from callout.files import data_folder, read_toml
from callout.language.commands import commands, commands_that
from callout.language.outcome import Near, Understood
from callout.language.resolve import resolve_text
from tests.people_talk import context, taken_for
from tests.test_language_phrases import in_short

GIVEN = [
    ("walk", "scratch my last, that was the wrong strut", "disregard"),
    ("walk", "undo that, my thumb slipped on the button", "undo"),
    ("walk", "undo that was a mistake", "undo"),
    ("walk", "pass, someone else is fetching those", "skip"),
    ("walk", "skip this one the others are bringing it", "skip"),
    ("walk", "leave it for later, the truck is blocking the rack", "skip"),
    ("walk", "damn, this strut's knackered, the collar's split", "stock_lost 1 strut"),
    ("walk", "two are broken somebody drove over them", "stock_lost 2"),
    ("walk", "where are they, the rack's been moved", "where"),
    ("walk", "how many was that, the wind took it", "how_many"),
    ("walk", "just took over from the other fella, what's been done", "status"),
    ("idle", "take down build two, the wall is gone", "take_down build 2"),
    ("idle", "move build one to the east wall, the engineer wants it there", "relocate build 1"),
    ("confirm", "forget that one, they've pulled us off this wall", "disregard"),
    ("confirm", "disregard that, the chief wants a different wall", "disregard"),
    ("confirm", "hang on, the tape is twisted", "stand_by"),
]  # fmt: skip


@pytest.mark.parametrize(("state", "said", "meaning"), GIVEN)
def test_a_reason_after_a_command_leaves_it_the_command(state: str, said: str, meaning: str) -> None:
    assert in_short(resolve_text(said, context(state))) == meaning


@pytest.mark.parametrize(
    "said",
    [
        "stop work everybody, the wall's moving", "stop the roof is shifting", "everybody stop, the floor is moving",
        "stop, there is a voice in the rubble", "cease work there's gas", "all stop, tools down, quiet on site",
    ],
)  # fmt: skip
@pytest.mark.parametrize("state", ["idle", "walk", "confirm"])
def test_a_stop_with_a_reason_is_taken_at_once(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert not isinstance(result, Near)
    assert taken_for(result, "stop")


@pytest.mark.parametrize(
    "said",
    [
        # the reason takes it back, or is another command
        "short two, i found them", "short two but they are here now", "undo that, i mean the one before",
        "one is broken, it was fixed this morning", "two are broken, we are not sure", "skip that or do we need it",
        "take build two down, we are not done with it", "take build two down if the chief has agreed",
        # what is done needs no reason, and what follows may say that it is not so
        "got it, it is the wrong length", "the shore is up, it was hard work", "ready, they are the short ones",
        # of other things
        "pass the hammer, it is over there", "undo that knot, it is too tight", "take down the sign, it is ugly",
        "sorry that was my mistake, i dropped your phone", "i spoke too soon, it is raining",
        "the music next door is too loud", "he is asking me to skip that one", "stop the car, it is my brother",
        "we lost the signal for a second", "no more for me, i am full",
    ],
)  # fmt: skip
@pytest.mark.parametrize("state", ["idle", "walk", "confirm"])
def test_what_is_no_reason_leaves_nothing_taken(said: str, state: str) -> None:
    assert not isinstance(resolve_text(said, context(state)), Understood)


@pytest.mark.parametrize(
    "said", ["disregard that, it is the east wall", "disregard that, it was fifteen feet", "stand by, that is correct"]
)
def test_a_value_or_a_yes_is_no_reason(said: str) -> None:
    """What is said of a readback is not thrown away with it."""
    assert not isinstance(resolve_text(said, context("confirm")), Understood)


def test_nothing_that_says_done_or_yes_has_a_reason() -> None:
    table = read_toml(data_folder("grammars") / "reasons.toml")
    listed = {*table["orders"], *table["reports"]}
    assert listed <= set(commands())
    assert not listed & commands_that("affirmative")
    assert not listed & {"ready", "next", "stands", "correction", "negative", "go_ahead", "stock_set", "stock_add"}


@pytest.mark.parametrize(
    ("said", "meaning"),
    [
        ("can i hear the fifth one again", "item 5"), ("what was the seventh item again", "item 7"),
        ("back to the third one", "item 3"), ("third one again please", "item 3"),
        ("only got three of the four", "short have 3"), ("we only found two out of the five", "short have 2"),
        ("what's everything i need for this shore", "parts_list"),
        ("we come to this later, go to next", "skip"), ("leave that for now what else", "skip"),
        ("could we do it in timber", "substitute part timber"), ("running short on these ones lads", "short"),
    ],
)  # fmt: skip
def test_ordinals_and_what_is_there_of_how_many(said: str, meaning: str) -> None:
    assert in_short(resolve_text(said, context("walk"))) == meaning
