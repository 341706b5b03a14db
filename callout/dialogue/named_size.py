"""The name of a stock line taken apart for the voice: the thing, and the size by which people name it.

A count is said before the thing and the size after it, so that no figure of a size stands beside a count: two of
"8 ft strut" are "two struts, eight feet".
"""

from __future__ import annotations

import re

from callout.dialogue.speakable import MEASURED, text
from callout.language.numerals import grouped_words
from callout.language.speak import FRACTION_NAMES, UNITS, before_a_thing

#: A unit in front of a thing, and by itself: "six foot strut", "strut, six feet".
_MANY = {**UNITS, **{one: f"{one}s" for one in MEASURED}, "penny": "penny"}
_UNITS_SAID = {*_MANY, *_MANY.values()}
_FRACTIONS = {word for name in FRACTION_NAMES.values() for word in (name, f"{name}s")}
_NUMBERS = {word for number in (*range(21), 30, 40, 50, 60, 70, 80, 90, 100, 1000) for word in grouped_words(number)}
_BETWEEN = {"and", "point", "by"}
_SIZE_WORDS = _NUMBERS | _FRACTIONS | _UNITS_SAID | _BETWEEN

#: A figure alone at the end of a name is no size: "rescue strut 2".
NUMBERED = "number "
_STOPS = ",;:.!?"


def thing_and_size(written: str) -> tuple[str, str, str]:
    """What it is, the size before it in the name, and the size after it: ("strut", "six feet", ""), ("timber", "two by
    six", "twelve feet"), ("strut", "", "number two"). The thing is "piece" where the name is a size alone."""
    words = text(re.sub(r"(?<=\d) ?[x\u00d7] ?(?=\d)", "x", written)).split()
    bare = [word.rstrip(_STOPS) for word in words]
    start, end = 0, len(bare)
    while start < end and bare[start] in _SIZE_WORDS:
        start += 1
    start = start if _is_size(bare[:start]) else 0
    while end > start and bare[end - 1] in _SIZE_WORDS:
        end -= 1
    end = end if _is_size(bare[end:]) and bare[end] not in _BETWEEN else len(bare)
    thing = before_a_thing(" ".join(words[start:end])).rstrip(_STOPS)
    lead, tail = _alone(bare[:start]), _alone(bare[end:])
    return thing or "piece", lead, f"{NUMBERED}{tail}" if tail and set(tail.split()) <= _NUMBERS else tail


def _is_size(words: list[str]) -> bool:
    """A size has a figure: "foot plate", "half gusset" and "left foot" have none, "half inch plywood" has."""
    return bool(_NUMBERS.intersection(words)) or bool(_FRACTIONS.intersection(words[:-1]) and words[-1] in _UNITS_SAID)


def _alone(size: list[str]) -> str:
    """A size by itself: "six foot" -> "six feet"."""
    if size and size[-1] in _MANY and size[:-1] != ["one"]:
        return " ".join([*size[:-1], _MANY[size[-1]]])
    return " ".join(size)


def ends_in_a_unit(size: str) -> bool:
    return bool(size) and size.split()[-1] in _UNITS_SAID


def apart(size: str) -> bool:
    """Whether what stood before a thing is surely a size, so that the thing may be said without it."""
    words = size.split()
    return not words or ends_in_a_unit(size) or "by" in words or words[-1] in _FRACTIONS
