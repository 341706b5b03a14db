"""Sawn timber across the grain: beams in bending, shear and sag, bearing across and at an angle to the grain (NDS 3.2
to 3.4, 3.10). Every strength is for Douglas fir-larch No. 2 unless a team gives its own; nothing here is an approval.

A load is taken as spread evenly along a header, and lasting (load duration as for the columns).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from callout.shoring.quantity import Quantity, q
from callout.shoring.rules import Book

_INCHES = (0, 1)
#: Nearer to a member's end than this, or over a longer bearing, the wood beside is no help (NDS 3.10.4).
_END_INCHES, _LONG_INCHES = 3.0, 6.0


@dataclass(frozen=True)
class Beam:
    """A beam on edge: true `width` and `depth`, its strength in bending and shear, its stiffness."""

    width: Quantity
    depth: Quantity
    bending: Quantity
    shear: Quantity
    stiffness: Quantity

    @property
    def modulus(self) -> Quantity:
        return self.width * self.depth**2 / 6

    @property
    def inertia(self) -> Quantity:
        return self.width * self.depth**3 / 12

    @property
    def moment(self) -> Quantity:
        """The greatest it takes: Fb' S."""
        return self.bending * self.modulus

    @property
    def across(self) -> Quantity:
        """The greatest force across it: Fv' 2/3 of the area."""
        return self.shear * self.width * self.depth * (2 / 3)


@dataclass(frozen=True)
class Spread:
    """What one pound, spread evenly along a header, does to it: moment (lb in), shear (lb), the share that the busiest
    post gets, and the sag of its span times EI."""

    moment: Quantity
    shear: float
    busiest: float
    sag: Quantity
    span: Quantity


def beam(book: Book, section: str) -> Beam:
    """A header of `section`, on edge."""
    graded = strength_class(section)
    width, depth = sorted(book.rule(f"dressed_{section}").value)
    lasting = book.number("load_duration_column")
    factor = float(book.rule("size_factor_bending").value[section])
    return Beam(
        q(width, "in"), q(depth, "in"), book.quantity(f"fb_{graded}") * factor * lasting,
        book.quantity(f"fv_{graded}") * lasting, book.quantity(f"e_{graded}"),
    )  # fmt: skip


def strength_class(section: str) -> str:
    """Posts and timbers begin at 5x5; smaller sections are graded like a 4x4."""
    return "6x6" if section.startswith("6x") else "4x4"


def between_posts(clear: Quantity, length: Quantity, seat: Quantity) -> Spread:
    """A header of `length` that rests on a post at either end: the span is the clear way and half of each seat
    (NDS 3.2.1 with the whole seat taken as needed, which is never less than what the code asks)."""
    span = clear + seat
    load = 1 / length.value
    moment = Quantity(load * span.value**2 / 8, (1, 1))
    return Spread(moment, load * clear.value / 2, 0.5, _sag(load, span), span)


def over_posts(length: Quantity, posts: int, past: Quantity, seat: Quantity) -> Spread:
    """A header that stands out by `past` over the middle of its outer posts. With two posts the ends that stand out
    lighten the middle; between more posts each piece is taken as resting freely, which is never too light."""
    load, out = 1 / length.value, past.value
    if posts == 1:
        face = (length.value - seat.value) / 2
        return Spread(
            Quantity(load * face**2 / 2, (1, 1)), load * face, 1.0,
            Quantity(load * face**4 / 8, (1, 3)), q(2 * face, "in"),
        )  # fmt: skip
    span = (length.value - 2 * out) / (posts - 1)
    middle = load * (span**2 / 8 - (out**2 / 2 if posts == 2 else 0))
    end = load * max(0.0, out - seat.value / 2) ** 2 / 2
    busiest = load * max(span / 2 + out, span if posts > 2 else 0)
    shear = load * max((span - seat.value) / 2, out - seat.value / 2)
    return Spread(
        Quantity(max(middle, end), (1, 1)), shear, busiest, _sag(load, Quantity(span, _INCHES)), Quantity(span, _INCHES)
    )


def _sag(load: float, span: Quantity) -> Quantity:
    """5 w L^4 / 384, to be divided by E I."""
    return Quantity(5 * load * span.value**4 / 384, (1, 3))


def help_beside(length: Quantity, to_end: Quantity) -> float:
    """Cb of NDS 3.10.4: a short bearing away from the end of a member is helped by the wood beside it."""
    if to_end.to("in") < _END_INCHES or length.to("in") >= _LONG_INCHES:
        return 1.0
    return (length.to("in") + 0.375) / length.to("in")


def crushing(book: Book, section: str, length: Quantity, width: Quantity, to_end: Quantity) -> Quantity:
    """What a bearing of `length` along the grain and `width` carries across the grain of a timber of `section`."""
    across = book.quantity(f"fc_across_{strength_class(section)}")
    return across * length * width * help_beside(length, to_end)


def at_an_angle(along: Quantity, across: Quantity, degrees: float) -> Quantity:
    """Bearing strength with the load `degrees` from the grain (Hankinson's formula, NDS 3.10.3)."""
    sine = math.sin(math.radians(degrees)) ** 2
    return along * (across.value / (along.value * sine + across.value * (1 - sine)))
