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
