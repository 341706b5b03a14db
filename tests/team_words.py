"""A team's own words in tests: what is kept of the language is forgotten when its folder changes."""

from callout.language import lexicon, teaching


def forget() -> None:
    teaching.forget()
    for made in (lexicon.prons, lexicon._own):
        made.cache_clear()
