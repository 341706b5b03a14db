"""Sentences of the language near to words that are none, or the same but for light words: suggestions and questions.

The grammar has the last word: nothing here is taken that it does not have, and a yes or a callout is never guessed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache, lru_cache
from itertools import combinations, islice, product
from typing import NamedTuple

from rapidfuzz import fuzz, process

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.automaton import follow_words
from callout.language.commands import command_row
from callout.language.context import Context
from callout.language.numerals import NUMBER_WORDS
from callout.language.parse import parse
from callout.values import Command

Gist = tuple[str, ...]
_LONGEST = 12  # words
#: Ways of saying one thing that come down to the same, at most so many are tried.
_MOST_EXAMPLES = 40
#: Words for numbers that are words of their own, too: "the wrong one", "too fast".
_ALSO_WORDS = ("one", "two")


class _Table(NamedTuple):
    """`phrases`: a group of words -> the one word for it, "" for light ones. `asks`: beginnings of a question.
    `bare`: words that say nothing alone."""

    phrases: dict[tuple[str, ...], str]
    asks: frozenset[tuple[str, ...]]
    bare: frozenset[str]
    longest: int
    firsts: frozenset[str]  # words that a phrase begins with


_OURSELVES = frozenset({"i", "we"})
_FALLS = frozenset({"moving", "coming", "falling"})


def same_gist(words: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """The known sentence of one command that `words` come down to, and its meaning; None where there is none, or where
    two commands come down to that. Never a yes and never a callout; and where something waits for an answer, nothing of
    the walk: what sounds like "got it" may be an answer.
    """
    if not words or len(words) > _LONGEST:
        return None
    found: dict[Command, str] = {}
    for said, numbers, parts in abstracted(words):
        gist = gist_of(said)
        for example in _with_gist(gist, context.state)[:_MOST_EXAMPLES] if gist else ():
            if _OURSELVES & set(words) and not _OURSELVES & set(example.split()) and set(gist) & _FALLS:
                continue  # "we are coming down" tells of no wall
            if len(gist) == 1 and " " in example:
                continue  # one word left of several could be anything: "raker" is no "the raker is up"
            sentence = filled(example.split(), numbers, parts)
            readings = parse(sentence, context) or parse(sentence, context, wide=True) if sentence else []
            for reading in readings:
                if isinstance(reading.meaning, Command) and not reading.notes and not _one_left(gist, reading.meaning):
                    found.setdefault(reading.meaning, " ".join(sentence))
    if len(found) != 1:
        return None
    ((command, sentence_words),) = found.items()
    return (sentence_words, command) if may_be_taken(command, context) else None


def _one_left(gist: Gist, command: Command) -> bool:
    """Whether one word left of a sentence would move or stop something: "the split" is no "broken"."""
    return len(gist) == 1 and bool(command_row(command.command).marks & {"moves", "alarm"})


def may_be_taken(command: Command, context: Context) -> bool:
    """Whether a command may be taken from words that are no sentence of the grammar."""
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
        n = 1
        if said[at] in table.firsts:
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
    return _Table(phrases, asks, frozenset(table["bare"]), max(map(len, phrases)),
                  frozenset(phrase[0] for phrase in phrases))  # fmt: skip


@lru_cache(maxsize=1)
def light_words() -> frozenset[str]:
    """The single words that change nothing ("please", "it")."""
    return frozenset(phrase[0] for phrase, told in _table().phrases.items() if len(phrase) == 1 and not told)


def _with_gist(gist: Gist, state: str | None) -> list[str]:
    """The examples of a state that come down to `gist`."""
    return [example for rule in grammar.load().example_rules(state) for example in by_gist(rule).get(gist, ())]


@lru_cache(maxsize=64)
def by_gist(rule: str) -> dict[Gist, tuple[str, ...]]:
    found: dict[Gist, list[str]] = {}
    for example in grammar.load().examples_of(rule):
        if gist := _gist_of_example(example):
            found.setdefault(gist, []).append(example)
    return {gist: tuple(examples) for gist, examples in found.items()}


@cache  # a team's words change no other sentence
def _gist_of_example(example: str) -> Gist:
    return gist_of(example.split())


@lru_cache(maxsize=1)
def _part_names() -> frozenset[tuple[str, ...]]:
    return frozenset(tuple(name.split()) for names in grammar.load().parts.values() for name in names)


def abstracted(words: Sequence[str]) -> Iterator[tuple[list[str], list[list[str]], list[list[str]]]]:
    """The words with NUMBER and PART in place of what was said, and that; once with every number, once with "one" and
    "two" left as words. A part may have its length before it: "six foot struts"."""
    for left in ((), _ALSO_WORDS) if any(word in _ALSO_WORDS for word in words) else ((),):
        said: list[str] = []
        numbers: list[list[str]] = []
        parts: list[list[str]] = []
        at = 0
        while at < len(words):
            run, piece = _number_at(words, at), _piece_at(words, at)
            if piece:
                said.append(grammar.PART)
                parts.append(list(words[at : at + piece]))
            elif run and not (run == 1 and words[at] in left):
                said.append(grammar.NUMBER)
                numbers.append(list(words[at : at + run]))
            else:
                said.append(words[at])
            at += piece or run or 1
        yield said, numbers, parts


_OF_A_LENGTH = frozenset({"foot", "feet"})


def _piece_at(words: Sequence[str], at: int) -> int:
    """How many words of a part of the stock begin here, its length before it told; 0 where none does."""
    length = 2 if words[at] in NUMBER_WORDS and words[at + 1 : at + 2] and words[at + 1] in _OF_A_LENGTH else 0
    named = next((n for n in (3, 2, 1) if tuple(words[at + length : at + length + n]) in _part_names()), 0)
    return length + named if named else 0


def _number_at(words: Sequence[str], at: int) -> int:
    """How many words of a number begin here; what begins a part is none of it: "four six foot struts"."""
    run = 0
    while at + run < len(words) and words[at + run] in NUMBER_WORDS and not (run and _piece_at(words, at + run)):
        run += 1
    return run


def filled(example: list[str], numbers: list[list[str]], parts: list[list[str]]) -> list[str]:
    """The example with what was said in place of NUMBER and PART; empty where it has more or fewer of them."""
    if example.count(grammar.NUMBER) != len(numbers) or example.count(grammar.PART) != len(parts):
        return []
    number, part = iter(numbers), iter(parts)
    told = [next(number) if w == grammar.NUMBER else next(part) if w == grammar.PART else [w] for w in example]
    return [word for words in told for word in words]


_CLOSE = 70.0  # rapidfuzz ratio from which a word counts as a slip of another
_MOST = 3
_MOST_TRIED = 27  # sentences tried with unknown words replaced
_NEAR = 88.0  # of 100: how like a sentence must be to be asked for
_MOST_ALIKE = 8  # sentences looked at
_APART = 3.0  # how much less like the next may be
_LONGEST_NEAR = 10  # words
#: Words that turn a meaning round, and words that begin a question whether something is so.
TURNS = frozenset({"you", "not", "no", "never", "none", "nobody", "nothing", "or", "but", "except", "until", "unless",
                   "if", "when", "before", "after", "without", "all", "any", "more"})  # fmt: skip
ASKS_WHETHER = frozenset({"is", "are", "did", "do", "does", "has", "have", "should", "was", "were", "who", "why",
                          "when"})  # fmt: skip
_MOST_FOLLOW = 8  # longer lists of what may come next are no help


def nearest_sentences(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Up to three sentences that would have been understood, and the reasons why `words` were not."""
    known = known_words()
    unknown = [word for word in words if word not in known]
    if not unknown:
        return _cut_short(words, context)
    found: list[str] = []
    if len(unknown) <= 3:
        choices = [[word] if word in known else _instead(word) for word in words]
        sentences = [" ".join(choice) for choice in islice(product(*choices), _MOST_TRIED)]
        found = [sentence for sentence in sentences if makes_sense(sentence.split(), context)]
    return tuple(found[:_MOST]), tuple(f'"{word}" is no word of the callouts' for word in dict.fromkeys(unknown))[:5]


