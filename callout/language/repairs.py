"""What a speaker mends in the same breath, before his callout is read: a value taken back ("eleven, no, twelve feet"),
said twice ("sixteen feet, I say again one six"), or given its unit elsewhere ("fourteen at sixty, feet that is").

Words go in and words come out: a value that stays was said; a unit that is put in was said of another length, or is
the unit of the readback that waits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache

from callout.language import grammar
from callout.language.light_words import free_words
from callout.language.numerals import ANGLES, DIGITS, NUMBER_WORDS, TENS, digit_words, grouped_words
from callout.language.pronunciation import are_twins

Words = tuple[str, ...]

COARSE = frozenset({"feet", "foot", "metre", "metres"})
DEGREES = frozenset({"degree", "degrees", "angle"})
UNITS = COARSE | {"inch", "inches", "centimetre", "centimetres", "millimetre", "millimetres"}
_MEASURED = UNITS | DEGREES
_IN_A_NUMBER = NUMBER_WORDS | {"and", "a", "half", "quarter", "quarters"}
#: What makes a length the distance between rakers.
_OF_SPACING = frozenset({"apart", "between", "center", "centers", "gap"})
_NAMES_SPACING = frozenset({"spacing", "spaced", "space", "distance"})
_MOST_METRES = 12
_MOST_FEET = 40


def mended(words: Words) -> Words:
    """The words with one value of each part, as far as the speaker mended it himself."""
    for step in (plain_numbers, _without_what_was_dropped, _without_echo, _taken_back, _without_echo, _unit_named_last,
                 _unit_afterwards, _unit_of_another):  # fmt: skip
        words = step(words)
    return words


# --- numbers among words


def number_after(words: Words, start: int) -> int:
    """Where the run of number words ends that begins there."""
    end = start
    while end < len(words) and words[end] in NUMBER_WORDS:
        end += 1
    return end


def number_runs(words: Words) -> list[tuple[int, int]]:
    """Where each run of number words begins and ends."""
    return [(i, number_after(words, i)) for i, word in enumerate(words)
            if word in NUMBER_WORDS and (i == 0 or words[i - 1] not in NUMBER_WORDS)]  # fmt: skip


@lru_cache(maxsize=1)
def _values() -> dict[Words, int]:
    """Whole numbers as they are said in one go or digit by digit."""
    return {**{digit_words(n): n for n in range(100)}, **{grouped_words(n): n for n in range(100)}}


def values_at(words: Words, start: int) -> list[tuple[int, int]]:
    """The whole numbers below a hundred that begin there, and where each ends, longest first."""
    return [(value, start + n) for n in (2, 1) if start + n <= len(words)
            and (value := _values().get(words[start : start + n])) is not None]  # fmt: skip


def bare_numbers(words: Words) -> list[tuple[int, int]]:
    """The runs of number words that have no unit and no counted thing after them, and are no angle of practice."""
    found = []
    start = 0
    while start < len(words):
        end = number_after(words, start)
        if end == start:
            start += 1
            continue
        after = words[end : end + 1]
        counted = after and (after[0] in _MEASURED or after[0] in _COUNTED)
        if not counted and words[start:end] not in ANGLES and words[start - 1 : start] not in _BEFORE_NO_LENGTH:
            found.append((start, end))
        start = end
    return found


_COUNTED = frozenset({
    "raker", "rakers", "shore", "shores", "flying", "solid", "split", "soles", "flyers", "of", "by", "hundred",
    "thousand", "pound", "pounds", "and", "times", "off", "more", "pieces",
})  # fmt: skip
_BEFORE_NO_LENGTH = tuple((word,) for word in (
    "feet", "foot", "metre", "metres", "angle", "team", "position", "times", "quantity", "build", "number", "item",
    "rakers", "shores", "need", "want", "have", "give", "me", "us",
))  # fmt: skip


# --- each repair


def plain_numbers(words: Words) -> Words:
    """"Three comma five metres", "an eleven footer", "metres three point two", "metres, five metres", without the "oh"
    that is no digit."""
    plain: list[str] = []
    for i, word in enumerate(words):
        before, after = words[i - 1 : i], words[i + 1 : i + 2]
        inside = bool(before and after) and {before[0], after[0]} <= NUMBER_WORDS
        if word == "oh" and not (before and (before[0] in NUMBER_WORDS or set(after) & NUMBER_WORDS)):
            continue
        if word == "a" and after in (("metre",), ("foot",)) and not (before and before[0] in _IN_A_NUMBER):
            plain.append("one")  # "about a metre high"
            continue
        if word == "hundred" and not (before and before[0] in _IN_A_NUMBER):
            plain.append("one")  # "hundred and twenty inches"
        is_foot = word == "footer" and before and before[0] in NUMBER_WORDS
        plain.append("point" if word == "comma" and inside else "foot" if is_foot else word)
    return _units_behind(tuple(plain))


def _units_behind(words: Words) -> Words:
    for i, word in enumerate(words[:-1]):
        end = number_after(words, i + 1)
        if word not in COARSE or i + 1 == end or (i and words[i - 1] in _IN_A_NUMBER):
            continue
        after = words[end : end + 1]
        if after and _named(after) == _named((word,)):
            return (*words[:i], *words[i + 1 :])
        if not (after and after[0] in _MEASURED | _COUNTED):
            return (*words[:i], *words[i + 1 : end], word, *words[end:])
    return words


_DROPPED = frozenset({"dropped", "forgot", "missed", "lost", "add"})


def _without_what_was_dropped(words: Words) -> Words:
    """"You dropped the six inches, it is eleven six": what lacked is part of the value that follows."""
    at = next((i for i, word in enumerate(words) if word in _DROPPED), None)
    if at is None:
        return words
    start = at + 1 + (words[at + 1 : at + 2] == ("the",))
    end = number_after(words, start)
    if start == end and words[end : end + 1] and words[end] in _MEASURED:
        return (*words[:at], "correction", *words[end + 1 :])  # "you dropped the inches"
    if words[end : end + 1] not in (("inches",), ("inch",)):
        return words
    inches, rest = words[start:end], words[end + 1 :]
    if inches and any(rest[i : i + len(inches)] == inches for i in range(1, len(rest))):
        return (*words[:at], "correction", *rest)
    return words


def without_its_twin(words: Words) -> Words:
    """"Fifteen feet, not fifty" without the number that sounds like the one said before it: it stresses that one."""
    at = words.index("not")
    end = number_after(words, at + 1)
    unit = bool(UNITS & set(words[at - 1 : at]))
    start = _number_before(words, at - unit)
    whole = any(stop == end for _, stop in values_at(words, at + 1))
    said = (words[i : at - unit] for i in range(start, at - unit))
    if not whole or not any(are_twins(number, words[at + 1 : end]) for number in said):
        return words
    both = unit and words[end : end + 1] and _named(words[end : end + 1]) == _named(words[at - 1 : at])
    return (*words[:at], *words[end + bool(both) :])


_SAID_AGAIN = frozenset({"that", "thats", "is", "i", "say", "said", "again", "repeat", "so", "yeah", "yes",
                         "spell", "spelled", "figures", "digits"})


def _without_echo(words: Words) -> Words:
    """"Seven feet, that's seven"; "thirteen, one three"; "sixteen, sixteen feet"."""
    starts = (i for i, word in enumerate(words) if word in NUMBER_WORDS and words[i - 1 : i] not in _NUMBER)
    for start in starts:
        for value, end in values_at(words, start):
            without = _without_second(words, start, value, end)
            if without is not None:
                return _without_echo(without)
    return words


def _without_second(words: Words, begin: int, value: int, end: int) -> Words | None:
    """The words without the same value once more, where it follows, with the unit of one of them."""
    unit = _unit_at(words, end)
    start = end + len(unit)
    while words[start : start + 1] and words[start] in _SAID_AGAIN:
        start += 1
    for second, stop in values_at(words, start):
        after = _unit_at(words, stop)
        joined = start == end + len(unit)
        other_unit = after and unit and _named(after) != _named(unit)
        named = words[stop + len(after) : stop + len(after) + 1]
        of_another = bool(named) and (named[0] in _OF_SPACING or (not after and named[0] in _COUNTED - {"and"}))
        if second != value or other_unit or of_another or _goes_on(words, start, stop):
            continue
        if not joined or _no_other_number(value, words[start:stop], after, unit):
            return (*words[:end], *(unit or after), *words[stop + len(after) :])
    return None


def _goes_on(words: Words, start: int, end: int) -> bool:
    """Whether a number goes on there: "seven and a half". "One four" does not before "sixty"."""
    after = words[end : end + 2]
    if end - start == 2 and words[end - 1] in DIGITS and words[start] in DIGITS and set(after[:1]) & set(TENS[3:]):
        return False
    return bool(after) and (after[0] in NUMBER_WORDS or (after[0] == "and" and bool(set(after[1:]) & _IN_A_NUMBER)))


def _unit_at(words: Words, place: int) -> Words:
    return words[place : place + 1] if words[place : place + 1] and words[place] in _MEASURED else ()


def _named(units: Iterable[str]) -> set[str]:
    """"Foot" and "feet" are one unit."""
    return {_ONE_NAME.get(unit, unit) for unit in units}


_ONE_NAME = {"foot": "feet", "metre": "metres", "inch": "inches", "degree": "degrees"}


def _no_other_number(value: int, again: Words, after: Words, unit: Words) -> bool:
    """Whether a number and the same once more, without a word between, can be nothing but one said twice: "eleven
    eleven" may be feet and inches, "one one" a number."""
    if value > 11:
        return True
    if unit:
        return len(again) > 1  # "ten feet one zero"
    return (value > 4 and after in (("foot",), ("feet",))) or (value == 10 and len(again) > 1)


