"""Typed words that are no sentence of the language, decided by the likest of people's own sentences.

The phrases are invented; common practice, no source.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest

from callout.language import grammar
from callout.language.commands import command_row, commands_that
from callout.language.context import Context
from callout.language.examples import Example, by_examples, examples, model, sentences_of
from callout.language.nearest import plain_command
from callout.language.outcome import Near
from callout.language.resolve import resolve_text
from callout.language.typed import typed_words
from callout.values import Command
from tests.examples_kept_out import decisions
from tests.how_much import LONG
from tests.people_other_hands import LISTS
from tests.people_talk import context, taken_for

WALK, IDLE, CONFIRM = Context(state="walk"), Context(state="idle"), Context(state="confirm")
#: A number and a part for the holes of a sentence.
STANDS = {"NUMBER": "three", "PART": "struts"}
FILLED = {"quantity": "three", "have": "three", "item": "three", "build": "three", "part": "struts"}


@pytest.mark.parametrize("meaning", [m for m in dict.fromkeys(e.meaning for e in examples()) if " " not in m])
def test_the_grammar_reads_every_sentence_that_is_meant(meaning: str) -> None:
    for sentence in sentences_of(meaning):
        words = [FILLED[word[1:-1]] if word[0] == "<" else word for word in sentence.split()]
        found = [plain_command(words, context(state)) for state in ("walk", "idle")]
        assert any(command is not None and command.command == meaning for command in found), sentence


def test_the_file_has_many_examples_of_each_of_the_commands_that_people_use_most() -> None:
    many = Counter(example.meaning for example in examples())
    assert many.total() >= 600
    for name in ("ready", "short", "stock_lost", "where", "what_size", "how_many", "status", "say_again", "stand_by"):
        assert many[name] >= 20, name
    assert many["nothing talk"] >= 100


@pytest.mark.parametrize("example", [e for e in examples() if e.holes], ids=lambda e: " ".join((e.meaning, *e.words)))
def test_an_example_says_something_beside_its_figures(example: Example) -> None:
    """What is a hole and no more is like every number: "ten four" is a phrase of its own."""
    assert set(example.words) - {"NUMBER", "PART"}


@pytest.mark.parametrize("said", ["ten six sixty mate", "ten six on that", "twelve six mate", "forty over to you"])
@pytest.mark.parametrize("state", ["idle", "walk", "confirm"])
def test_another_number_is_no_ten_four(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert not taken_for(result, "harmless")
    assert not isinstance(result, Near)


# Said by nobody in the file, and written down before they were tried.
SPEAKS = [
    (WALK, "where in the world do they keep those", "where"),
    (WALK, "um what rack would that one be on", "where"),
    (WALK, "so how long do you need these to be", "what_size"),
    (WALK, "and what length was it you wanted", "what_size"),
    (WALK, "how many of this one are we pulling", "how_many"),
    (WALK, "are we anywhere near the end of this list", "how_many_left"),
    (WALK, "slow down would you i can't keep up", "slower"),
    (WALK, "can you run me through the whole list again", "parts_list"),
    (IDLE, "i only just came on can you bring me up to speed", "status"),
    (CONFIRM, "sorry i did not hear that please repeat", "say_again"),
    (CONFIRM, "hang on a moment i am still up the ladder", "stand_by"),
]
MOVES = [
    (WALK, "we're coming up three short over here boys", Command(command="short", quantity=3)),
    (WALK, "i could only find three of them in there", Command(command="short", have=3)),
    (WALK, "two of these have been completely wrecked by the rain", Command(command="stock_lost", quantity=2)),
    (IDLE, "a lorry came by and dropped off six struts", Command(command="stock_add", quantity=6, part="strut")),
    (IDLE, "that wall is coming down everyone out of there quick", Command(command="evacuate")),
]


def test_of_what_only_makes_the_voice_speak_most_is_taken_and_nothing_otherwise() -> None:
    found = [(resolve_text(said, context).meaning, command) for context, said, command in SPEAKS]
    taken = [(meaning.command, command) for meaning, command in found if isinstance(meaning, Command)]
    assert all(was == command for was, command in taken)
    assert len(taken) > 0.6 * len(SPEAKS)


def test_of_what_moves_pieces_or_stops_most_is_asked_or_taken_and_nothing_otherwise() -> None:
    found = [(resolve_text(said, context), command) for context, said, command in MOVES]
    meant = [(result.likely if isinstance(result, Near) else result.meaning, command) for result, command in found]
    assert all(was == command for was, command in meant if was is not None)
    assert sum(was is not None for was, _ in meant) >= 0.75 * len(MOVES)


@pytest.mark.parametrize(
    ("said", "question"),
    [("we're coming up three short over here boys", "short three"), ("truck ran over two of them", "two are broken")],
)
def test_what_moves_is_asked_in_one_clause(said: str, question: str) -> None:
    result = resolve_text(said, WALK)
    assert isinstance(result, Near)
    assert result.sentence == question


@pytest.mark.parametrize(
    "said",
    [
        "we do not have to go back to the one before",
        "did you say the shore is up or down",
        "that generator is driving me up the wall",
        "has anybody told the engineer we are here",
        "lift with your legs lad",
        "pass us that hammer would you",
        "four of the lads are at the rack now",
        "if it is broken then leave it where it lies",
        "where did you leave your boots last night",
        "my brother is short of money again",
        "nobody is ready for the winter",
    ],
)
@pytest.mark.parametrize("state", ["walk", "idle", "confirm", "halted"])
def test_talk_is_left_alone(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert not isinstance(result, Near)
    assert not taken_for(result, "moves")


@pytest.mark.parametrize("said", ["don't skip this one", "we are not short two", "nobody said it was broken"])
def test_what_turns_a_meaning_round_is_not_taken_for_it(said: str) -> None:
    assert by_examples(typed_words(said).words, WALK) is None


@pytest.mark.parametrize("said", ["yep you got it", "that's right", "spot on", "aye that's it", "yes fifteen at sixty"])
@pytest.mark.parametrize("state", ["confirm", "confirm_walk", "walk", "idle"])
def test_a_yes_is_never_found_so(said: str, state: str) -> None:
    found = by_examples(typed_words(said).words, context(state))
    assert found is None or found.command.command not in commands_that("affirmative")


def test_where_something_waits_for_an_answer_nothing_of_the_walk_is_taken_and_nothing_asked() -> None:
    for example in examples():
        said = [STANDS.get(word, word) for word in example.words]
        found = by_examples(said, context("confirm_walk"))
        if found is not None:
            assert found.sure or found.command.command in commands_that("alarm")  # in doubt it is one, unasked
            assert not command_row(found.command.command).marks & {"walk", "list", "decides", "affirmative"}


def test_sentences_with_any_words_put_in_move_nothing_unasked() -> None:
    """Examples with words of others put in: none that moves something is ever taken for sure, and none is a yes."""
    draw = random.Random(7)
    several = draw.sample(examples(), 300)
    words = sorted({word for example in several for word in example.words})
    found = 0
    for example in several:
        mixed = list(example.words)
        for _ in range(draw.randint(1, 3)):
            mixed.insert(draw.randint(0, len(mixed)), draw.choice(words))
        said = [STANDS.get(word, word) for word in mixed]
        decided = by_examples(said, WALK)
        if decided is None:
            continue
        marks = command_row(decided.command.command).marks
        assert "affirmative" not in marks, said
        if decided.sure and marks & {"moves", "alarm", "stop"}:  # what was put in says nothing: "please", "there"
            assert decided.exact, said
        found += 1
    assert found > 50


def test_the_bars_hold_on_lists_that_are_kept_out_in_turn() -> None:
    total = Counter(verdict for name in (LISTS if LONG else list(LISTS)[::3]) for verdict, _ in decisions(name))
    meant = total.total() - total["quiet"] - total["dangerous"]
    assert total["dangerous"] == 0
    assert total["right"] + total["asked"] >= 0.75 * meant
    assert total["wrong"] + total["asked otherwise"] <= 0.04 * meant


def test_the_likest_come_first() -> None:
    ranked = model().likeliest(["which", "rack", "are", "those", "on", "then"])
    assert ranked[0].meaning == "where"
    assert ranked[0].score > ranked[1].score
    assert grammar.NUMBER not in ranked[0].examples[0].words
