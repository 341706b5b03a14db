"""What a build needs from the stock, before any piece is chosen: the port between practice and selection.

Practice (geometry, kinds of shore) states needs; selection fills them from the stock on hand, for all open builds
together. A need never names a piece.

Words used on both sides of the port:
families of a span   strut, brace (mid brace), lateral, diagonal
parts of an adjustable kit   wall plate, plate joint, head fitting, base plate, brace clamp, tie clamp (one on each
    end of a lateral or diagonal), anchor (variants concrete, brick, block, timber), picket
parts of timber work   wedge pair (variants 2x4, 4x4, 6x6), nail (variants 8d, 16d), gusset (variants 12x12, 12x24,
    24x24 ...), sheet (a whole sheet of plywood), picket, anchor
sections   2x4, 2x6, 4x4, 4x6, 6x6, nominal inches
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
