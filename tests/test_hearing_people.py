"""What people say in their own words, said by a voice and heard: `python -m tests.people_heard` prints the whole lists.

The phrases are those of tests/data/people; the voice is eSpeak NG, clean, which trained the ears in part.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from callout.hearing.ears import Ears
from callout.language.context import Context
from callout.language.outcome import Understood
from tests.people_heard import heard_phrases, said
from tests.people_talk import context
from tests.team_words import forget
from tests.test_language_phrases import in_short

pytestmark = pytest.mark.audio

#: The state, what is said, and what it means in short.
PEOPLE = [
    ("walk", "okay, got that one", "ready"), ("walk", "that's loaded", "ready"), ("walk", "what's next", "ready"),
    ("walk", "we're two short", "short 2"), ("walk", "i can only find two", "short have 2"),
    ("walk", "can't find that one", "short"), ("walk", "leave it for later", "skip"), ("walk", "one back", "back"),
    ("idle", "who's there, do you copy", "not understood"), ("idle", "where are we up to", "status"),
    ("confirm", "that's not right", "negative"), ("confirm", "make it twelve feet", "correction: insertion 12 ft"),
    ("halted", "we can resume", "go_ahead"),
]  # fmt: skip

#: A stop word of everyday speech and the command that it is.
STOPS = [
    ("all stop", "cease_operations"), ("stop work", "cease_operations"), ("everybody out", "evacuate"),
    ("cease work", "cease_operations"),
]  # fmt: skip
STATES = ("idle", "gather", "confirm", "gather_walk", "confirm_walk", "walk", "assembly", "halted")


@pytest.mark.parametrize(("state", "words", "meaning"), PEOPLE)
def test_people_are_heard_in_their_own_words(ears: Ears, state: str, words: str, meaning: str) -> None:
    assert in_short(ears.hear(said(words), context(state)).resolution) == meaning


@pytest.mark.parametrize("state", [s if s in ("walk", "confirm") else pytest.param(s, marks=pytest.mark.slow)
                                   for s in STATES])  # fmt: skip
@pytest.mark.parametrize(("words", "command"), STOPS)
def test_everyday_words_for_stop_are_heard_in_every_state(ears: Ears, state: str, words: str, command: str) -> None:
    assert in_short(ears.hear(said(words), Context(state=state)).resolution) == command


#: A cry of everyday speech, said once or again and again.
CRIES = [
    "mayday mayday mayday", "the wall is moving", "it's coming down", "stand clear", "get out get out", "emergency",
    "everybody back", "everybody run", "run run", "stop it's moving", "everybody out the wall is moving",
]  # fmt: skip


@pytest.mark.parametrize("state", ["walk", pytest.param("confirm", marks=pytest.mark.slow)])
@pytest.mark.parametrize("cry", CRIES)
def test_a_cry_to_get_out_is_heard(ears: Ears, state: str, cry: str) -> None:
    assert in_short(ears.hear(said(cry), Context(state=state)).resolution) in ("evacuate", "stop")


def test_cease_operations_is_heard_said_twice(ears: Ears) -> None:
    result = ears.hear(said("cease operations cease operations"), Context(state="walk")).resolution
    assert in_short(result) == "cease_operations"


VOICES = ["espeak:en-us", "espeak:en-gb+m3", "espeak:en-gb-scotland"]


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("words", ["yeah", "yep", "guess", "uh huh"])
def test_what_only_sounds_like_a_yes_releases_nothing(ears: Ears, words: str, voice: str) -> None:
    result = ears.hear(said(words, voice), context("confirm")).resolution
    assert not in_short(result).startswith("affirm")


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("words", ["yes", "affirm", "affirm affirm", "yes affirm", "yes that's correct"])
def test_a_yes_is_heard_once_or_twice(ears: Ears, words: str, voice: str) -> None:
    assert in_short(ears.hear(said(words, voice), context("confirm")).resolution) == "affirm"


@pytest.mark.slow
def test_of_the_phrases_kept_apart_60_in_100_are_taken_and_none_wrongly(ears: Ears) -> None:
    """The whole list in one clear voice, callouts and all; asked for again is no fault."""
    heard = [(phrase, result) for phrase, result in heard_phrases(ears)]
    assert len(heard) > 300
    right = [phrase for phrase, result in heard if phrase.taken(result)]
    wrong = [(phrase.said, in_short(result)) for phrase, result in heard
             if isinstance(result, Understood) and not phrase.taken(result)]  # fmt: skip
    assert len(right) >= 0.6 * len(heard)
    assert wrong == []


# --- a word that only one ear has, a team's own


def test_a_teams_own_word_is_taken_with_the_third_opinion_where_it_moves_nothing(team: Path) -> None:
    (team / "own.grammar").write_text(
        "<help> |= chattel {command help} ;\n<walk> |= stowed {command ready} ;\n", "utf-8"
    )
    forget()
    made = Ears()
    try:
        walk = context("walk")
        assert in_short(made.hear(said("chattel"), walk).resolution) == "help"
        moves = made.hear(said("stowed"), walk).resolution
        assert moves.outcome == "ambiguous"
        assert "the second ear does not know: stowed" in moves.reasons
        assert made.third is not None
        made.third.close()
        made.third = None
        assert in_short(made.hear(said("stowed"), walk).resolution) != "ready"
    finally:
        made.close()
