"""What stands about a shore and is none of its parts: "next to the door" is where a raker stands and no door shore, and
the concrete of a wall is not the ground (words: `grammars/surroundings.toml`)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

from callout.files import data_folder, read_toml
from callout.language.numerals import ANGLES, NUMBER_WORDS
from callout.language.parse import Span

Words = tuple[str, ...]

_UNITS = frozenset({"feet", "foot", "metre", "metres", "inch", "inches", "degree", "degrees"})
#: Says nothing, and parts two numbers.
PAUSE = "well"
#: Words of the number of a place, or of how far it is.
_MOST_FIGURES = 2
_LENGTHS = _UNITS - {"degree", "degrees"}
#: Words between "by the" and "door" that name it.
_MOST_NAMES = 2


@dataclass(frozen=True)
class Surroundings:
    """The lists of `grammars/surroundings.toml`; what each is for stands there."""

    openings: frozenset[str]
    shored: frozenset[str]
    toward: frozenset[str]
    at_or_in: frozenset[str]
    articles: frozenset[str]
    belongs: frozenset[str]
    told_of: frozenset[str]
    rakers: frozenset[str]
    materials: frozenset[str]
    made_of: frozenset[str]
    soils: frozenset[str]
    of_a_part: frozenset[str]
    begins: frozenset[str]
    at_the_wall: frozenset[str]
    of_a_lean: frozenset[str]
    measured_from: frozenset[str]
    up: frozenset[str]
    grounds: frozenset[str]
    elsewhere_before: frozenset[str]
    elsewhere_after: frozenset[str]
    numbered: frozenset[str]
    numbered_too: frozenset[str]
    counted: frozenset[str]
    away_from: frozenset[str]
    landmarks: frozenset[str]

    @cached_property
    def no_names(self) -> frozenset[str]:
        """What no door is called by."""
        return NUMBER_WORDS | _UNITS | self.rakers | self.shored | {"and", "wall", "angle", "up", "is"}


@lru_cache(maxsize=1)
def surroundings() -> Surroundings:
    rows = read_toml(data_folder("grammars") / "surroundings.toml")
    return Surroundings(**{name: frozenset(said) for name, said in rows.items()})


def phrase_at(phrases: frozenset[str], words: Sequence[str], start: int) -> int:
    """Where the longest of the phrases ends that begins there; `start` where none does."""
    lengths = sorted({len(phrase.split()) for phrase in phrases}, reverse=True)
    return next((start + n for n in lengths if " ".join(words[start : start + n]) in phrases), start)


def means_a_raker(words: Words) -> bool:
    """Whether a raker is called out: it is named, or an angle stands beside a length."""
    angle = any(words[i : i + n] in ANGLES for i in range(len(words)) for n in (1, 2))
    return bool(surroundings().rakers & set(words)) or (angle and bool(_UNITS & set(words)))


# --- doors and windows


def landmark(words: Words) -> tuple[int, int] | None:
    """Where a door or a window is named as a place: "right of the window", "between the door and the window"."""
    table = surroundings()
    if not table.openings & set(words):
        return None
    shored = bool(table.shored & set(words)) and not means_a_raker(words)
    phrases = table.toward if shored else table.toward | table.at_or_in
    for start in range(len(words)):
        first = phrase_at(phrases, words, start)
        end = _opening_after(words, first) if first > start else None
        if end is not None:
            return start, end
    return None


def _opening_after(words: Words, start: int) -> int | None:
    """Where what is named there ends, if it is a door or a window, or two of them."""
    table = surroundings()
    named = start + bool(table.articles & set(words[start : start + 1]))
    for at in range(named, min(named + _MOST_NAMES + 1, len(words))):
        if words[at] in table.openings:
            end = at + 1 + bool(table.belongs & set(words[at + 1 : at + 2]))
            more = _opening_after(words, end + 1) if words[end : end + 1] == ("and",) else None
            return more or end
        if words[at] in table.no_names:
            return None
    return None


def numbered_place(words: Words) -> tuple[int, int] | None:
    """Where a place is called by its number beside a raker or an insertion: "building seven". It must count nothing."""
    table = surroundings()
    for i, word in enumerate(words[:-1]):
        start = i + 1 + (words[i + 1 : i + 2] == ("number",))
        end = _run_end(words, start)
        goes_on = set(words[end : end + 1]) & (_UNITS | table.counted)
        known = table.rakers & set(words) or words[end : end + 1] == (PAUSE,)
        if word in table.numbered | table.numbered_too and known and not goes_on and 0 < end - start <= _MOST_FIGURES:
            return i, end
    return None


def far_place(words: Words) -> tuple[int, int] | None:
    """Where it is said how far from something a raker stands: "four feet from the corner". Only beside the name of the
    insertion, whose own length it is not."""
    if "insertion" not in words:
        return None
    for unit in (i for i, word in enumerate(words) if word in _LENGTHS):
        end, start = _landmark_end(words, unit + 1), _run_start(words, unit)
        number = words[start:unit]
        if end and 0 < len(number) <= _MOST_FIGURES and _is_one(number) and not _names_it(words, start):
            return start, end
    return None


def _landmark_end(words: Words, start: int) -> int:
    """Where "from the north corner" ends; 0 where it is not said there."""
    table = surroundings()
    named = phrase_at(table.away_from, words, start)
    if named == start:
        return 0
    named += bool(table.articles & set(words[named : named + 1]))
    ends = (phrase_at(table.landmarks, words, at) for at in range(named, named + _MOST_NAMES))
    return next((end for at, end in enumerate(ends, named) if end > at), 0)


def _is_one(run: Words) -> bool:
    """Whether words of numbers are one number: "sixty two" may be an angle, and two feet."""
    return not any(run[:n] in ANGLES and len(run) > n for n in (1, 2))


def _names_it(words: Words, start: int) -> bool:
    while start and words[start - 1] in {"insertion", "point", "height", "at", "is", "of"}:
        start -= 1
        if words[start] in ("insertion", "height"):
            return True
    return False


def _run_end(words: Words, start: int) -> int:
    return next((i for i in range(start, len(words)) if words[i] not in NUMBER_WORDS), len(words))


def _run_start(words: Words, end: int) -> int:
    return next((i for i in range(end, 0, -1) if words[i - 1] not in NUMBER_WORDS), 0)


def with_pauses(words: Words, parted: frozenset[tuple[str, str]]) -> Words:
    """The words with a word that says nothing where a comma parts the number of a place from a figure, or a figure from
    how far a place is: "position two, nine feet", "sixty, eight feet from the corner"."""
    numbered = surroundings().numbered | surroundings().numbered_too | {"position", "number"}
    paused: list[str] = []
    for i, word in enumerate(words):
        if i and (words[i - 1], word) in parted and {words[i - 1], word} <= NUMBER_WORDS:
            label = words[_run_start(words, i) - 1] if _run_start(words, i) else ""
            unit = _run_end(words, i)
            away = "insertion" in words and phrase_at(surroundings().away_from, words, unit + 1) > unit + 1
            paused += [PAUSE] if label in numbered or away else []
        paused.append(word)
    return tuple(paused)


def of_a_landmark(words: Words, parts: Iterable[Span]) -> bool:
    """Whether the kind of shore is a door or a window that only tells where it stands: "by the garage door"."""
    kinds = [part for part in parts if part.name == "kind" and part.value in ("door", "window")]
    where = landmark(words) if kinds else None
    return where is not None and any(where[0] <= part.start < where[1] for part in kinds)


def without_openings(words: Words) -> tuple[Words, Words]:
    """The words of a raker without a door or a window that is only told of ("there's a door in the way"); and those."""
    table = surroundings()
    if not table.openings & set(words) or not means_a_raker(words):
        return words, ()
    place = range(*(landmark(words) or (0, 0)))
    out = [i for i, word in enumerate(words) if word in table.openings and i not in place and _is_told_of(words, i)]
    return tuple(word for i, word in enumerate(words) if i not in out), tuple(words[i] for i in out)


def _is_told_of(words: Words, at: int) -> bool:
    start = at - bool(surroundings().articles & set(words[at - 1 : at]))
    there = start > 1 and words[start - 2 : start] in (("there", "is"), ("there", "are"))
    return there or phrase_at(surroundings().told_of, words, at + 1) > at + 1


def is_an_opening(words: Words) -> bool:
    """Whether a door or a window is said to be shored: "door shore", "shore up the window"."""
    table = surroundings()
    named = any(a in table.openings and b in table.shored for a, b in pairwise(words))
    return named or any(words[i : i + 2] == ("shore", "up") for i in range(len(words)))


# --- what the wall and the ground are made of


def wall_of_a_material(words: Words) -> tuple[int, int] | None:
    """Where a wall is named by what it is made of: "concrete block wall"."""
    table = surroundings()
    for i, word in enumerate(words):
        start = i
        while start and words[start - 1] in table.materials:
            start -= 1
        if word == "wall" and start < i and not table.of_a_part & set(words[i + 1 : i + 2]):
            return start, i + 1
    return None


def tells_the_material(words: Words) -> bool:
    """"The wall is made of concrete"."""
    table = surroundings()
    for i, word in enumerate(words):
        end = i + 1
        while end < len(words) and words[end] in table.made_of:
            end += 1
        if word == "wall" and words[i + 1 : i + 2] == ("is",) and table.materials & set(words[end : end + 1]):
            return True
    return False


def ground_of_a_wall(words: Sequence[str]) -> bool:
    """"Concrete wall eight inches thick": the ground, and the wall's thickness; or what the wall is made of."""
    at = (i for i, pair in enumerate(pairwise(words)) if pair == ("concrete", "wall"))
    return any(words[i - 1 : i] != ("on",) and NUMBER_WORDS & set(words[i + 2 : i + 3]) for i in at)
