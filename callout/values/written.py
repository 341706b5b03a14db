"""Lengths as they stand in a data file: "11 ft 6 1/2 in", "3 1/2 in", "3.35 m", "90 mm". The inverse of `Length.text`.

What a person says or types on the command line goes through the language room instead.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from callout.values.length import PER_FOOT, PER_INCH, PER_MM, Length

_UNITS = {"ft": PER_FOOT, "in": PER_INCH, "mm": PER_MM, "cm": 10 * PER_MM, "m": 1000 * PER_MM}
_FIGURE = re.compile(r"\s*(?:(\d+)\s+)?(\d+/\d+|\d+(?:\.\d+)?)\s*(ft|in|mm|cm|m)\b")


def written_length(text: str) -> Length:
    """The exact length that `text` names. ValueError if it is not a length, or not a whole number of 1/80 mm."""
    sign, rest = (-1, text.strip()[1:]) if text.strip().startswith("-") else (1, text)
    total, at, last = Fraction(0), 0, None
    while at < len(rest.rstrip()):
        found = _FIGURE.match(rest, at)
        if found is None or (last is not None and _UNITS[found[3]] >= last):
            raise ValueError(f"{text!r} is not a length; write it like 11 ft 6 1/2 in, or 3.35 m")
        if found[2].endswith("/0"):
            raise ValueError(f"{text!r} divides by zero")
        last = _UNITS[found[3]]
        total += (int(found[1] or 0) + Fraction(found[2])) * last
        at = found.end()
    if last is None:
        raise ValueError("an empty length; write it like 11 ft 6 1/2 in, or 3.35 m")
    if total.denominator != 1:
        raise ValueError(f"{text!r} is finer than a sixteenth of an inch or a millimetre can say")
    return Length(sign * int(total))


def _read(value: Any) -> Any:
    return written_length(value) if isinstance(value, str) else value


#: A pydantic field that takes a length as text in a data file.
WrittenLength = Annotated[
    Length,
    BeforeValidator(_read),
    WithJsonSchema({"type": "string", "examples": ["6 ft", "3 1/2 in", "2.5 m"]}, mode="validation"),
]
