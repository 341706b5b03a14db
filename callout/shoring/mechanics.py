"""Members: how much a straight column carries before it buckles or crushes, and a beam before it bends, shears, sags or
is crushed across the grain. Capacity here is never an approval.

Columns: wood by the NDS column stability factor (NDS 3.7), steel by AISC 360 chapter E, aluminium by the
flexural-buckling curve of its alloy, and Euler's load for all. `braced` is the length between braces; end conditions
enter through `k`. Beams of sawn timber: NDS 3.2 to 3.4, bearing across and at an angle to the grain 3.10. Every
strength is for Douglas fir-larch No. 2 unless a team gives its own. A load is taken as spread evenly along a header,
and lasting (load duration as for the columns).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from callout.shoring.rules import Book
from callout.shoring.units import Quantity, q

_PER_AREA = (1, -2)
_INCHES = (0, 1)
#: Nearer to a member's end than this, or over a longer bearing, the wood beside is no help (NDS 3.10.4).
_END_INCHES, _LONG_INCHES = 3.0, 6.0


@dataclass(frozen=True)
class Tube:
    """A round tube."""

    outside: Quantity
    wall: Quantity

    @property
    def inside(self) -> Quantity:
        return self.outside - 2 * self.wall

    @property
    def area(self) -> Quantity:
        return math.pi / 4 * (self.outside**2 - self.inside**2)

    @property
    def inertia(self) -> Quantity:
        return math.pi / 64 * (self.outside**4 - self.inside**4)

    @property
    def gyration(self) -> Quantity:
        ratio = self.inertia / self.area
        return Quantity(math.sqrt(ratio.value), (0, 1))


def euler(e: Quantity, inertia: Quantity, length: Quantity, k: float = 1.0) -> Quantity:
    """Pcr = pi^2 E I / (K L)^2."""
    return math.pi**2 * (e * inertia) / (k * length) ** 2


def stability_factor(fce: Quantity, fc_star: Quantity, c: float = 0.8) -> float:
    """Cp of NDS 3.7: the share of the crushing strength that buckling leaves."""
    r = float(fce / fc_star)
    half = (1 + r) / (2 * c)
    return half - math.sqrt(half**2 - r / c)


def wood_fce(emin: Quantity, slenderness: float, factor: float = 0.822) -> Quantity:
    """Critical buckling stress. `factor` 0.822 with Emin (today); older sheets use KcE = 0.3 with E."""
    return factor * emin / slenderness**2


@dataclass(frozen=True)
class Wood:
    """A solid rectangular member. `fc` already carries the size factor."""

    depth: Quantity  # the lesser side, about which it buckles
    width: Quantity
    fc: Quantity
    emin: Quantity
    c: float = 0.8

    def slenderness(self, braced: Quantity, k: float = 1.0) -> float:
        return float(k * braced / self.depth)

    def capacity(self, braced: Quantity, duration: float = 1.0, k: float = 1.0) -> Quantity:
        """Fc' A. `duration` is the load-duration factor CD."""
        fc_star = self.fc * duration
        fce = wood_fce(self.emin, self.slenderness(braced, k))
        return fc_star * stability_factor(fce, fc_star, self.c) * (self.depth * self.width)


def field_rule(e: Quantity, area: Quantity, slenderness: float) -> Quantity:
    """The long-column rule used before 1991, P = 0.30 E A / (L/d)^2: where the field guide's post figures come from."""
    return 0.30 * e * area / slenderness**2


def steel_stress(fy: Quantity, e: Quantity, slenderness: float) -> Quantity:
    """Critical stress Fcr of AISC 360 chapter E for KL/r = `slenderness` (no safety factor)."""
    fe = math.pi**2 * e / slenderness**2
    if slenderness <= 4.71 * math.sqrt(float(e / fy)):
        return fy * float(0.658 ** float(fy / fe))
    return 0.877 * fe


def steel_capacity(fy: Quantity, e: Quantity, area: Quantity, slenderness: float, omega: float = 1.67) -> Quantity:
    """Allowable load Pn / omega."""
    return steel_stress(fy, e, slenderness) * area / omega


