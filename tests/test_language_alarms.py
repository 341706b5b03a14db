"""An alarm in whatever words is taken at once, in every state; what sounds like one is none.

The sentences: tests/data/people/alarms.toml. A missed alarm is the worst that can happen, one too many costs silence.
"""

from __future__ import annotations

import pytest

from callout.language.outcome import Near, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout
from tests.how_much import one_in
from tests.people_talk import alarms, context, other_talk, taken_for, understood
from tests.test_language_phrases import in_short

STATES = ("idle", "gather", "confirm", "walk", "confirm_walk", "gather_walk", "assembly", "teach", "teach_words",
          "halted")  # fmt: skip
SLOW = ("gather", "gather_walk", "assembly", "teach")


@pytest.mark.parametrize("state", [pytest.param(s, marks=pytest.mark.slow) if s in SLOW else s for s in STATES])
def test_every_alarm_is_taken_at_once(state: str) -> None:
    cries = (*alarms()["tried"], *alarms()["more"], *alarms()["after"], *alarms()["again"])
    assert len(cries) > 200
    missed = [(said, in_short(understood(said, state))) for said in cries
              if not taken_for(understood(said, state), "alarm")]  # fmt: skip
    assert missed == []


@pytest.mark.parametrize("state", ["idle", "walk", "confirm_walk"])
def test_who_stops_the_work_and_who_is_hurt_is_no_evacuation(state: str) -> None:
    for said in alarms()["ceases"]:
        assert in_short(understood(said, state)) == "cease_operations", said


@pytest.mark.parametrize("state", ["idle", "walk", "confirm_walk"])
def test_by_how_much_it_moved_and_an_aftershock_are_looks(state: str) -> None:
    for said in alarms()["looks"]:
        assert in_short(understood(said, state)).startswith("happened"), said


@pytest.mark.parametrize("state", ["idle", "walk", "confirm_walk"])
def test_a_stop_that_is_said_to_the_voice_stops_no_work(state: str) -> None:
    for said in alarms()["quiet"]:
        assert in_short(understood(said, state)) == "stop", said


@pytest.mark.parametrize("state", one_in(3, ["walk", "idle", "confirm_walk"]))
def test_what_only_sounds_like_an_alarm_is_hardly_ever_one(state: str) -> None:
    """One too many costs silence until somebody says go ahead: at most two in a hundred of what is near to one."""
    sentences = alarms()["none"]
    assert len(sentences) > 110
    taken = [said for said in sentences if taken_for(understood(said, state), "alarm")]
    assert len(taken) <= 0.02 * len(sentences), taken
    of_others = [said for said in other_talk() if taken_for(understood(said, state), "alarm")]
    assert len(of_others) <= 3, of_others


@pytest.mark.parametrize("said", ["i have to run", "we ran out", "stop talking to me", "watch out for the bike"])
@pytest.mark.parametrize("state", ["idle", "walk", "confirm_walk"])
def test_what_was_once_taken_for_an_alarm(state: str, said: str) -> None:
    assert not taken_for(understood(said, state), "alarm")


@pytest.mark.parametrize("said", ["evacuat", "go go get out", "hey everbody out", "the wall mooving"])
@pytest.mark.parametrize("state", ["walk", "confirm_walk"])
def test_an_alarm_in_doubt_is_an_alarm_and_no_question(state: str, said: str) -> None:
    result = resolve_text(said, context(state))
    assert not isinstance(result, Near)
    assert taken_for(result, "alarm")


@pytest.mark.parametrize(
    "said", ["wall's bulging, three rakers at thirteen feet sixty degrees", "hurry it's moving, twelve feet sixty"]
)
def test_what_is_seen_of_a_wall_beside_a_whole_callout_is_none(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Callout)


@pytest.mark.parametrize(
    "said", ["get out, the wall is coming down, twelve feet sixty", "everybody out insertion twelve feet sixty"]
)
def test_a_cry_to_get_out_is_one_beside_a_callout_too(said: str) -> None:
    assert taken_for(resolve_text(said, context("idle")), "alarm")
