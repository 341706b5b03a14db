"""What the fittings of an adjustable-strut kit take off, and where its plates are drilled.

A table of the stock file, because another kit has other figures. Practice reads it to state needs; selection does not.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from callout.shoring.grade import Grade
from callout.values import Length
from callout.values.written import WrittenLength

_LONGEST = Length.imperial(feet=40)


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


class Kit(BaseModel):
    """Lengths of the kit. `*_takes`: from the face that bears to the end of the member, measured along the member."""

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
    strut: StrutTube | None = None  # without it the invented tube of the demonstration stands for the kit's
    waler_gap: WrittenLength  # between the base plate and its pickets, for a waler behind

    @model_validator(mode="after")
    def _can_be_drilled(self) -> Kit:
        for name in type(self).model_fields:
            value = getattr(self, name)
            if isinstance(value, Length) and not Length(0) <= value <= _LONGEST:
                raise ValueError(f"{name} is {value.text}; write a length from 0 to {_LONGEST.text}")
        if not self.plate_hole_spacing:
            raise ValueError("plate_hole_spacing is zero; write the distance between two holes")
        if self.plate_first_hole * 2 > self.plate_length:
            raise ValueError("plate_first_hole is past the middle of the plate; measure it from the nearer end")
        return self
