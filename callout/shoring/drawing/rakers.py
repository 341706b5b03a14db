"""Rakers in space: wall, ground and what every raker shore has; the timber and the struts have modules of their own.

A raker's true line runs from its heel to the insertion. The widths of a kit's pieces are not in its stock file, so that
struts and plates are drawn about as wide as such pieces are; every length is the build's own.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.drawing.solids import FRONT, SIDE, WHOLE, Arc, Model, Point, Point3
from callout.shoring.request import writing_of
from callout.values import Length

SIDES = (-1, 1)  # of a raker, along the wall


@dataclass(frozen=True)
class Place:
    """Where one raker stands: its triangle in the side view, and how far along the wall."""

    number: int
    z: float
    insertion: Point
    heel: Point

    @property
    def way(self) -> Point:
        """Up the raker, of length one."""
        size = math.dist(self.heel, self.insertion)
        return (self.insertion[0] - self.heel[0]) / size, (self.insertion[1] - self.heel[1]) / size

    @property
    def down(self) -> Point:
        """Square to the raker, toward wall and ground."""
        x, y = self.way
        return -y, x

    @property
    def length(self) -> float:
        return math.dist(self.heel, self.insertion)

    def on(self, up: float, below: float = 0.0) -> Point:
        """`up` the raker from its heel, `below` its true line."""
        (x, y), (u, v), (m, n) = self.heel, self.way, self.down
        return x + u * up + m * below, y + v * up + n * below

    def at(self, up: float, below: float = 0.0, aside: float = 0.0) -> Point3:
        x, y = self.on(up, below)
        return x, y, self.z + aside


class RakerModel:
    """The common part, filled by `timber` or `struts`. `off`: how far the raker's insertion is from the wall."""

    def __init__(self, build: Build, off: float) -> None:
        self.build, self.off = build, off
        self.writing = writing_of(build.request, build.site)
        self.height, self.lean = self.inch("insertion"), self.inch("lean")
        self.base, self.rise = self.inch("base"), self.inch("heel_rise")
        self.sole = self.inch("sole_thickness")
        self.spacing = self.inch("spacing")
        self.count = self._rakers()
        self.model = Model(self.writing, (SIDE, FRONT, WHOLE) if self.count > 1 else (SIDE, WHOLE))
        self.run = math.hypot(self.height, self.lean) or 1.0
        self.plate = self.inch("wall_plate") or self.height
        self.start = self.inch("plate_foot_up_wall")
        if build.request.kind == "flying_raker":
            self.start = (self.inch("insertion_up_wall") or self.height) - self.inch("insertion_on_plate")
        reach = self.inch("base_on_sole") or self.base
        heel = (reach + off, self.rise + self.sole)
        top = (self.lean + off, self.height)
        self.places = [Place(n + 1, -self.spacing * n, top, heel) for n in range(self.count)]
        cut = marks.made(build, "sole plate")
        self.far = max(heel[0] + 0.12 * self.height, off + float(cut.inches) if cut else 0.0) + 26

    def inch(self, name: str) -> float:
        return marks.inch(self.build, name) or 0.0

    def text(self, length: Length | float) -> str:
        length = length if isinstance(length, Length) else Length.nearest(length)
        return self.writing.length(length)

    def _rakers(self) -> int:
        chosen = (c.value for c in self.build.chosen if c.part == "rakers" and isinstance(c.value, int))
        return self.build.request.rakers or next(chosen, 1)

    def wall_point(self, along: float, off: float = 0.0) -> Point:
        """`along` the wall's face from the grade, `off` it."""
        x, y = self.lean / self.run, self.height / self.run
        return x * along + y * off, y * along - x * off

    def along_wall(self, low: float, high: float, near: float, far: float) -> list[Point]:
        """A four-sided outline in the side view: from `low` to `high` along the wall, from `near` to `far` off it."""
        return [
            self.wall_point(low, near), self.wall_point(low, far), self.wall_point(high, far),
            self.wall_point(high, near),
        ]  # fmt: skip

    def ground_and_wall(self) -> None:
        """The wall is shown to a little over the plate's top, or to its own top where that is lower."""
        build, model = self.build, self.model
        over = self.start + self.plate + max(14.0, 0.08 * self.plate)
        said = build.request.wall_height
        top = min(over, float(said.inches)) if said is not None else over
        thick = min(float(build.request.wall_thickness.inches), 24.0) if build.request.wall_thickness else 8.0
        aside = max(20.0, 0.2 * self.height)
        low = -self.spacing * (self.count - 1) - aside
        x, y = self.wall_point(top)
        profile = [(-thick, 0.0, low), (0.0, 0.0, low), (x, y, low), (x - thick, y, low)]
        model.add("wall", profile, (0.0, 0.0, aside - low), "wall", back=True)
        line = [(-thick - 8, 0.0), (0.0, 0.0), *self._to_the_heel(), (self.far, self.rise)]
        for (ax, ay), (bx, by) in itertools.pairwise(line):
            under = min(ay, by) - 7
            profile = [(ax, ay, low), (bx, by, low), (bx, under, low), (ax, under, low)]
            model.add("ground", profile, (0.0, 0.0, aside - low), "ground", back=True)

    def _to_the_heel(self) -> tuple[Point, ...]:
        """The ground from the wall to the heel: a step where the curb is known to stand, else a slope."""
        site, rise, base = self.build.site, self.rise, self.base
        if site.curb is None or site.curb_at is None or float(site.curb_at.inches) >= base:
            return () if not rise else ((base * 0.6, 0.0 if rise >= 0 else rise), (base * 0.75, rise))
        at = float(site.curb_at.inches)
        return (at, rise + float(site.curb.inches)), (at + 0.01, rise)

    def anchors(self, face: float) -> None:
        """The anchors of the wall plates, where the positions say; those between them evenly."""
        placed = {place.name: float(place.at.inches) for place in self.build.positions if place.at is not None}
        low, high = placed.get("lower anchor"), placed.get("upper anchor")
        if low is None or high is None:
            return
        each = sum(p.quantity for p in self.build.parts if p.part == "anchor") // max(1, self.count)
        ups = [low + (high - low) * n / max(1, each - 1) for n in range(max(2, each))]
        found = marks.any_items(self.build, "anchor")
        for place in self.places:
            for up in ups:
                (ax, ay), (bx, by) = (
                    self.wall_point(self.start + up, face),
                    self.wall_point(self.start + up, face + 1.2),
                )
                self.model.tube("metal", (ax, ay, place.z), (bx, by, place.z), 2.2, "anchor")
        for up, name in ((low, "lower anchor"), (high, "upper anchor")):
            x, y = self.wall_point(self.start + up, face + 1)
            at = self.writing.dug(Length.nearest(up))
            self.model.tag(SIDE, (x, y, 0.0), found, f"{name}, {at} up the plate")
        self.model.tag(WHOLE, (*self.wall_point(self.start + high, face + 1), self.places[-1].z), found)

    def picket(self, x: float, z: float, level: float) -> None:
        """36 in of steel, two thirds in the ground (picket holdfasts, NAVEDTRA 14251)."""
        self.model.tube("metal", (x, level, z), (x, level + 12, z), 1.3, "picket")
        self.model.tube("metal", (x, level - 24, z), (x, level, z), 1.3, "picket in the ground", seen="section")

    def pad(self, label: str) -> None:
        side = self.inch("heel_pad")
        if not marks.counted(self.build, label) or not side:
            return
        x, y = self.places[0].heel
        top = y - self.sole
        for place in self.places:
            low = (x - side / 2, top - 3, place.z - side / 2)
            self.model.box("pad", low, (x + side / 2, top - 0.01, place.z + side / 2), label, seen="lid")
        at = (x + side * 0.35, top - 1.5, 0.0)
        self.model.tag(SIDE, at, marks.letter(self.build, label), f"{label}, {self.text(side)}")
        self.model.tag(WHOLE, (x + side * 0.4, top, self.places[-1].z), marks.letter(self.build, label))

    def pickets_each(self) -> int:
        found = (round(one.value) for one in self.build.loads if one.name == "pickets at each heel")
        return next(found, 2)

    def frame(self) -> None:
        """Insertion, base, spacing, the angle, and the heights of what ties the rakers."""
        build, model, (hx, hy) = self.build, self.model, self.places[0].heel
        left = min(0.0, self.lean)
        insertion = self.text(build.geometry["insertion"].best)
        model.measure(SIDE, (left, 0, 0), (left, self.height, 0), f"insertion {insertion}", "left")
        reach = self.writing.dug(Length.nearest(hx))
        low = min(0.0, self.rise)
        model.measure(SIDE, (0, low, 0), (hx, low, 0), f"{reach} to the heel", "below")
        angle = build.request.angle_deg or round(math.degrees(math.atan2(self.height - self.rise, self.base)))
        model.arcs.append(Arc("side", (hx, hy, 0), 180 - angle, 180, f"{angle}°"))
        if self.count > 1:
            second = self.places[1].z
            spacing = f"{self.text(build.geometry['spacing'].best)} on centre"
            model.measure(FRONT, (hx, self.rise, 0), (hx, self.rise, second), spacing, "below")
        model.measure(FRONT, (0, 0, 0), (0, self.height, 0), f"insertion {insertion}", "left")

    def tie_height(self, up: float) -> None:
        """How high above the ground at the heel the middle of a tie is, at the first raker."""
        place = self.places[0]
        x, y = place.on(up)
        ground = self.rise
        self.model.measure(FRONT, (x, ground, 0), (x, y, 0), self.writing.dug(Length.nearest(y - ground)), "level")
