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

from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.triangle import base_exact as base_exact
from callout.shoring.triangle import nearest_length
from callout.shoring.triangle import raker_exact as raker_exact
from callout.values import Length
from callout.values.length import PER_FOOT


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


def raker_geometry(work: Work, book: Book) -> Raker:
    """The triangle of one raker, from the ground to the insertion. The kinds of raker add their plates and braces."""
    rise = work.insertion - work.heel_rise
    raker, base = raker_exact(rise, work.angle), base_exact(rise, work.angle)
    base_rule = by_rule(book, "base", rise, work.angle)
    pairs = {
        "insertion": Pair(exact=work.insertion),
        "raker": Pair(rule=by_rule(book, "raker", rise, work.angle), exact=raker),
        "base": Pair(rule=_plus(base_rule, work.lean), exact=base + work.lean),
    }
    if work.heel_rise:
        pairs["heel_rise"] = Pair(exact=work.heel_rise)
    if work.lean:
        pairs["lean"] = Pair(exact=work.lean)
    if work.sole_thickness:
        on_sole = rise - work.sole_thickness
        pairs["sole_thickness"] = Pair(exact=work.sole_thickness)
        pairs["raker_on_sole"] = Pair(
            rule=by_rule(book, "raker", on_sole, work.angle), exact=raker_exact(on_sole, work.angle)
        )
        pairs["base_on_sole"] = Pair(
            rule=_plus(by_rule(book, "base", on_sole, work.angle), work.lean),
            exact=base_exact(on_sole, work.angle) + work.lean,
        )
    pairs["insertion_up_wall"] = Pair(exact=hypotenuse(work.insertion, work.lean))
    tilt = math.degrees(math.atan2(work.lean.eightieths, work.insertion.eightieths))
    return Raker(pairs, work.angle - tilt, 90.0 - work.angle, tilt)


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
