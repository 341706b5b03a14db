"""What a sentence comes down to: its words without the light ones, with words that mean the same as one.

The grammar has the last word: a gist only finds the known way of saying a command that a typed sentence differs from in
light words alone, and that one is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from callout.data import data_folder
from callout.language import grammar
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.files import read_toml
from callout.language.numerals import NUMBER_WORDS
from callout.language.parse import parse
from callout.values import Command

Gist = tuple[str, ...]
_LONGEST = 12  # words
#: Ways of saying one thing that come down to the same, at most so many are tried.
_MOST_TRIED = 40
#: Words for numbers that are words of their own, too: "the wrong one", "too fast".
_ALSO_WORDS = ("one", "two")


class _Table(NamedTuple):
    """`phrases`: a group of words -> the one word for it, "" for light ones. `asks`: beginnings of a question.
    `bare`: words that say nothing alone."""

    phrases: dict[tuple[str, ...], str]
    asks: frozenset[tuple[str, ...]]
    bare: frozenset[str]
    longest: int


def same_gist(words: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """The known sentence of one command that `words` come down to, and its meaning; None where there is none, or where
    two commands come down to that. Never a yes and never a callout; and where something waits for an answer, nothing of
    the walk: what sounds like "got it" may be an answer.
    """
    if not words or len(words) > _LONGEST:
        return None
    found: dict[Command, str] = {}
    for said, numbers, parts in _abstracted(words):
        gist = gist_of(said)
        for example in _examples(context.state).get(gist, ())[:_MOST_TRIED] if gist else ():
            if len(gist) == 1 and " " in example:
                continue  # one word left of several could be anything: "raker" is no "the raker is up"
            sentence = _filled(example.split(), numbers, parts)
            readings = parse(sentence, context) or parse(sentence, context, wide=True) if sentence else []
            for reading in readings:
                if isinstance(reading.meaning, Command) and not reading.notes:
                    found.setdefault(reading.meaning, " ".join(sentence))
    if len(found) != 1:
        return None
    ((command, sentence_words),) = found.items()
    return (sentence_words, command) if _may_be_taken(command, context) else None


def _may_be_taken(command: Command, context: Context) -> bool:
    marks = command_row(command.command).marks
    waits = context.state is not None and grammar.load().states[context.state].waits
    return not (waits and marks & {"walk", "list", "decides"}) and "affirmative" not in marks and "inner" not in marks


def gist_of(words: Sequence[str]) -> Gist:
    """("tell", "me", "how", "to", "put", "it", "up") -> ("read", "how", "build")."""
    table = _table()
    asks = any(tuple(words[:n]) in table.asks for n in (1, 2))
    said = list(words[1:]) if asks else list(words)
    found = [words[0]] if asks else []
    at = 0
    while at < len(said):
        n = next((n for n in range(table.longest, 0, -1) if tuple(said[at : at + n]) in table.phrases), 1)
        found.append(table.phrases.get(tuple(said[at : at + n]), said[at]))
        at += n
    kept = [word for word in found if word]
    told = tuple(word for i, word in enumerate(kept) if i == 0 or word != kept[i - 1])
    if told[:1] == ("read",) and told[1:2] and told[1] in table.bare:
        told = told[1:]  # "tell me where it is" asks where it is
    return () if len(told) == 1 and told[0] in table.bare else told


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "gist.toml")
    phrases = {tuple(phrase.split()): "" for phrase in table["light"]}
    phrases |= {tuple(phrase.split()): word for word, others in table["same"].items() for phrase in others}
    asks = frozenset(tuple(ask.split()) for ask in table["asks"])
    return _Table(phrases, asks, frozenset(table["bare"]), max(map(len, phrases)))


@lru_cache(maxsize=16)
def _examples(state: str | None) -> dict[Gist, tuple[str, ...]]:
    found: dict[Gist, list[str]] = {}
    for example in grammar.load().examples(state):
        if gist := gist_of(example.split()):
            found.setdefault(gist, []).append(example)
    return {gist: tuple(examples) for gist, examples in found.items()}


@lru_cache(maxsize=1)
def _part_names() -> frozenset[tuple[str, ...]]:
    return frozenset(tuple(name.split()) for names in grammar.load().parts.values() for name in names)


def _abstracted(words: Sequence[str]) -> Iterator[tuple[list[str], list[list[str]], list[list[str]]]]:
    """The words with NUMBER and PART in place of what was said, and that; once with every number, once with "one" and
    "two" left as words."""
    for left in ((), _ALSO_WORDS):
        said: list[str] = []
        numbers: list[list[str]] = []
        parts: list[list[str]] = []
        at = 0
        while at < len(words):
            n = next((n for n in (3, 2, 1) if tuple(words[at : at + n]) in _part_names()), 0)
            run = 0
            while at + run < len(words) and words[at + run] in NUMBER_WORDS:
                run += 1
            if n:
                said.append(grammar.PART)
                parts.append(list(words[at : at + n]))
            elif run and not (run == 1 and words[at] in left):
                said.append(grammar.NUMBER)
                numbers.append(list(words[at : at + run]))
            else:
                said.append(words[at])
            at += n or run or 1
        yield said, numbers, parts


def _filled(example: list[str], numbers: list[list[str]], parts: list[list[str]]) -> list[str]:
    """The example with what was said in place of NUMBER and PART; empty where it has more or fewer of them."""
    if example.count(grammar.NUMBER) != len(numbers) or example.count(grammar.PART) != len(parts):
        return []
    number, part = iter(numbers), iter(parts)
    told = [next(number) if w == grammar.NUMBER else next(part) if w == grammar.PART else [w] for w in example]
    return [word for words in told for word in words]
