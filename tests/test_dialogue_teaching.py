"""A team's own words in the conversation: what a line says, what the desk writes, what a crash leaves, what ears get.

The whole act stands as a scene in `tests/scenes/35_a_team_teaches_its_own_words.txt`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import callout
from callout.dialogue.events import Resumed, Teach, Tick, Uttered
from callout.dialogue.machine import restore, step
from callout.dialogue.records import Record, Role
from callout.dialogue.state import context
from callout.language import grammar, own_words
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from callout.language.teaching import keep
from callout.language.team import team_phrases
from callout.values import Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk
from tests.team_words import forget

# --- what a typed line says (our own notation: no source)


@pytest.mark.parametrize(
    ("line", "phrase", "command"),
    [
        ("teach", None, None), ("teach ready", None, "ready"), ("Teach say again", None, "say_again"),
        ("teach 'fetch it' ready", "fetch it", "ready"), ('teach "fetch it" as ready', "fetch it", "ready"),
        ("teach fetch it means say again", "fetch it", "say_again"), ("teach fetch it ready", "fetch it", "ready"),
        ("teach that as ready", "that", "ready"), ("teach it's in hand = ready", "it is in hand", "ready"),
        ("teach 'jolly good'", "jolly good", None), ("teach fetch it as got it", "fetch it", "ready"),
        ("logistics, teach 'fetch it' as sing", "fetch it", "sing"),
    ],
)  # fmt: skip
def test_a_typed_line_says_which_words_and_which_command(line: str, phrase: str | None, command: str | None) -> None:
    result = resolve_text(line, Context(state="walk"))
    assert isinstance(result, Understood)
    assert result.meaning == Command(command="teach", phrase=phrase, part=command)


def said(talk: Talk, line: str, role: Role = "measurer") -> Talk:
    talk.time += 1.0
    return talk.put(Uttered(resolve_text(line, context(talk.now, role)), line, role, talk.time, True))


# --- the desk writes, and only after a yes


def test_the_desk_writes_after_the_yes_and_the_words_are_taken_at_once(team: Path) -> None:
    with callout.Session() as talk:
        talk.text("teach 'fetch it' as ready")
        assert not (team / "phrases.toml").exists()
        events = [record.event for record in talk.text("affirm")]
        assert events == ["heard", "affirmed", "taught"]
        assert team_phrases() == {"ready": ("fetch it",)}
        assert callout.read("fetch it").meaning == Command(command="ready")
        talk.text("undo")
        talk.text("affirm")
        assert team_phrases() == {}
        assert callout.read("fetch it").meaning is None


def test_a_folder_that_cannot_be_written_is_told_and_nothing_is_taught(
    team: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise callout.BadInput("cannot write phrases.toml: read-only")

    with callout.Session() as talk:
        talk.text("teach 'fetch it' as ready")
        monkeypatch.setattr("callout.language.teaching.write_phrases", refuse)
        told = talk.text("affirm")
        assert any(record.event == "error" and "read-only" in record.text for record in told)
        assert any("not kept" in record.text for record in told)
    assert team_phrases() == {}


# --- a crash


@pytest.mark.parametrize("written", [False, True])
def test_a_crash_after_the_yes_leaves_it_to_be_carried_out_once(team: Path, written: bool) -> None:
    """Between the affirmative and the record; `written`: the line was in the folder by then."""
    talk = said(Talk.new(), "teach 'fetch it' as ready")
    lines = list(talk.records)
    said(talk, "affirm")
    lines = talk.records[: talk.records.index(next(r for r in talk.records if r.event == "affirmed")) + 1]
    if written:
        keep("ready", "fetch it")
    again = restore([Record.model_validate_json(r.model_dump_json()) for r in lines], talk.now.stock, FakePlanner())
    now, effects = step(again, Resumed(100.0))
    assert [effect for effect in effects if isinstance(effect, Teach)] == [Teach("ready", "fetch it")]
    keep("ready", "fetch it")
    assert team_phrases() == {"ready": ("fetch it",)}
    assert now.confirmed is None
    assert [done.kind for done in now.done] == ["taught"]


def test_a_voice_that_is_not_sure_teaches_nothing(team: Path) -> None:
    talk = said(Talk.new(), "teach 'fetch it' as ready")
    talk.say(AFFIRM, certain=False)
    assert talk.count("taught") == 0
    talk.say("affirm_insertion", certain=False, agreed=True)
    assert talk.count("taught") == 1


def test_a_lesson_that_nobody_goes_on_with_is_given_up_after_forty_seconds(team: Path) -> None:
    talk = said(Talk.new(), "teach")
    talk.time += 39.0
    assert talk.put(Tick(talk.time)).said == []
    talk.time += 1.0
    assert talk.put(Tick(talk.time)).said == ["nothing is taught."]
    assert talk.now.measurer.teaching is None


def test_teaching_and_a_walk_do_not_meet(team: Path) -> None:
    """While it is asked which command is meant, "ready" books nothing; the key still does its own work after it."""
    talk = Talk.new().released(ELEVEN_SIXTY)
    said(said(talk, "teach"), "ready", "logistics")
    assert talk.count("picked") == 0
    said(talk, "disregard")
    said(talk, "ready", "logistics")
    assert talk.count("picked") == 1


# --- what the ears get, from their next start


def test_taught_words_that_the_ears_know_are_heard_where_nothing_waits(team: Path) -> None:
    def heard(words: str, state: str) -> list[object]:
        return [reading.meaning for reading in parse(words.split(), Context(state=state))]

    keep("ready", "load it")
    keep("status", "how are they")
    keep("ready", "hoik it")
    forget()
    assert heard("load it", "walk") == [Command(command="ready")]
    assert heard("how are they", "idle") == [Command(command="status")]
    assert heard("hoik it", "walk") == []
    for state, one in grammar.load().states.items():
        if one.waits and not one.only:
            assert heard("load it", state) == [], state
    assert own_words.may_be_heard("load it")
    assert not own_words.may_be_heard("hoik it")
    assert not own_words.may_be_heard("load")


def test_by_voice_new_words_are_any_that_the_ears_know(team: Path) -> None:
    def heard(words: str) -> list[object]:
        return [reading.meaning for reading in parse(words.split(), Context(state="teach_words"))]

    assert heard("load it") == [Command(command="teach", phrase="load it")]
    assert heard("disregard") == [Command(command="disregard")]
    assert heard("stop stop") == [Command(command="stop")]
    assert heard("hold on") == [Command(command="stand_by")]
    for never in ("affirm it", "two of them", "load", "load it load it load"):
        assert heard(never) == []


@pytest.mark.parametrize("line", ["something new", "something new for ready", "something new for say again"])
def test_it_is_begun_by_voice_too_where_nothing_waits(line: str) -> None:
    states = {name for name, state in grammar.load().states.items() if not state.only}
    may = {name for name in states if any(r.meaning.command == "teach" for r in parse(line.split(), Context(state=name))
                                          if isinstance(r.meaning, Command))}  # fmt: skip
    assert may == {"idle", "walk", "assembly"}
