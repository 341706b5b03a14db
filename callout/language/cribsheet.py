"""The language for people: the crib sheet, the help of each state, the vocabulary and its check."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from functools import cache, lru_cache
from itertools import combinations
from pathlib import Path
from typing import NamedTuple, TypedDict

from callout.files import data_folder, read_toml
from callout.language import grammar, pronunciation
from callout.language.commands import command_row, commands
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
    """The sections with every line that cannot be heard marked. `unheard` are words that one of the ears lacks."""
    lacks = frozenset(unheard)
    found = []
    for title, lines in sections():
        told = (line._replace(typed_only=line.typed_only or bool(lacks & set(line.say.split()))) for line in lines)
        found.append(Section(title, tuple(told)))
    return tuple(found)


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
    for group in _groups():
        for a, b in _too_close(group):
            if group[a] != group[b] and not pronunciation.are_twins(a.split(), b.split()):
                fault = f'"{a}" and "{b}" sound too much alike: choose another, or list them in grammars/twins.toml'
                faults.append(fault)
    return list(dict.fromkeys(faults))


def _too_close(phrases: Iterable[str]) -> list[tuple[str, str]]:
    """The pairs that are one phone apart or less, in order. The two of such a pair have a way to be said that is the
    same with at most one phone of each left out: only phrases that meet so are compared."""
    met: dict[pronunciation.Phones, set[str]] = {}
    for phrase in phrases:
        for way in pronunciation.phrase_prons(phrase):
            for left in (way, *(way[:i] + way[i + 1 :] for i in range(len(way)))):
                met.setdefault(left, set()).add(phrase)
    pairs = {pair for together in met.values() for pair in combinations(sorted(together), 2)}
    return sorted(pair for pair in pairs if pronunciation.phone_distance(*pair) <= 1)


def sounds_like(phrase: str, command: str) -> str | None:
    """A number, or a phrase for another command, that is one phone or less from `phrase`; None where none is, or
    nobody knows how it is said."""
    if not pronunciation.phrase_prons(phrase):
        return None
    same = f"command='{command}'"
    others = (other for other, meant in sounds().items() if other != phrase and same not in meant)
    return next((other for other in others if pronunciation.phone_distance(phrase, other) <= 1), None)


@lru_cache(maxsize=1)
def sounds() -> dict[str, str]:
    """Every phrase that must be told apart from others by its sound, with what it means."""
    return {phrase: meant for group in _groups() for phrase, meant in group.items()}


def _groups() -> Iterator[dict[str, str]]:
    """Phrases that must be told apart, each with what it means."""
    language = grammar.load()
    yield {phrase: part for part, phrases in language.parts.items() for phrase in phrases}
    numbers = {" ".join(grouped_words(n)): f"the number {n}" for n in (*range(21), 30, 40, 45, 50, 60)}
    for state in language.states.values():
        rules = [rule for rule in state.rules if rule not in ("callout", grammar.NEW_WORDS)]
        phrases = {p for rule in rules for p in language.phrases(rule)}
        phrases |= set(language.phrases("kind")) | set(language.phrases("sole"))
        said = {p: repr(readings[0].meaning) for p in phrases for readings in (parse(p.split()),) if readings}
        yield {**numbers, **said} if not state.only else said


def as_html(unheard: Collection[str] = ()) -> str:
    """The crib sheet as a page that prints on one side of A4 or letter, in type to read at arm's length."""
    return render(Path(__file__).with_name("card.html"), sections=marked(unheard), typed_only=TYPED_ONLY)
