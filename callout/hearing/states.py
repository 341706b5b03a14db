"""The searchable form of each state of the conversation, made once and kept."""

from __future__ import annotations

from dataclasses import dataclass

from callout.hearing.graph import phone_graph
from callout.hearing.search import Searcher
from callout.hearing.vosk_ear import VoskEar
from callout.language.automaton import word_automaton
from callout.language.context import Context
from callout.language.lexicon import prons


@dataclass(frozen=True)
class Prepared:
    """One state: the encoder ear's searcher, and the words that the Vosk ear lacks."""

    key: str
    searcher: Searcher
    vosk_lacks: frozenset[str]


class States:
    """Prepares states on demand. What may be said hangs on `context.state` alone; values are weighed later."""

    def __init__(self, vosk: VoskEar) -> None:
        self._vosk = vosk
        self._made: dict[str | None, Prepared] = {}

    def of(self, context: Context) -> Prepared:
        """The state of a context; the first time it takes about 0.2 s."""
        state = context.state
        if state not in self._made:
            words = word_automaton(context)
            key = state or "everything"
            lacks = self._vosk.prepare(key, words.arcs, words.start, words.finals)
            graph = phone_graph(words.arcs, words.start, words.finals, prons)
            self._made[state] = Prepared(key, Searcher(graph), frozenset(lacks))
        return self._made[state]
