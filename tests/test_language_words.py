"""The words themselves: how they sound, which are twins, a team's own words, the crib sheet, and the commands."""

from __future__ import annotations

import json
import random
import re
from itertools import combinations
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from callout.cli import group
from callout.errors import BadInput, CalloutError
from callout.language import automaton, cribsheet, grammar, pronunciation
from callout.language.context import Context
from callout.language.grammar_reader import read_rules
from callout.language.outcome import Understood
from callout.language.parse import parse
from callout.language.pronunciation import are_twins, phone_distance, prons
from callout.language.resolve import resolve_text
from callout.schemas import schema_of
from callout.values import Callout, Command
from tests.team_words import forget


def run(*arguments: str, stdin: str | bytes | None = None) -> Result:
    return CliRunner().invoke(group, list(arguments), input=stdin)


# --- how words sound


def test_every_word_has_a_pronunciation_in_arpabet() -> None:
    for word in grammar.load().words():
        assert prons(word), word
        assert all(phone in pronunciation.PHONES for way in prons(word) for phone in way)


@pytest.mark.parametrize(
    ("word", "way"),
    [
        ("nine", "N AY N"), ("nine", "N AY N ER"), ("five", "F AY F"), ("three", "T R IY"), ("four", "F OW ER"),
        ("twenty", "T W EH N IY"), ("half", "HH AA F"), ("metres", "M IY T ER Z"), ("raker", "R EY K ER"),
        ("insertion", "IH N S ER SH AH N"),
    ],
)  # fmt: skip
def test_radio_british_and_fast_forms(word: str, way: str) -> None:
    assert tuple(way.split()) in prons(word)


@pytest.mark.parametrize(
    ("one", "other", "phones"),
    [
        ("thirteen", "thirty", 1), ("fourteen", "forty", 1), ("fifteen", "fifty", 1), ("sixteen", "sixty", 1),
        ("seventeen", "seventy", 1), ("eighteen", "eighty", 1), ("nineteen", "ninety", 1), ("seven", "seventy", 1),
        ("eight", "eighth", 1), ("feet", "foot", 1), ("six", "sixty", 2), ("six", "next", 2), ("affirm", "affirm", 0),
    ],
)  # fmt: skip
def test_phone_distances(one: str, other: str, phones: int) -> None:
    """Counted by hand on the CMU dictionary's phones; a fast form may be nearer, never farther."""
    assert phone_distance(one, other) <= phones
    assert phone_distance(other, one) == phone_distance(one, other)


def test_a_word_nobody_knows_has_no_distance() -> None:
    with pytest.raises(CalloutError, match=r"no pronunciation for 'xyzzyq'.*pronunciations\.dict"):
        phone_distance("affirm", "xyzzyq")


def test_the_listed_twins_are_near() -> None:
    for twin in pronunciation.twins():
        assert phone_distance(twin.one, twin.other) <= 3, twin
        assert twin.why


@pytest.mark.parametrize(
    ("one", "other", "twins"),
    [
        ("insertion thirteen feet", "insertion thirty feet", True), ("sixty", "six", True),
        ("insertion five feet", "insertion nine feet", True), ("insertion five feet", "insertion eight feet", False),
        ("insertion five feet", "insertion five feet", False), ("insertion five feet", "five feet", False),
    ],
)  # fmt: skip
def test_twin_sentences(one: str, other: str, twins: bool) -> None:
    assert are_twins(one.split(), other.split()) is twins


