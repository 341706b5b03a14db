"""The language for people: the crib sheet, the help of each state, the vocabulary and its check."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from functools import cache, lru_cache
from itertools import combinations
from pathlib import Path
from typing import NamedTuple, TypedDict

from rapidfuzz.distance import Levenshtein

from callout.files import data_folder, read_toml
from callout.language import command_rules, grammar, pronunciation
from callout.language.automaton import short_forms
from callout.language.commands import command_row, commands, commands_that
from callout.language.context import Context
from callout.language.numerals import grouped_words
from callout.language.parse import parse
from callout.pages import render


class CardLine(NamedTuple):
    """What to say, and what it does. `typed_only`: the ears do not know it."""

    say: str
    does: str
    typed_only: bool = False


class Section(NamedTuple):
    """A block of the crib sheet."""

    title: str
    lines: tuple[CardLine, ...]


class WordRow(TypedDict):
    """A word of the language: the rules that use it, its sounds, its near twins."""

    word: str
    rules: list[str]
    sounds: list[str]
    twins: list[str]


@lru_cache(maxsize=1)
def sections() -> tuple[Section, ...]:
    """The crib sheet: the lines of card.toml and those in the rows of the commands, a team's own last."""
    table = read_toml(data_folder("grammars") / "card.toml")
    found = []
    for block in table["section"]:
        rows = [row.card for name in block.get("commands", ()) if (row := command_row(name)).card is not None]
        found.append(Section(block["title"], tuple(_line(say, does) for say, does in (*rows, *block.get("lines", ())))))
    own = [_line(phrase, f"the same as {row.card[0] if row.card else row.name.replace('_', ' ')}")
           for row in commands().values() for phrase in row.taught if re.fullmatch("[a-z ]+", phrase)]  # fmt: skip
    return (*found, Section("The team's own", tuple(own))) if own else tuple(found)


def _line(say: str, does: str) -> CardLine:
    return CardLine(say, does, not parse(say.split()))


def help_lines(state: str) -> tuple[str, ...]:
    """The sentences of the crib sheet that may be said in a state: what "help" answers there."""
    return tuple(line.say for section in sections() for line in section.lines if _may_be_said(line.say, state))


def _may_be_said(sentence: str, state: str) -> bool:
    context = Context(state=state)
    return bool(parse(sentence.split(), context) or parse(sentence.split(), context, wide=True))


@cache
def spoken_help(state: str) -> tuple[str, ...]:
    """The few of them that "help" speaks: those of the table in `card.toml` that the grammar takes in that state."""
    few = read_toml(data_folder("grammars") / "card.toml")["help"].get(state, ())
    return tuple(say for say in few if parse(say.split(), Context(state=state))) or help_lines(state)[:8]


#: Behind a line of the crib sheet that the ears do not know.
TYPED_ONLY = "(typed only)"


def marked(unheard: Collection[str] = ()) -> tuple[Section, ...]:
    """The sections with every line that cannot be heard marked. `unheard` are words that one of the ears lacks: a line
    with one is heard as long as it moves nothing."""
    lacks = frozenset(unheard)
    found = []
    for title, lines in sections():
        unsure = {line.say for line in lines if lacks & set(line.say.split()) and not _harmless(line.say)}
        told = (line._replace(typed_only=line.typed_only or line.say in unsure) for line in lines)
        found.append(Section(title, tuple(told)))
    return tuple(found)


def _harmless(say: str) -> bool:
    """Whether a line only makes the voice speak or be silent, whatever it means."""
    harmless = commands_that("harmless")
    return all(getattr(reading.meaning, "command", None) in harmless for reading in parse(say.split()))


def as_text(unheard: Collection[str] = ()) -> str:
    """The crib sheet for the screen."""
    width = max(len(line.say) for section in sections() for line in section.lines)
    blocks = []
    for title, lines in marked(unheard):
        told = [f"  {line.say:<{width}}  {line.does}{f' {TYPED_ONLY}' if line.typed_only else ''}" for line in lines]
        blocks.append("\n".join((title.upper(), *told)))
    return "\n\n".join(blocks)


def vocabulary() -> Iterator[WordRow]:
    """Every word of the language in order, with where it is used, how it sounds and what it is taken for."""
    for word, rules in grammar.load().words().items():
        twins = [b if a == word else a for a, b, _ in pronunciation.twins() if word in (a, b)]
        sounds = [" ".join(p) for p in pronunciation.prons(word)]
        yield WordRow(word=word, rules=list(rules), sounds=sounds, twins=twins)