def near_command(words: Sequence[str], context: Context) -> tuple[str, Command] | None:
    """The one sentence of the conversation that `words` are near to, and what it means; None where there is none or
    more than one. Never a yes, never a callout; and never near are words that turn a meaning round ("not", "or"), or
    that ask whether something is so, unless the sentence has them too.
    """
    said, numbers = _numbers_out(words)
    if len(said) > _LONGEST_NEAR or not any(len(word) > 2 and word != grammar.NUMBER for word in said):
        return None
    found: dict[Command, tuple[float, str]] = {}
    for example, score in _alike(said, context.state):
        sentence = _numbers_in(example.split(), numbers)
        command = plain_command(sentence, context) if sentence and _same_turn(said, example.split()) else None
        if command is not None and command not in found and not _loses_a_piece(words, command):
            found[command] = (score, " ".join(sentence))
    ranked = sorted(found.items(), key=lambda item: -item[1][0])
    if not ranked or (len(ranked) > 1 and ranked[0][1][0] - ranked[1][1][0] < _APART):
        return None
    command, (_, sentence_words) = ranked[0]
    return sentence_words, command


def _loses_a_piece(words: Sequence[str], command: Command) -> bool:
    """Whether a piece of the stock was named, and the command is of none: "I took only one strut", "only one"."""
    return command.part is None and any(_piece_at(words, at) for at in range(len(words)))


