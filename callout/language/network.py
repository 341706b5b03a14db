"""A rule of the grammar as a network: states joined by words, with the marks met on the way to each word.

The parser walks it (with the marks); the word automaton is made from it (without them). The rules are looked through
for faults at once; a state's arcs are made when somebody first comes there, since most of what may be typed never is.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from functools import cache, lru_cache
from threading import RLock
from typing import NamedTuple

from callout.errors import BadInput
from callout.language.grammar_reader import EMPTY, Alt, Many, Mark, Node, Numbers, Ref, Seq, Word
from callout.language.numerals import number_words
from callout.language.semantic_actions import Operation, operation

Marks = tuple[Operation, ...]
#: Each word that may follow a state, with the marks before it and the state after it; the marks to the end.
Explored = tuple[dict[str, list[tuple[Marks, int]]], list[Marks]]

#: Several times what ours has: a team's rules that double one another would go on for ever.
_MOST_STATES = 1_000_000
#: From so many sets of states the next is known, and of so many states what leads on. A process that listens for days
#: comes to ever new ones, and one costs 2 to 7 kB.
KEPT = 10_000
#: The ways through a rule on which no word is said: without a mark, with one, of both kinds.
_NO_WAY, _UNMARKED, _MARKED = 0, 1, 2


class Onward(NamedTuple):
    """One word on from several states: those from which it leads on, each with where to, and all that it leads to."""

    arcs: tuple[tuple[int, frozenset[int]], ...]
    after: frozenset[int]


class Network:
    """States are ints. `words[s]` are (word, target) arcs; `silent[s]` are (mark or None, target) arcs; both are there
    once `s` was come to (`leads`, `ends`), and of every state after `complete`.

    Networks of the same rules share their states (`beside`): what one has built, the next takes as it is.
    """

    def __init__(self, rules: Mapping[str, Node], root: Node, kept: int = KEPT) -> None:
        self._rules = rules
        self._checked = _Checked(rules)
        self._building = RLock()
        self._entries: dict[tuple[str, int], int] = {}
        self._rests: dict[tuple[tuple[Node, ...], int], int] = {}
        self._unmade: dict[int, tuple[tuple[Node, int], ...]] = {}
        self.words: list[list[tuple[str, int]]] = []
        self.silent: list[list[tuple[Operation | None, int]]] = []
        #: What most sentences begin with is gone through again and again.
        self.step = lru_cache(maxsize=kept)(self._step)
        self._explored = lru_cache(maxsize=kept)(self._explore)
        self.final = self._new()
        self.start = self._begin(root)

    def beside(self, root: Node) -> Network:
        """The network of another root of the same rules, on the same states."""
        other = copy(self)
        other.start = self._begin(root)
        return other

    def complete(self) -> Network:
        """Make the arcs of every state. Raises BadInput where there are too many."""
        with self._building:
            while self._unmade:
                self._make(next(reversed(self._unmade)))
        return self

    def _begin(self, root: Node) -> int:
        self._checked.check(root)
        with self._building:
            return self._new((root, self.final))

    def _new(self, *unmade: tuple[Node, int]) -> int:
        """A state from which each of the nodes leads to its target."""
        if len(self.words) > _MOST_STATES:
            raise BadInput("the grammar grows too large: a rule added to it uses others too often; write it shorter")
        self.words.append([])
        self.silent.append([])
        state = len(self.words) - 1
        if unmade:
            self._unmade[state] = unmade
        return state

    def _make(self, state: int) -> None:
        for node, target in self._unmade.pop(state, ()):
            self._build(node, state, target)

    def _build(self, node: Node, source: int, target: int) -> None:
        if isinstance(node, Word):
            self.words[source].append((node.text, target))
        elif isinstance(node, Mark):
            self.silent[source].append((operation(node.fields), target))
        elif isinstance(node, Alt):
            for item in node.items:
                self._build(item, source, target)
        elif isinstance(node, Seq):
            if not node.items:
                self.silent[source].append((None, target))
            else:
                self._build(node.items[0], source, self._rest(node.items[1:], target))
        elif isinstance(node, Many):
            loop = self._new()
            self._unmade[loop] = ((node.item, loop), (EMPTY, target))
            if node.least:
                self._build(node.item, source, loop)
            else:
                self.silent[source].append((None, loop))
        elif isinstance(node, Numbers):
            self._numbers(node, source, target)
        else:
            self._reference(node, source, target)

    def _rest(self, items: tuple[Node, ...], target: int) -> int:
        """Where the rest of a sequence begins. The same rest before the same continuation is built once."""
        if not items:
            return target
        if (items, target) not in self._rests:
            self._rests[(items, target)] = self._new((Seq(items), target))
        return self._rests[(items, target)]

    def _reference(self, node: Ref, source: int, target: int) -> None:
        # The same rule before the same continuation is built once.
        entry = self._entries.get((node.name, target))
        if entry is None:
            entry = self._entries[(node.name, target)] = self._new((self._rules[node.name], target))
        self.silent[source].append((None, entry))

    def _numbers(self, node: Numbers, source: int, target: int) -> None:
        arcs, ends = _number_tree(node)
        states = [source]
        for parent, word in arcs:
            states.append(self._new())
            self.words[states[parent]].append((word, states[-1]))
        for place, add in ends:
            self.silent[states[place]].append((add, target))

    def leads(self, state: int) -> dict[str, list[tuple[Marks, int]]]:
        """From `state`: each word that may follow, with the marks passed before it and the state after it."""
        return self._explored(state)[0]

    def after(self, states: frozenset[int], word: str) -> frozenset[int]:
        """The states after `word`, where it may follow in some of `states`."""
        return self.step(states, word).after

    def _step(self, states: frozenset[int], word: str) -> Onward:
        ways = ((state, self.leads(state).get(word)) for state in states)
        arcs = tuple((state, frozenset(target for _, target in found)) for state, found in ways if found)
        return Onward(arcs, frozenset().union(*(targets for _, targets in arcs)))

    def ends(self, state: int) -> list[Marks]:
        """The marks passed on each silent way from `state` to the end; empty where it cannot end here."""
        return self._explored(state)[1]

    def _explore(self, state: int) -> Explored:
        leads: dict[str, list[tuple[Marks, int]]] = {}
        ends: list[Marks] = []
        todo: list[tuple[Marks, int]] = [((), state)]
        seen = {todo[0]}
        while todo:
            marks, here = todo.pop()
            with self._building:
                self._make(here)
            if here == self.final:
                ends.append(marks)
            for word, target in self.words[here]:
                leads.setdefault(word, []).append((marks, target))
            for mark, target in self.silent[here]:
                way = (marks if mark is None else (*marks, mark), target)
                if way not in seen:
                    seen.add(way)
                    todo.append(way)
        return leads, ends


class _Checked:
    """Rules that were looked through for faults, each once, as far as roots use them."""

    def __init__(self, rules: Mapping[str, Node]) -> None:
        self._rules = rules
        self._sound: dict[str, int] = {}
        self._open: list[str] = []

    def check(self, root: Node) -> None:
        """Raises BadInput for a rule or a mark that is not there, a rule that contains itself, and what is said again
        and again with a mark but no word each time: its marks would pile up without end."""
        self._open.clear()
        self._wordless(root)

    def _wordless(self, node: Node) -> int:
        """The ways through a node on which no word is said."""
        if isinstance(node, (Word, Numbers)):
            return _NO_WAY
        if isinstance(node, Mark):
            operation(node.fields)
            return _MARKED
        if isinstance(node, Ref):
            return self._of_rule(node.name)
        if isinstance(node, Many):
            ways = self._wordless(node.item)
            if ways & _MARKED:
                raise BadInput("the grammar repeats a {mark} that no word comes with; write a word into the * or +")
            return ways if node.least else _UNMARKED
        ways = _UNMARKED if isinstance(node, Seq) else _NO_WAY
        for item in node.items:
            ways = (_one_after_another if isinstance(node, Seq) else int.__or__)(ways, self._wordless(item))
        return ways

    def _of_rule(self, name: str) -> int:
        if name in self._open:
            raise BadInput(f"the grammar rule <{name}> contains itself; write it with * or + instead")
        if name not in self._rules:
            raise BadInput(f"the grammar rule <{name}> is used and nowhere written; add it or mend its name")
        if name not in self._sound:
            self._open.append(name)
            self._sound[name] = self._wordless(self._rules[name])
            self._open.pop()
        return self._sound[name]


def _one_after_another(some: int, more: int) -> int:
    return (some & more & _UNMARKED) | ((some | more) & _MARKED) if some and more else _NO_WAY


@cache
def _number_tree(node: Numbers) -> tuple[tuple[tuple[int, str], ...], tuple[tuple[int, Operation], ...]]:
    """A tree of words, so that numbers that begin alike share their first arcs: (place before, word) for each place but
    the first, and the places where a number may end, with what it adds."""
    places: dict[tuple[str, ...], int] = {(): 0}
    arcs: list[tuple[int, str]] = []
    ends: list[tuple[int, Operation]] = []
    for phrase, n in sorted({(number_words(n, form), n) for n in node.values for form in node.forms}):
        for i, word in enumerate(phrase):
            if phrase[: i + 1] not in places:
                places[phrase[: i + 1]] = len(places)
                arcs.append((places[phrase[:i]], word))
        ends.append((places[phrase], operation((f"+{n}",))))
    return tuple(arcs), tuple(ends)
