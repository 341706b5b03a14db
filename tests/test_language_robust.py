"""Anything at all may be typed or heard: it is answered, quickly, and nothing is invented."""

from __future__ import annotations

import random
import time
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.language import grammar
from callout.language.automaton import word_automaton
from callout.language.context import Context
from callout.language.outcome import Hypothesis, Nothing, NotUnderstood, Understood
from callout.language.parse import parse
from callout.language.resolve import resolve, resolve_text
from callout.values import Callout, Command
from tests.how_much import examples

VOCABULARY = sorted(grammar.load().words())
NUMBERS = ["one", "two", "three", "four", "five", "six", "sixty", "thirty", "hundred", "and", "a", "half", "point",
           "feet", "inches", "rakers", "insertion", "correction", "metres", "i", "say", "again"]  # fmt: skip


@given(st.text(max_size=300))
@settings(max_examples=examples(300, 100), deadline=None)
def test_any_text_is_answered(text: str) -> None:
    result = resolve_text(text)
    assert result.outcome in ("understood", "ambiguous", "not_understood", "not_possible", "nothing")
    if not text.strip():
        assert isinstance(result, Nothing)
    if not isinstance(result, (Understood, Nothing)):
        assert result.reasons


@given(st.lists(st.sampled_from(VOCABULARY), max_size=25))
@settings(max_examples=examples(200, 80), deadline=None)
def test_any_words_of_the_language_are_answered(words: list[str]) -> None:
    result = resolve([Hypothesis(tuple(words))])
    assert isinstance(result, Nothing) == (not words) or result.reasons


@given(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=40))
@settings(max_examples=examples(200, 80), deadline=None)
def test_number_words_never_crash_the_parser(words: list[str]) -> None:
    for reading in [*parse(words), *parse(words, wide=True)]:
        for part in reading.parts:
            assert 0 <= part.start <= part.end <= len(words)


@given(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=12))
@settings(max_examples=examples(200, 80), deadline=None)
def test_the_automaton_accepts_all_that_the_strict_parser_reads(words: list[str]) -> None:
    if parse(words):
        assert accepts(words)


def accepts(words: list[str], state: str | None = None) -> bool:
    automaton = word_automaton(Context(state=state))
    ways = ways_in(state)
    here: int | None = automaton.start
    for word in words:
        here = None if here is None else ways.get((here, word))
    return here in automaton.finals


@lru_cache(maxsize=1)
def ways_in(state: str | None) -> dict[tuple[int, str], int]:
    return {(source, word): target for source, target, word in word_automaton(Context(state=state)).arcs}


@pytest.mark.parametrize("line", ["affirm out", "negative out", "insertion eleven feet sixty out", "roger out", "out"])
def test_out_ends_an_answer(line: str) -> None:
    """ACP 125: OUT ends what is sent, and no reply is due."""
    assert accepts(line.split(), "confirm")


@pytest.mark.parametrize("line", ["next out", "short out", "cancel out", "how many left out", "stop out"])
def test_the_ears_search_for_no_out_after_a_command(line: str) -> None:
    assert accepts(line.split()[:-1], "walk")
    assert not accepts(line.split(), "walk")
    assert isinstance(resolve_text(line, Context(state="walk")), Understood)  # typed it is no riddle


@pytest.mark.parametrize("state", grammar.load().states)
def test_samples_are_in_the_automaton_of_their_state(state: str) -> None:
    for words in grammar.load().sample(random.Random(7), 100, state):
        assert accepts(list(words), state), " ".join(words)


@pytest.mark.parametrize("state", [None, *grammar.load().states])
def test_the_automaton_is_deterministic_minimal_and_without_dead_ends(state: str | None) -> None:
    automaton = word_automaton(Context(state=state))
    assert len({(source, word) for source, _, word in automaton.arcs}) == len(automaton.arcs)
    back: dict[int, set[int]] = {}
    ahead: dict[int, set[int]] = {}
    for source, target, _ in automaton.arcs:
        back.setdefault(target, set()).add(source)
        ahead.setdefault(source, set()).add(target)
    everything = set(range(automaton.states))
    assert spread({automaton.start}, ahead) == everything
    assert spread(set(automaton.finals), back) == everything
    rows: dict[int, list[tuple[str, int]]] = {s: [] for s in everything}
    for source, target, word in automaton.arcs:
        rows[source].append((word, target))
    signatures = {(s in automaton.finals, tuple(sorted(rows[s]))) for s in everything}
    assert len(signatures) == len(everything), "two states do the same"


