"""The rows of the commands: every command has one, every mark is one of the list, every set is made from them."""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from pathlib import Path

import pytest

from callout.dialogue.commands import KNOWN
from callout.errors import BadInput, CalloutError
from callout.language import grammar
from callout.language.commands import CommandRow, _row, command_row, commands, commands_that
from callout.language.cribsheet import sections
from callout.language.parse import parse
from callout.values import Command
from tests.team_words import forget

GRAMMARS = Path(__file__).parent.parent / "grammars"


def test_every_command_of_the_grammar_and_of_the_conversation_has_a_row() -> None:
    marks = {name for file in GRAMMARS.glob("*.grammar")
             for name in re.findall(r"\{command ([a-z_]+)\}", file.read_text("utf-8"))}  # fmt: skip
    assert len(marks) > 40
    for name in sorted(marks | KNOWN):
        command_row(name)  # raises, and names what to write


def test_a_command_without_a_row_is_named_with_what_to_write() -> None:
    with pytest.raises(CalloutError, match=r"'sing' has no row: write \[sing\], rule = .* in grammars/commands.toml"):
        command_row("sing")


def test_a_mark_unheard_of_is_refused() -> None:
    with pytest.raises(CalloutError, match=r"no mark 'cheerful' in .*; the marks are: content, question, "):
        commands_that("cheerful")


GOOD = {"rule": "wait", "marks": ["harmless", "anywhere"]}


def test_a_row_is_what_the_file_says_and_nothing_else() -> None:
    marks = frozenset({"harmless", "anywhere"})
    assert _row("sing", GOOD) == CommandRow("sing", "wait", marks, (), "", None, (), (), (), (), (), ())
    ways = {way: [f"{way} one", f"{way} two"] for way in
            ("typed", "unless_asked", "beside", "spoken", "spoken_unless_asked")}  # fmt: skip
    row = _row("sing", {**GOOD, "fields": ["part"], "same_as": "ready", "card": ["sing", "a song"], **ways})
    assert (row.fields, row.same_as, row.card) == (("part",), "ready", ("sing", "a song"))
    assert {way: list(getattr(row, way)) for way in ways} == ways
    assert row.taught == ()


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ({"marks": ["harmless"]}, "write rule; no other key"), ({"rule": "wait"}, "write marks; no other key"),
        ({}, "write marks, rule; no other key"),
        ({**GOOD, "colour": "red"},
         "write beside, card, fields, marks, rule, same_as, spoken, spoken_unless_asked, typed, unless_asked; "
         "no other key"),
        ({**GOOD, "marks": ["cheerful"]}, "cheerful is neither a mark nor a field"),
        ({**GOOD, "fields": ["colour", "age", "part"]}, "age, colour is neither a mark nor a field"),
        ({**GOOD, "fields": ["command"]}, "command is neither a mark nor a field"),
        ({**GOOD, "fields": ["patch"]}, "patch is neither a mark nor a field"),
        ({**GOOD, "same_as": "hum"}, "same_as names no command"),
        ({**GOOD, "card": ["sing"]}, 'write card = ["what to say", "what it does"]'),
        ({**GOOD, "card": ["sing", "a", "song"]}, 'write card = ["what to say", "what it does"]'),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_named_with_what_to_write(row: dict[str, object], why: str) -> None:
    with pytest.raises(CalloutError) as told:
        _row("sing", row)
    assert str(told.value) == f"commands.toml, [sing]: {why}"


def test_the_commands_stand_in_the_order_of_the_file_and_nobody_adds_one() -> None:
    text = (GRAMMARS / "commands.toml").read_text("utf-8")
    assert list(commands()) == [name for name in re.findall(r"^\[([a-z_]+)\]$", text, re.M) if name != "marks"]
    with pytest.raises(TypeError):
        commands()["sing"] = command_row("affirm")  # type: ignore[index]


def test_who_teaches_a_command_unheard_of_is_told_which_commands_there_are(team: Path) -> None:
    (team / "phrases.toml").write_text('sing = ["la la la"]')
    forget()
    with pytest.raises(BadInput) as told:
        commands()
    begins, _, known = str(told.value).partition("; the commands are: ")
    assert begins == "phrases.toml: no command 'sing'"
    text = (GRAMMARS / "commands.toml").read_text("utf-8")
    inner = {"bare_correction", "digits", "bare_number", "bare_length"}
    assert known.split(", ") == [name for name in re.findall(r"^\[([a-z_]+)\]$", text, re.M)
                                 if name not in {"marks", *inner}]  # fmt: skip


