"""What is usual: the sentences of the card and of the rules, without the lines of people's own ways to say a command.

People have very many ways and each is rare; the sentences that are taught are few and said all day. So what is heard is
rather one of these, and what is whole as one of these is rarely the beginning of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from callout.language.grammar import Grammar, load
from callout.language.network import Network


@lru_cache(maxsize=4096)
def usual(words: tuple[str, ...]) -> bool:
    """Whether the words are a sentence that is taught."""
    network = _network()
    return any(network.ends(place) for place in _places(network, words))


@lru_cache(maxsize=4096)
def begins_usual(words: tuple[str, ...]) -> bool:
    """Whether a sentence that is taught begins so."""
    return bool(_places(_network(), words))


def _places(network: Network, words: Sequence[str]) -> frozenset[int]:
    places = frozenset({network.start})
    for word in words:
        places = network.after(places, word)
    return places


@lru_cache(maxsize=1)
def _network() -> Network:
    """All that may be said in any state, by the rules as the files have them; a team's own words are theirs."""
    every = load()
    rules = {name: node for name, node in every.rules.items() if name != "before" and not name.startswith("unasked ")}
    rules |= every.plain_rules
    return Grammar(rules, rules, every.sample_rules, every.states, every.parts, every.spellings).network()
