"""What selection answers for one build: the pieces taken, how each member is set, where each cut comes from, what is
missing. All of it can go out as JSON."""

from __future__ import annotations

from collections import Counter

from pydantic import BaseModel, ConfigDict

from callout.values import Length


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
