"""The word automaton is the parser's network without its marks: the same sentences, in the fewest states."""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import combinations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from callout.errors import BadInput
from callout.language import automaton, grammar, word_states
from callout.language.automaton import WordAutomaton, _determinise, _minimise, _numbered
from callout.language.grammar_reader import Alt, Many, Mark, Node, Numbers, Ref, Seq, Word
from callout.language.network import Network
from callout.language.numerals import DIGITS
from callout.language.word_states import WordStates
from tests.how_much import one_in


def made(rules: dict[str, Node], root: Node) -> WordAutomaton:
    words = WordStates(rules)
    return _numbered(*_minimise(*_determinise(words.ways, words.start(root))))


def differs(found: WordAutomaton, network: Network) -> list[str] | None:
    """The first words after which something else may follow in one than in the other; None where they are the same.
    Both are walked together, the network in all its states at once."""
    network.complete()

    def silently(states: set[int]) -> frozenset[int]:
        seen, todo = set(states), list(states)
        while todo:
            for _, target in network.silent[todo.pop()]:
                if target not in seen:
                    seen.add(target)
                    todo.append(target)
        return frozenset(state for state in seen if network.words[state] or state == network.final)

    leads: dict[int, dict[str, int]] = {}
    for source, target, word in found.arcs:
        assert word not in leads.setdefault(source, {}), "two ways by one word"
        leads[source][word] = target
    first = (found.start, silently({network.start}))
    met: dict[tuple[int, frozenset[int]], list[str]] = {first: []}
    todo = [first]
    while todo:
        here, group = pair = todo.pop()
        ways: dict[str, set[int]] = {}
        for state in group:
            for word, target in network.words[state]:
                ways.setdefault(word, set()).add(target)
        if leads.get(here, {}).keys() != ways.keys() or (here in found.finals) != (network.final in group):
            return met[pair]
        for word, targets in ways.items():
            after = (leads[here][word], silently(targets))
            if after not in met:
                met[after] = [*met[pair], word]
                todo.append(after)
    return None


def alike(found: WordAutomaton) -> list[tuple[int, int]]:
    """Pairs of states that no sentence tells apart."""
    leads: list[dict[str, int]] = [{} for _ in range(found.states)]
    for source, target, word in found.arcs:
        leads[source][word] = target
    pairs = {(a, b) for a, b in combinations(range(found.states), 2)
             if leads[a].keys() == leads[b].keys() and (a in found.finals) == (b in found.finals)}  # fmt: skip
    while True:
        told = set()
        for a, b in pairs:
            after = [sorted((leads[a][word], leads[b][word])) for word in leads[a]]
            if any(one != other and (one, other) not in pairs for one, other in after):
                told.add((a, b))
        if not told:
            return sorted(pairs)
        pairs -= told


@pytest.mark.parametrize("state", one_in(2, [None, "confirm_walk", "halted", "teach_words", "digits"]))
def test_the_automaton_says_what_the_parser_reads(state):
    assert differs(automaton._automaton(state), grammar.load().network(state)) is None


NODES = st.recursive(
    st.one_of(
        st.sampled_from([Word("a"), Word("b"), Word("c"), Ref("one"), Ref("two"), Mark(("+1",))]),
        st.builds(lambda low, more: Numbers(tuple(range(low, low + more)), ("grouped", "digits")),
                  st.integers(0, 130), st.integers(1, 15)),
    ),
    lambda inner: st.one_of(
        st.builds(Seq, st.lists(inner, max_size=3).map(tuple)),
        st.builds(Alt, st.lists(inner, min_size=1, max_size=3).map(tuple)),
        st.builds(Many, inner, st.sampled_from([0, 1])),
    ),
    max_leaves=12,
)


@given(NODES, NODES, NODES)
def test_so_it_is_of_any_rules(root, one, two):
    rules = {"one": one, "two": two}
    try:
        network = Network(rules, root)  # a rule that contains itself, or a mark that piles up
    except BadInput:
        assume(False)
    found = made(rules, root)
    assert differs(found, network) is None
    assert not alike(found)
    assert found.start == 0
    assert list(found.arcs) == sorted(found.arcs)


LOOP = Many(Alt((Word("a"), Many(Word("b"), 0))), 1)


@pytest.mark.parametrize(
    ("root", "said", "not_said"),
    [
        (Seq((LOOP, Word("c"))), ["a c", "b b c", "c", "a b a c"], ["a", "", "c c"]),
        (Many(Seq((Word("a"), Many(Word("b"), 1))), 0), ["", "a b", "a b b a b"], ["a", "a a b", "b"]),
        (Seq((Numbers((9, 19), ("grouped",)), Numbers((9,), ("grouped",)))), ["nine nine", "nineteen nine"], ["nine"]),
    ],
)
def test_loops_and_numbers(root, said, not_said):
    found = made({}, root)
    assert differs(found, Network({}, root)) is None
    assert [words for words in (*said, *not_said) if _says(found, words.split())] == said


def _says(found: WordAutomaton, words: list[str]) -> bool:
    here = found.start
    for word in words:
        ahead = [target for source, target, way in found.arcs if source == here and way == word]
        if not ahead:
            return False
        here = ahead[0]
    return here in found.finals


def test_what_is_kept_of_a_network_has_a_limit_and_what_was_let_go_is_found_again():
    numbers = Network({}, Numbers(tuple(range(100)), ("digits",)), kept=3)
    for words in [(one, two) for one in DIGITS for two in DIGITS] * 2:
        here = frozenset({numbers.start})
        for word in words:
            here = numbers.after(here, word)
        assert any(numbers.ends(place) for place in here) == (words[0] != "zero")
        assert numbers._explored.cache_info().currsize <= 3


def test_rules_that_double_one_another_are_refused(monkeypatch):
    monkeypatch.setattr(word_states, "_MOST_STATES", 500)
    rules = {str(n): Seq((Word("a"), Ref(str(n + 1)), Word("b"), Ref(str(n + 1)))) for n in range(12)}
    rules["12"] = Word("c")
    with pytest.raises(BadInput, match="grows too large"):
        made(rules, Ref("0"))


def test_a_states_number_hangs_on_the_grammar_alone():
    code = ("import hashlib; from callout.language.automaton import word_automaton; "
            "print(hashlib.sha256(repr(word_automaton().arcs).encode()).hexdigest())")  # fmt: skip
    found = {
        subprocess.run([sys.executable, "-c", code], env={**os.environ, "PYTHONHASHSEED": seed}, check=True,
                       capture_output=True, text=True).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1
