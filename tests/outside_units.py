"""A units library from outside, against which ours is held; made when first asked, since that takes half a second."""

from fractions import Fraction
from functools import cache

import pint


@cache
def units() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@cache
def units_in_fractions() -> pint.UnitRegistry:
    return pint.UnitRegistry(non_int_type=Fraction)