def test_no_walk_word_is_near_a_digit_or_another() -> None:
    """Words chosen by phone distance: only "next" is near a digit (six), and it is a listed twin."""
    walk = ["ready", "back", "skip", "repeat", "short", "substitute", "affirm", "negative", "stop", "evacuate"]
    for i, word in enumerate(walk):
        for other in [*walk[i + 1 :], "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "zero"]:
            assert phone_distance(word, other) >= 2, (word, other)


def test_phrases_too_close_are_those_one_phone_apart() -> None:
    """Compared with every pair of the parts, one by one: Levenshtein's distance of rapidfuzz."""
    names = sorted({name for names in grammar.load().parts.values() for name in names} | {"bait", "eight", "at"})
    every = [(a, b) for a, b in combinations(names, 2) if phone_distance(a, b) <= 1]
    assert ("bait", "eight") in every
    assert cribsheet._too_close(names) == every


# --- a team's own words


def test_a_team_adds_a_part_in_one_line(team: Path) -> None:
    (team / "parts.toml").write_text('jack = ["jack", "jacks", "screw jack", "screw jacks"]\n', "utf-8")
    forget()
    assert resolve_text("we have two screw jacks").meaning == Command(command="stock_set", quantity=2, part="jack")
    assert "jacks" in automaton.word_automaton().words
    assert cribsheet.sound_faults() == []


def test_a_team_adds_a_word_for_a_thing_in_one_line(team: Path) -> None:
    (team / "own.grammar").write_text("<kind> |= lean to {kind raker} | spur {kind flying_raker} ;\n", "utf-8")
    forget()
    result = resolve_text("insertion eleven feet sixty spur")
    assert isinstance(result.meaning, Callout)
    assert result.meaning.kind == "flying_raker"


def test_a_word_of_a_team_that_sounds_like_another_is_named(team: Path) -> None:
    (team / "parts.toml").write_text('lug = ["packet", "packets"]\n', "utf-8")
    forget()
    assert any('"packet" and "picket"' in fault for fault in cribsheet.sound_faults())
    result = run("words", "--check")
    assert result.exit_code == 1
    assert "sound too much alike" in result.stdout


def test_a_word_without_a_pronunciation_is_named_and_one_line_mends_it(team: Path) -> None:
    (team / "parts.toml").write_text('gizmo = ["zorbl", "zorbls"]\n', "utf-8")
    assert any('"zorbl" has no pronunciation' in fault for fault in cribsheet.sound_faults())
    (team / "pronunciations.dict").write_text("zorbl Z AO R B AH L\nzorbls Z AO R B AH L Z\n", "utf-8")
    forget()
    assert cribsheet.sound_faults() == []


@pytest.mark.parametrize(
    ("name", "text", "word"),
    [
        ("own.grammar", "<kind> |= spur {kind raker}", "own.grammar, line"),
        ("own.grammar", "<kind> = spur {kind raker} ;", "already there"),
        ("own.grammar", "<kind> |= <spur> ;", "nowhere written"),
        ("own.grammar", "<kind> |= spur <kind> ;", "contains itself"),
        ("own.grammar", "<kind> |= spur {kindd raker} ;", "not known"),
        ("parts.toml", "jack = 'jack'", "parts.toml"),
        ("parts.toml", 'jack = ["jack 2", "jacks"]', "small letters"),
        ("parts.toml", "jack = [", "parts.toml"),
        ("pronunciations.dict", "jack J A K", "pronunciations.dict, line 1"),
    ],
)
def test_a_bad_line_is_named_with_what_to_do(team: Path, name: str, text: str, word: str) -> None:
    (team / name).write_text(text + "\n", "utf-8")
    forget()
    with pytest.raises(CalloutError, match=word):
        read_all()


def read_all() -> None:
    grammar.load().network()
    prons("jack")


def test_a_team_folder_that_is_not_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CALLOUT_TEAM", str(tmp_path / "nowhere"))
    forget()
    with pytest.raises(CalloutError, match="CALLOUT_TEAM"):
        grammar.load()
    monkeypatch.undo()
    forget()


def test_rules_are_read_with_all_the_notation_has(tmp_path: Path) -> None:
    file = tmp_path / "small.grammar"
    file.write_text("# a remark\n<a> = one [two] (three | four)+ <b>* {skip} ;\n<b> = <1..3> | <1,2 digits> ;\n")
    assert set(read_rules([file])) == {"a", "b"}


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("<a> = one ;\n<b> = two (three ;\n", "line 2, column 18"),
        ("<a> = one ;\n<b> = two three) ;\n", "line 2, column 16"),
        ("<a> = one [two) ;\n", "line 1, column 15"),
        ("<a> = * one ;\n", "line 1, column 7"),
        ("<a> = one** ;\n", "line 1, column 11"),
        ("<a> = one\n<b> = two ;\n", "line 2, column 5"),
        ("<a> = one", "line 1, column 10"),
        ("<a> one ;\n", "line 1, column 5"),
        ("# a remark\n\none = <a> ;\n", "line 3, column 1"),
        ("<a> = One ;\n", "line 1, column 7"),
        ("<a> = <3..> ;\n", "line 1, column 7"),
        ("<a> = one {two\n} ;\n", "line 1, column 11"),
        ("<a> = one + ; ;\n", "line 1, column 15"),
        ("<a> = one ;\n<b> = <0..99999> ;\n", "line 2, column 7: the number 99999 is too large"),
        (f"<a> =\n{'(' * 31}", "line 2, column 31: more than 30 brackets"),
    ],
)
def test_a_text_that_is_no_grammar_is_told_with_the_place(tmp_path: Path, text: str, where: str) -> None:
    (tmp_path / "small.grammar").write_text(text)
    with pytest.raises(BadInput, match=f"^small.grammar, {re.escape(where)}"):
        read_rules([tmp_path / "small.grammar"])


