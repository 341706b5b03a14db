"""The grammar as one deterministic, minimal automaton over words: what both ears search."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.network import Network


@dataclass(frozen=True)
class WordAutomaton:
    """`arcs` are (source, target, word); from one state a word leads to one target only. States count from 0."""

    arcs: tuple[tuple[int, int, str], ...]
    start: int
    finals: frozenset[int]

    @property
    def states(self) -> int:
        return 1 + max((max(a, b) for a, b, _ in self.arcs), default=self.start)

    @property
    def words(self) -> frozenset[str]:
        return frozenset(word for _, _, word in self.arcs)


def word_automaton(context: Context = EVERYTHING) -> WordAutomaton:
    """The automaton of everything that may be said in the context's state; made once for each state.

    Angles, reach, builds and items do not narrow it: a value outside them must be heard to be reported, so the
    resolver weighs them.
    """
    return _automaton(context.state)


@lru_cache(maxsize=32)
def _automaton(state: str | None) -> WordAutomaton:
    steps, finals = _determinise(grammar.load().network(state))
    return _minimise(steps, finals)


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
    todo = [first]
    steps: list[dict[str, int]] = [{}]
    while todo:
        here = todo.pop()
        ways: dict[str, set[int]] = {}
        for state in here:
            for word, target in words[state]:
                ways.setdefault(word, set()).update(closure(target))
        arcs = steps[numbers[here]]
        for word, group in ways.items():
            there = frozenset(group)
            if there not in numbers:
                numbers[there] = len(numbers)
                steps.append({})
                todo.append(there)
            arcs[word] = numbers[there]
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


@dataclass(frozen=True)
class SharedAutomaton:
    """The same language with less to search: what many states can say stands once, in a state of its own.

    `links` are (source, target) without a word: the source can say all that the target can. The target of a link has
    no links of its own and is no final state, so a search takes at most one link between two words.
    """

    arcs: tuple[tuple[int, int, str], ...]
    links: tuple[tuple[int, int], ...]
    start: int
    finals: frozenset[int]


def share(automaton: WordAutomaton) -> SharedAutomaton:
    """Take the arcs that several states have in common into a new state, and link them to it; greatest gain first."""
    numbers: dict[tuple[int, str], int] = {}
    own = [0] * automaton.states
    for source, target, word in automaton.arcs:
        own[source] |= 1 << numbers.setdefault((target, word), len(numbers))
    links: list[tuple[int, int]] = []
    while True:
        common, users = _common(own[: automaton.states])
        if common.bit_count() * (len(users) - 1) - len(users) < _WORTH:
            break
        for user in users:
            own[user] &= ~common
            links.append((user, len(own)))
        own.append(common)
    pairs = list(numbers)
    arcs = [(s, *pairs[i]) for s, mask in enumerate(own) for i in range(mask.bit_length()) if mask >> i & 1]
    return SharedAutomaton(tuple(sorted(arcs)), tuple(links), automaton.start, automaton.finals)


#: Fewer arcs saved than this and a shared state is not worth its links.
_WORTH = 12


def _common(own: list[int]) -> tuple[int, list[int]]:
    """Arcs (as bits) that the most states have in common, weighed by their number, and those states."""
    large = sorted(set(own), key=int.bit_count, reverse=True)[:_LOOKED_AT]
    sets = {a & b for i, a in enumerate(large) for b in large[i:]}
    best = max(sorted(sets), key=lambda m: (m.bit_count() - 1) * sum(o & m == m for o in own))
    return best, [q for q, o in enumerate(own) if o & best == best]


#: Among so many of the largest states the common arcs are looked for.
_LOOKED_AT = 40