@lru_cache(maxsize=16)
def _examples(state: str | None) -> dict[str, int]:
    """The examples of a state, each with its place among them."""
    return {example: place for place, example in enumerate(grammar.load().examples(state))}


@lru_cache(maxsize=16)
def _sorted_examples(state: str | None) -> tuple[str, ...]:
    """The examples of a state, the words of each in order of the alphabet."""
    return tuple(map(_in_order, _examples(state)))


@cache
def _in_order(sentence: str) -> str:
    return " ".join(sorted(sentence.split()))


def _alike(said: list[str], state: str | None) -> list[tuple[str, float]]:
    """The examples most like what was said, with 0 to 100 for each: the spelling; with the words sorted, a little less;
    and a sentence with a word or two put in."""
    examples, whole = _examples(state), " ".join(said)
    sentences = tuple(examples)
    scores = {example: _NEAR + 6.0 - 2.0 * extra for extra in (2, 1) if 2 * extra < len(said)
              for left in combinations(said, len(said) - extra) if (example := " ".join(left)) in examples}  # fmt: skip
    for heard, among, less in ((whole, sentences, 0.0), (_in_order(whole), _sorted_examples(state), 5.0)):
        for _, score, place in process.extract(heard, among, scorer=fuzz.ratio, score_cutoff=_NEAR + less, limit=None):
            scores[sentences[place]] = max(scores.get(sentences[place], 0.0), score - less)
    return sorted(scores.items(), key=lambda found: (-found[1], examples[found[0]]))[:_MOST_ALIKE]


def _numbers_out(words: Sequence[str]) -> tuple[list[str], list[list[str]]]:
    """The words with NUMBER for each run of number words, and those runs."""
    said: list[str] = []
    numbers: list[list[str]] = []
    for word in words:
        if word not in NUMBER_WORDS:
            said.append(word)
        elif said[-1:] == [grammar.NUMBER]:
            numbers[-1].append(word)
        else:
            said.append(grammar.NUMBER)
            numbers.append([word])
    return said, numbers


def _numbers_in(example: list[str], numbers: list[list[str]]) -> list[str]:
    """The example with the numbers that were said; empty where it has more or fewer of them."""
    if example.count(grammar.NUMBER) != len(numbers):
        return []
    runs = iter(numbers)
    return [word for part in example for word in (next(runs) if part == grammar.NUMBER else [part])]


def _same_turn(said: list[str], example: list[str]) -> bool:
    turns = {word for word in said if word in TURNS}
    return turns == {word for word in example if word in TURNS} and (
        said[0] == example[0] or said[0] not in ASKS_WHETHER
    )


def plain_command(words: Sequence[str], context: Context) -> Command | None:
    readings = parse(words, context) or parse(words, context, wide=True)
    meaning = readings[0].meaning if len({r.meaning for r in readings}) == 1 and not readings[0].notes else None
    return meaning if isinstance(meaning, Command) and not meaning.command.startswith("bare_") else None


def makes_sense(words: Sequence[str], context: Context) -> bool:
    """Whether a sentence has one plain meaning, so that it can be offered."""
    readings = parse(words, context)
    return len(readings) == 1 and not readings[0].notes and not readings[0].others


@lru_cache(maxsize=1)
def known_words() -> frozenset[str]:
    return frozenset(grammar.load().words(wide=True))


def _instead(word: str) -> list[str]:
    """What a word may be a slip of: known words like it, or several that lack the spaces between them."""
    matches = process.extract(word, sorted(known_words()), scorer=fuzz.ratio, score_cutoff=_CLOSE, limit=_MOST)
    apart = _apart(word)
    return [str(match[0]) for match in matches] + ([" ".join(apart)] if apart else [])


def _apart(word: str) -> tuple[str, ...] | None:
    """The fewest known words that make up `word`, one after another; None where none do."""
    best: list[tuple[str, ...] | None] = [()]
    for end in range(1, min(len(word), 200) + 1):
        ways = [(*head, word[start:end]) for start in range(end)
                if (head := best[start]) is not None and word[start:end] in known_words()]  # fmt: skip
        best.append(min(ways, key=len, default=None))
    return best[-1] if len(best) == len(word) + 1 else None


def _cut_short(words: Sequence[str], context: Context) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """For known words in an order that is none: how far they fit, and the sentence they make as far as that."""
    fit, follow = follow_words(words, context)
    said = " ".join(words[:fit])
    if fit == len(words):
        after = f": next may come {', '.join(follow)}" if len(follow) <= _MOST_FOLLOW else ""
        return (), (f'"{said}" is not complete{after}',)
    near = (said,) if fit and makes_sense(words[:fit], context) else ()
    return near, (f'"{words[fit]}" does not fit after "{said}"' if fit else f'nothing begins with "{words[0]}"',)
