"""What people see and say of a damaged wall, and of a shore that they look at."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.values.length import WrittenLength

Wall = Literal["brick", "block", "concrete", "timber"]
Soil = Literal["loam", "clay", "sand", "gravel"]
Ground = Literal["soil", "pavement"]
Floor = Literal["wood", "steel", "concrete"]
Before = Literal["clear", "debris", "slope"]


class Seen(BaseModel):
    """What is seen and measured of a wall; None where nobody knows yet.

    `damage_height`: of the floor or roof line, or of the damage, that must be held. `floor`: what the floors are made
    of that the wall carries, `floors` how many of them with the roof, `floor_span` how far they reach to their next
    support.
    `before`: what lies in front of the wall, `room` how much of it is free.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    wall_length: WrittenLength | None = None
    wall_height: WrittenLength | None = None
    wall_thickness: WrittenLength | None = None
    wall: Wall | None = None
    openings: int | None = Field(default=None, ge=0, le=99)
    floor: Floor | None = None
    floors: int | None = Field(default=None, ge=0, le=20)
    floor_span: WrittenLength | None = None
    lean: WrittenLength | None = None
    damage_height: WrittenLength | None = None
    ground: Ground | None = None
    soil: Soil | None = None
    before: Before | None = None
    room: WrittenLength | None = None


#: What is measured of a wall.
SEEN_LENGTHS = (
    "wall_length", "wall_height", "wall_thickness", "floor_span", "lean", "damage_height", "room",
)  # fmt: skip


class MarkReading(BaseModel):
    """One mark as it was read: how wide a crack is, how far a plumb line hangs off, or how much a level line is out.
    `over` is the height or the length over which a plumb or a level is taken; both may be negative, one way or the
    other."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    mark: str = Field(min_length=1, max_length=60)
    kind: Literal["crack", "plumb", "level"]
    value: WrittenLength
    over: WrittenLength | None = None


class Looked(BaseModel):
    """What somebody says of a shore that they look at, whole or in part. `tight`: whether everything was found or made
    tight; `sounds`: whether anything was heard to crack, snap or grate; `signed`: who looked."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    readings: tuple[MarkReading, ...] = ()
    tight: bool | None = None
    sounds: bool = False
    signed: str = ""
