"""A figure on the command line."""

from __future__ import annotations

import math
from typing import Any

import click


class NumberWithin(click.FloatRange):
    """A number within bounds. Python reads "nan" as a number, and it lies outside no bound: it is refused here."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value!r} is not a number", param, ctx)
        return number
