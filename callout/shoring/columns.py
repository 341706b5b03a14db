"""Columns: how much a straight member carries before it buckles or crushes. Capacity here is never an approval.

Wood by the NDS column stability factor (NDS 3.7), steel by AISC 360 chapter E, aluminium by the flexural-buckling curve
of its alloy, and Euler's load for all. `braced` is the length between braces; end conditions enter through `k`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from callout.shoring.quantity import Quantity, q

_PER_AREA = (1, -2)


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
