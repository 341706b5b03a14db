"""The triangle of a raker shore: by the crew's rule of thumb and exactly, side by side and never mixed.

All heights are measured from the grade at the wall. With a wall that leans outward by `lean` at the insertion the wall
plate follows the wall; with ground that is higher at the heel the triangle stands on that ground. The exact forms are
L = rise / sin(angle) and B = rise / tan(angle); rules exist at 45 and 60 degrees only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from pydantic import BaseModel, ConfigDict

from callout.shoring.rules import Book
from callout.values import Length
from callout.values.length import PER_FOOT

_HALFWAY = 52  # degrees


def raker_exact(rise: Length, angle: float) -> Length:
    """The slope over `rise` at `angle` degrees from level."""
    return nearest_length(rise.eightieths / math.sin(math.radians(angle)))


def base_exact(rise: Length, angle: float) -> Length:
    """The level side under it."""
    return nearest_length(rise.eightieths / math.tan(math.radians(angle)))


def standard_angle(degrees: float) -> int:
    """Which of the two standard builds an angle is nearer to: from 53 degrees it takes the longer cleat of 60."""
    return 60 if degrees > _HALFWAY else 45


def nearest_length(eightieths: float) -> Length:
    return Length(round(eightieths))


class Pair(BaseModel):
    """A length by the rule of thumb and exactly; None where there is no rule, or where only the rule exists."""

    model_config = ConfigDict(frozen=True)

    rule: Length | None = None
    exact: Length | None = None

    @property
    def best(self) -> Length:
        """The exact length where there is one."""
        found = self.exact if self.exact is not None else self.rule
        assert found is not None
        return found


@dataclass(frozen=True)
class Raker:
    """The geometry of one raker. `pairs` in reading order; angles in degrees."""

    pairs: dict[str, Pair]
    top_cut: float
    bottom_cut: float
    plate_tilt: float  # of the wall plate from plumb, positive outward

    def exact(self, name: str) -> Length:
        return self.pairs[name].best


def by_rule(book: Book, name: str, rise: Length, angle: int) -> Length | None:
    """`name` "raker" or "base": inches a foot of height, at the angles for which crews have a rule."""
    key = f"{name}_per_foot_{angle}"
    if not book.has(key):
        return None
    per_foot = Fraction(str(book.rule(key).value))
    return Length.nearest(per_foot * rise.eightieths / PER_FOOT)


def raker_geometry(
    insertion: Length, angle: int, book: Book, *, lean: Length, heel_rise: Length, sole_thickness: Length
) -> Raker:  # fmt: skip
    """The triangle of one raker, from the ground to the insertion. The kinds of raker add their plates and braces."""
    rise = insertion - heel_rise
    raker, base = raker_exact(rise, angle), base_exact(rise, angle)
    base_rule = by_rule(book, "base", rise, angle)
    pairs = {
        "insertion": Pair(exact=insertion),
        "raker": Pair(rule=by_rule(book, "raker", rise, angle), exact=raker),
        "base": Pair(rule=_plus(base_rule, lean), exact=base + lean),
    }
    if heel_rise:
        pairs["heel_rise"] = Pair(exact=heel_rise)
    if lean:
        pairs["lean"] = Pair(exact=lean)
    if sole_thickness:
        on_sole = rise - sole_thickness
        pairs["sole_thickness"] = Pair(exact=sole_thickness)
        pairs["raker_on_sole"] = Pair(rule=by_rule(book, "raker", on_sole, angle), exact=raker_exact(on_sole, angle))
        pairs["base_on_sole"] = Pair(
            rule=_plus(by_rule(book, "base", on_sole, angle), lean), exact=base_exact(on_sole, angle) + lean
        )
    pairs["insertion_up_wall"] = Pair(exact=hypotenuse(insertion, lean))
    tilt = math.degrees(math.atan2(lean.eightieths, insertion.eightieths))
    return Raker(pairs, angle - tilt, 90.0 - angle, tilt)


def mid_brace(raker: Raker, up_wall: Length) -> dict[str, Pair]:
    """A brace square to the wall plate, `up_wall` along the wall from the grade: its length, where it meets the raker.

    In the triangle at the insertion the plate is one leg, the brace the other, the raker the hypotenuse.
    """
    above = raker.exact("insertion_up_wall") - up_wall
    corner = math.radians(90.0 - raker.top_cut)  # between wall plate and raker
    down_raker = nearest_length(above.eightieths / math.cos(corner))
    return {
        "mid_brace": Pair(exact=nearest_length(above.eightieths * math.tan(corner))),
        "mid_brace_up_wall": Pair(exact=up_wall),
        "mid_brace_up_raker": Pair(exact=raker.exact("raker") - down_raker),
    }


def bay(spacing: Length, ties_up_raker: tuple[Length, ...]) -> tuple[Length, ...]:
    """Diagonals between neighbouring ties, in the plane of two parallel rakers `spacing` apart."""
    return tuple(hypotenuse(spacing, high - low) for low, high in pairwise(ties_up_raker))


def hypotenuse(a: Length, b: Length) -> Length:
    if not b:
        return a
    return nearest_length(math.hypot(a.eightieths, b.eightieths))


def _plus(length: Length | None, more: Length) -> Length | None:
    return None if length is None else length + more