def spread(start: set[int], ways: dict[int, set[int]]) -> set[int]:
    seen, todo = set(start), list(start)
    while todo:
        for state in ways.get(todo.pop(), set()) - seen:
            seen.add(state)
            todo.append(state)
    return seen


@pytest.mark.parametrize(
    "words",
    [
        "sixty " * 200, "one " * 200, "insertion " * 200, "correction " * 200, "i say again " * 60,
        "two rakers " * 100,
        "forty five rakers " * 60, "insertion eleven feet and a half " * 30, "six feet on center " * 40,
        "a half " * 100,
        "insertion eleven feet sixty " * 40, "the and with is " * 50, "at " * 200, "stop " * 200, "no " * 200,
        "insertion three metres five " * 40, "four five rakers six feet apart correction eight feet " * 20,
    ],
)  # fmt: skip
def test_no_pattern_is_exponential(words: str) -> None:
    start = time.perf_counter()
    resolve_text(words.strip())
    assert time.perf_counter() - start < 5, "hundreds of repetitions must stay far from seconds each"


def test_a_long_line_is_refused_at_once() -> None:
    start = time.perf_counter()
    result = resolve_text("insertion eleven feet sixty " * 40_000)
    assert time.perf_counter() - start < 0.5
    assert isinstance(result, NotUnderstood)
    assert "at most 10,000" in result.reasons[0]


def test_a_line_of_just_under_the_limit_is_answered() -> None:
    result = resolve_text(("insertion eleven feet sixty " * 400)[:9_999])
    assert isinstance(result, NotUnderstood)
    assert "words are no callout" in result.reasons[0]


@pytest.mark.parametrize("slip", ["afirm", "affrim", "affirn", "yess", "confirm", "affirmm"])
def test_a_slip_is_never_taken_for_affirm(slip: str) -> None:
    result = resolve_text(slip)
    assert not isinstance(result, Understood)


@pytest.mark.parametrize("word", ["elven", "elevn", "sixtty", "sxity", "fourty-fife-and", "thirten", "fivee", "niine"])
def test_a_slip_in_a_number_is_never_mended_in_silence(word: str) -> None:
    for line in (f"insertion {word} feet sixty", f"insertion eleven feet {word}"):
        assert not isinstance(resolve_text(line), Understood)


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("insertoin eleven feet sixty", "insertion eleven feet sixty"),
        ("insertion elevn feet sixty", "insertion eleven feet sixty"),
        ("insertion eleven feet sixty too rackers", "insertion eleven feet sixty two rakers"),
        ("affrm", "affirm"),
        ("insertionelevenfeetsixty", "insertion eleven feet sixty"),
        ("insertion elevenfeet fortyfive", "insertion eleven feet forty five"),
        ("say agin", "say again"),
    ],
)
def test_did_you_mean(slip: str, meant: str) -> None:
    result = resolve_text(slip)
    assert isinstance(result, NotUnderstood)
    assert meant in result.nearest


@pytest.mark.parametrize(
    ("said", "reason", "nearest"),
    [
        ("insertion eleven feet sixty two", '"insertion eleven feet sixty two" is not complete', ()),
        ("insertion eleven feet sixty please yes", '"yes" does not fit after', ("insertion eleven feet sixty please",)),
        ("insertion eleven feet sixty yes", '"yes" does not fit after "insertion eleven feet sixty"',
         ("insertion eleven feet sixty",)),
        ("rakers two", 'nothing begins with "rakers"', ()),
        ("take down", '"take down" is not complete: next may come build, raker, shore, the', ()),
    ],
)  # fmt: skip
def test_known_words_in_no_order(said: str, reason: str, nearest: tuple[str, ...]) -> None:
    result = resolve_text(said)
    assert isinstance(result, NotUnderstood)
    assert result.reasons[0].startswith(reason)
    assert result.nearest == nearest


def test_a_command_word_inside_chatter_is_no_command() -> None:
    for line in ("he said affirm to that", "stop the truck please now", "the build looks fine", "yes and no"):
        assert not isinstance(resolve_text(line), Understood)


@given(st.sampled_from(sorted(grammar.load().states)), st.integers(0, 10_000))
@settings(max_examples=examples(100, 50), deadline=None)
def test_a_sample_is_answered_in_its_state(state: str, seed: int) -> None:
    (words,) = grammar.load().sample(random.Random(seed), 1, state)
    result = resolve_text(" ".join(words), Context(state=state))
    assert result.outcome != "not_understood" or result.reasons
    if isinstance(result, Understood):
        assert isinstance(result.meaning, (Callout, Command))
