"""The grammar as one deterministic, minimal automaton over words: what both ears search."""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.network import Network
from callout.language.pronunciation import prons
from callout.language.typed import written_out


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
    plain = _automaton(state)
    if state is not None and grammar.load().states[state].only:
        return plain
    seconds = {word.split()[-1] for word in grammar.load().spellings.values()}
    leaving: dict[int, list[tuple[str, int]]] = {}
    for source, target, word in plain.arcs:
        if word in seconds:
            leaving.setdefault(source, []).append((word, target))
    short = {
        (source, target, form)
        for source, middle, first in plain.arcs for second, target in leaving.get(middle, ())
        for form in short_forms(first, second) if form not in plain.words
    }  # fmt: skip
    return WordAutomaton(tuple(sorted({*plain.arcs, *short})), plain.start, plain.finals)


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
    here, fit = {network.start}, 0
    for word in words:
        ahead = network.after(here, word)
        if not ahead:
            break
        here, fit = ahead, fit + 1
    return fit, tuple(sorted({word for state in here for word in network.leads(state)}))


@lru_cache(maxsize=32)
def _automaton(state: str | None) -> WordAutomaton:
    with _without_looking_for_garbage():
        steps, finals = _determinise(grammar.load().network(state).complete())
        return _minimise(steps, finals)


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


def _determinise(network: Network) -> tuple[list[dict[str, int]], list[bool]]:
    """Subset construction. Returns word -> target for each state (state 0 is the start) and which states may end."""
    closures: dict[int, frozenset[int]] = {}
    silent, words, final = network.silent, network.words, network.final

    def closure(state: int) -> frozenset[int]:
        """The states with words to say (or the end) that are reached in silence."""
        if state not in closures:
            seen, todo = {state}, [state]
            while todo:
                for _, target in silent[todo.pop()]:
                    if target not in seen:
                        seen.add(target)
                        todo.append(target)
            closures[state] = frozenset(s for s in seen if words[s] or s == final)
        return closures[state]

    first = closure(network.start)
    numbers = {first: 0}
    numbers_of: dict[frozenset[int], int] = {}  # by the targets themselves: mostly one, where a group has hundreds
    todo = [first]
    steps: list[dict[str, int]] = [{}]
    while todo:
        here = todo.pop()
        ways: defaultdict[str, list[int]] = defaultdict(list)
        for state in here:
            for word, target in words[state]:
                ways[word].append(target)
        arcs = steps[numbers[here]]
        for word in sorted(ways):  # so that a state's number does not hang on what was built before
            key = frozenset(ways[word])
            if key not in numbers_of:
                there = frozenset[int]().union(*map(closure, key)) if len(key) > 1 else closure(*key)
                if there not in numbers:
                    numbers[there] = len(numbers)
                    steps.append({})
                    todo.append(there)
                numbers_of[key] = numbers[there]
            arcs[word] = numbers_of[key]
    return steps, [final in group for group in numbers]


def _minimise(steps: list[dict[str, int]], finals: list[bool]) -> WordAutomaton:
    """Moore's refinement: states stay together while no word tells them apart."""
    shape: dict[tuple[bool, frozenset[str]], int] = {}
    block = [shape.setdefault((end, frozenset(arcs)), len(shape)) for arcs, end in zip(steps, finals, strict=True)]
    count = len(shape)
    ordered = [sorted(arcs.items()) for arcs in steps]
    targets = [[target for _, target in arcs] for arcs in ordered]
    while True:
        seen: dict[tuple[int, ...], int] = {}
        block = [seen.setdefault((own, *[block[t] for t in there]), len(seen))
                 for own, there in zip(block, targets, strict=True)]  # fmt: skip
        if len(seen) == count:
            break
        count = len(seen)
    arcs = {(block[s], block[t], word) for s, there in enumerate(ordered) for word, t in there}
    ends = frozenset(block[s] for s, end in enumerate(finals) if end)
    return WordAutomaton(tuple(sorted(arcs)), block[0], ends)