def _taken_back(words: Words) -> Words:
    """"Eleven no twelve feet" without the number that was taken back: what follows has its unit, or it had none; or it
    is the same once more."""
    for i in range(1, len(words) - 1):
        next_at = _after_taking_back(words, i)
        if next_at is None:
            continue
        end = _measure_after(words, next_at)
        units = _named(_MEASURED & set(words[next_at:end]))
        if words[i - 1] in DEGREES and any(words[next_at : next_at + n] in ANGLES for n in (1, 2)):
            units = {"degrees"}  # "sixty degrees no forty five, eleven feet"
        if (words[end : end + 1] and words[end] in _OF_SPACING) or words[next_at - 1] in _NAMES_SPACING:
            continue
        for start in {measure_before(words, i): None, _last_number_before(words, i): None}:
            had = _named(_MEASURED & set(words[start:i]))
            if start < i and (not had or had <= units or (had & COARSE and units & COARSE)):
                return _taken_back((*words[:start], *words[next_at:]))
            if start < i and not units and _same_number(words[start:i], words[next_at:end]):
                return _taken_back((*words[:i], *words[end:]))
    return words


def _after_taking_back(words: Words, start: int) -> int | None:
    """Where the number begins for which the one before is taken back."""
    if words[start - 1] not in _IN_A_NUMBER | _MEASURED:
        return None
    end = start
    table = free_words()
    while end < len(words) and words[end] in table.between_values:
        end += 1
    if end == len(words) or words[end] not in NUMBER_WORDS or not table.takes_back & set(words[start:end]):
        return None
    return end


