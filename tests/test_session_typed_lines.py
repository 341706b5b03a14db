"""Tab offers what may be said next, and nothing else."""

import pytest

from callout.language.context import EVERYTHING, Context
from callout.session.sources import completions


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("inser", ["insertion"]),
        ("insertion eleven f", ["feet", "foot"]),
        ("insertion eleven feet six", ["six", "sixteen", "sixty"]),
        ("affirm ", ["insertion"]),
        ("insertion nonsense ", []),
    ],
)
def test_offered_words(line: str, offered: list[str]) -> None:
    assert set(offered) <= set(completions(line, EVERYTHING))
    if not offered:
        assert completions(line, EVERYTHING) == []


def test_only_what_the_state_allows() -> None:
    assert completions("insertion ", Context(state="digits")) == []
    assert "seven" in completions("", Context(state="digits"))
