"""A team's own Vosk model is one ear alone: what it may decide, and what it must ask."""

import pytest

from callout.hearing.team_model import CLEAR, GARBAGE, TeamModel
from callout.language.context import EVERYTHING
from callout.language.outcome import Ambiguous
from callout.values import Callout, Command, Length

SIXTY = Callout(insertion=Length.imperial(11), angle_deg=60)
WHOLE, RIVAL = "insertion eleven feet sixty", "insertion eleven feet forty five"


def judged(*found: tuple[str, float], lacks: tuple[str, ...] = ()):
    listener = object.__new__(TeamModel)  # the judgement needs no model
    listener.name = "ours"
    return listener._judged([(tuple(words.split()), score) for words, score in found], EVERYTHING, 0.0, list(lacks))


@pytest.mark.parametrize("words", ["affirm", "affirm insertion", "yes", "that is correct", "affirmative"])
def test_one_ear_alone_never_affirms(words: str) -> None:
    heard = judged((words, 0.0))
    assert isinstance(heard.resolution, Ambiguous), heard
    assert heard.resolution.ask == "command"
    assert heard.resolution.reasons == ("one ear alone is not sure",)
    assert isinstance(heard.resolution.candidates[0], Command)
    assert heard.confidence is None


def test_a_callout_far_ahead_of_any_other_is_understood() -> None:
    alone, ahead = judged((WHOLE, -1.0)), judged((WHOLE, -1.0), (RIVAL, -1.0 - CLEAR))
    for heard in (alone, ahead):
        assert heard.resolution.outcome == "understood"
        assert heard.resolution.meaning == SIXTY
        assert heard.readings[0] == tuple(WHOLE.split())
        assert heard.listener == "ours"


def test_a_near_rival_is_asked_for_by_the_part_in_which_it_differs() -> None:
    heard = judged((WHOLE, -1.0), (RIVAL, -1.1 + 0.9 * -CLEAR))
    assert heard.resolution.outcome == "ambiguous"
    assert heard.resolution.ask == "angle_deg"
    assert heard.resolution.candidates == (SIXTY, SIXTY.model_copy(update={"angle_deg": 45}))


def test_commands_that_are_no_yes_are_understood() -> None:
    assert judged(("say again", -1.0)).resolution.meaning == Command(command="say_again")


def test_speech_that_is_no_callout_says_which_words_the_model_lacks() -> None:
    heard = judged((GARBAGE, -1.0), lacks=("raker", "strut"))
    assert heard.resolution.outcome == "not_understood"
    assert heard.readings == ()
    assert heard.resolution.words == ()
    assert "the model does not know: raker" in heard.resolution.reasons
    assert heard.resolution.reasons[0] == "speech that is no callout and no command"


def test_nothing_heard_is_nothing() -> None:
    assert judged().resolution.outcome == "nothing"