def _same_number(before: Words, after: Words) -> bool:
    return tuple(w for w in before if w not in UNITS) == after


def measure_before(words: Words, end: int) -> int:
    """Where the length or angle begins that ends there: with feet or metres before inches, and with one unit else."""
    start = _last_number_before(words, end)
    if words[start - 1 : start] and words[start - 1] in COARSE and not DEGREES & {words[end - 1]}:
        start = _number_before(words, start - 1)
    return start


def _last_number_before(words: Words, end: int) -> int:
    return _number_before(words, end - (words[end - 1] in _MEASURED))


def _number_before(words: Words, end: int) -> int:
    while end > 0 and words[end - 1] in _IN_A_NUMBER:
        end -= 1
    return end


def _measure_after(words: Words, start: int) -> int:
    end = start
    while end < len(words) and words[end] in _IN_A_NUMBER | _MEASURED:
        end += 1
    return end


# --- units that stand elsewhere

_AFTERTHOUGHT = (("that", "is"), ("i", "mean"))


def _unit_named_last(words: Words) -> Words:
    """"One point eight apart, in metres": the unit of what has none, or said once more."""
    if words[-2:-1] != ("in",) or words[-1] not in COARSE:
        return words
    unit, rest = words[-1], words[:-2]
    return rest if _named((unit,)) & _named(COARSE & set(rest)) else in_the_unit(rest, unit, lambda number: True)


