"""The grammar as one deterministic, minimal automaton over words: what both ears search."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.pronunciation import prons
from callout.language.typed import written_out
from callout.language.word_states import END, SILENT, Ways, WordStates


@dataclass(frozen=True)
class WordAutomaton:
    """`arcs` are (source, target, word); from one state a word leads to one target only. States count from 0."""

    arcs: tuple[tuple[int, int, str], ...]
    start: int
    finals: frozenset[int]

    @property
    def states(self) -> int:
        return 1 + max((max(a, b) for a, b, _ in self.arcs), default=self.start)

    @cached_property
    def words(self) -> frozenset[str]:
        return frozenset(word for _, _, word in self.arcs)

    @cached_property
    def _ways(self) -> dict[int, dict[str, int]]:
        ways: dict[int, dict[str, int]] = {}
        for source, target, word in self.arcs:
            ways.setdefault(source, {})[word] = target
        return ways

    def next(self, words: Sequence[str]) -> tuple[str, ...]:
        """The words that may follow `words`, in order. Empty where nothing may, or nothing began so."""
        here = self.start
        for word in words:
            if word not in self._ways.get(here, {}):
                return ()
            here = self._ways[here][word]
        return tuple(sorted(self._ways.get(here, {})))


def word_automaton(context: Context = EVERYTHING) -> WordAutomaton:
    """The automaton of everything that may be said in the context's state; made once for each state.

    Where two words may be said that have a short form ("we are"), so may that ("we're"); it is read as the two. Angles,
    reach, builds and items do not narrow it: a value outside them must be heard to be reported, so the resolver weighs
    them.
    """
    return _spoken(context.state)


@lru_cache(maxsize=32)
def _spoken(state: str | None) -> WordAutomaton:
    """The automaton with the short forms of two words ("we're") beside the words themselves."""
    with _without_looking_for_garbage():
        return _with_short_forms(_automaton(state), state)


def _with_short_forms(plain: WordAutomaton, state: str | None) -> WordAutomaton:
    if state is not None and grammar.load().states[state].only:
        return plain
    spellings = grammar.load().spellings.items()
    seconds = {meant.split()[-1] for short, meant in spellings if "'" in short or " " in meant}
    leaving: dict[int, list[tuple[str, int]]] = {}
    for source, target, word in plain.arcs:
        if word in seconds:
            leaving.setdefault(source, []).append((word, target))
    short = {
        (source, target, form)
        for source, middle, first in plain.arcs for second, target in leaving.get(middle, ())
        for form in short_forms(first, second) if form not in plain.words
    }  # fmt: skip
    return WordAutomaton(tuple(sorted([*plain.arcs, *short])), plain.start, plain.finals)


@cache
def short_forms(first: str, second: str) -> tuple[str, ...]:
    """How two words are said in one, of spellings.toml: "we're" for "we are", "can't" for "can not"."""
    spellings = grammar.load().spellings
    both = f"{first} {second}"
    ends = [first + end for end, word in spellings.items() if word == second and "'" in end]
    whole = [short for short, meant in spellings.items() if meant == both]
    marked = {word.replace("'", "") for word in (*ends, *whole) if "'" in word}  # "dont" is "don't"
    said = [word for word in (*ends, *whole) if word not in marked]
    return tuple(dict.fromkeys(w for w in said if prons(w) and written_out(w, spellings) == both))


def next_words(words: Sequence[str], context: Context = EVERYTHING) -> tuple[str, ...]:
    """The words that may follow `words`, in order: for tab completion. Empty where nothing may, or nothing began so."""
    fit, follow = follow_words(words, context)
    return follow if fit == len(words) else ()


def follow_words(words: Sequence[str], context: Context = EVERYTHING) -> tuple[int, tuple[str, ...]]:
    """How many of `words` fit, from the first on, and the words that may come after those, in order."""
    network = grammar.load().network(context.state)
    here, fit = frozenset({network.start}), 0
    for word in words:
        ahead = network.after(here, word)
        if not ahead:
            break
        here, fit = ahead, fit + 1
    return fit, tuple(sorted({word for state in here for word in network.leads(state)}))


@lru_cache(maxsize=32)
def _automaton(state: str | None) -> WordAutomaton:
    read = grammar.load()
    read.network(state)  # looks through the rules for faults
    words = WordStates(read.rules)
    steps, finals = _determinise(words.ways, words.start(read.utterance(state)))
    return _numbered(*_minimise(steps, finals))


@contextmanager
def _without_looking_for_garbage() -> Iterator[None]:
    """Python looks again and again through the many small things that are made here, for a third of the time, and all
    of them are kept."""
    looks = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looks:
            gc.enable()


Steps = list[dict[str, int]]


def _determinise(ways: Sequence[Ways], start: int) -> tuple[Steps, list[bool]]:
    """Subset construction. Returns word -> target for each state (state 0 is the start) and which states may end."""

    @cache
    def leads(state: int) -> dict[str, tuple[int, ...]]:
        """The words that may follow and where each leads, the end among them as a word of its own."""
        seen, todo, found = {state}, [state], dict[str, tuple[int, ...]]()
        while todo:
            for word, target in ways[todo.pop()]:
                if word or target == END:
                    found[word] = (*found.get(word, ()), target)
                elif target not in seen:
                    seen.add(target)
                    todo.append(target)
        return found

    def together(group: frozenset[int]) -> dict[str, tuple[int, ...]]:
        first, *more = map(leads, group)
        if not more:  # as it mostly is
            return first
        found = dict(first)
        for other in more:
            for word, targets in other.items():
                found[word] = found[word] + targets if word in found else targets
        return found

    groups = [frozenset({start})]
    numbers = {groups[0]: 0}
    numbers_of: dict[tuple[int, ...], int] = {}  # by the targets as they come
    steps: Steps = []
    finals = []
    for group in groups:  # which grow
        after = together(group)
        arcs: dict[str, int] = {}
        for word, targets in after.items():
            if not word:
                continue
            if targets not in numbers_of:
                there = frozenset(targets)
                numbers_of[targets] = numbers.setdefault(there, len(groups))
                if numbers_of[targets] == len(groups):
                    groups.append(there)
            arcs[word] = numbers_of[targets]
        finals.append(SILENT in after)
        steps.append(arcs)
    return steps, finals


def _minimise(steps: Steps, finals: list[bool]) -> tuple[Steps, list[bool]]:
    """Moore's refinement: states stay together while no word tells them apart. State 0 is the start here, too, and the
    words of a state are in order."""
    in_order = {said: sorted(said) for said in map(frozenset, steps)}
    words = [in_order[frozenset(arcs)] for arcs in steps]
    shape: dict[tuple[bool, int], int] = {}
    block = [shape.setdefault((end, id(own)), len(shape)) for own, end in zip(words, finals, strict=True)]
    count = len(shape)
    targets = [[arcs[word] for word in own] for arcs, own in zip(steps, words, strict=True)]
    while True:
        seen: dict[tuple[int, ...], int] = {}
        block = [seen.setdefault((own, *[block[t] for t in there]), len(seen))
                 for own, there in zip(block, targets, strict=True)]  # fmt: skip
        if len(seen) == count:
            break
        count = len(seen)
    first = {own: state for state, own in reversed(list(enumerate(block)))}  # one of each block speaks for it
    together = [first[own] for own in range(count)]
    return [dict(zip(words[s], [block[t] for t in targets[s]], strict=True)) for s in together], [
        finals[s] for s in together
    ]


def _numbered(steps: Steps, finals: list[bool]) -> WordAutomaton:
    """States numbered as they are met, word by word in order, so that a number hangs on nothing else."""
    order, number = [0], {0: 0}
    for here in order:  # which grows
        for target in steps[here].values():
            if target not in number:
                number[target] = len(order)
                order.append(target)
    arcs = [(source, target, word) for source, here in enumerate(order)
            for target, word in sorted([(number[target], word) for word, target in steps[here].items()])]  # fmt: skip
    return WordAutomaton(tuple(arcs), 0, frozenset(number[state] for state, end in enumerate(finals) if end))
