"""A count or a figure: "I need two eight feet" asks for two of eight feet, or for one of twenty eight."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from callout.language.numerals import DIGITS
from callout.language.parse import Span
from callout.language.repairs import UNITS
from callout.language.semantic_actions import LENGTH_PARTS

_FIGURES = frozenset(DIGITS[1:])
#: After these people count what they want, or say "one" of a shore ("just the one", "a flying one", "build one").
_BEFORE_A_COUNT = frozenset({
    "a", "an", "the", "this", "that", "these", "those", "another", "just", "only", "need", "want", "me", "us", "build",
    "do", "make", "number", "have", "take",
})  # fmt: skip
#: What may stand between: what kind of one it is.
_KINDS_OF_ONE = frozenset({
    "flying", "solid", "split", "sole", "double", "single", "dead", "big", "small", "short", "long", "tall", "other",
    "next", "first", "second", "last", "same", "new", "good", "more", "extra",
})  # fmt: skip


def count_or_figure(words: Sequence[str], parts: Iterable[Span]) -> str | None:
    """The name of a length whose first figure may be a count; None where there is none. `words` are folded, and `parts`
    were made of them."""
    for part in parts:
        if part.name in LENGTH_PARTS and any(_may_count(words, at) for at in range(part.start, part.end)):
            return part.name
    return None


def _may_count(words: Sequence[str], at: int) -> bool:
    """Whether two single figures stand at `at` with their unit, after what a count stands after."""
    two, unit = words[at : at + 2], words[at + 2 : at + 3]
    if len(two) < 2 or not set(two) <= _FIGURES or not set(unit) & UNITS:
        return False
    before = at - 1
    while before >= 0 and words[before] in _KINDS_OF_ONE:
        before -= 1
    return before >= 0 and words[before] in _BEFORE_A_COUNT
