"""Typed words that are no sentence of the language, and have the key words of one command: taken, asked, or left alone.

The phrases are invented; common practice, no source.
"""

from __future__ import annotations

import random

import pytest

from callout.language import grammar
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.key_words import by_key_words
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.values import Command

SHORT = {"we've": "we have"}
WALK, IDLE = Context(state="walk"), Context(state="idle")


@pytest.mark.parametrize(
    ("said", "command"),
    [
        ("how long does this one have to be", "what_size"),
        ("are we nearly at the end of the list", "how_many_left"),
        ("how does this thing work then", "help"),
    ],
)
def test_what_only_makes_the_voice_speak_is_taken(said: str, command: str) -> None:
    context = IDLE if command == "help" else WALK
    found = by_key_words(said.split(), context)
    assert found is not None
    assert (found.command.command, found.sure) == (command, True)
    taken = resolve_text(said, context)
    assert isinstance(taken, Understood)
    assert taken.meaning == found.command


@pytest.mark.parametrize(
    ("said", "question", "meant"),
    [
        ("need three more than we've got here", "we need three more of those", Command(command="short", quantity=3)),
        ("one of these is split right down the middle", "one of those is broken",
         Command(command="stock_lost", quantity=1)),
    ],
)  # fmt: skip
def test_anything_else_is_asked_in_one_clause(said: str, question: str, meant: Command) -> None:
    found = by_key_words([word for part in said.split() for word in SHORT.get(part, part).split()], WALK)
    assert found is not None
    assert (found.sentence, found.command, found.sure) == (question, meant, False)


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
    ],
)
@pytest.mark.parametrize("context", [WALK, IDLE, Context(state="confirm"), Context(state="halted")])
def test_talk_is_left_alone(said: str, context: Context) -> None:
    assert by_key_words(said.split(), context) is None


def test_where_something_waits_for_an_answer_nothing_is_near_by_its_key_words() -> None:
    said = ["how", "long", "does", "this", "one", "have", "to", "be"]
    assert by_key_words(said, WALK) is not None
    assert by_key_words(said, Context(state="confirm_walk")) is None


def test_key_words_with_any_words_around_them_move_nothing_unasked() -> None:
    """Sentences of the language with words of others put in: none that moves something is ever taken for sure, and
    none is a yes."""
    draw, known = random.Random(7), grammar.load()
    words = sorted({word for said in known.sample(draw, 400) for word in said})
    tried = 0
    for state in ("idle", "walk"):
        context = Context(state=state)
        for said in known.sample(draw, 300, state):
            mixed = list(said)
            for _ in range(draw.randint(1, 3)):
                mixed.insert(draw.randint(0, len(mixed)), draw.choice(words))
            found = by_key_words(mixed, context)
            if found is not None:
                tried += 1
                marks = command_row(found.command.command).marks
                assert not found.sure or ("harmless" in marks and "moves" not in marks), mixed
                assert "affirmative" not in marks, mixed
    assert tried > 20
