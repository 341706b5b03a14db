"""One adjustable-strut kit: what its fittings take off, where its plates are drilled, how it is set, what it is rated.

A table of the stock file, because another kit has other figures. The shores read it to state needs; selection does not.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from callout.shoring.units import Grade
from callout.values import Length
from callout.values.length import WrittenLength

Pounds = Annotated[float, Field(gt=0, le=1_000_000, allow_inf_nan=False)]
#: The ties between two rakers of struts.
BAY = ("lower lateral", "middle lateral", "upper lateral", "lower diagonal", "upper diagonal")
_LONGEST = Length.imperial(feet=40)


#: What each figure of a kit is, in the words of the stock file's comments, of the questions and of docs/stock.md.
SAYS = {
    "plate_length": "length of one wall plate",
    "plate_hole_spacing": "from hole to hole of a wall plate",
    "plate_first_hole": "from the end of a wall plate to its first hole",
    "plate_thickness": "thickness of a wall plate",
    "head_takes": "what the head fitting takes: from the wall plate's pin to the end of the strut",
    "base_takes": "what the base plate takes: from the ground to the end of the strut",
    "brace_takes": "what both ends of a mid brace take together",
    "clamp_takes": "what both clamp seats of a lateral or diagonal take together",
    "slack_in": "adjustment that is left to shorten a strut, once it is set",
    "slack_out": "adjustment that is left to lengthen it, for tightening",
    "waler_gap": "from the base plate to its pickets, for a waler behind it",
    "anchor_holes": "anchors that a wall plate takes at least",
    "base_picket_holes": "picket holes of a base plate",
    "source": "the maker's document that all of this is from",
    "edition": "its edition",
    "grade": "how well it is founded: A seen in the source, B restated, M from memory, D worked out, P common practice",
    "set_step": "a strut is set to the next such step above its length",
    "set_step_metric": "the same in a shore of metres",
    "spacing": "of the kit's rakers, on centre; without it as those of timber",
    "spacing_metric": "the same in a shore of metres",
    "plate_above": "wall plate left above the head fitting, at least",
    "first_pickets": "pickets at each base, before the load asks for more",
    "picket_holes": "which holes of the base plate they go through, counted from the toe, as [2, 5]",
    "shoulder": "no clamp is nearer than this to the top of a raker",
    "tie_slack": "left both ways on laterals, diagonals and braces",
    "bay_order": "in which order the ties between two rakers go in",
    "full_bay_over": "shorter rakers take two laterals and one diagonal",
}


class StrutTube(BaseModel):
    """The round tube of the kit's struts, from its maker's data. `k` is the effective-length factor: 1 pin to pin."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    material: Literal["steel", "aluminium"]
    outside: WrittenLength
    wall: WrittenLength
    yield_psi: float = Field(gt=1_000, lt=200_000)
    e_psi: float = Field(gt=1_000_000, lt=40_000_000)
    k: float = Field(1.0, ge=0.65, le=2.1)
    source: str = Field(min_length=1, max_length=200)
    grade: Grade

    @model_validator(mode="after")
    def _is_a_tube(self) -> StrutTube:
        if not Length(0) < self.wall * 2 < self.outside <= Length.imperial(feet=2):
            raise ValueError("outside must be over twice the wall, and at most 2 ft")
        return self


