"""What a build needs from the stock, before any piece is chosen: the port between practice and selection.

Practice (geometry, kinds of shore) states needs; selection fills them from the stock on hand, for all open builds
together. A need never names a piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Union

from callout.values import Length


@dataclass(frozen=True)
class SpanNeed:
    """A member set to a length: one adjustable piece of `family` with extensions and couplers as needed.

    `wanted` is between the bearing faces; `deduct` is what fittings and plates take off. The chosen pieces, closed and
    open, must leave `slack_in` to shorten and `slack_out` to lengthen at the wanted length.
    """

    label: str  # "raker 1", "upper lateral"
    family: str  # "strut", "lateral", "diagonal", "brace"
    wanted: Length
    deduct: Length = Length(0)
    slack_in: Length = Length(0)
    slack_out: Length = Length(0)
    max_extensions: int = 2


@dataclass(frozen=True)
class PieceNeed:
    """`quantity` pieces of a kind ("picket", "anchor"), at least `min_length` long, of `variant` if named."""

    label: str
    part: str
    quantity: int
    min_length: Length | None = None
    variant: str | None = None  # "concrete" anchor, "4x4" wedge ...


@dataclass(frozen=True)
class CutNeed:
    """`quantity` timbers of a section ("4x4") cut to `length`; nested into the lengths on hand with the saw's kerf."""

    label: str
    section: str
    length: Length
    quantity: int = 1


Need = Union[SpanNeed, PieceNeed, CutNeed]
