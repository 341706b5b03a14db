"""A count before a length is no figure of it: "I need two eight feet" is never 28 feet unasked."""

from __future__ import annotations

import pytest

from callout.language.outcome import Ambiguous, Understood
from callout.language.resolve import resolve_text
from callout.values import Length
from tests.people_talk import context

ASKED = [
    "i need two eight feet sixty", "need one eight feet sixty", "give me one eight feet at sixty",
    "just the one seven foot nine at forty five", "it's a flying one eight feet six inches forty five degrees",
    "build one eight feet sixty", "the solid sole one eight feet sixty", "another one eight feet six sixty",
]  # fmt: skip
FIGURES = [
    ("insertion one eight feet sixty", Length.imperial(18)), ("raker one eight feet sixty", Length.imperial(18)),
    ("the insertion is one eight feet", Length.imperial(18)), ("split sole one eight feet sixty", Length.imperial(18)),
    ("i need two rakers at one eight feet sixty", Length.imperial(18)), ("need eighteen feet sixty", Length.imperial(18)),
]  # fmt: skip


@pytest.mark.parametrize("state", ["idle", "confirm"])
@pytest.mark.parametrize("said", ASKED)
def test_what_may_be_a_count_is_asked_for(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "insertion"


@pytest.mark.parametrize(("said", "length"), FIGURES)
def test_figures_after_a_name_are_figures(said: str, length: Length) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning.insertion == length
