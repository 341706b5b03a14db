"""A team's own words in tests: what is kept of the language is forgotten when its folder changes."""

from callout.hearing import graph_cache, states
from callout.language import pronunciation, teaching


def forget() -> None:
    teaching.forget()
    for made in (pronunciation.prons, pronunciation._own, graph_cache.fingerprint, states.pronunciations):
        made.cache_clear()
