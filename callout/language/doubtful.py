"""What makes a number doubtful, though the words have a reading: it may be a count ("I need two eight feet" asks for
two of eight feet, or for one of 28), a bound ("nearly eleven feet") or of another thing ("eleven feet two blokes"); and
how many there are may be said without a number ("several rakers").
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from callout.language import grammar
from callout.language.light_words import FreeWords, says_one_of
from callout.language.numerals import ANGLES, DIGITS, NUMBER_WORDS, SMALL
from callout.language.parse import Reading, Span
from callout.language.repairs import COARSE, UNITS, number_after, values_at
from callout.language.semantic_actions import LENGTH_PARTS
from callout.language.surroundings import phrase_at, surroundings

Words = Sequence[str]
#: Each two words between which a comma or another mark was typed.
Pairs = frozenset[tuple[str, str]]

_FIGURES = frozenset(DIGITS[1:])
#: After these people count what they want, or say "one" of a shore ("just the one", "a flying one", "build one").
_BEFORE_A_COUNT = frozenset({
    "a", "an", "the", "this", "that", "these", "those", "another", "just", "only", "need", "want", "me", "us", "build",
    "do", "make", "number", "have", "take", "send", "order", "bring", "get", "throw", "request", "also",
})  # fmt: skip
#: After these a number before the height may be theirs: "raker one, nine feet", "bravo side two nine feet".
_MAY_BE_NUMBERED = frozenset({"raker", "shore", "rakers", "shores", "wall", "side", "corner", "face", "floor", "room"})
#: What may stand between: what kind of one it is.
_KINDS_OF_ONE = frozenset({
    "flying", "solid", "split", "sole", "double", "single", "dead", "big", "small", "short", "long", "tall", "other",
    "next", "first", "second", "last", "same", "new", "good", "more", "extra",
})  # fmt: skip
#: With one of these alone a count or "one" follows: "next one", "the big two".
_WHICH_ONE = _KINDS_OF_ONE - {"flying", "solid", "split", "sole", "double", "single", "dead"}
#: What stands before the figures of a length, and is no callsign.
_NO_CALLSIGN = frozenset({
    "insertion", "point", "at", "of", "is", "spacing", "spaced", "height", "lean", "leaning", "wall", "rakers", "raker",
    "correction", "again", "no", "negative", "sorry", "said", "meant", "it", "that", "to", "wrong", "out", "in", "by",
})  # fmt: skip
_COUNTS = frozenset(SMALL[2:])
_INCHES = frozenset(SMALL[1:12])
_MAY_BE_ANGLES = frozenset(angle[0] for angle in ANGLES if len(angle) == 1)
#: Words of numbers between which a comma parts two things; "insertion point, eleven feet" has one.
_PARTED = NUMBER_WORDS - {"point", "oh"}
_DENIES = frozenset({"not", "instead", "place", "than"})
_SEVERAL = frozenset({"rakers", "shores", "soles", "flyers", "posts"})
_CENTERS = frozenset({"center", "centers"})
_SHORES = _SEVERAL | {"raker", "shore"}
#: So many words before a length may make a bound of it, and so many before the shores count them.
_NEAR = 4


def count_or_figure(words: Words, parts: Sequence[Span], parted: Pairs = frozenset()) -> str | None:
    """The name of a length whose first figure may be a count, or whose last may be another length, or of the rakers
    where a callsign may have taken their number ("rescue two rakers"); None where there is none. `words` are folded,
    and `parts` were made of them; between two words that are `parted` stands a comma."""
    named = {part.name for part in parts}
    if "rakers" not in named and _callsign_may_count(words):
        return "rakers"
    if any(p.name == "rakers" and set(words[max(0, p.start - 1) : p.start]) & surroundings().numbered for p in parts):
        return "rakers"  # "building two rakers": two of them, or some at building two?
    for part in parts:
        if _is_joined(words, part, parted) or (part.name == "rakers" and _may_be_inches(words, part, parted)):
            return part.name
        if part.name not in LENGTH_PARTS:
            continue
        if any(_may_count(words, at, part, parted) for at in range(part.start, part.end)):
            return part.name
        if part.name == "spacing" and "insertion" not in named and _may_be_two(words, part):
            return part.name
        if _takes_the_angle(words, part, named) or _takes_from_a_callsign(words, part, parted):
            return part.name
    return None


def without_joined(readings: list[Reading], words: Words, parted: Pairs) -> list[Reading]:
    """Of several readings those in which no number goes on past a comma, where there are such."""
    return [r for r in readings if not any(_is_joined(r.words or words, p, parted) for p in r.parts)] or readings


def _is_joined(words: Words, part: Span, parted: Pairs) -> bool:
    """Whether a comma was typed within a number ("one, nine feet" is no nineteen), or between a number and what it
    counts: "entry three, raker"."""
    counts = part.name == "rakers"
    if not counts and part.name not in LENGTH_PARTS:
        return False
    if _DENIES & set(words[max(0, part.start - 1) : part.end]):
        return False  # "not thirty, thirteen", "instead of thirty, thirteen": what is denied is no part of the other
    said = words[part.start : part.end + counts]
    goes_on = _SHORES | _KINDS_OF_ONE if counts else _PARTED
    return any(pair in parted and pair[0] in _PARTED and pair[1] in goes_on for pair in pairwise(said))


def _may_be_inches(words: Words, rakers: Span, parted: Pairs) -> bool:
    """"Twelve foot six rakers": six of twelve feet, or some of twelve feet six?"""
    before, count = ("", *words)[rakers.start], words[rakers.start]
    return before == "foot" and count in _INCHES and (before, count) not in parted


def _takes_the_angle(words: Words, part: Span, named: set[str]) -> bool:
    """"Eleven feet thirty six feet on center": thirty degrees and six feet, or a spacing of 36? No rakers stand 62
    inches apart by six degrees, so inches of a spacing are one number."""
    if "angle_deg" in named or part.name == "insertion" or not 0 < part.start < len(words) - 1:
        return False
    two = words[part.start] in _MAY_BE_ANGLES and words[part.start + 1] in _FIGURES
    unit = set(words[part.start + 2 : part.start + 3])
    return two and words[part.start - 1] in UNITS and bool(unit & (COARSE if part.name == "spacing" else UNITS))


def _takes_from_a_callsign(words: Words, part: Span, parted: Pairs) -> bool:
    """"Engine twenty one feet": of engine twenty, one foot? Or 21 feet?"""
    at = next((i for i in range(part.start, min(part.end, len(words))) if words[i] in NUMBER_WORDS), None)
    if part.name != "insertion" or at is None or (words[at - 1 : at] and (words[at - 1], words[at]) in parted):
        return False
    start, end = at, number_after(tuple(words), at)
    while start and words[start - 1] in NUMBER_WORDS:
        start -= 1
    one = end - start == 2 and any(stop == end for _, stop in values_at(tuple(words), start))
    return one and _is_a_crews(words, start)


def _is_a_crews(words: Words, at: int) -> bool:
    """Whether the number that begins there may be that of a callsign."""
    before = words[at - 1] if at else "insertion"
    return before not in _NO_CALLSIGN and before in grammar.load().crew_words


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


def _may_count(words: Words, at: int, part: Span, parted: Pairs) -> bool:
    """Whether two single figures stand at `at` with their unit, after what a count stands after; or before what is
    counted ("two nine foot rakers"); or of a distance that is no spacing as one number ("three eight feet apart")."""
    two, unit = words[at : at + 2], words[at + 2 : at + 3]
    if len(two) < 2 or not set(two) <= _FIGURES or not set(unit) & UNITS:
        return False
    if set(words[at + 3 : at + 4]) & (_SEVERAL | _CENTERS) or _is_far(two, unit, part):
        return True
    counted = at > 0 and words[at - 1] in _SEVERAL and _before_its_kind(words, at - 1) in _COUNTS
    of_a_place = _MAY_BE_NUMBERED | surroundings().numbered
    numbered = _WHICH_ONE | of_a_place if part.name == "insertion" and not counted else _WHICH_ONE
    if at and words[at - 1] in numbered and two[1] != "one":  # nobody shores up at one foot
        return (words[at - 1], words[at]) not in parted
    return _before_its_kind(words, at) in _BEFORE_A_COUNT


def _before_its_kind(words: Words, at: int) -> str:
    """The word before what kind of one stands before `at` ("three" of "three solid sole rakers"); "" at the begin."""
    return next((word for word in reversed(words[:at]) if word not in _KINDS_OF_ONE), "")


def _is_far(two: Words, unit: Words, part: Span) -> bool:
    """"Three eight feet apart": no shores stand 38 feet from each other."""
    return part.name == "spacing" and two[0] != "one" and bool(set(unit) & COARSE)


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
    if says_one_of(table.other_shores, words):
        return "other shore"
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
    after = phrase_at(bounds, words, length.end)
    is_after = after > length.end and phrase_at(light, words, length.end) <= after  # "above grade" says nothing
    return is_after or says_one_of(bounds, words[start : length.start])


def _is_uncounted(words: Sequence[str], uncounted: frozenset[str]) -> bool:
    """Whether shores are counted by a word that is no number."""
    return any(word in _SHORES and uncounted & set(words[max(0, i - _NEAR) : i]) for i, word in enumerate(words))