def _unit_afterwards(words: Words) -> Words:
    """"Fourteen at sixty degrees, feet that is": the number that has no unit is meant."""
    for i, word in enumerate(words):
        if word not in COARSE or words[i + 1 : i + 3] not in _AFTERTHOUGHT or not i:
            continue
        loose = words[i - 1] not in NUMBER_WORDS or _is_too_long(words, i)
        numbers = bare_numbers(words[:i]) if loose else []
        if len(numbers) == 1 and numbers[0][1] < i:
            end = numbers[0][1]
            return (*words[:end], word, *words[end:i], *words[i + 3 :])
    return words


def _is_too_long(words: Words, end: int) -> bool:
    """Whether the angle that stands before a unit is no height in it: "at forty five, metres I mean"."""
    start = next((end - n for n in (2, 1) if words[max(0, end - n) : end] in ANGLES), None)
    values = [] if start is None else values_at(words, start)
    return bool(values) and values[0][0] > (_MOST_METRES if words[end].startswith("metre") else _MOST_FEET)


def _unit_of_another(words: Words) -> Words:
    """"Thirteen feet with eight between": a distance without a unit has that of the height."""
    units = {word for word in words if word in COARSE or word.startswith("millimetre")}
    if len({unit[0] + unit[-1] if unit.startswith("mil") else unit[0] for unit in units}) != 1:
        return words
    return with_unit_of_spacing(words, next(iter(units)))


def with_unit_of_spacing(words: Words, unit: str) -> Words:
    """The words with `unit` after each distance between rakers that has none."""
    for start, end in reversed(number_runs(words)):
        after, before = words[end : end + 1], words[max(0, start - 2) : start]
        after = words[end + 1 : end + 2] if after in (("on",), ("hundred",)) else after
        of_spacing = (after and after[0] in _OF_SPACING) or (
            _NAMES_SPACING & set(before) and not (after and after[0] in _MEASURED | NUMBER_WORDS)
        )
        goes_on = words[end : end + 1] == ("and",) and bool({"half", "quarter"} & set(words[end + 1 : end + 3]))
        if of_spacing and not goes_on and words[start - 1 : start] not in _AFTER_A_UNIT:
            words = (*words[:end], unit, *words[end:])
    return words


_AFTER_A_UNIT = tuple((word,) for word in COARSE)
_NUMBER = tuple((word,) for word in NUMBER_WORDS)


def in_the_unit(words: Words, unit: str, may_be: Callable[[Words], bool]) -> Words:
    """The words with `unit` after the one number that has none, if there is just one and it may be a height."""
    numbers = [(start, end) for start, end in bare_numbers(words) if may_be(words[start:end])]
    if len(numbers) != 1:
        return words
    end = numbers[0][1]
    return (*words[:end], unit, *words[end:])


def without_asides(words: Words) -> tuple[Words, tuple[str, ...]]:
    """The words without what is said beside a callout and denies or asks nothing of it ("not ideal"); and that."""
    kept: list[str] = []
    aside: list[str] = []
    i = 0
    while i < len(words):
        end = i + grammar.load().aside_at(words, i)
        if end == i:
            kept.append(words[i])
        else:
            aside.append(" ".join(words[i:end]))
            kept += ["angle"] if "angle" in words[i:end] else []
        i = max(end, i + 1)
    return tuple(kept), tuple(aside)
