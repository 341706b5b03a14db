"""The command that people's own sentences decide: typed words that are no sentence of the grammar mean what the likest
of `grammars/examples.toml` mean.

How like two sentences are is counted from the words, and pairs of words, that both have, each by how much it tells of
one command. What only makes the voice speak, or goes to another item, is taken where it is sure; what moves pieces,
releases or stops is asked in one clause, and a yes does it, unless it is an example but for light words. Never a yes,
never a callout, and nothing that turns the meaning of the likest sentence round ("not", "or"). The grammar has the last
word: it reads the sentence of `as` with what was said in its holes.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from math import log, sqrt
from typing import NamedTuple

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.nearest import ASKS_WHETHER, Gist, abstracted, gist_of, may_be_taken, plain_command
from callout.language.parse import fold
from callout.language.typed import typed_words
from callout.values import Command

_LONGEST = 20  # words
_LIKEST = 3  # examples of a command that count
_STRANGE, _STRANGE_PAIR = 3.0, 0.4  # the weight of a word, and of a pair of words, that no example has
#: How like, of 1: for what only makes the voice speak, and for all else; and how many times as like as any other
#: meaning. Measured on lists kept out in turn (`python -m tests.examples_kept_out`).
_SPEAKS, _LIKE, _AHEAD = 0.32, 0.38, 1.25
_NOTHING = "nothing"
_HOLE = re.compile(r"<(\w+)>")
_SAYS_NOTHING = "number"  # the hole of a number that goes nowhere
#: Said, they must be in the likest example too, and the other way round.
_TURNS = frozenset({"not", "never", "no", "none", "or", "if", "unless", "until", "nobody"})


class Example(NamedTuple):
    """A sentence of `meaning`, a command or a table of [nothing]; `words` have NUMBER and PART for `holes`."""

    meaning: str
    words: tuple[str, ...]
    holes: tuple[str, ...]


class Likely(NamedTuple):
    """A meaning, how like its examples are, and the likest of them, best first."""

    meaning: str
    score: float
    examples: tuple[Example, ...]


class Found(NamedTuple):
    """`sentence` would have been understood; `sure`: it may be taken without asking; `exact`: it is an example, but for
    light words and words for one thing."""

    sentence: str
    command: Command
    sure: bool
    exact: bool = False


def by_examples(words: Sequence[str], context: Context) -> Found | None:
    """What the likest examples mean; None where none are like enough, or others nearly as like mean something else."""
    return decided(model(), words, context)


def decided(known: Examples, words: Sequence[str], context: Context) -> Found | None:
    if not words or len(words) > _LONGEST or context.state is None or grammar.load().states[context.state].only:
        return None
    best: tuple[float, Found | None] = (0.0, None)
    for said, numbers, parts in abstracted(words):
        found = _same(known.that_come_to(gist_of(said)), said, numbers, parts, context)
        if found is not None:
            return found
        ranked = known.likeliest(said)
        if ranked and ranked[0].score > best[0]:
            best = ranked[0].score, _meant(ranked, said, numbers, parts, context)
    return best[1]


def _meant(
    ranked: list[Likely], said: list[str], numbers: list[list[str]], parts: list[list[str]], context: Context
) -> Found | None:
    first = ranked[0]
    likest = first.examples[0].words
    if first.meaning.startswith(_NOTHING) or _TURNS.intersection(said) != _TURNS.intersection(likest):
        return None
    taken = may_be_sure(first.meaning, context)
    if not taken and said[0] in ASKS_WHETHER and said[0] != likest[0]:
        return None  # "are we short two" asks
    others = (other.score for other in ranked[1:] if not taken or not may_be_sure(other.meaning, context))
    like = _SPEAKS if command_row(first.meaning).marks & {"harmless", "question"} and taken else _LIKE
    alarm = "alarm" in command_row(first.meaning).marks
    asks = not taken and (alarm or not grammar.load().states[context.state or ""].waits)
    if first.score < max(like, _AHEAD * max(others, default=0.0)) or not (taken or asks):
        return None
    return _found(first, numbers, parts, context, sure=taken)


def _same(
    examples: Sequence[Example], said: list[str], numbers: list[list[str]], parts: list[list[str]], context: Context
) -> Found | None:
    """What examples mean that are the same as what was said, but for light words and words for one thing: "that was not
    ready" and "not ready" are not."""
    if len({example.meaning for example in examples}) != 1:
        return None
    moves = not may_be_sure(examples[0].meaning, context)
    if moves and _TURNS.intersection(said) and not any(list(example.words) == said for example in examples):
        return None
    found = _found(Likely(examples[0].meaning, 1.0, tuple(examples)), numbers, parts, context, sure=True)
    return found and found._replace(exact=True)


def _found(
    likely: Likely, numbers: list[list[str]], parts: list[list[str]], context: Context, *, sure: bool
) -> Found | None:
    if likely.meaning.startswith(_NOTHING):
        return None
    sentence = said_by(likely, numbers, parts)
    command = plain_command(sentence, context) if sentence else None
    if command is None or command.command != likely.meaning or not may_be_taken(command, context):
        return None
    return Found(" ".join(sentence), command, sure)


def may_be_sure(meaning: str, context: Context) -> bool:
    """Whether a command may be taken without asking: it moves nothing, and neither stops nor wakes anything."""
    if meaning.startswith(_NOTHING):
        return False
    marks = command_row(meaning).marks
    wakes = "wake" in marks and ("question" not in marks or context.state == "halted")
    return not wakes and not marks & {"moves", "alarm", "stop"}


