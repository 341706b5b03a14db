"""What may stand behind an option: a number within bounds, a time, names of tones."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from callout.speaking.tones import Tone


class NumberWithin(click.FloatRange):
    """A number within bounds. Python reads "nan" as a number, and it lies outside no bound: it is refused here."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value!r} is not a number", param, ctx)
        return number


class ShortTime(click.ParamType):  # type: ignore[type-arg]  # generic from click 8.4 on, not before
    """A time up to 5 s: "500ms", "0.5s", "0.5"."""

    name = "TIME"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        text = str(value).strip().lower()
        for unit, size in (("ms", 0.001), ("s", 1.0), ("", 1.0)):
            if text.endswith(unit):
                try:
                    seconds = float(text[: len(text) - len(unit)]) * size
                except ValueError:
                    break
                if 0 <= seconds <= 5:
                    return seconds
        return self.fail(f"{value!r} is not a time up to 5 s; write 500ms or 0.5s", param, ctx)


class ToneNames(click.ParamType):  # type: ignore[type-arg]
    """Which tones come before sentences: all, none, or some, with commas."""

    name = "NAMES"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[Tone, ...]:  # fmt: skip
        from callout.speaking.tones import TONES

        if isinstance(value, tuple):
            return value
        named = str(value).replace(" ", "").split(",")
        if named in (["all"], ["none"]):
            return TONES if named == ["all"] else ()
        if odd := [name for name in named if name not in TONES]:
            self.fail(f"there is no tone {odd[0]!r}; write all, none, or some of {','.join(TONES)}", param, ctx)
        return tuple(tone for tone in TONES if tone in named)
