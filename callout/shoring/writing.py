"""What one build is written in: feet, inches and pounds, or metres, kilonewtons and kilograms; never both on one sheet.

The names of stock lines and nominal sections ("2x4 timber, 12 ft") are names: they stay as they are on the rack.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from callout.shoring.quantity import Quantity, q
from callout.values import Length
from callout.values.length import PER_MM, PER_SIXTEENTH

_KG_PER_LB = 0.45359237  # International Yard and Pound agreement, 1959
#: unit of a figure -> what it is written in on a metric sheet
_METRIC = {"lb": "kN", "in": "mm", "ft": "mm", "psf": "kPa", "psi": "kPa", "pcf": "kN/m3"}


_FIGURE = re.compile(
    r"\d+ ft(?: \d+/\d+ in| \d+(?: \d+/\d+)? in)?\b|\d+/\d+ in\b|\d+(?: \d+/\d+)? in\b"
    r"|\d[\d.,]* (?:m|mm|lb|kN|kg|kPa|psf|psi|degrees)\b"
)


def unbroken(text: str) -> str:
    """With hard spaces within every figure, so that none is broken over two lines."""
    return _FIGURE.sub(lambda found: found.group().replace(" ", "\u00a0"), text)


@dataclass(frozen=True)
class Writing:
    """`metric`, or feet and pounds."""

    metric: bool

    def mark(self, length: Length) -> Length:
        """The nearest mark of the tape: a millimetre or a sixteenth of an inch."""
        each = PER_MM if self.metric else PER_SIXTEENTH
        return Length(round(Fraction(length.eightieths, each)) * each)

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
