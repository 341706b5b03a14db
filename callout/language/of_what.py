"""Of what a length or a word beside a callout is said. "Eight inch wall" is no eight inches of the height: it is put
under its name where it is plain which size of the wall is meant, and else it is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from callout.language.light_words import says_one_of
from callout.language.numerals import ANGLES, DIGITS, NUMBER_WORDS
from callout.language.parse import Span
from callout.language.repairs import COARSE, UNITS, measure_before, number_after, values_at
from callout.language.surroundings import (
    Words,
    is_an_opening,
    means_a_raker,
    phrase_at,
    surroundings,
    tells_the_material,
)
from callout.values import Callout

#: Stands before a length that is the height of the wall (`grammars/freely.grammar`).
_WALLED: Words = ("walled",)
_THICKNESS: Words = ("wall", "thickness")
_INCHES = {"inch": Fraction(1), "inches": Fraction(1), "feet": Fraction(12), "foot": Fraction(12),
           "metre": Fraction(39), "metres": Fraction(39), "centimetre": Fraction(2, 5), "centimetres": Fraction(2, 5),
           "millimetre": Fraction(1, 25), "millimetres": Fraction(1, 25)}  # fmt: skip
#: In inches: so thick a wall may be, and so high one that is spoken of without "high".
_THICKEST = 36
_LOWEST = 72
_MOST_SIZES = 3
#: So many words before "concrete" may tell that it is the wall's.
_NEAR = 4
_NO_WHOLE = frozenset({"point", "hundred"})
_NAMED = frozenset({"high", "tall", "thick"})
_GOES_ON = _NO_WHOLE | {"and"}
_BEFORE_A_STATEMENT = frozenset({"and", "with", "correction", "degrees", "no"})
_NAMES_THE_HEIGHT = frozenset({"insertion", "point", "height", "at", "is", "of"})


# --- sizes of the wall


def with_sizes(words: Words, *, waits: bool) -> Words:
    """The words with the sizes of the wall under their names: "walled twenty foot" for "twenty foot wall". A size
    alone is one only where a readback `waits`: else the height must be said, too."""
    if "wall" not in words:
        return words
    for _ in range(_MOST_SIZES):
        sized = _with_a_size(words, waits=waits)
        if sized is None:
            break
        words = sized
    return words


def _with_a_size(words: Words, *, waits: bool) -> Words | None:
    for at in (i for i, word in enumerate(words) if word == "wall"):
        for start, first, last, end in (*_size_before(words, at), *_size_after(words, at, waits=waits)):
            name = _size_of(words[first:last], words[last : last + 1])
            other = UNITS & {*words[:start], *words[end:]} or "insertion" in {*words[:start], *words[end:]}
            if name and (waits or other):
                return (*words[:start], *name, *words[first:last], *words[end:])
    return None


def _size_before(words: Words, wall: int) -> list[tuple[int, int, int, int]]:
    """"Twenty foot wall": where it begins, where its length begins and ends, and where it ends."""
    last = _before_its_material(words, wall)
    end = wall + 1 if last == wall else last  # "brick wall" stays: it is a place
    last -= bool(_NAMED & set(words[last - 1 : last]))
    if surroundings().of_a_part & set(words[wall + 1 : wall + 2]) or not last or words[last - 1] not in UNITS:
        return []
    if words[last - 1] != "foot" and surroundings().begins & set(words[wall + 1 : wall + 2]):
        return []
    first = _one_number(words, last - 1)
    if first is None or words[first - 1 : first] in (_WALLED, _THICKNESS[1:]):
        return []
    whole = measure_before(words, last)
    if whole < first and words[first - 1] in COARSE:
        coarse = _one_number(words, first - 1)
        if coarse is None:
            return []
        if not _is_named(words, coarse):
            return [(coarse, coarse, last, end)] if "insertion" in {*words[:coarse], *words[wall:]} else []
    elif _is_named(words, first):
        return []  # "insertion eleven feet wall ..."
    return [(first, first, last, end)]


def _before_its_material(words: Words, wall: int) -> int:
    """Where "brick wall" begins."""
    while wall and words[wall - 1] in surroundings().materials:
        wall -= 1
    return wall


def _one_number(words: Words, end: int) -> int | None:
    """Where the number begins that ends there, when it can be no other: "sixty, twelve inch" is twelve, and "sixty two
    foot" may be two."""
    start = end
    while start and words[start - 1] in NUMBER_WORDS:
        start -= 1
    run = words[start:end]
    if _NO_WHOLE & set(run):
        return None if any(run[:n] in ANGLES for n in (1, 2)) else start
    fits = [n for n in (0, 1, 2) if (not n or run[:n] in ANGLES) and _is_a_number(run[n:])]
    return start + fits[0] if len(fits) == 1 else None


def _is_a_number(run: Words) -> bool:
    return any(end == len(run) for _, end in values_at(run, 0))


def _is_named(words: Words, start: int) -> bool:
    """Whether a length that begins there has the name of the height before it."""
    while start and words[start - 1] in _NAMES_THE_HEIGHT:
        start -= 1
        if words[start] in ("insertion", "height"):
            return True
    return False


def _size_after(words: Words, wall: int, *, waits: bool) -> list[tuple[int, int, int, int]]:
    """"The wall is twenty feet"."""
    first = wall + 1 + (words[wall + 1 : wall + 2] == ("is",))
    end = _length_end(words, first)
    if end is None or not _speaks_of_the_wall(words, wall, waits=waits):
        return []
    after = set(words[end : end + 1])
    if after & (surroundings().of_a_lean | {"high", "tall", "thick", "wide"}):
        return []
    return [(wall, first, end, end)]