def said_by(likely: Likely, numbers: list[list[str]], parts: list[list[str]]) -> list[str]:
    """The sentence of the language that is meant, with the numbers and parts that were said; empty where none has a
    place for each."""
    for example in likely.examples:
        if len(example.holes) != len(numbers) + len(parts) or example.words.count(grammar.PART) != len(parts):
            continue
        told = {}
        number, part = iter(numbers), iter(parts)
        for hole in example.holes:
            told[hole] = next(part) if hole == "part" else next(number)
        told.pop(_SAYS_NOTHING, None)
        for sentence in sentences_of(likely.meaning):
            if set(_HOLE.findall(sentence)) == told.keys():
                return [w for word in sentence.split() for w in (told[word[1:-1]] if word[0] == "<" else [word])]
    return []


def sentences_of(meaning: str) -> Sequence[str]:
    """The sentences of the language that the examples of a command mean, with their holes."""
    return _table()[meaning]["as"]


class Examples:
    """How like words are to the examples of each meaning."""

    def __init__(self, examples: Iterable[Example]) -> None:
        self.examples = tuple(examples)
        features = [_features(example.words) for example in self.examples]
        self._meanings = [example.meaning for example in self.examples]
        self._weights = _weights(features, self._meanings)
        self._lengths = [self._length(found) for found in features]
        self._with: dict[str, list[int]] = defaultdict(list)
        self._gists: dict[Gist, list[Example]] = defaultdict(list)
        for i, found in enumerate(features):
            self._gists[gist_of(self.examples[i].words)].append(self.examples[i])
            for feature in found:
                self._with[feature].append(i)

    def that_come_to(self, gist: Gist) -> Sequence[Example]:
        """The examples that come down to a gist of two words or more."""
        return self._gists.get(gist, ()) if len(gist) > 1 else ()

    def likeliest(self, words: Sequence[str]) -> list[Likely]:
        """Every meaning with an example that is like `words`, the likest first."""
        said = _features(words)
        shared: dict[int, float] = defaultdict(float)
        for feature in sorted(said):  # sums of one order
            weight = self._weights.get(feature, 0.0) ** 2
            for i in self._with.get(feature, ()):
                shared[i] += weight
        length, best = self._length(said), defaultdict(list)
        for i, weight in shared.items():
            best[self._meanings[i]].append((-weight / length / self._lengths[i], i))
        found = [self._likely(meaning, sorted(unlike)) for meaning, unlike in best.items()]
        return sorted(found, key=lambda likely: -likely.score)

    def _likely(self, meaning: str, unlike: list[tuple[float, int]]) -> Likely:
        score = -(0.6 * unlike[0][0] + 0.4 * sum(less for less, _ in unlike[:_LIKEST]) / _LIKEST)
        return Likely(meaning, score, tuple(self.examples[i] for _, i in unlike[: 2 * _LIKEST]))

    def _length(self, features: Iterable[str]) -> float:
        return sqrt(sum(self._weight(feature) ** 2 for feature in sorted(features))) or 1.0

    def _weight(self, feature: str) -> float:
        return self._weights.get(feature, _STRANGE_PAIR if " " in feature or feature[0] == "=" else _STRANGE)


def _features(words: Sequence[str]) -> frozenset[str]:
    """The words, the pairs that stand side by side, and the same of what they come down to."""
    plain, gist = ["", *words, ""], ["", *gist_of(words), ""]
    return frozenset((*words, *(f"{a} {b}" for a, b in pairwise(plain)),
                      *(f"={word}" for word in gist[1:-1]), *(f"={a} {b}" for a, b in pairwise(gist))))  # fmt: skip


def _weights(features: list[frozenset[str]], meanings: list[str]) -> dict[str, float]:
    """How much each feature tells: all (1) where one meaning alone has it, next to nothing where many share it; and the
    rarer, the more."""
    having: dict[str, Counter[str]] = defaultdict(Counter)
    for found, meaning in zip(features, meanings, strict=True):
        for feature in found:
            having[feature][meaning] += 1
    many, kinds = len(meanings), len(set(meanings))
    return {feature: max(0.05, 1 - _spread(by.values()) / log(kinds)) * (0.5 + 0.5 * log(many / by.total()) / log(many))
            for feature, by in having.items()}  # fmt: skip


def _spread(counts: Iterable[int]) -> float:
    """The entropy of the meanings of a feature."""
    counts = list(counts)
    total = sum(counts)
    return -sum(n / total * log(n / total) for n in counts)


@lru_cache(maxsize=1)
def model() -> Examples:
    return Examples(examples())


@lru_cache(maxsize=1)
def examples() -> tuple[Example, ...]:
    """The sentences of the file. Raises CalloutError where it cannot be read."""
    rows = {name: row["says"] for name, row in _table().items() if name != _NOTHING}
    rows |= {f"{_NOTHING} {name}": says for name, says in _table()[_NOTHING].items()}
    return tuple(dict.fromkeys(example_of(meaning, said) for meaning, says in rows.items() for said in says))


def example_of(meaning: str, said: str) -> Example:
    holes = tuple(_HOLE.findall(said))
    plain = _HOLE.sub(lambda hole: "xpart" if hole[1] == "part" else "xnumber", said)
    stands = {"xpart": grammar.PART, "xnumber": grammar.NUMBER}
    words = tuple(stands.get(word, word) for word in fold(typed_words(plain).words))
    return Example(meaning, words, holes)


@lru_cache(maxsize=1)
def _table() -> Mapping[str, Mapping[str, list[str]]]:
    return read_toml(data_folder("grammars") / "examples.toml")
