"""What may be another thing than the callout or the correction it was read as: "no raker at eleven feet" may refuse the
raker, "make it three" may count rakers, "no soil" denies the soil. What is left open is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from callout.language import limits
from callout.language.context import Context
from callout.language.doubtful import Pairs
from callout.language.light_words import free_words, says_one_of
from callout.language.numerals import NUMBER_WORDS
from callout.language.outcome import Ambiguous, NotUnderstood, Resolution, Understood
from callout.language.parse import Reading, correction
from callout.language.pronunciation import are_twins
from callout.language.repairs import UNITS, number_after, number_runs, values_at
from callout.language.surroundings import ground_of_a_wall
from callout.values import Callout, Command, Length, Meaning
from callout.values.length import PER_FOOT, PER_INCH, PER_MM, PER_SIXTEENTH


class Doubt(NamedTuple):
    """The part to ask for, and why."""

    ask: str
    reason: str


_SHORES = frozenset({"raker", "rakers", "shore", "shores"})
_WANTS = frozenset({"need", "want"})
_BESIDE_A_COUNT = frozenset({"i", "we", "not", "no", "it", "is", "but"})
_NAMES_THE_HEIGHT = frozenset({"insertion", "height", "high", "up"})
_MAY_STAND_BEFORE = frozenset({"a", "an", "the", "any", "on", "box"})
#: Whole feet below it are likelier a count than a height: "make it three".
_LEAST_FEET = 4
_FEET = frozenset({"feet", "foot"})
_INCH = frozenset({"inch", "inches"})


def refused(words: Sequence[str], result: Resolution | None) -> NotUnderstood | None:
    """What may refuse or count, and is no correction: "no raker at eleven feet", "I need five, not four"; and a ground
    that may be the wall's: "concrete wall eight inches thick"."""
    meaning = result.meaning if isinstance(result, Understood) else None
    called = meaning if meaning is None or isinstance(meaning, Callout) else meaning.patch
    if called is not None and called.ground == "pavement" and ground_of_a_wall(words):
        return NotUnderstood(tuple(words), (), ("ground",), reasons=(limits.complaints()["material"].reason,))
    if not isinstance(meaning, Command) or meaning.patch is None:
        return None
    said = set(words)
    if words[0] == "no" and _SHORES & set(words[1:2]):
        reason = f'"no {words[1]}" may refuse it all: say negative, or correction and what is right'
        return NotUnderstood(tuple(words), ("negative",), reasons=(reason,))
    if set(meaning.patch.said) == {"insertion"} and said & _WANTS and said <= NUMBER_WORDS | _WANTS | _BESIDE_A_COUNT:
        return NotUnderstood(tuple(words), (), ("unit",), reasons=(limits.complaints()["no unit"].reason,))
    return None


def inches_alone(words: tuple[str, ...], reading: Reading, context: Context) -> Ambiguous | None:
    """Inches by themselves in a correction of a height in feet ("make that nine inches"): those of the height that was
    read back, or of another part? The whole height is asked for."""
    waiting = None if context.waiting is None else context.waiting.insertion
    meaning = reading.meaning
    said = meaning if isinstance(meaning, Callout) else meaning.patch
    if waiting is None or said is None or said.insertion is None or waiting.eightieths % PER_SIXTEENTH:
        return None
    if not Length.imperial(0) < said.insertion < Length.imperial(1) or not _INCH & set(words):
        return None
    if _NAMES_INCHES & set(words):
        return None
    feet = waiting.eightieths - waiting.eightieths % PER_FOOT
    whole = said.model_copy(update={"insertion": Length(feet + said.insertion.eightieths)})
    reason = "inches of which height? Say the feet and the inches"
    return Ambiguous((correction(whole),), "insertion", words, reading.meaning_parts, (reason,))


def asked_of(words: tuple[str, ...], reading: Reading, context: Context, parted: Pairs) -> Ambiguous | None:
    """What is asked of a callout or a correction before it is taken; None where nothing is left open. Between two words
    that are `parted` stands a comma: "no, soil" denies no soil."""
    doubt = _doubt_of(words, reading.meaning, context, parted)
    if doubt is None:
        return None
    meaning = _of_what_is_asked(reading.meaning, doubt)
    return Ambiguous((meaning,), doubt.ask, words, reading.meaning_parts, (doubt.reason,))


def _doubt_of(words: tuple[str, ...], meaning: Meaning, context: Context, parted: Pairs) -> Doubt | None:
    said = meaning if isinstance(meaning, Callout) else meaning.patch
    if said is None:
        return None
    if says_one_of(free_words().relative, words):
        return Doubt("rakers", "how many rakers are there then in all? Say their number")
    denied = _denied(words, said, context.waiting, parted)
    if denied is not None:
        return denied
    if context.waiting is not None and set(said.said) == {"insertion"} and said.insertion is not None:
        return _of_another_part(words, said.insertion, context.waiting)
    return None


