"""The names under which the shores look for a line of the stock, and other words that mean the same for certain: out of
`stocks/taken.toml`."""

from __future__ import annotations

import re
from functools import cache
from importlib import resources
from typing import Any

from callout.files import tomllib


@cache
def _taken() -> dict[str, Any]:
    file = resources.files("callout.shoring") / "stocks" / "taken.toml"
    table: dict[str, Any] = tomllib.loads(file.read_text("utf-8"))
    return table


FAMILIES: tuple[str, ...] = tuple(_taken()["family"])
SECTIONS: tuple[str, ...] = tuple(_taken()["timber"]["sections"])
EXTENSIONS: dict[str, tuple[str, ...]] = {name: tuple(fits) for name, fits in _taken()["extension"].items()}
COUPLERS: dict[str, tuple[str, ...]] = {name: tuple(fits) for name, fits in _taken()["coupler"].items()}
PIECES: tuple[str, ...] = tuple(_taken()["piece"])
_ALSO: dict[str, str] = {
    **{other: name for name, others in _taken()["family"].items() for other in others},
    **{other: name for name, about in _taken()["piece"].items() for other in about.get("also", ())},
}
#: Words that may mean something that is taken, and may not -> what.
PERHAPS: dict[str, str] = _taken()["perhaps"]
EVERY = (*FAMILIES, *EXTENSIONS, *COUPLERS, *PIECES, "timber")


def variants_of(part: str) -> tuple[str, ...]:
    return tuple(_taken()["piece"].get(part, {}).get("variants", ()))


def plain_section(written: str) -> str:
    """ "4 x 4", "4X4", "4 by 4" -> "4x4"; anything else as it stands."""
    return re.sub(r"(?<=\d)\s*(?:[xX\u00d7]|by)\s*(?=\d)", "x", written.strip())


def known_part(written: str) -> str:
    """A part by the name under which shores look for it, where that is certain: "Struts" -> "strut", "mid braces" ->
    "brace"; anything else in small letters."""
    words = " ".join(re.split(r"[\s_-]+", written.strip().casefold()))
    ways = [words, words[:-1]] if words.endswith("s") else [words]
    ways += [re.sub(r"^(\w+)s of ", r"\1 of ", words)]  # "sheets of plywood"
    for way in ways:
        name = _ALSO.get(way, way)
        if name in EVERY:
            return name
    return words
