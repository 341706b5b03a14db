"""An alarm in whatever words, typed: "oh god the wall is coming down", "lookout says it's moving", "man down".

Read where the grammar has no reading of a sentence. What <alarm> of `grammars/alarms.grammar` has is an alarm wherever
it stands, whatever stands round it, unless a word of `grammars/alarms.toml` says that it is not so, or not now. What
<cry> has is one where nothing else is said. Doubt is an alarm: one too many costs silence, one missed may cost a life.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from rapidfuzz import fuzz, process

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.doubtful import Pairs
from callout.language.grammar_reader import Ref, read_rules
from callout.language.light_words import says_one_of
from callout.language.nearest import known_words
from callout.language.network import Network
from callout.values import Command

_MOST_NAMES = 2  # words that nobody knows, before a cry: who is called
_SLIP = 82.0  # rapidfuzz ratio from which a word that nobody knows is a slip of one of an alarm
_SHORTEST_SLIP = 4  # letters
_LONGEST = 40  # words that are looked through

Words = tuple[str, ...]


class _Networks(NamedTuple):
    """What is an alarm wherever it stands, and what is one as a whole sentence; `words`: all of theirs."""

    told: Network
    out: Network
    halt: Network
    sentence_out: Network
    sentence_halt: Network
    words: frozenset[str]


class _Table(NamedTuple):
    """The lists of `grammars/alarms.toml`; what each is for stands there."""

    before: frozenset[str]
    unless: frozenset[str]
    asks: frozenset[str]
    after: frozenset[str]
    ours: frozenset[str]
    things: frozenset[str]
    gives: frozenset[str]
    people: frozenset[str]
    hurts: frozenset[str]
    leaves: frozenset[str]
    longest: int


def alarm_in(words: Sequence[str], *, told: bool = True, parted: Pairs = frozenset()) -> Command | None:
    """The stop word of the field that folded `words` come to; None where they hold no alarm. `told`: what is only seen
    of a wall is one too ("the wall is bulging"), as it is where no shore is called out beside it. Of words that are
    `parted` each part may be one: "I don't like it, get everyone out"."""
    said = tuple(words[:_LONGEST])
    ends = [at for at in range(1, len(said)) if said[at - 1 : at + 1] in parted]
    parts = [said[start:end] for start, end in zip((0, *ends), (*ends, len(said)), strict=True)]
    for tried in dict.fromkeys((said, _mended(said), *parts, *map(_mended, parts))):
        name = _named(tried, told)
        if name is not None:
            return Command(command=name)
    return None


def _named(words: Words, told: bool) -> str | None:
    if not words:
        return None
    of = _networks()
    for sentence in () if is_none(words) else _without_names(words):
        if _spans(of.sentence_out, sentence, 0) == len(sentence):
            return "cease_operations" if sentence[0] == "stop" else "evacuate"
        if _spans(of.sentence_halt, sentence, 0) == len(sentence):
            return "cease_operations"
    anywhere = ((of.out, "evacuate"), (of.halt, "cease_operations"), *(((of.told, "evacuate"),) if told else ()))
    for start in range(len(words)):
        for network, name in anywhere:
            end = _spans(network, words, start)
            if end and not _taken_back(words[:start], words[end:]):
                return "cease_operations" if "stop" in words[:start] else name
    return None


def may_be_alarm(words: Sequence[str]) -> Command | None:
    """What folded words that mean nothing else may cry, by the words alone: something gives way, or somebody is hurt or
    must leave."""
    table, said = _table(), frozenset(_mended(tuple(words)))
    if len(words) > table.longest or said & UNIT_WORDS or words[0] in table.asks:
        return None
    if is_none(words) or _taken_back(tuple(words), ()):
        return None
    if (said & table.things and said & table.gives) or (said & table.people and said & table.leaves):
        return Command(command="evacuate")
    return Command(command="cease_operations") if said & table.people and said & table.hurts else None


#: A measure beside it is a look at a shore, or of a callout.
UNIT_WORDS = frozenset({"inch", "inches", "feet", "foot", "metre", "metres", "degrees", "millimetres", "centimetres"})


def is_none(words: Sequence[str]) -> bool:
    """Whether what is near to an alarm tells of what goes well, or of oneself: "it's going fine", "I'm coming down"."""
    return says_one_of(_table().after | _table().ours, words)


def _spans(network: Network, words: Words, start: int) -> int:
    """Where the longest run of `words` that the network has ends, from `start` on; 0 where it has none."""
    places, found = frozenset({network.start}), 0
    for at in range(start, len(words)):
        places = network.after(places, words[at])
        if not places:
            break
        if any(map(network.ends, places)):
            found = at + 1
    return found


def _taken_back(before: Words, after: Words) -> bool:
    """Whether what stands round an alarm says that it is none."""
    table = _table()
    if before[:1] and before[0] in table.asks:
        return True
    denied = says_one_of(table.before, before) and not says_one_of(table.unless, before)
    return denied or says_one_of(table.after, after)


def _without_names(words: Words) -> Iterator[Words]:
    """The words; and those without what nobody knows at their beginning and end: names."""
    yield words
    start, end = 0, len(words)
    while start < min(_MOST_NAMES, end) and words[start] not in _known():
        start += 1
    if end - 1 > start and words[end - 1] not in _known():
        end -= 1
    if (start, end) != (0, len(words)) and start < end:
        yield words[start:end]


def _mended(words: Words) -> Words:
    """With words of an alarm for those that nobody knows and that are slips of one."""
    return tuple(_meant(word) for word in words)


def _meant(word: str) -> str:
    if len(word) < _SHORTEST_SLIP - 1 or word in _known():
        return word
    found = process.extractOne(word, _alarming(), scorer=fuzz.ratio, score_cutoff=_SLIP)
    return str(found[0]) if found else word


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    return known_words() | _networks().words


@lru_cache(maxsize=1)
def _alarming() -> tuple[str, ...]:
    """The words of the alarms that are long enough to be known by a slip."""
    return tuple(sorted(word for word in _networks().words if len(word) >= _SHORTEST_SLIP))


@lru_cache(maxsize=1)
def _networks() -> _Networks:
    rules = read_rules([data_folder("grammars") / "alarms.grammar"], grammar.load().wide_rules)
    names = ("alarm told", "alarm out", "alarm halt", "sentence out", "sentence halt")
    first = Network(rules, Ref(names[0]))
    told, out, halt, sentence_out, sentence_halt = (first.beside(Ref(name)) for name in names)
    words = frozenset(word for arcs in first.complete().words for word, _ in arcs)
    return _Networks(told, out, halt, sentence_out, sentence_halt, words)


@lru_cache(maxsize=1)
def _table() -> _Table:
    table = read_toml(data_folder("grammars") / "alarms.toml")
    return _Table(longest=table["longest"], **{k: frozenset(table[k]) for k in _Table._fields if k != "longest"})
