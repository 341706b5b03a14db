"""From words to phones: the word automaton of a state of the conversation becomes the graph that is searched.

A *state* is a place between two phones. A *node* is a phone heard on the way into a state; pronunciations of words
that leave the same place share their beginnings, and those that arrive at the same place share their ends. Each
state has a blank of its own, so a phone said twice must have a blank between (the CTC rule).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from callout.errors import CalloutError
from callout.hearing.encoder import INDEX

Ints = NDArray[np.int32]
Pronunciation = tuple[str, ...]
Arc = tuple[int, int, str]


@dataclass(frozen=True)
class PhoneGraph:
    """Arrays ready for the search; `n` nodes, `s` states, `a` entry arcs, `c` clashes.

    A clash is a (state, phone) from which the same phone both comes and goes: those arcs may be taken from the
    blank or from an *other* node, one with another phone, only. Sources are numbered states first, clashes after them.
    """

    label: Ints  # (n,) column of the scores; nodes are sorted by state
    state: Ints  # (n,) the state a node leads to
    source: Ints  # (a,) where each entry arc comes from; arcs are sorted by node
    node: Ints  # (a,) the node each entry arc goes to
    clash_state: Ints  # (c,)
    other: Ints  # (o,) the other nodes of every clash; sorted by clash
    other_of: Ints  # (o,) the clash of each
    start: int
    finals: Ints
    word_state: NDArray[np.bool_]  # (s,) True where a word has ended
    arcs: Ints  # (w, 3) the word arcs, sorted: from state, to state, number of the word
    words: tuple[str, ...]
    sounds: tuple[tuple[tuple[int, ...], ...], ...]  # the pronunciations of each word

    @property
    def states(self) -> int:
        return len(self.word_state)

    def spelling(self, source: int, target: int, phones: tuple[int, ...]) -> tuple[str, ...]:
        """The words between two states that sound like `phones`; usually one."""
        low, high = np.searchsorted(self.arcs[:, 0], (source, source + 1))
        here = self.arcs[low:high]
        numbers = here[here[:, 1] == target, 2].tolist()
        return tuple(self.words[n] for n in numbers if phones in self.sounds[n])


def phone_graph(
    arcs: Iterable[Arc],
    start: int,
    finals: Iterable[int],
    prons: Callable[[str], Iterable[Pronunciation]],
) -> PhoneGraph:
    """Build the graph of a word automaton. Raises CalloutError for a word without a pronunciation."""
    arcs = list(arcs)
    spoken = {word: _columns(word, prons(word)) for word in {word for _, _, word in arcs}}
    place: dict[object, int] = {}  # word states by their number, places inside words by what can follow

    def number(key: object) -> int:
        return place.setdefault(key, len(place))

    start = number(start)
    vocabulary = {word: n for n, word in enumerate(sorted(spoken))}
    rows: list[tuple[int, int, int]] = []
    leaving: dict[int, set[tuple[tuple[int, ...], int]]] = {}
    for source, target, word in arcs:
        q, r = number(source), number(target)
        rows.append((q, r, vocabulary[word]))
        rests = leaving.setdefault(q, set())
        for phones in spoken[word]:
            rests.add((phones, r))
    words = len(place)

    entries: dict[tuple[int, int], list[int]] = {}  # (state, phone) = node -> the states it is entered from
    todo = [(q, frozenset(rests)) for q, rests in leaving.items()]
    known: set[int] = set()
    while todo:
        q, rests_here = todo.pop()
        branches: dict[int, set[tuple[tuple[int, ...], int]]] = {}
        for phones, r in rests_here:
            branches.setdefault(phones[0], set()).add((phones[1:], r))
        for phone, after in branches.items():
            inside = []
            for rest, r in after:
                if rest:
                    inside.append((rest, r))
                else:
                    entries.setdefault((r, phone), []).append(q)
            if inside:
                key = frozenset(inside)
                state = number(key)
                entries.setdefault((state, phone), []).append(q)
                if state not in known:
                    known.add(state)
                    todo.append((state, key))
    is_word = np.zeros(len(place), bool)
    is_word[:words] = True
    ends = np.array(sorted(place[q] for q in finals if q in place), np.int32)
    return _arrays(entries, start, ends, is_word, np.array(sorted(rows), np.int32).reshape(-1, 3), spoken)


def _columns(word: str, prons: Iterable[Pronunciation]) -> list[tuple[int, ...]]:
    found = list(dict.fromkeys(tuple(INDEX[phone] for phone in pron) for pron in prons))
    if not found or not all(found):
        raise CalloutError(f"no pronunciation for {word!r}; add a line for it to the pronunciations of the grammar")
    return found


def _arrays(
    entries: dict[tuple[int, int], list[int]],
    start: int,
    finals: Ints,
    is_word: NDArray[np.bool_],
    rows: Ints,
    spoken: dict[str, list[tuple[int, ...]]],
) -> PhoneGraph:
    nodes = sorted(entries)
    state = np.array([q for q, _ in nodes], np.int32)
    label = np.array([phone for _, phone in nodes], np.int32)
    arriving: dict[int, list[int]] = {}
    for number, (q, _) in enumerate(nodes):
        arriving.setdefault(q, []).append(number)
    source, target = [], []
    clashes: dict[tuple[int, int], int] = {}
    states = len(is_word)
    for number, key in enumerate(nodes):
        phone = key[1]
        for q in entries[key]:
            if (q, phone) in entries:
                source.append(states + clashes.setdefault((q, phone), len(clashes)))
            else:
                source.append(q)
            target.append(number)
    others = [(n, k) for (q, phone), k in clashes.items() for n in arriving.get(q, ()) if nodes[n][1] != phone]
    other, other_of = np.array(others, np.int32).reshape(-1, 2).T
    return PhoneGraph(
        label=label,
        state=state,
        source=np.array(source, np.int32),
        node=np.array(target, np.int32),
        clash_state=np.array([q for q, _ in clashes], np.int32),
        other=other,
        other_of=other_of,
        start=start,
        finals=finals,
        word_state=is_word,
        arcs=rows,
        words=tuple(sorted(spoken)),
        sounds=tuple(tuple(spoken[word]) for word in sorted(spoken)),
    )
