"""Figures as every shore uses them: quantities with their units, how a build writes them, how well they are founded.

A `Quantity` is pounds and inches inside. A build is written in feet, inches and pounds, or in metres, kilonewtons and
kilograms, never in both on one sheet. The names of stock lines and nominal sections ("2x4 timber, 12 ft") are names:
they stay as they are on the rack.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from callout.values import Length
from callout.values.length import PER_MM, PER_SIXTEENTH

#: A seen in a primary source, B restated, M from memory, D worked here, P common practice without a source.
Grade = Literal["A", "B", "M", "D", "P"]

_IN_PER_MM = 1 / 25.4
_LB_PER_N = 1 / 4.4482216152605  # pound-force: 0.45359237 kg x 9.80665 m/s2, exactly
_KG_PER_LB = 0.45359237  # International Yard and Pound agreement, 1959
#: unit of a figure -> what it is written in on a metric sheet
_METRIC = {"lb": "kN", "in": "mm", "ft": "mm", "psf": "kPa", "psi": "kPa", "pcf": "kN/m3"}

#: unit -> (pounds-and-inches in one, (power of force, power of length))
UNITS: dict[str, tuple[float, tuple[int, int]]] = {
    "1": (1.0, (0, 0)),
    "deg": (1.0, (0, 0)),
    "lb": (1.0, (1, 0)),
    "kip": (1000.0, (1, 0)),
    "N": (_LB_PER_N, (1, 0)),
    "kN": (1000 * _LB_PER_N, (1, 0)),
    "in": (1.0, (0, 1)),
    "ft": (12.0, (0, 1)),
    "mm": (_IN_PER_MM, (0, 1)),
    "in2": (1.0, (0, 2)),
    "ft2": (144.0, (0, 2)),
    "in4": (1.0, (0, 4)),
    "mm4": (_IN_PER_MM**4, (0, 4)),
    "in/ft": (1 / 12, (0, 0)),
    "psi": (1.0, (1, -2)),
    "ksi": (1000.0, (1, -2)),
    "psf": (1 / 144, (1, -2)),
    "kPa": (1000 * _LB_PER_N / (1000 / 25.4) ** 2, (1, -2)),
    "GPa": (1e9 * _LB_PER_N / (1000 * _IN_PER_MM) ** 2, (1, -2)),
    "pcf": (1 / 1728, (1, -3)),
    "kN/m3": (1000 * _LB_PER_N / (1000 / 25.4) ** 3, (1, -3)),
}


_FIGURE = re.compile(
    r"\d+ ft(?: \d+/\d+ in| \d+(?: \d+/\d+)? in)?\b|\d+/\d+ in\b|\d+(?: \d+/\d+)? in\b"
    r"|\d[\d.,]* (?:m|mm|lb|kN|kg|kPa|psf|psi|degrees)\b"
)


class DimensionError(TypeError):
    """Two quantities of different dimension met where only one dimension makes sense. A fault in the program."""


@dataclass(frozen=True)
class Quantity:
    """`value` in pounds-force and inches, `powers` of (force, length)."""

    value: float
    powers: tuple[int, int] = (0, 0)

    def to(self, unit: str) -> float:
        factor, powers = UNITS[unit]
        if powers != self.powers:
            raise DimensionError(f"{self} is not measured in {unit}")
        return self.value / factor

    def _same(self, other: Quantity) -> float:
        if self.powers != other.powers:
            raise DimensionError(f"{self} and {other} have different dimensions")
        return other.value

    def __add__(self, other: Quantity) -> Quantity:
        return Quantity(self.value + self._same(other), self.powers)

    def __sub__(self, other: Quantity) -> Quantity:
        return Quantity(self.value - self._same(other), self.powers)

    def __mul__(self, other: Quantity | float) -> Quantity:
        if isinstance(other, Quantity):
            return Quantity(self.value * other.value, _plus(self.powers, other.powers, 1))
        return Quantity(self.value * other, self.powers)

    __rmul__ = __mul__

    def __truediv__(self, other: Quantity | float) -> Quantity:
        if isinstance(other, Quantity):
            return Quantity(self.value / other.value, _plus(self.powers, other.powers, -1))
        return Quantity(self.value / other, self.powers)

    def __pow__(self, power: int) -> Quantity:
        return Quantity(self.value**power, (self.powers[0] * power, self.powers[1] * power))

    def __lt__(self, other: Quantity) -> bool:
        return self.value < self._same(other)

    def __le__(self, other: Quantity) -> bool:
        return self.value <= self._same(other)

    def __float__(self) -> float:
        """The number of a dimensionless quantity."""
        return self.to("1")

    def __str__(self) -> str:
        return f"{self.value:g} lb^{self.powers[0]} in^{self.powers[1]}"


def q(value: float, unit: str) -> Quantity:
    """`value` of a unit of `UNITS`: q(2500, "lb")."""
    factor, powers = UNITS[unit]
    return Quantity(value * factor, powers)


def _plus(a: tuple[int, int], b: tuple[int, int], sign: int) -> tuple[int, int]:
    return a[0] + sign * b[0], a[1] + sign * b[1]


@dataclass(frozen=True)
class Writing:
    """`metric`, or feet and pounds."""

    metric: bool

    @classmethod
    def of(cls, given: Iterable[Length]) -> Writing:
        """As the lengths were given: metric as soon as one is there that no sixteenth of an inch can say."""
        return cls(any(length.eightieths % PER_SIXTEENTH for length in given))

    def mark(self, length: Length) -> Length:
        """The nearest mark of the tape: a millimetre or a sixteenth of an inch."""
        each = PER_MM if self.metric else PER_SIXTEENTH
        return Length(round(Fraction(length.eightieths, each)) * each)

    def whole(self, length: Length) -> Length:
        """Up to the next inch, or the next centimetre."""
        return length.round_up(Length(10 * PER_MM if self.metric else 16 * PER_SIXTEENTH))

    def length(self, length: Length) -> str:
        """Feet and inches; or metres, and millimetres below one metre."""
        if not self.metric:
            return length.text_in_feet
        mm = round(length.millimetres)
        return f"{mm} mm" if abs(mm) < 1000 else length.text_in_metres

    def dug(self, length: Length) -> str:
        """What is dug or laid out on the ground: to half an inch, or a centimetre."""
        each = 10 * PER_MM if self.metric else 8 * PER_SIXTEENTH
        return self.length(Length(round(Fraction(length.eightieths, each)) * each))

    def size(self, sides: Iterable[float]) -> str:
        """A true section, its sides in inches: "3 1/2 x 5 1/2 in", "89 x 140 mm"."""
        if self.metric:
            return " x ".join(f"{side * 25.4:.0f}" for side in sides) + " mm"
        return " x ".join(Length.nearest(side).text_in_feet.removesuffix(" in") for side in sides) + " in"

    @staticmethod
    def angle(degrees: float) -> str:
        """Whole degrees: no saw and no level on a site shows more."""
        return f"{degrees:.0f}"

    def force(self, force: Quantity) -> str:
        return self.figure(force.to("lb"), "lb")

    def weight(self, pounds: float) -> str:
        return f"{pounds * _KG_PER_LB:.4g} kg" if self.metric else f"{pounds:g} lb"

    def figure(self, value: float, unit: str) -> str:
        """A figure with its unit; "1" is a bare number."""
        if self.metric and unit in _METRIC:
            value, unit = float(f"{q(value, unit).to(_METRIC[unit]):.4g}"), _METRIC[unit]
        return f"{float(f'{value:.4g}'):,.10g}" + ("" if unit == "1" else f" {unit}")


def many(count: int, thing: str) -> str:
    """ "1 picket", "2 pickets"."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def unbroken(text: str) -> str:
    """With hard spaces within every figure, so that none is broken over two lines."""
    return _FIGURE.sub(lambda found: found.group().replace(" ", "\u00a0"), text)


def named_by_size(name: str) -> bool:
    """Whether a line's name has its size at its beginning or its end: "2x4 wedge pair", "strut, 8 ft"."""
    return "," in name or name[:1].isdigit()


def so_many(number: int, name: str) -> str:
    """So many of a line, written; a count never stands beside the figures of a size: "4 of 2x4 wedge pair"."""
    return f"{number} of {name}" if named_by_size(name) else f"{number} {name}"