def _length_end(words: Words, start: int) -> int | None:
    end = number_after(words, start)
    if end == start or not UNITS & set(words[end : end + 1]):
        return None
    inches = number_after(words, end + 1)
    return inches + 1 if words[inches : inches + 1] in (("inch",), ("inches",)) and inches > end + 1 else end + 1


def _speaks_of_the_wall(words: Words, wall: int, *, waits: bool) -> bool:
    """Whether "wall" begins a statement about its size: "on the wall twelve feet" is where the height is, and "the west
    wall is nine feet" calls out a height there, while nothing waits."""
    said = words[wall + 1 : wall + 2] == ("is",)
    before = wall - (words[wall - 1 : wall] in (("the",), ("this",), ("that",), ("a",), ("our",)))
    last = words[before - 1] if before else ""
    number = number_after(words, wall + 1) - wall - 1
    numbered = number > 1 and words[wall + 1] in DIGITS
    if last in surroundings().at_the_wall or numbered:
        return False  # "wall two, nine feet": which wall, or which height?
    if not last or last in UNITS | NUMBER_WORDS | _BEFORE_A_STATEMENT:
        return True
    return said and (waits or before < wall)


def _size_of(length: Words, named: Words) -> Words:
    """The name of the size, nothing where either may be meant."""
    if "thick" in named:
        return _THICKNESS
    if {"high", "tall"} & set(named):
        return _WALLED
    unit = next((i for i, word in enumerate(length) if word in UNITS), 0)
    values = [(value, end) for value, end in values_at(length, 0) if end == unit or length[end] in _GOES_ON]
    if not values or length[unit] not in _INCHES:
        return ()
    value, end = values[0]
    inches = value * _INCHES[length[unit]] * (100 if length[end] == "hundred" else 1)
    if length[unit] in COARSE:
        return _WALLED if inches >= _LOWEST else ()
    return _THICKNESS if inches <= _THICKEST else ()


# --- what is doubtful in a reading


def doubt_of(
    words: Words, parts: Sequence[Span], unknown: Iterable[str], callout: Callout, *, waits: bool
) -> str | None:
    """The complaint (a row of complaints.toml) about a callout in people's own words that takes the size of another
    thing for its height, a landmark for its kind or a wall for its ground, or measures from there; None without one."""
    heights = [part for part in parts if part.name == "insertion"]
    if any(_is_measured_from_elsewhere(words, height.end) for height in heights):
        return "measured from"
    if any(_is_of_the_wall(words, height, waits=waits) for height in heights):
        return "of the wall"
    if any(_is_of_another(words, height) for height in heights):
        return "of another"
    if _may_be_a_landmark(words, callout, waits=waits):
        return "door or window"
    grounds = [part for part in parts if part.name == "ground"]
    if tells_the_material(words) or any(_is_no_ground(words, ground, set(unknown)) for ground in grounds):
        return "material"
    place = {i for part in parts if part.name == "place" for i in range(part.start, part.end)}
    soils = surroundings().soils
    return "soil" if any(word in soils and i not in place for i, word in enumerate(words)) else None


def _is_measured_from_elsewhere(words: Words, end: int) -> bool:
    """"Ten feet up from the sill", "above the second floor": it is no height above the ground."""
    table, at = surroundings(), end
    while words[at : at + 1] and words[at] in table.up:
        at += 1
    start = phrase_at(table.measured_from, words, at)
    if start == at:
        return False
    while words[start : start + 1] and words[start] in table.articles:
        start += 1
    return start < len(words) and phrase_at(table.grounds, words, start) == start


def _is_no_ground(words: Words, ground: Span, unknown: set[str]) -> bool:
    """"The wall is only concrete", "the concrete column"."""
    if "concrete" not in words[ground.start : ground.end]:
        return False
    before = words[max(0, ground.start - _NEAR) : ground.start]
    of_the_wall = any(pair == ("wall", "is") for pair in pairwise(before)) and not NUMBER_WORDS & set(before)
    beside = unknown | surroundings().materials | {"wall"}
    return of_the_wall or bool(beside & set(words[ground.end : ground.end + 1]))


def _is_of_the_wall(words: Words, height: Span, *, waits: bool) -> bool:
    wall = next((i for i in range(height.end, len(words)) if words[i] not in surroundings().materials), height.end)
    after = words[wall : wall + 2]
    if after == ("of", "wall"):
        return True
    if after[:1] == ("wall",) and not surroundings().of_a_part & set(after[1:]):
        last = words[height.end - 1]
        named = _is_named(words, height.start) or bool({"insertion", "height"} & set(words[height.start : height.end]))
        odd = last in ("inch", "inches") and bool(COARSE & set(words[height.start : height.end]))
        begins = last != "foot" and surroundings().begins & set(after[1:])
        if not begins and (odd or not named):
            return True
    before = height.start - (words[height.start - 1 : height.start] == ("is",))
    return words[before - 1 : before] == ("wall",) and _speaks_of_the_wall(words, before - 1, waits=waits)


def _is_of_another(words: Words, height: Span) -> bool:
    table = surroundings()
    if _is_named(words, height.start) or {"insertion", "height"} & set(words[height.start : height.end]):
        return False
    before = [words[max(0, height.start - n) : height.start] for n in (1, 2)]
    if any(" ".join(said) in table.elsewhere_before for said in before):
        return True
    return phrase_at(table.elsewhere_after, words, height.end) > height.end


def _may_be_a_landmark(words: Words, callout: Callout, *, waits: bool) -> bool:
    """Whether a door or a window that makes the kind may be one that only stands there."""
    if callout.kind not in ("door", "window") or is_an_opening(words):
        return False
    if callout.angle_deg is not None or callout.rakers is not None or means_a_raker(words):
        return True
    return waits and callout.span is None and not says_one_of(frozenset({"make it", "should be"}), words)
