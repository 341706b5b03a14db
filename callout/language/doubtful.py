"""What makes a number doubtful, though the words have a reading: it may be a count ("I need two eight feet" asks for
two of eight feet, or for one of 28), a bound ("nearly eleven feet") or of another thing ("eleven feet two blokes"); and
how many there are may be said without a number ("several rakers").
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from callout.language import grammar
from callout.language.light_words import FreeWords, says_one_of
from callout.language.numerals import DIGITS, NUMBER_WORDS, SMALL
from callout.language.parse import Span
from callout.language.repairs import COARSE, UNITS
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
_COUNTS = frozenset(SMALL[2:])
_SEVERAL = frozenset({"rakers", "shores", "soles", "flyers", "posts"})
_SHORES = _SEVERAL | {"raker", "shore"}
#: So many words before a length may make a bound of it, and so many before the shores count them.
_NEAR = 4


def count_or_figure(words: Sequence[str], parts: Sequence[Span]) -> str | None:
    """The name of a length whose first figure may be a count, or whose last may be another length, or of the rakers
    where a callsign may have taken their number ("rescue two rakers"); None where there is none. `words` are folded,
    and `parts` were made of them."""
    named = {part.name for part in parts}
    if "rakers" not in named and _callsign_may_count(words):
        return "rakers"
    for part in parts:
        if part.name not in LENGTH_PARTS:
            continue
        if any(_may_count(words, at) for at in range(part.start, part.end)):
            return part.name
        if part.name == "spacing" and "insertion" not in named and _may_be_two(words, part):
            return part.name
    return None


def _callsign_may_count(words: Sequence[str]) -> bool:
    for i in range(1, len(words)):
        if words[i] in _COUNTS:
            of = next((word for word in words[i + 1 :] if word not in _KINDS_OF_ONE), "")
            if of in _SEVERAL and words[i - 1] in grammar.load().crew_words:  # asked last: it reads what is typed only
                return True
    return False


def takes_a_crews_number(words: Sequence[str], parts: Iterable[Span]) -> bool:
    """Whether how many there are is the number of a callsign: "team two is ready" is no two of them."""
    counts = [part.start for part in parts if part.name in ("quantity", "have") and part.start]
    return any(words[at - 1] in grammar.load().crew_words for at in counts)


def _may_count(words: Sequence[str], at: int) -> bool:
    """Whether two single figures stand at `at` with their unit, after what a count stands after."""
    two, unit = words[at : at + 2], words[at + 2 : at + 3]
    if len(two) < 2 or not set(two) <= _FIGURES or not set(unit) & UNITS:
        return False
    before = at - 1
    while before >= 0 and words[before] in _KINDS_OF_ONE:
        before -= 1
    return before >= 0 and words[before] in _BEFORE_A_COUNT


def _may_be_two(words: Sequence[str], spacing: Span) -> bool:
    """ "Two rakers at eleven feet, eight on center": the height and the spacing, or a spacing of feet and inches."""
    said = words[spacing.start : spacing.end]
    unit = next((i for i, word in enumerate(said) if word in COARSE), len(said))
    bare = set(said[unit + 1 : unit + 2]) & NUMBER_WORDS and not set(said[unit + 1 :]) & UNITS
    return bool(bare) and "at" in (words[spacing.start], ("", *words)[spacing.start])


def complaint_of(
    words: Sequence[str], parts: Sequence[Span], unknown: Iterable[str], table: FreeWords, *, waits: bool
) -> str | None:
    """The complaint (a row of complaints.toml) about a number in a callout in people's own words; None without one.
    `unknown` are the words that no part is made of; `waits`: a readback waits, and "nearly: it's ..." corrects it."""
    unknown = set(unknown)
    lengths = [part for part in parts if part.name in LENGTH_PARTS]
    bounds = table.bounds if waits else table.bounds | table.bounds_or_corrects
    if any(_is_bound(words, length, bounds, table.light) for length in lengths):
        return "no measure"
    if any(words[p.end - 1] in NUMBER_WORDS and unknown & set(words[p.end : p.end + 1]) for p in lengths):
        return "counts a thing"
    if not any(part.name == "rakers" for part in parts) and _is_uncounted(words, table.uncounted):
        return "how many"
    return None


def _is_bound(words: Sequence[str], length: Span, bounds: frozenset[str], light: frozenset[str]) -> bool:
    """Whether a word before the length, with none between that says something, or right after it makes a bound of
    it."""
    passed = light | {word for phrase in bounds for word in phrase.split()}
    start = length.start
    while start > max(0, length.start - _NEAR) and words[start - 1] in passed:
        start -= 1
    after = words[length.end : length.end + 1]
    return says_one_of(bounds, words[start : length.start]) or says_one_of(bounds, after)


def _is_uncounted(words: Sequence[str], uncounted: frozenset[str]) -> bool:
    """Whether shores are counted by a word that is no number."""
    return any(word in _SHORES and uncounted & set(words[max(0, i - _NEAR) : i]) for i, word in enumerate(words))