@pytest.mark.parametrize("yes", ["affirm", "affirm_insertion"])
def test_a_yes_that_somebody_wrote_into_the_file_is_named_to_be_taken_out(team: Path, yes: str) -> None:
    (team / "phrases.toml").write_text(f'ready = ["jolly good"]\n{yes} = ["all right then"]')
    forget()
    with pytest.raises(BadInput, match=f"a yes cannot be taught; take the line '{yes}' out"):
        commands()


def test_a_row_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        command_row("affirm").rule = "no"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("mark", "holds", "not_these"),
    [
        ("stop", {"stop", "evacuate", "cease_operations"}, {"hold", "cancel"}),
        ("alarm", {"evacuate", "cease_operations"}, {"stop"}),
        ("wake", {"go_ahead", "radio_check", "status"}, {"affirm"}),
        ("affirmative", {"affirm", "affirm_insertion"}, {"roger", "wilco", "ready"}),
        ("decides", {"affirm", "affirm_insertion", "short", "substitute"}, {"ready", "status"}),
        ("question", {"status", "list", "where", "how_many"}, {"ready", "build"}),
        ("content", {"correction", "negative", "disregard", "undo", "stock_set", "move", "site_wall"}, {"status"}),
        ("harmless", {"stop", "say_again", "roger"}, {"affirm", "ready", "short", "undo", "go_ahead"}),
    ],
)
def test_the_sets_are_what_the_program_has_always_had(mark: str, holds: set[str], not_these: set[str]) -> None:
    assert holds <= commands_that(mark)
    assert not not_these & commands_that(mark)


def test_what_moves_nothing_is_not_marked_as_moving_something() -> None:
    assert not commands_that("harmless") & commands_that("moves")
    assert not commands_that("question") & commands_that("moves")
    # "What else can I use?" asks, and what is offered needs a yes of its own.
    assert commands_that("decides") | commands_that("content") <= commands_that("moves") | {"substitute"}


def test_every_row_names_a_rule_of_a_state_and_is_used() -> None:
    language = grammar.load()
    rules = {rule for state in language.states.values() for rule in state.rules}
    for row in commands().values():
        assert row.rule in rules, row.name
        assert row.marks, row.name
    for mark in ("content", "question", "walk", "list", "anywhere", "site", "stock", "pace", "inner"):
        assert commands_that(mark), mark


FIELDS = sorted(Command.model_fields.keys() - {"command", "patch"})


def meant(sentence: str) -> list[tuple[str, tuple[str, ...]]]:
    """What a sentence may be of the commands, each with what it carries."""
    meanings = (reading.meaning for reading in parse(sentence.split()))
    return [(meaning.command, tuple(name for name in FIELDS if getattr(meaning, name) is not None))
            for meaning in meanings if isinstance(meaning, Command)]  # fmt: skip


@cache
def of_the_grammar() -> dict[tuple[str, str, tuple[str, ...]], str]:
    """The rule, a command under it and what that carries -> the first of its sentences, of all without numbers."""
    found: dict[tuple[str, str, tuple[str, ...]], str] = {}
    language = grammar.load()
    for rule in language.roots():
        for sentence in language.phrases(rule) if rule != "callout" else ():
            for command, carried in meant(sentence):
                found.setdefault((rule, command, carried), sentence)
    return found


def of_the_crib_sheet() -> list[tuple[str, str, tuple[str, ...]]]:
    return [(say, command, carried) for section in sections() for say, *_ in section.lines
            for command, carried in meant(say)]  # fmt: skip


def test_what_a_meaning_carries_is_what_its_row_says() -> None:
    """Every line of the crib sheet, and the sentences that the grammar has without numbers."""
    said = [(sentence, command, carried) for (_, command, carried), sentence in of_the_grammar().items()]
    for sentence, command, carried in (*of_the_crib_sheet(), *said):
        assert set(carried) <= set(command_row(command).fields), sentence


def test_every_command_of_the_conversation_is_on_the_crib_sheet() -> None:
    told = {command for _, command, _ in of_the_crib_sheet()}
    quiet = {"closing", "roger", "wilco", "help", "bare_length", "bare_number", "next", "item", "digits",
             "say_again_all_before", "faster", "louder", "softer"}  # fmt: skip
    known = {command for rule, command, _ in of_the_grammar() if rule != "answer"}
    assert known - quiet <= told
