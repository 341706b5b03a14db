"""The sides of a right triangle, exactly, and rounded once at the end."""

from __future__ import annotations

import math

from callout.values import Length


def raker_exact(rise: Length, angle: float) -> Length:
    """The slope over `rise` at `angle` degrees from level."""
    return nearest_length(rise.eightieths / math.sin(math.radians(angle)))


def base_exact(rise: Length, angle: float) -> Length:
    """The level side under it."""
    return nearest_length(rise.eightieths / math.tan(math.radians(angle)))


def nearest_length(eightieths: float) -> Length:
    return Length(round(eightieths))