class Rating(BaseModel):
    """What the maker's table allows, in pounds: `loads` by length for a family of struts, `load_lb` for a part.
    `extended`: the table for struts with extensions. Between two lengths the longer one's load counts; beyond the
    longest nothing is rated."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    family: str | None = Field(None, min_length=1, max_length=80)
    part: str | None = Field(None, min_length=1, max_length=80)
    extended: bool = False
    loads: Annotated[tuple[tuple[WrittenLength, Pounds], ...], Field(max_length=200)] = ()
    load_lb: Pounds | None = None
    source: str = Field(min_length=1, max_length=200)
    edition: str = Field("-", min_length=1, max_length=80)
    grade: Grade

    @model_validator(mode="after")
    def _says_what_it_rates(self) -> Rating:
        if (self.family is None) == (self.part is None):
            raise ValueError("a rating is of a family (with loads) or of a part (with load_lb)")
        if self.family is not None and not self.loads:
            raise ValueError('loads is missing; write it like [["8 ft", 12000], ["12 ft", 9000]]')
        if self.part is not None and self.load_lb is None:
            raise ValueError("load_lb is missing; write the pounds that the part is rated for")
        for (shorter, more), (longer, less) in pairwise(self.loads):
            if not shorter < longer or less > more:
                raise ValueError("loads must go from short to long, and never rise with the length")
        return self

    def at(self, length: Length) -> float | None:
        """Pounds at a length, never more than the table says for it; None beyond its end."""
        return next((load for tabulated, load in self.loads if tabulated >= length), None)


class Kit(BaseModel):
    """How a kit is made, what its maker rates it for and how it is set: from the maker's document, named in `source`.
    Lengths of the kit. `*_takes`: from the face that bears to the end of the member, measured along the member."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    plate_length: WrittenLength  # one wall plate
    plate_hole_spacing: WrittenLength
    plate_first_hole: WrittenLength  # from the end of the plate
    plate_thickness: WrittenLength
    head_takes: WrittenLength  # head fitting: wall-plate pin to the end of the strut
    base_takes: WrittenLength  # base plate: the ground to the end of the strut
    brace_takes: WrittenLength  # both ends of a mid brace together
    clamp_takes: WrittenLength  # both clamp seats of a lateral or diagonal together
    slack_in: WrittenLength  # adjustment left to shorten, at the setting length
    slack_out: WrittenLength  # adjustment left to lengthen (tightening)
    anchor_holes: int = Field(2, ge=1, le=20)  # anchors a wall plate takes at least
    base_picket_holes: int = Field(4, ge=1, le=20)  # picket holes of a base plate
    waler_gap: WrittenLength  # between the base plate and its pickets, for a waler behind
    strut: StrutTube | None = None  # without it the struts are not checked as columns
    rating: Annotated[tuple[Rating, ...], Field(max_length=100)] = ()
    source: str = Field("the stock file, which names no document", min_length=1, max_length=200)
    edition: str = Field("-", min_length=1, max_length=80)
    grade: Grade = "P"
    set_step: WrittenLength = Length.imperial(inches=1)  # a strut is set to the next such step above its length
    set_step_metric: WrittenLength = Length.mm(10)
    spacing: WrittenLength | None = None  # of its rakers, on centre; None: as those of timber
    spacing_metric: WrittenLength | None = None
    plate_above: WrittenLength = Length.imperial(inches=12)  # wall plate left above the head fitting, at least
    first_pickets: int = Field(2, ge=1, le=20)  # at each base, before the load asks for more
    picket_holes: tuple[Annotated[int, Field(ge=1, le=20)], ...] = ()  # which holes they go through, from the toe
    shoulder: WrittenLength = Length.imperial(inches=12)  # no clamp nearer than this to the top of a raker
    tie_slack: WrittenLength = Length.imperial(inches=1)  # left both ways on laterals, diagonals and braces
    bay_order: tuple[str, ...] = (
        "lower lateral", "middle lateral", "upper lateral", "lower diagonal", "upper diagonal"
    )
    full_bay_over: WrittenLength = Length.imperial(feet=6)  # shorter rakers take two laterals and one diagonal

    @model_validator(mode="after")
    def _can_be_drilled(self) -> Kit:
        for name in type(self).model_fields:
            value = getattr(self, name)
            if isinstance(value, Length) and not Length(0) <= value <= _LONGEST:
                raise ValueError(f"{name} is {value.text}; write a length from 0 to {_LONGEST.text}")
        if not self.plate_hole_spacing:
            raise ValueError("plate_hole_spacing is zero; write the distance between two holes")
        for name in ("set_step", "set_step_metric", "spacing", "spacing_metric"):
            if getattr(self, name) is not None and not getattr(self, name):
                raise ValueError(f"{name} is zero; write a length over it")
        if any(hole > self.base_picket_holes for hole in self.picket_holes):
            raise ValueError(f"picket_holes names a hole past the last, {self.base_picket_holes}")
        if set(self.bay_order) != set(BAY):
            raise ValueError(f"bay_order names each of these once: {', '.join(BAY)}")
        if self.plate_first_hole * 2 > self.plate_length:
            raise ValueError("plate_first_hole is past the middle of the plate; measure it from the nearer end")
        return self