def _of_what_is_asked(meaning: Meaning, doubt: Doubt) -> Meaning:
    """A correction of the height that may be one of the spacing leaves the height as it was read back."""
    if isinstance(meaning, Callout) or meaning.patch is None or doubt.ask != "spacing":
        return meaning
    length = meaning.patch.insertion
    return meaning if length is None else correction(Callout(spacing=length))


def _denied(words: tuple[str, ...], said: Callout, waiting: Callout | None, parted: Pairs) -> Doubt | None:
    """What is denied: "no flying raker" wants none. "Split sole, no, solid sole" corrects, and so does "no solid sole"
    where a split sole waits."""
    part_of = free_words().part_named
    for i, word in enumerate(words[:-1]):
        at = next((j for j in range(i + 1, len(words)) if words[j] not in _MAY_STAND_BEFORE), i)
        name = part_of.get(words[at])
        if word != "no" or name not in said.said or (word, words[i + 1]) in parted or words[i - 1 : i] == ("no",):
            continue
        instead = {part_of.get(before) for before in words[:i]} & ({"kind", "sole"} if name != "ground" else {name})
        was = None if waiting is None else waiting.said.get(name)
        if not instead and was in (None, said.said[name]):
            no = " ".join(words[i : at + 1])
            return Doubt(name, f'"{no}" may deny it, or correct to it: say what is right, without "no"')
    return None


def _of_another_part(words: tuple[str, ...], height: Length, waiting: Callout) -> Doubt | None:
    """Whether a correction of the height alone may be of the rakers or their spacing."""
    if set(words) & _NAMES_THE_HEIGHT or waiting.insertion is None:
        return None
    metric = bool(waiting.insertion.eightieths % PER_SIXTEENTH)
    if not metric and not set(words) & UNITS and height < Length.imperial(_LEAST_FEET):
        return Doubt("insertion", "feet of the insertion, or so many rakers? Say what it is of")
    if waiting.spacing is not None and {"them", "they"} & set(words):
        return Doubt("spacing", "the insertion, or the spacing? Say which")
    swapped = _swapped(words)
    if swapped is not None and not _was_read_back(words, swapped, waiting.insertion):
        if waiting.spacing is not None and _was_read_back(words, swapped, waiting.spacing):
            return Doubt("spacing", "the spacing? Say it, with its unit")
        return Doubt("insertion", "that number was not read back: say what is of what, with its unit")
    others = waiting.spacing is not None or waiting.rakers is not None
    if others and words.count("not") == 1 and not metric and _denies_another(words, words.index("not") + 1, waiting):
        return Doubt("spacing" if waiting.spacing is not None else "insertion", "of what? Say its name before it")
    return None


_INSTEAD = frozenset({("instead", "of"), ("place", "of"), ("rather", "than")})
_SWAPS = frozenset({"from", "change", "correct", "swap", "exchange", "replace"})
#: Inches after one of these have their name.
_NAMES_INCHES = frozenset({"insertion", "lean", "leaning", "leans"})


def _swapped(words: tuple[str, ...]) -> int | None:
    """Where the number stands that another takes the place of: "change fifteen to thirteen", "thirteen instead of
    fifteen"; None where no two numbers are said so."""
    runs = [start for start, _ in number_runs(words)]
    after = next((i + 2 for i, pair in enumerate(pairwise(words)) if pair in _INSTEAD), None)
    if after is not None:
        return next((start for start in runs if start >= after), None)
    runs = [start for start in runs if words[start - 1 : start] not in (("build",), ("number",))]
    if len(runs) != 2 or not {"to", "into", "a", "for", "with", "by"} & set(words):
        return None
    made = words[max(0, runs[0] - 2) : runs[0]] in (("make", "the"), ("make", "that"))
    return runs[0] if made or _SWAPS & set(words[: runs[0]]) else None


def _was_read_back(words: tuple[str, ...], at: int, length: Length) -> bool:
    """Whether the number that stands there is a figure of a length that was read back."""
    end = number_after(words, at)
    feet, rest = divmod(length.eightieths, PER_FOOT)
    unit = words[end] if words[end : end + 1] else ""
    figures = {feet} if unit in _FEET else {rest // PER_INCH} if unit in _INCH else {feet, rest // PER_INCH}
    if length.eightieths % PER_SIXTEENTH:
        figures = {length.eightieths // (1000 * PER_MM)}
    return any(value in figures for value, _ in values_at(words, at))


def _denies_another(words: tuple[str, ...], at: int, waiting: Callout) -> bool:
    """Whether the number that stands there, in feet or without a unit, is none of the height that was read back, and
    sounds like none said in its place: "six feet not eight", where eight feet were the spacing."""
    end = number_after(words, at)
    if words[end : end + 1] and words[end] in UNITS - _FEET:
        return False
    numbers = {value for value, stop in values_at(words, at) if stop == end}
    feet, rest = divmod(waiting.insertion.eightieths if waiting.insertion else 0, PER_FOOT)
    sounds = any(are_twins(words[a:b], words[at:end]) for a, b in number_runs(words) if a != at)
    return bool(numbers) and not sounds and not numbers & {feet, rest // PER_INCH}
