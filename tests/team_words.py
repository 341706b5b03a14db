"""A team's own words in tests: what is kept of the language is forgotten when its folder changes.

To read the language again costs seconds, so where there are no words of a team, and were none, all is kept.
"""

from callout.errors import BadInput
from callout.hearing import graph_cache, states
from callout.language import pronunciation, teaching
from callout.language.team import team_files

_forget_in_program = teaching.forget
_may_be_a_teams = False  # whether what is kept may hold words of a team


def forget(*, anyway: bool = False) -> None:
    """To be called whenever the folder is another, or was written into. `anyway`: though it shows no words now."""
    global _may_be_a_teams
    own = _there_are_words()
    if not (own or anyway or _may_be_a_teams):
        return
    _may_be_a_teams = own
    _forget_in_program()
    for made in (pronunciation.prons, pronunciation._own, graph_cache.fingerprint, states.pronunciations):
        made.cache_clear()


def _there_are_words() -> bool:
    try:
        return bool(team_files())
    except BadInput:
        return True


def _forget_what_was_taught() -> None:
    """What the program itself calls when it was taught a word."""
    global _may_be_a_teams
    _may_be_a_teams = True
    _forget_in_program()


teaching.forget = _forget_what_was_taught
