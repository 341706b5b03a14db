"""The rules of the grammar as states joined by words alone, without the marks, for the word automaton.

A state is the set of its ways: (word, state after it), or ("", state) where no word is needed. Rules are read from
their last word back to the first, so that what comes after is there already, and what may go on alike is one state:
of the many thousand states that the parser's network has (one for each meaning), a tenth is left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from callout.errors import BadInput
from callout.language.grammar_reader import Alt, Many, Mark, Node, Numbers, Ref, Seq, Word
from callout.language.numerals import number_words

Ways = frozenset[tuple[str, int]]
SILENT = ""  # the word of a way on which none is said
END = 0  # the state after the last word; where a silent way leads to it, all may be said
#: Many times what ours has: a team's rules that double one another would go on for ever.
_MOST_STATES = 200_000


class WordStates:
    """`ways[s]` are the ways from state `s`. The rules must have been looked through for faults
    (`callout.language.network`)."""

    def __init__(self, rules: Mapping[str, Node]) -> None:
        self._rules = rules
        self._states: dict[Ways, int] = {}
        self._before: dict[tuple[Node, int], Ways] = {}
        self.ways: list[Ways] = []
        self._state(frozenset({(SILENT, END)}))

    def start(self, root: Node) -> int:
        """The state from which `root` may be said whole."""
        return self._state(self._through(root, END))

    def _state(self, ways: Ways) -> int:
        state = self._states.setdefault(ways, len(self.ways))
        return self._add(ways) if state == len(self.ways) else state

    def _add(self, ways: Ways) -> int:
        if len(self.ways) >= _MOST_STATES:
            raise BadInput("the grammar grows too large: a rule added to it uses others too often; write it shorter")
        self.ways.append(ways)
        return len(self.ways) - 1

    def _through(self, node: Node, target: int) -> Ways:
        """The ways to say `node` and be at `target`."""
        if isinstance(node, Word):
            return frozenset({(node.text, target)})
        if isinstance(node, Mark):
            return self.ways[target]
        if isinstance(node, Alt):
            return frozenset[tuple[str, int]]().union(*[self._through(item, target) for item in node.items])
        if isinstance(node, Seq):
            for item in reversed(node.items):
                if not isinstance(item, Mark):
                    target = self._state(self._through(item, target))
            return self.ways[target]
        if (node, target) not in self._before:
            self._before[node, target] = self._through_once(node, target)
        return self._before[node, target]

    def _through_once(self, node: Ref | Many | Numbers, target: int) -> Ways:
        if isinstance(node, Ref):
            return self._through(self._rules[node.name], target)
        if isinstance(node, Numbers):
            return self._numbers(node, target)
        loop = self._add(frozenset())
        again: Ways = frozenset({(SILENT, loop)})
        self.ways[loop] = again  # while its own ways are not known
        once = self._through(node.item, loop)
        self.ways[loop] = (once | self.ways[target]) - again
        return once if node.least else again

    def _numbers(self, node: Numbers, target: int) -> Ways:
        made: list[int] = []
        for ends, leads in _places(node):
            ways = frozenset((word, made[place]) for word, place in leads)
            made.append(self._state(ways | self.ways[target] if ends else ways))
        return self.ways[made[-1]]


@cache
def _places(node: Numbers) -> tuple[tuple[bool, tuple[tuple[str, int], ...]], ...]:
    """The places within the words of some numbers, the last of them before the first word: whether a number may end
    there, and which words lead to which place. Places from which the same may follow are one."""
    places: dict[tuple[bool, tuple[tuple[str, int], ...]], int] = {}

    def place(rests: Iterable[tuple[str, ...]]) -> int:
        after: dict[str, list[tuple[str, ...]]] = {}
        for rest in sorted(rests):
            after.setdefault(rest[0] if rest else SILENT, []).append(rest[1:])
        ends = after.pop(SILENT, None) is not None
        return places.setdefault((ends, tuple((word, place(more)) for word, more in after.items())), len(places))

    place({number_words(n, form) for n in node.values for form in node.forms})
    return tuple(places)
