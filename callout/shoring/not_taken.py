"""Which lines of a stock no shore takes, and what each may have meant."""

from __future__ import annotations

import re

from rapidfuzz import fuzz, process

from callout.shoring.stock import Adjustable, Coupler, Extension, Line, Piece, Stock, Timber
from callout.shoring.taken_parts import (
    COUPLERS,
    EVERY,
    EXTENSIONS,
    FAMILIES,
    PERHAPS,
    PIECES,
    SECTIONS,
    known_part,
    variants_of,
)

#: The pieces that shores take, by the names that a line may stand in for: of some each variant has its own.
_NAMED = {*PIECES, *(f"{part} {variant}" for part in PIECES for variant in variants_of(part))}


def no_shore_takes(stock: Stock) -> list[tuple[str, str]]:
    """Each line that no shore takes, by its name, and what it may have meant ("" where nothing is near)."""
    return [(line.name, _meant(line, stock)) for line in stock.lines if not _is_taken(line, stock)]


def _is_taken(line: Line, stock: Stock) -> bool:
    if isinstance(line, Adjustable):
        return bool({line.family, *line.instead_of} & set(FAMILIES))
    if isinstance(line, (Extension, Coupler)):
        return bool(set(line.fits) & set(FAMILIES))
    if isinstance(line, Timber):
        return bool({line.section, *line.instead_of} & set(SECTIONS))
    assert isinstance(line, Piece)
    if line.part == "wall plate" and (line.length is None or line.length < stock.kit.plate_length):
        return False
    variants = variants_of(line.part)
    exact = line.part in PIECES and (not variants or line.variant in variants)
    return exact or bool(set(line.instead_of) & _NAMED)


def _meant(line: Line, stock: Stock) -> str:
    """What a person may have meant by a line that no shore takes."""
    if isinstance(line, Timber):
        return f"a section of {', '.join(SECTIONS)}"
    if not isinstance(line, Piece):
        return f"the family {', '.join(FAMILIES)}"
    part = known_part(line.part)
    if part in FAMILIES:
        return f'[[adjustable]] with family = "{part}", closed, open and screw'
    for table, names in (("extension", EXTENSIONS), ("coupler", COUPLERS)):
        if part in names:
            return f"[[{table}]] with fits = {list(names[part])}".replace("'", '"')
    if part == "timber":
        return "[[timber]] with a section"
    if part == "wall plate":
        return f"a wall plate with its length, {stock.kit.plate_length.text} (plate_length of the kit) or more"
    return _taken_as(part) if part in PIECES else _near(part)


def _near(part: str) -> str:
    for word in (part, part.removesuffix("s"), *re.findall(r"[a-z]+", part)):
        for one in (word, word.removesuffix("s")):
            if one in PERHAPS:
                return PERHAPS[one]
            if one in PIECES:
                return _taken_as(one)
    found = process.extractOne(part, EVERY, scorer=fuzz.ratio, score_cutoff=75)
    return "" if found is None else str(found[0])


def _taken_as(part: str) -> str:
    variants = variants_of(part)
    return f'part = "{part}"' + (f" with a variant of {', '.join(variants)}" if variants else "")