# --- states


def test_the_states_name_rules_that_are_there() -> None:
    language = grammar.load()
    for state in language.states.values():
        assert state.title
        assert set(state.rules) <= set(language.rules)


def test_in_the_walk_ready_is_heard_and_in_idle_not() -> None:
    assert parse(["ready"], Context(state="walk"))
    assert not parse(["ready"], Context(state="idle"))


def test_an_unknown_state_is_refused() -> None:
    with pytest.raises(CalloutError, match="the states are"):
        parse(["ready"], Context(state="nowhere"))


@pytest.mark.parametrize(
    ("said", "word", "may"),
    [
        ("insertion eleven", "feet", True), ("insertion eleven", "degrees", False), ("", "insertion", True),
        ("insertion eleven feet", "sixty", True), ("we have two", "struts", True), ("nonsense", "feet", False),
    ],
)  # fmt: skip
def test_completion(said: str, word: str, may: bool) -> None:
    assert (word in automaton.next_words(said.split())) is may


# --- the crib sheet


def test_every_line_of_the_crib_sheet_is_understood() -> None:
    for section in cribsheet.sections():
        for say, *_ in section.lines:
            asked = "insertion" if say == "eleven feet" else None
            assert isinstance(resolve_text(say, Context(asked=asked)), Understood), say


def test_help_in_a_state_names_only_what_may_be_said_there() -> None:
    assert "ready" in cribsheet.help_lines("walk")
    assert "ready" not in cribsheet.help_lines("idle")
    assert "insertion eleven feet sixty" in cribsheet.help_lines("idle")


# --- the commands


def test_card_as_text_and_as_a_page(tmp_path: Path) -> None:
    assert "insertion eleven feet sixty" in run("card").stdout
    page = tmp_path / "card.html"
    assert run("card", "--html", str(page)).exit_code == 0
    html = page.read_text("utf-8")
    assert "insertion eleven feet sixty" in html
    assert "@page" in html
    assert "http" not in html
    assert "<script" not in html


def test_card_into_a_folder_that_is_not_there(tmp_path: Path) -> None:
    result = run("card", "--html", str(tmp_path / "nowhere" / "card.html"))
    assert isinstance(result.exception, CalloutError)
    assert result.exception.exit_code == 2


def test_card_of_a_state() -> None:
    assert "ready" in run("card", "--state", "walk").stdout.splitlines()


def test_samples_are_understood_and_the_same_for_a_seed() -> None:
    first, second = (run("sample", "-n", "60", "--seed", "5").stdout for _ in range(2))
    assert first == second
    lines = first.splitlines()
    assert len(lines) == 60
    for line in lines:
        result = resolve_text(line)
        assert isinstance(result, Understood), line
        assert isinstance(result.meaning, Callout)
        assert not result.meaning.missing


def test_samples_as_json_for_a_state() -> None:
    result = run("sample", "-n", "20", "--state", "walk", "--seed", "1", "--json")
    rows = [json.loads(line) for line in result.stdout.splitlines()]
    assert len(rows) == 20
    for row in rows:
        jsonschema.Draft202012Validator(schema_of("sample")).validate(row)
        jsonschema.Draft202012Validator(schema_of("meaning")).validate(row["meaning"])


def test_sample_of_an_unknown_state() -> None:
    result = run("sample", "--state", "nowhere")
    assert isinstance(result.exception, CalloutError)
    assert result.exception.exit_code == 2


def test_words_lists_all_with_twins_and_states() -> None:
    text = run("words").stdout
    assert "insertion" in text
    assert "six / sixty" in text
    assert "Walking through the parts list" in text
    rows = [json.loads(line) for line in run("words", "--json").stdout.splitlines()]
    assert {row["word"] for row in rows} == set(grammar.load().words())
    for row in rows:
        jsonschema.Draft202012Validator(schema_of("word")).validate(row)
    assert next(row for row in rows if row["word"] == "sixty")["twins"] == ["six", "sixteen"]


def test_words_check_passes_on_the_words_we_ship() -> None:
    result = run("words", "--check")
    assert result.exit_code == 0
    assert result.stdout == ""


def test_words_after_a_beginning() -> None:
    text = run("words", "--after", "insertion eleven").stdout
    assert "feet" in text
    assert "soil" not in text


def test_random_numbers_of_the_sampler_change_the_sentences() -> None:
    language = grammar.load()
    assert language.sample(random.Random(1), 30) != language.sample(random.Random(2), 30)
