"""A team's own words in tests: what is kept of the language is forgotten when its folder changes."""

from callout.language import pronunciation, teaching


def forget() -> None:
    teaching.forget()
    for made in (pronunciation.prons, pronunciation._own):
        made.cache_clear()
