"""What is left of a callout in people's own words without those that say nothing (`grammars/freely.toml`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from rapidfuzz import fuzz, process

from callout.files import data_folder, read_toml
from callout.language import grammar
from callout.language.numerals import DIGITS, NUMBER_WORDS
from callout.language.surroundings import far_place, landmark, numbered_place, wall_of_a_material

#: Stands between two figures that something was taken out between.
_PAUSE = "pause"
#: Stands after a number of rakers that is wanted.
_WANTED = "wanted"
_LONGEST_PLACE = 2  # words


@dataclass(frozen=True)
class FreeWords:
    """The lists of `grammars/freely.toml`; what each is for stands there."""

    light: frozenset[str]
    sounds: frozenset[str]
    corrects: frozenset[str]
    never: frozenset[str]
    shores: frozenset[str]
    before_a_place: frozenset[str]
    spots: frozenset[str]
    before_an_angle: frozenset[str]
    speaks: frozenset[str]
    announces: frozenset[str]
    changes: frozenset[str]
    takes_numbers: frozenset[str]
    beside_a_number: frozenset[str]
    vague: frozenset[str]
    bounds: frozenset[str]
    bounds_or_corrects: frozenset[str]
    uncounted: frozenset[str]
    shores_up: frozenset[str]
    tells: frozenset[str]
    asks: frozenset[str]
    before_a_question: frozenset[str]
    polite: frozenset[str]
    rooms: frozenset[str]
    between_values: frozenset[str]
    takes_back: frozenset[str]
    relative: frozenset[str]
    other_shores: frozenset[str]
    called: Mapping[str, str]
    part_named: Mapping[str, str]

    @cached_property
    def longest(self) -> int:
        """Words in the longest light phrase."""
        return max(len(phrase.split()) for phrase in self.light)


def says_one_of(phrases: frozenset[str], words: Iterable[str]) -> bool:
    """Whether one of the phrases stands among the words."""
    said = f" {' '.join(words)} "
    return any(f" {phrase} " in said for phrase in phrases)


@dataclass(frozen=True)
class Stripped:
    """The words left, and of each where it stood; the words of a place named freely, and where; the unknown ones."""

    words: tuple[str, ...]
    at: tuple[int, ...]
    place: tuple[int, int] | None
    unknown: tuple[str, ...]


def stripped_of(words: tuple[str, ...], table: FreeWords, light: set[int]) -> Stripped:
    """The words of a callout, with a pause where two figures were parted, or a number from what it counts ("four
    storeys, raker" are no four rakers), or from a team ("the team, we make three raker")."""
    known = grammar.load().free_words
    place = _free_place(words, known, table)
    left: list[str] = []
    at: list[int] = []
    unknown: list[str] = []
    parted = counted = False
    crews = grammar.load().crew_words
    for i, word in enumerate(words):
        if word in table.sounds:
            continue
        if (place is not None and place[0] <= i < place[1]) or i in light:
            parted = True
        elif word in table.corrects or word not in known:
            unknown += [] if word in table.corrects else [word]
            counted = counted or (not parted and word not in table.corrects and bool(NUMBER_WORDS & set(left[-1:])))
            parted = True
        else:
            if parted and left and (left[-1] in _FIGURES or left[-1] in crews) and (word in _FIGURES or counted):
                left.append(_PAUSE)
                at.append(i)
            counted = False
            left.append(word)
            at.append(i)
            parted = _are_wanted(words, i)
            if parted:
                left.append(_WANTED)
                at.append(i)
    return Stripped(tuple(left), tuple(at), place, tuple(dict.fromkeys(unknown)))


def _are_wanted(words: tuple[str, ...], i: int) -> bool:
    """"We need two at eleven feet": a number that is wanted, of what need not be said."""
    asked = bool(_BEFORE_WHAT_IS_WANTED & set(words[i - 1 : i])) or words[max(0, i - 2) : i] == ("make", "it")
    goes_on = words[i + 1 : i + 2] in (("at",), ("on",), ("up",), ("with",))
    ends = i == len(words) - 1 and bool(NUMBER_WORDS & set(words[: i - 1]))
    return asked and words[i] in DIGITS[2:9] and (goes_on or ends)


_BEFORE_WHAT_IS_WANTED = frozenset({"need", "want", "me", "us", "do", "build", "have", "sole", "soles", "shore"})


_NTH = frozenset({"second", "third", "fourth"})
_LEANS = frozenset({"lean", "leaning", "leans"})


def light_places(words: tuple[str, ...], table: FreeWords) -> set[int]:
    """The places of words that say nothing here. "Out" and "by" belong to a lean, "for" to a crew."""
    found: set[int] = set()
    crews = grammar.load().crew_words
    for i, word in enumerate(words):
        for n in range(1, table.longest + 1):
            if " ".join(words[i : i + n]) in table.light and not _cuts_a_number(words, i, i + n):
                found.update(range(i, i + n))
        leans = bool(_LEANS & set(words[max(0, i - 2) : i])) or words[i + 1 : i + 3] == ("of", "plumb")
        counts = word == "by" and i > 0 and {words[i - 1], *words[i + 1 : i + 2]} <= NUMBER_WORDS
        calls = word == "for" and bool((crews | _NTH) & set(words[i + 1 : i + 2]))
        counted = bool(set(words[i - 1 : i]) & set(DIGITS[2:])) and words[i + 1 : i + 2] != ("the",)
        pieces = word in ("off", "pieces") and counted
        if (word in ("out", "by") and (leans or counts)) or calls or pieces:
            found.discard(i)
    return found


def _free_place(words: tuple[str, ...], known: frozenset[str], table: FreeWords) -> tuple[int, int] | None:
    """Where a place is named in words of its own: "by the entrance", "left of the stairs", "chapel wall", "front
    entrance", "right of the window", "brick wall" -> from its first word to the end of the name."""
    named = far_place(words) or numbered_place(words) or landmark(words) or wall_of_a_material(words)
    if named is not None:
        return named
    for i, word in enumerate(words):
        if i and word in _OF_A_WALL and _may_name(words[i - 1], known, table) and not _is_a_verb(words[i - 1]):
            return i - 1, i + 1
        spot = words[i + 1 : i + 2] == ("of",) and word in table.spots
        if spot or word in table.before_a_place:
            start = i + 2 if spot else i + 1
            start += words[start : start + 1] in (("the",), ("that",), ("our",))
            end = start
            while end < len(words) and end - start < _LONGEST_PLACE and _may_name(words[end], known, table):
                end += 1
            if end > start > i + 1:
                return i, end
        if words[i + 1 : i + 2] and f"{word} {words[i + 1]}" in table.rooms:
            return i, i + 2
        if word in table.rooms and words[i + 1 : i + 2] != ("is",):
            return (i - 1 if words[i - 1 : i] and words[i - 1] in table.spots | {"main"} else i), i + 1
    return None


def _cuts_a_number(words: tuple[str, ...], start: int, end: int) -> bool:
    """Whether a phrase begins or ends within a number ("twenty one here"), or counts rakers ("want one raker")."""
    counts = words[end - 1 : end] == ("one",) and words[end : end + 1] in (("raker",), ("shore",))
    return counts or any(0 < i < len(words) and set(words[i - 1 : i + 1]) <= NUMBER_WORDS for i in (start, end))


_OF_A_WALL = frozenset({"wall", "side", "elevation", "gable"})


def _is_a_verb(word: str) -> bool:
    """"The leaning wall", "moving side": what it does, and no name."""
    return word.endswith("ing")


def _may_name(word: str, known: frozenset[str], table: FreeWords) -> bool:
    return word not in known and not any(word in words for words in (table.light, table.sounds, table.corrects))


#: Words between which a gap must be kept: joined, they could make another number.
_FIGURES = NUMBER_WORDS | {
    "feet", "foot", "inch", "inches", "metre", "metres", "half", "quarter", "quarters", "and", "a",
}


@lru_cache(maxsize=4096)
def is_a_slip(word: str) -> bool:
    """Whether an unknown word may be a slip in a word of a callout ("elevn"): left out, its part would be lost."""
    return process.extractOne(word, _MAY_SLIP, scorer=fuzz.ratio, score_cutoff=_CLOSE) is not None


_CLOSE = 75.0  # rapidfuzz ratio
_MAY_SLIP = sorted(NUMBER_WORDS | {
    "feet", "foot", "inches", "inch", "metres", "metre", "centimetres", "millimetres", "degrees", "degree", "angle",
    "insertion", "rakers", "flying", "split", "solid", "spacing", "centers", "cribbing", "window", "laced", "vertical",
    "horizontal",
})  # fmt: skip


@lru_cache(maxsize=1)
def free_words() -> FreeWords:
    rows = read_toml(data_folder("grammars") / "freely.toml")
    lists = {name: frozenset(said) for name, said in rows.items() if isinstance(said, list)}
    return FreeWords(**lists, called=rows["called"], part_named=rows["part_named"])
