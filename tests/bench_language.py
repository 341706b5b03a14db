"""How fast the language is: reading the grammar, making the automaton, and resolving what was heard.

python -m tests.bench language
"""

from __future__ import annotations

import difflib
import random
import statistics
import time
from collections.abc import Callable
from functools import lru_cache

from callout.language import automaton, grammar
from callout.language.context import Context
from callout.language.outcome import Hypothesis
from callout.language.resolve import resolve, resolve_text
from tests.timing import least

N_BEST = (
    ("insertion eleven feet six and a half inches sixty two rakers six feet on center", 0.0),
    ("insertion eleven feet six and a half inches six two rakers six feet on center", -1.0),
    ("insertion seven feet six and a half inches sixty two rakers six feet on center", -5.0),
    ("insertion eleven feet sixty two rakers six feet on center", -7.0),
    ("insertion eleven feet six and a half inches sixty three rakers six feet on center", -9.0),
)
TYPED = (
    """11' 6 1/2" @60""", "insertion eleven feet sixty", "affirm", "eleven feet sixty", "insertoin eleven feet sixty",
)  # fmt: skip


def median(work: Callable[[], object], repeats: int = 101) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return statistics.median(times)


def read_and_compile() -> automaton.WordAutomaton:
    grammar.load.cache_clear()
    for made in (automaton._automaton, automaton._spoken, automaton.short_forms):
        made.cache_clear()
    return automaton.word_automaton()


def peer() -> object:
    """The naive way: the nearest of a thousand sentences of the language by the standard library's matcher."""
    return difflib.get_close_matches(N_BEST[0][0], sentences(), n=1)


@lru_cache(maxsize=1)
def sentences() -> list[str]:
    return [" ".join(words) for words in grammar.load().sample(random.Random(1), 1000)]


def bench() -> dict[str, float]:
    """Figures by name: seconds, sizes, and the ratio to the naive way."""
    whole = read_and_compile()
    hypotheses = [Hypothesis(tuple(words.split()), score) for words, score in N_BEST]
    resolve(hypotheses)
    sentences()
    five = median(lambda: resolve(hypotheses))
    figures = {
        "grammar files to the automaton of everything, s (bar 0.2)": least(read_and_compile),
        "parse and resolve 5 n-best, median s (bar 0.005)": five,
        "the same, ratio to matching 1000 sentences with difflib": five / least(peer, 1),
        "word arcs of everything": len(whole.arcs),
        "states of everything": whole.states,
    }
    for line in TYPED:
        resolve_text(line)
        figures[f"typed: {line}, median s"] = median(lambda said=line: resolve_text(said))  # type: ignore[misc]
    for state in grammar.load().states:
        figures[f"word arcs of state {state}"] = len(automaton.word_automaton(Context(state=state)).arcs)
    return figures
