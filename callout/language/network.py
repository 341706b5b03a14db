"""A rule of the grammar as a network: states joined by words, with the marks met on the way to each word.

The parser walks it (with the marks); the word automaton is made from it (without them).
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from functools import cache

from callout.errors import BadInput
from callout.language.grammar_reader import Alt, Many, Mark, Node, Numbers, Ref, Seq, Word
from callout.language.numerals import number_words
from callout.language.semantic_actions import Operation, operation

Marks = tuple[Operation, ...]


#: Several times what ours has: a team's rules that double one another would go on for ever.
_MOST_STATES = 1_000_000


class Network:
    """States are ints. `words[s]` are (word, target) arcs; `silent[s]` are (mark or None, target) arcs.

    Networks of the same rules share their states (`beside`): what one has built, the next takes as it is.
    """

    def __init__(self, rules: Mapping[str, Node], root: Node) -> None:
        self._rules = rules
        self._open: list[str] = []
        self._entries: dict[tuple[str, int], int] = {}
        self._rests: dict[tuple[tuple[Node, ...], int], int] = {}
        self._begun: set[tuple[tuple[Node, ...], int]] = set()
        self.words: list[list[tuple[str, int]]] = []
        self.silent: list[list[tuple[Operation | None, int]]] = []
        self._leads: dict[int, dict[str, list[tuple[Marks, int]]]] = {}
        self._ends: dict[int, list[Marks]] = {}
        self.final = self._new()
        self.start = self._begin(root)

    def beside(self, root: Node) -> Network:
        """The network of another root of the same rules, on the same states."""
        other = copy(self)
        try:
            other.start = self._begin(root)
        except BadInput:  # what is half built is not to be taken: the next root meets the same fault
            for half_built in (self._entries, self._rests, self._begun, self._open):
                half_built.clear()
            raise
        return other

    def _begin(self, root: Node) -> int:
        start = self._new()
        self._build(root, start, self.final)
        return start

    def _new(self) -> int:
        if len(self.words) > _MOST_STATES:
            raise BadInput("the grammar grows too large: a rule added to it uses others too often; write it shorter")
        self.words.append([])
        self.silent.append([])
        return len(self.words) - 1

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
            self._build(node.item, loop, loop)
            self._refuse_marks_without_words(loop)
            if node.least:
                self._build(node.item, source, loop)
            else:
                self.silent[source].append((None, loop))
            self.silent[loop].append((None, target))
        elif isinstance(node, Numbers):
            self._numbers(node, source, target)
        else:
            self._reference(node, source, target)

    def _refuse_marks_without_words(self, loop: int) -> None:
        """What is said again and again must have a word each time, or its marks would pile up without end."""
        todo = [(loop, False)]
        seen = set(todo)
        while todo:
            here, marked = todo.pop()
            for mark, target in self.silent[here]:
                way = (target, marked or mark is not None)
                if way == (loop, True):
                    raise BadInput("the grammar repeats a {mark} that no word comes with; write a word into the * or +")
                if way not in seen:
                    seen.add(way)
                    todo.append(way)

    def _rest(self, items: tuple[Node, ...], target: int) -> int:
        """Where the rest of a sequence begins. The same rest before the same continuation is built once."""
        if not items:
            return target
        if (items, target) in self._begun:
            raise self._endless(self._open[-1])
        if (items, target) not in self._rests:
            self._begun.add((items, target))
            entry = self._new()
            self._build(items[0], entry, self._rest(items[1:], target))
            self._begun.remove((items, target))
            self._rests[(items, target)] = entry
        return self._rests[(items, target)]

    @staticmethod
    def _endless(rule: str) -> BadInput:
        return BadInput(f"the grammar rule <{rule}> contains itself; write it with * or + instead")

    def _reference(self, node: Ref, source: int, target: int) -> None:
        if node.name in self._open:
            raise self._endless(node.name)
        if node.name not in self._rules:
            raise BadInput(f"the grammar rule <{node.name}> is used and nowhere written; add it or mend its name")
        # The same rule before the same continuation is built once.
        entry = self._entries.get((node.name, target))
        if entry is None:
            entry = self._entries[(node.name, target)] = self._new()
            self._open.append(node.name)
            self._build(self._rules[node.name], entry, target)
            self._open.pop()
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
        if state not in self._leads:
            self._explore(state)
        return self._leads[state]

    def ends(self, state: int) -> list[Marks]:
        """The marks passed on each silent way from `state` to the end; empty where it cannot end here."""
        if state not in self._ends:
            self._explore(state)
        return self._ends[state]

    def _explore(self, state: int) -> None:
        leads: dict[str, list[tuple[Marks, int]]] = {}
        ends: list[Marks] = []
        todo: list[tuple[Marks, int]] = [((), state)]
        seen = {todo[0]}
        while todo:
            marks, here = todo.pop()
            if here == self.final:
                ends.append(marks)
            for word, target in self.words[here]:
                leads.setdefault(word, []).append((marks, target))
            for mark, target in self.silent[here]:
                way = (marks if mark is None else (*marks, mark), target)
                if way not in seen:
                    seen.add(way)
                    todo.append(way)
        self._leads[state] = leads
        self._ends[state] = ends


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
