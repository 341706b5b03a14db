"""The searchable form of each state of the conversation, made once and kept."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

from callout.hearing.graph import PhoneGraph, phone_graph
from callout.hearing.graph_cache import Packed, cached
from callout.hearing.search import Searcher
from callout.hearing.vosk_ear import VoskEar
from callout.language import grammar, pronunciation
from callout.language.automaton import WordAutomaton, word_automaton
from callout.language.context import EVERYTHING, Context

Pronunciations = dict[str, tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Prepared:
    """One state: its network of words, the encoder ear's searcher, the name of Vosk's grammar, and the words that the
    Vosk ear lacks."""

    words: WordAutomaton
    vosk_key: str
    searcher: Searcher
    vosk_lacks: frozenset[str]


class States:
    """Prepares states on demand. What may be said hangs on `context.state` alone; values are weighed later.

    Vosk keeps its network once for each grammar (25 MB), so it hears every state of the conversation with the grammar
    of them all, and what does not belong to the state is dropped when it is read.
    """

    def __init__(self, vosk: VoskEar) -> None:
        self._vosk = vosk
        self._made: dict[str | None, Prepared] = {}

    def of(self, context: Context) -> Prepared:
        """The state of a context; the very first time it takes about 0.3 s, then 0.05 s a start of the program."""
        state = context.state
        if state not in self._made:
            name = f"state-{state or 'everything'}"
            words, graph = cached(name, lambda: _graphs(context), _pack_graphs, _unpack_graphs)
            if state is not None and not grammar.load().states[state].only:
                every = self.of(EVERYTHING)
                self._made[state] = Prepared(words, every.vosk_key, Searcher(graph), every.vosk_lacks)
            else:
                key = state or "everything"
                lacks = self._vosk.prepare(key, words.arcs, words.start, words.finals)
                self._made[state] = Prepared(words, key, Searcher(graph), frozenset(lacks))
        return self._made[state]


@lru_cache(maxsize=1)
def pronunciations() -> Pronunciations:
    """How each word of the whole language can be said."""
    return cached("words", _pronunciations, dict, _unpack_pronunciations)


def _pronunciations() -> Pronunciations:
    return {word: pronunciation.prons(word) for word in word_automaton(EVERYTHING).words}


def _unpack_pronunciations(packed: Packed) -> Pronunciations:
    return {word: tuple(tuple(way) for way in ways) for word, ways in packed.items()}


def _graphs(context: Context) -> tuple[WordAutomaton, PhoneGraph]:
    words = word_automaton(context)
    return words, phone_graph(words.arcs, words.start, words.finals, pronunciation.prons)


def _pack_graphs(made: tuple[WordAutomaton, PhoneGraph]) -> Packed:
    automaton, graph = made
    return {
        "automaton": {"arcs": automaton.arcs, "start": automaton.start, "finals": sorted(automaton.finals)},
        **{field.name: getattr(graph, field.name) for field in fields(graph)},
    }


def _unpack_graphs(packed: Packed) -> tuple[WordAutomaton, PhoneGraph]:
    stored = packed.pop("automaton")
    arcs = tuple((int(source), int(target), str(word)) for source, target, word in stored["arcs"])
    words = tuple(map(str, packed.pop("words")))
    sounds = tuple(tuple(tuple(map(int, way)) for way in ways) for ways in packed.pop("sounds"))
    automaton = WordAutomaton(arcs, int(stored["start"]), frozenset(map(int, stored["finals"])))
    return automaton, PhoneGraph(**packed, words=words, sounds=sounds)