def sound_faults() -> list[str]:
    """What is wrong with the words that are spoken, one line each: no pronunciation, or too close to a number or to
    another word for another thing.

    Compared are whole phrases, since a word in the middle of a sentence is kept apart by its neighbours: the commands
    of each state with one another and with the numbers, the names of the parts, the kinds of shore. Singular and plural
    mean the same and pass; so do pairs listed as near twins. What is typed only makes no sound.
    """
    words = grammar.load().words()
    faults = [f'"{w}" has no pronunciation: add a line to grammars/pronunciations.dict' for w in words
              if not pronunciation.prons(w)]  # fmt: skip
    if faults:
        return faults
    parts = {phrase: part for part, phrases in grammar.load().parts.items() for phrase in phrases}
    close = _too_close(parts, lambda a, b: parts[a] != parts[b]) + _too_close(_said_in(), _mean_different_things)
    for a, b in close:
        if not pronunciation.are_twins(a.split(), b.split()):
            faults.append(f'"{a}" and "{b}" sound too much alike: choose another, or list them in grammars/twins.toml')
    return list(dict.fromkeys(faults))


def _too_close(
    phrases: Iterable[str], matters: Callable[[str, str], bool] = lambda a, b: True
) -> list[tuple[str, str]]:
    """The pairs that matter and are one phone apart or less, in order. The two of such a pair have a way to be said
    that is the same with at most one phone of each left out: only phrases that meet so are compared."""
    met: dict[pronunciation.Phones, set[str]] = {}
    for phrase in phrases:
        for way in _ways(phrase):
            for left in (way, *(way[:i] + way[i + 1 :] for i in range(len(way)))):
                met.setdefault(left, set()).add(phrase)
    pairs = {pair for some in met.values() if len(some) > 1 for pair in combinations(sorted(some), 2)}
    near = (pair for pair in pairs if matters(*pair))
    return sorted(pair for pair in near if _distance(*pair) <= 1)


def sounds_like(phrase: str, command: str) -> str | None:
    """A number, or a phrase for another command, that is one phone or less from `phrase`; None where none is, or
    nobody knows how it is said."""
    same = f"command='{command}'"
    others = (other for other in sorted(_said_in()) if other != phrase)
    alike = (other for other in others if Levenshtein.distance(phrase, other) <= _LETTERS)
    near = (other for other in alike if _distance(phrase, other) <= 1)
    return next((other for other in near if same not in (_meaning(other) or same)), None)


#: Phrases that are one phone apart differ in no more letters: "bait" and "eight" in four.
_LETTERS = 5


def _distance(a: str, b: str) -> int:
    """Phones to change, add or leave out between the nearest ways of saying two phrases; 2 stands for more than one."""
    return min((Levenshtein.distance(p, q, score_cutoff=1) for p in _ways(a) for q in _ways(b)), default=2)


@cache
def _ways(phrase: str) -> frozenset[pronunciation.Phones]:
    """How a phrase can be said, also with two of its words in one: "we're" for "we are". Of a long one, which many
    words keep apart, the commonest way of each word."""
    words = phrase.split()
    if not all(map(pronunciation.prons, words)):
        return frozenset()
    said = [phrase]
    for at in range(len(words) - 1):
        said += [" ".join((*words[:at], form, *words[at + 2 :])) for form in short_forms(*words[at : at + 2])]
    if len(words) > 3:
        return frozenset(sum((pronunciation.prons(word)[0] for word in form.split()), ()) for form in said)
    return frozenset(way for form in said for way in pronunciation.phrase_prons(form))


def _mean_different_things(a: str, b: str) -> bool:
    """Whether two phrases may be said in one state, and are not the same there."""
    said = _said_in()
    return bool(said[a] & said[b]) and _meaning(a) not in (None, _meaning(b)) and _meaning(b) is not None


@cache
def _meaning(phrase: str) -> str | None:
    numbers = {" ".join(grouped_words(n)): f"the number {n}" for n in _NUMBERS}
    readings = parse(phrase.split())
    return numbers.get(phrase) or (repr(readings[0].meaning) if readings else None)


_NUMBERS = (*range(21), 30, 40, 45, 50, 60)


@lru_cache(maxsize=1)
def _said_in() -> dict[str, frozenset[str]]:
    """Phrases that must be told apart, each with the states in which it is said. Of words for one thing the first
    stands for all; numbers are there where one alone may answer."""
    language = grammar.load()
    found: dict[str, set[str]] = {}
    for state in language.states.values():
        if state.only:
            continue
        rules = [rule for rule in state.rules if rule not in ("callout", command_rules.NEW_WORDS)]
        rules += [] if state.waits else [name for rule in rules if (name := f"unasked spoken {rule}") in language.rules]
        phrases = [p for rule in (*rules, "kind", "sole") for p in language.phrases(rule, few=True)]
        numbers = [" ".join(grouped_words(n)) for n in _NUMBERS] if "answer" in state.rules else []
        for phrase in (*phrases, *numbers):
            found.setdefault(phrase, set()).add(state.name)
    return {phrase: frozenset(states) for phrase, states in found.items()}


def as_html(unheard: Collection[str] = ()) -> str:
    """The crib sheet as a page that prints on one side of A4 or letter, in type to read at arm's length."""
    return render(Path(__file__).with_name("card.html"), sections=marked(unheard), typed_only=TYPED_ONLY)
