"""The stock: what a team owns, where it lies and what it weighs, read from a TOML file and checked line by line.

Five kinds of line. `[[adjustable]]`: a member that is set to a length. `[[extension]]` and `[[coupler]]`: what makes
it longer. `[[timber]]`: what is cut to length. `[[piece]]`: everything taken as it is. Weights are pounds a piece.
The file only seeds the counts; what happens to them afterwards is in `callout.shoring.holdings`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from callout.shoring.kit import Kit
from callout.values import Length
from callout.values.written import WrittenLength

Word = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^\S(.*\S)?$")]
#: Past these a figure in the file is a slip of the finger, and sums would leave the solver's exact range.
Count = Annotated[int, Field(ge=0, le=100_000, strict=True)]
Pounds = Annotated[float, Field(ge=0, le=5_000, allow_inf_nan=False)]
LONGEST = Length.imperial(1000)
MOST_LOCKS = 500


class Line(BaseModel, ABC):
    """What every line of the stock says. `instead_of` names what it may stand in for, at the price of a substitution:
    a family, a section, a part, or a part with its variant ("anchor brick")."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Word
    quantity: Count
    where: Word
    weight_lb: Pounds
    instead_of: tuple[Word, ...] = ()
    also_called: tuple[Word, ...] = ()

    @property
    @abstractmethod
    def kind(self) -> str:
        """The part as needs and commands name it: a family, a section, "extension", "coupler" or a part."""

    @property
    @abstractmethod
    def size(self) -> Length | None:
        """The length a person names the piece by."""

    @model_validator(mode="after")
    def _lengths_are_real(self) -> Line:
        for field in type(self).model_fields:
            value = getattr(self, field)
            if isinstance(value, Length) and not Length(0) <= value <= LONGEST:
                raise ValueError(f"{field} is {value.text}; write a length from 0 to {LONGEST.text}")
        if self.size is not None and not self.size:
            raise ValueError("the length is zero; write the real one")
        return self


class Adjustable(Line):
    """A strut, lateral, diagonal or brace. From `closed` it is pulled out to a lock (one every `step`; 0: no locks),
    then `screw` gives the rest, up to `open`. `fixed_end` is the end that does not move: extensions go there."""

    family: Word
    closed: WrittenLength
    open: WrittenLength
    step: WrittenLength = Length(0)
    screw: WrittenLength
    fixed_end: Literal["head", "foot"] = "foot"

    @property
    def kind(self) -> str:
        return self.family

    @property
    def size(self) -> Length:
        return self.closed

    @model_validator(mode="after")
    def _opens(self) -> Adjustable:
        if self.closed >= self.open:
            raise ValueError("open must be longer than closed")
        if not Length(0) < self.screw <= self.open - self.closed:
            raise ValueError("screw must be over zero and at most what lies between closed and open")
        if not self.step and self.screw != self.open - self.closed:
            raise ValueError("without locks (step) the screw must give all that lies between closed and open")
        if self.step and self.open - self.closed > self.step * MOST_LOCKS:
            raise ValueError(f"step gives over {MOST_LOCKS} locks; write the distance between two")
        return self

    @property
    def locks(self) -> Iterator[Length]:
        """Every length it can lock at with its screw fully in, shortest first."""
        at = self.closed
        while at + self.screw <= self.open:
            yield at
            if not self.step:
                return
            at += self.step


class Extension(Line):
    """A fixed length put on the end that does not move, each with `couplers` couplers."""

    fits: tuple[Word, ...] = Field(min_length=1)
    length: WrittenLength
    couplers: Annotated[int, Field(ge=0, le=4)] = 1

    @property
    def kind(self) -> str:
        return "extension"

    @property
    def size(self) -> Length:
        return self.length


class Coupler(Line):
    """Joins an extension; `adds` is what it puts between the two ends."""

    fits: tuple[Word, ...] = Field(min_length=1)
    adds: WrittenLength = Length(0)

    @property
    def kind(self) -> str:
        return "coupler"

    @property
    def size(self) -> None:
        return None


class Timber(Line):
    """Timber of a nominal section ("4x4") at a length on hand, to be cut."""

    section: Word
    length: WrittenLength

    @property
    def kind(self) -> str:
        return self.section

    @property
    def size(self) -> Length:
        return self.length


class Piece(Line):
    """Anything taken as it is: plates, fittings, anchors, pickets, nails, wedges, sheets."""

    part: Word
    variant: Word | None = None
    length: WrittenLength | None = None

    @property
    def kind(self) -> str:
        return self.part

    @property
    def size(self) -> Length | None:
        return self.length


class Stock(BaseModel):
    """A whole stock file. `kerf` is what the saw eats at each cut. No two lines share a name."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Word
    kerf: WrittenLength = Length.imperial(0, 0, 2)
    kit: Kit
    # Every set of extensions and couplers is tried, so their kinds are few; no yard has as many as this.
    adjustable: Annotated[tuple[Adjustable, ...], Field(max_length=500)] = ()
    extension: Annotated[tuple[Extension, ...], Field(max_length=60)] = ()
    coupler: Annotated[tuple[Coupler, ...], Field(max_length=12)] = ()
    timber: Annotated[tuple[Timber, ...], Field(max_length=500)] = ()
    piece: Annotated[tuple[Piece, ...], Field(max_length=2000)] = ()

    @model_validator(mode="after")
    def _sound(self) -> Stock:
        if not Length(0) <= self.kerf <= Length.imperial(0, 2):
            raise ValueError(f"kerf is {self.kerf.text}; write what the saw eats, from 0 to 2 in")
        seen: set[str] = set()
        for line in self.lines:
            if line.name.casefold() in seen:
                raise ValueError(f"{line.name!r} stands there twice; join the two lines or rename one")
            seen.add(line.name.casefold())
        return self

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every line, by name: the order in which all that depends on order is worked out."""
        every: tuple[Line, ...] = (*self.adjustable, *self.extension, *self.coupler, *self.timber, *self.piece)
        return tuple(sorted(every, key=lambda line: line.name))

    @cached_property
    def used_up(self) -> frozenset[str]:
        """Lines that do not come back as they were: timber is sawn, nails are driven, sheets are ripped."""
        return frozenset(
            line.name for line in self.lines if isinstance(line, Timber) or line.kind in ("nail", "sheet")
        )

    @cached_property
    def by_name(self) -> dict[str, Line]:
        return {line.name: line for line in self.lines}

    def with_quantities(self, quantities: dict[str, int]) -> Stock:
        """The same stock with other counts (what-if questions, tests); names that it lacks are left out."""
        changed: dict[str, Any] = {
            table: tuple(
                line.model_copy(update={"quantity": quantities.get(line.name, line.quantity)})
                for line in getattr(self, table)
            )
            for table in ("adjustable", "extension", "coupler", "timber", "piece")
        }
        return Stock.model_construct(name=self.name, kerf=self.kerf, kit=self.kit, **changed)