def aluminium_stress(fcy: Quantity, e: Quantity, slenderness: float) -> Quantity:
    """Flexural-buckling stress of an artificially aged alloy (T5, T6), Aluminum Design Manual 2015 E.2, from memory."""
    yields, modulus = fcy.to("ksi"), e.to("ksi")
    b = yields * (1 + math.sqrt(yields / 2250))
    d = b / 10 * math.sqrt(b / modulus)
    limit = 0.41 * b / d
    if slenderness >= limit:
        return q(0.85 * math.pi**2 * modulus / slenderness**2, "ksi")
    least = (b - yields) / d
    if slenderness <= least:
        return fcy
    return q(min(yields, (b - d * slenderness) * (0.85 + 0.15 * (limit - slenderness) / (limit - least))), "ksi")


def aluminium_stress_older(slenderness: float) -> Quantity:
    """Allowable stress of 6061-T6 as older textbooks print it; superseded, kept to prove branches and section sums."""
    return q(20.2 - 0.126 * slenderness if slenderness < 66 else 51000 / slenderness**2, "ksi")


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
    lighten the middle. Over more posts it may be one timber, which leans on its second post, or be cut over a post, so
    that each piece rests freely: the worse of the two counts for each figure."""
    load, out = 1 / length.value, past.value
    if posts == 1:
        face = (length.value - seat.value) / 2
        return Spread(
            Quantity(load * face**2 / 2, (1, 1)), load * face, 1.0,
            Quantity(load * face**4 / 8, (1, 3)), q(2 * face, "in"),
        )  # fmt: skip
    span, end = (length.value - 2 * out) / (posts - 1), load * out**2 / 2
    whole = _one_timber(load, span, out, posts)
    apart = _Run(load * span**2 / 8, load * span / 2, load * span)
    runs = [whole, apart] if posts > 2 else [whole]
    outside = load * max(0.0, out - seat.value / 2)
    shear = max(outside, *(run.shear - load * seat.value / 2 for run in runs))
    moment = max(end, *(run.moment for run in runs))
    busiest = max(load * (span / 2 + out), *(run.busiest for run in runs))
    return Spread(
        Quantity(moment, (1, 1)), shear, busiest, _sag(load, Quantity(span, _INCHES)), Quantity(span, _INCHES)
    )


class _Run(NamedTuple):
    """Greatest moment, shear at the middle of a post, and force on one post, of a header over its posts."""

    moment: float
    shear: float
    busiest: float


def _one_timber(load: float, span: float, out: float, posts: int) -> _Run:
    """One timber over `posts` posts that do not give: the theorem of three moments for equal spans, `load` an inch."""
    moments = _moments_over_posts(-load * out**2 / 2, -load * span**2 / 2, posts)
    lefts = [load * span / 2 + (b - a) / span for a, b in pairwise(moments)]  # shear right of each post but the last
    rights = [load * span - left for left in lefts]  # and left of the following post
    sagging = [moment + left**2 / (2 * load) for moment, left in zip(moments, lefts, strict=False)]
    inner = [left + right for left, right in zip(lefts[1:], rights, strict=False)]
    hogging = [-moment for moment in moments]
    return _Run(max(hogging + sagging), max(lefts + rights), max([load * out + lefts[0], *inner]))


def _moments_over_posts(end: float, term: float, posts: int) -> list[float]:
    """M(i-1) + 4 M(i) + M(i+1) = `term` for every inner post, `end` over the two outer ones (sagging is positive)."""
    inner = posts - 2
    if inner < 1:
        return [end] * posts
    right = [term] * inner
    right[0] -= end
    right[-1] -= end
    pivot = [4.0] * inner
    for n in range(1, inner):
        pivot[n] -= 1 / pivot[n - 1]
        right[n] -= right[n - 1] / pivot[n - 1]
    found = [right[-1] / pivot[-1]]
    for n in range(inner - 2, -1, -1):
        found.append((right[n] - found[-1]) / pivot[n])
    return [end, *reversed(found), end]


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
