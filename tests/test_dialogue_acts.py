"""What is decided is a row of values; one function carries it out, once a step."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import callout.dialogue
from callout.dialogue import builds, callouts, commands, confirming, machine
from callout.dialogue.acts import Act, Cause, carry_out, folded, said, said_once
from callout.dialogue.events import Effect, Say, Uttered
from callout.dialogue.records import Record
from callout.language.outcome import Near
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft

MEASURER = Cause("measurer", 5.0, one_source=True)


def keys(acts: tuple[Act, ...]) -> list[tuple[str | None, str]]:
    return [(act.event, act.key) for act in acts]


def test_a_callout_is_decided_and_nothing_is_changed_by_it() -> None:
    now = Talk.new().now
    acts = callouts.heard_callout(now, MEASURER, ELEVEN_SIXTY)
    assert keys(acts) == [("readback", "confirming.readback")]
    assert acts == callouts.heard_callout(now, MEASURER, ELEVEN_SIXTY)
    assert now.measurer.pending is None
    pending = folded(now, acts).measurer.pending
    assert pending is not None
    assert pending.request == ELEVEN_SIXTY


def test_half_a_callout_is_kept_and_its_other_half_is_asked_for() -> None:
    acts = callouts.heard_callout(Talk.new().now, MEASURER, Callout(insertion=ft(11)))
    assert keys(acts) == [("heard", ""), ("asked", "asking.angle_deg")]


def test_a_yes_is_decided_first_and_what_it_leads_to_after_it() -> None:
    now = Talk.new().say(ELEVEN_SIXTY).now
    answer = confirming.answered(now, MEASURER, long=False)
    assert keys(answer) == [("affirmed", "")]
    after = folded(now, answer)
    assert after.confirmed is not None
    led_to = builds.released(after, MEASURER, after.confirmed)
    assert keys(led_to)[:2] == [("released", ""), ("said", "confirming.affirmed")]
    assert commands.obey(now, MEASURER, Command(command="affirm")) == (*answer, *led_to)


def test_a_callout_voids_what_waited_and_says_so_where_the_answer_does_not_show_it() -> None:
    now = Talk.new().say(Command(command="stock_set", part="strut", length=ft(6), quantity=3)).now
    acts = callouts.heard_callout(now, MEASURER, ELEVEN_SIXTY)
    assert keys(acts) == [("voided", "void.other"), ("readback", "confirming.readback")]
    assert [act.urgent for act in acts] == [True, True]


def test_a_yes_to_what_was_near_does_not_void_itself() -> None:
    """What it means is decided on the conversation after the yes, in which nothing waits any more."""
    meant = Command(command="stock_lost", part="strut", length=ft(6), quantity=1)
    near = Near(("one", "is", "brokn"), likely=meant, sentence="one six foot strut is broken")
    talk = Talk.new().released()
    talk.put(Uttered(near, "one is brokn", "measurer", talk.time + 0.5, certain=True)).say("affirm")
    assert talk.events == ["heard", "affirmed", "readback"]
    assert talk.said == ["lost or broken. one strut, six feet. affirm, or negative."]


def test_what_is_said_once_is_written_again_without_words() -> None:
    now, again = Talk.new().now, said_once(MEASURER, "confirming.nothing_to_affirm", "refused")
    now, first = carry_out(now, [again])
    _, second = carry_out(now, [again])
    assert words(first) == ["nothing to affirm.", "nothing to affirm."]
    assert words(second) == [""]


def words(effects: tuple[Effect, ...]) -> list[str]:
    return [effect.text for effect in effects if isinstance(effect, (Record, Say))]


def test_an_act_is_written_before_it_is_spoken() -> None:
    _, effects = carry_out(Talk.new().now, [said(MEASURER, "plain.radio_check"), said(MEASURER, "plain.go_ahead")])
    assert [type(effect) for effect in effects] == [Record, Say, Record, Say]


@pytest.mark.parametrize(
    "said_before", [(), (Callout(insertion=ft(11)),), (ELEVEN_SIXTY,), (ELEVEN_SIXTY, "affirm")],
    ids=["nothing", "half", "a readback waits", "a build is walked"],
)  # fmt: skip
@pytest.mark.parametrize(
    "meaning", [ELEVEN_SIXTY, Callout(angle_deg=45), Callout(insertion=ft(8)), Command(command="affirm")],
    ids=["whole", "angle", "height", "affirm"],
)  # fmt: skip
def test_a_step_carries_its_acts_out_at_one_time(
    monkeypatch: pytest.MonkeyPatch, said_before: tuple[Callout | str, ...], meaning: Callout | Command
) -> None:
    """Once a callout was written, folded and said as it went: eleven to fifteen times a step."""
    talk, times = Talk.new(), []
    for before in said_before:
        talk.say(before)

    def counted(now: object, acts: tuple[Act, ...]) -> object:
        times.append(bool(acts))
        return carry_out(now, acts)  # type: ignore[arg-type]

    monkeypatch.setattr(machine, "carry_out", counted)
    talk.say(meaning)
    assert sum(times) == 1


def test_records_and_words_are_made_in_one_place() -> None:
    made = set()
    for path in Path(callout.dialogue.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Record", "Say"):
                made.add(path.name)
    assert made == {"acts.py"}
