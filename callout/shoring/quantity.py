"""A number with its dimension, so that a pound cannot be added to an inch. Held in pounds-force and inches.

Only what the mechanics need: force and length, and their powers. Tested against a general units library.
"""

from __future__ import annotations

from dataclasses import dataclass

_IN_PER_MM = 1 / 25.4
_LB_PER_N = 1 / 4.4482216152605  # pound-force: 0.45359237 kg x 9.80665 m/s2, exactly

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
