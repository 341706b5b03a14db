"""The port between practice and selection: what a build needs of the stock, and what selection answers.

Practice (geometry, kinds of shore) states needs; selection fills them from the stock on hand, for all open builds
together. A need never names a piece. The answer says the pieces taken, how each member is set, where each cut comes
from and what is missing; all of it can go out as JSON.

Words used on both sides of the port:
families of a span   strut, brace (mid brace), lateral, diagonal
parts of an adjustable kit   wall plate, plate joint, head fitting, base plate, brace clamp, tie clamp (one on each
    end of a lateral or diagonal), anchor (variants concrete, brick, block, timber), picket
parts of timber work   wedge pair (variants 2x4, 4x4, 6x6), nail (variants 8d, 16d), gusset (variants 12x12, 12x24,
    24x24 ...), sheet (a whole sheet of plywood), picket, anchor
sections   2x4, 2x6, 4x4, 4x6, 6x6, nominal inches
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Union

from pydantic import BaseModel, ConfigDict

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


class _Value(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Taken(_Value):
    """`quantity` pieces of one line of the stock. `weight_lb` is for all of them. `stands_for` names what they
    substitute, None where they are the very thing asked for. Whole timbers have the label "timber"."""

    label: str
    part: str
    name: str
    quantity: int
    length: Length | None
    where: str
    weight_lb: float
    stands_for: str | None = None


class SpanSet(_Value):
    """How one member is set. All lengths are between the ends of the assembled member, without fittings.

    `setting` is the length to set, `closed` and `open` what this assembly reaches at its shortest and longest;
    `member_setting` is the adjustable piece alone: pulled out to `lock`, its screw turned out by `screw_out`, with
    `turn_in` left to shorten and `turn_out` left to lengthen. Extensions go on `extension_end`, which does not move.
    """

    label: str
    family: str
    wanted: Length
    setting: Length
    closed: Length
    open: Length
    member: str
    member_setting: Length
    lock: Length
    screw_out: Length
    turn_in: Length
    turn_out: Length
    extensions: tuple[str, ...] = ()
    couplers: tuple[str, ...] = ()
    extension_end: str | None = None


class SawnCut(_Value):
    """One piece sawn from a timber. `build` may be another build that shares the timber."""

    build: int
    label: str
    length: Length


class Bar(_Value):
    """One whole timber and all that is cut from it, longest first. `held_by` is the build whose ledger it stands in."""

    name: str
    section: str
    stands_for: str | None
    length: Length
    where: str
    held_by: int
    cuts: tuple[SawnCut, ...]
    offcut: Length


class Lacking(_Value):
    """`quantity` pieces that are not there. `name` is the line of the stock that would do, None if no line would;
    `length` is the size of that line, or the length wanted."""

    label: str
    part: str
    quantity: int
    length: Length | None = None
    name: str | None = None
    reason: str = ""


class Allocation(_Value):
    """The stock's answer to one build's needs. `complete` if nothing is missing."""

    build: int
    taken: tuple[Taken, ...] = ()
    spans: tuple[SpanSet, ...] = ()
    bars: tuple[Bar, ...] = ()
    missing: tuple[Lacking, ...] = ()

    @property
    def complete(self) -> bool:
        return not self.missing

    @property
    def counts(self) -> Counter[str]:
        """How many of each line of the stock the build takes."""
        total: Counter[str] = Counter()
        for item in self.taken:
            total[item.name] += item.quantity
        return total

    @property
    def weight_lb(self) -> float:
        return round(sum(item.weight_lb for item in self.taken), 2)
