"""`Length`: an integer count of 1/80 mm, in which a sixteenth of an inch (127) and a millimetre (80) are both whole.

25.4 mm to the inch is exact by the International Yard and Pound agreement (1959), so
1/16 in = 1.5875 mm = 127/80 mm. Also lengths as they stand in a data file; what a person says or types on the command
line goes through the language room instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, GetCoreSchemaHandler, WithJsonSchema
from pydantic_core import core_schema

PER_MM = 80
PER_SIXTEENTH = 127
PER_INCH = 16 * PER_SIXTEENTH
PER_FOOT = 12 * PER_INCH


@dataclass(frozen=True, order=True)
class Length:
    """A length, exactly. `eightieths` may be negative (a lean toward the wall).

    Examples:
        >>> import callout
        >>> callout.Length.imperial(11, 6, 8).text, callout.Length.mm(3350).text
        ('11 ft 6 1/2 in', '3.35 m')
        >>> callout.Length.imperial(1) == 12 * callout.Length.imperial(0, 1)
        True
    """

    eightieths: int

    @classmethod
    def imperial(cls, feet: int = 0, inches: int = 0, sixteenths: int = 0) -> Length:
        """Feet, inches and sixteenths of an inch, each a whole number."""
        return cls(feet * PER_FOOT + inches * PER_INCH + sixteenths * PER_SIXTEENTH)

    @classmethod
    def mm(cls, millimetres: int) -> Length:
        return cls(millimetres * PER_MM)

    @classmethod
    def nearest(cls, inches: Fraction | float) -> Length:
        """The nearest 1/80 mm to a calculated number of inches (mechanics and trigonometry only)."""
        return cls(round(inches * PER_INCH))

    @property
    def inches(self) -> Fraction:
        return Fraction(self.eightieths, PER_INCH)

    @property
    def millimetres(self) -> Fraction:
        return Fraction(self.eightieths, PER_MM)

    @property
    def text(self) -> str:
        """For the eye: "11 ft 6 1/2 in", "3.35 m"; "about ..." where neither unit is exact."""
        n = abs(self.eightieths)
        sign = "-" if self.eightieths < 0 else ""
        if n % PER_SIXTEENTH == 0:
            return sign + _imperial_text(n // PER_SIXTEENTH)
        if n % PER_MM == 0:
            return sign + _metric_text(n // PER_MM)
        return "about " + self.text_in_feet

    @property
    def text_in_feet(self) -> str:
        """In feet and inches to the nearest sixteenth, whatever it was given in."""
        sixteenths = round(Fraction(self.eightieths, PER_SIXTEENTH))
        return ("-" if sixteenths < 0 else "") + _imperial_text(abs(sixteenths))

    @property
    def text_in_metres(self) -> str:
        """In metres and millimetres to the nearest millimetre, whatever it was given in."""
        mm = round(self.millimetres)
        return ("-" if mm < 0 else "") + _metric_text(abs(mm))

    def round_up(self, step: Length) -> Length:
        """The next whole multiple of `step` at or above this length."""
        return Length(-(-self.eightieths // step.eightieths) * step.eightieths)

    def __add__(self, other: Length) -> Length:
        return Length(self.eightieths + other.eightieths)

    def __sub__(self, other: Length) -> Length:
        return Length(self.eightieths - other.eightieths)

    def __neg__(self) -> Length:
        return Length(-self.eightieths)

    def __mul__(self, times: int) -> Length:
        return Length(self.eightieths * times)

    __rmul__ = __mul__

    def __bool__(self) -> bool:
        return self.eightieths != 0

    def __str__(self) -> str:
        return self.text

    def to_json(self) -> dict[str, Any]:
        return {"eightieths_mm": self.eightieths, "text": self.text}

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        """In JSON a length is {"eightieths_mm": int, "text": str}; only the integer counts when read back."""
        fields = core_schema.typed_dict_schema(
            {
                "eightieths_mm": core_schema.typed_dict_field(core_schema.int_schema(strict=True)),
                "text": core_schema.typed_dict_field(core_schema.str_schema(), required=False),
            }
        )
        from_json = core_schema.no_info_after_validator_function(lambda d: cls(d["eightieths_mm"]), fields)
        return core_schema.json_or_python_schema(
            json_schema=from_json,
            python_schema=core_schema.union_schema([core_schema.is_instance_schema(cls), from_json]),
            serialization=core_schema.plain_serializer_function_ser_schema(cls.to_json),
        )


def _imperial_text(sixteenths: int) -> str:
    feet, rest = divmod(sixteenths, 192)
    inches, part = divmod(rest, 16)
    words = [f"{feet} ft"] if feet else []
    fraction = Fraction(part, 16)
    if inches or part or not feet:
        figure = " ".join(
            ([str(inches)] if inches or not part else [])
            + ([f"{fraction.numerator}/{fraction.denominator}"] if part else [])
        )
        words.append(f"{figure} in")
    return " ".join(words)


def _metric_text(mm: int) -> str:
    if mm < 100:
        return f"{mm} mm"
    whole, rest = divmod(mm, 1000)
    decimals = f"{rest:03d}".rstrip("0")
    return f"{whole}.{decimals} m" if decimals else f"{whole} m"


_UNITS = {"ft": PER_FOOT, "in": PER_INCH, "mm": PER_MM, "cm": 10 * PER_MM, "m": 1000 * PER_MM}
_FIGURE = re.compile(r"\s*(?:(\d+)\s+(?=\d+/))?(\d+/\d+|\d+(?:\.\d+)?)\s*(ft|in|mm|cm|m)\b")


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
