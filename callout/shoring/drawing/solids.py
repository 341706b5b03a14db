"""Members in space, in inches: what a drawing is made of, before anybody looks at it from one side.

Axes: x away from the wall (or along the header of a standing shore), y up from the grade, z along the wall toward who
looks at the side elevation. No paper is known here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from callout.shoring.units import Writing

Point = tuple[float, float]
Point3 = tuple[float, float, float]
#: What a thing is made of, never what it is for.
Ink = Literal["timber", "ply", "metal", "wall", "ground", "pad"]
#: In all views; in elevations alone, because it is buried or would hide the rest; of a buried thing the lid.
Seen = Literal["all", "section", "lid"]
#: Of a dimension: beside the shore, under it, or a height written at its own height.
Side = Literal["left", "below", "level"]
Z: Point3 = (0.0, 0.0, 1.0)
Y: Point3 = (0.0, 1.0, 0.0)
X: Point3 = (1.0, 0.0, 0.0)


def add(a: Point3, b: Point3, times: float = 1.0) -> Point3:
    return a[0] + b[0] * times, a[1] + b[1] * times, a[2] + b[2] * times


def less(a: Point3, b: Point3) -> Point3:
    return add(a, b, -1.0)


def dot(a: Point3, b: Point3) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Point3, b: Point3) -> Point3:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def unit(a: Point3) -> Point3:
    size = math.sqrt(dot(a, a)) or 1.0
    return a[0] / size, a[1] / size, a[2] / size


def between(a: Point3, b: Point3, share: float) -> Point3:
    return add(a, less(b, a), share)


@dataclass(frozen=True)
class Solid:
    """A flat convex `profile` pushed along a way. `name` and `axis`, its true line, are what it is measured by;
    a round one is drawn by its outline. `back`: always behind everything, like wall and ground."""

    ink: Ink
    profile: tuple[Point3, ...]
    along: Point3
    name: str = ""
    axis: tuple[Point3, Point3] | None = None
    round: bool = False
    back: bool = False
    seen: Seen = "all"

    @property
    def points(self) -> tuple[Point3, ...]:
        return (*self.profile, *(add(point, self.along) for point in self.profile))

    def faces(self) -> Iterator[tuple[tuple[Point3, ...], Point3]]:
        """Each face with the direction in which it looks."""
        far = tuple(add(point, self.along) for point in self.profile)
        middle = _mean(self.points)
        sides = [
            (a, b, add(b, self.along), add(a, self.along))
            for a, b in zip(self.profile, (*self.profile[1:], self.profile[0]), strict=True)
        ]
        for face in (self.profile, far, *sides):
            looks = unit(cross(less(face[1], face[0]), less(face[2], face[1])))
            if dot(looks, less(_mean(face), middle)) < 0:
                looks = (-looks[0], -looks[1], -looks[2])
            yield face, looks


def _mean(points: Sequence[Point3]) -> Point3:
    n = len(points)
    return sum(p[0] for p in points) / n, sum(p[1] for p in points) / n, sum(p[2] for p in points) / n


@dataclass(frozen=True)
class Tag:
    """A mark of the lists and what it is, at a point of the view: "B", "raker, cut 12 ft 10 in". `name` is put before
    the text where there is room for it, in a list under the drawing."""

    view: str
    at: Point3
    marks: tuple[str, ...]
    text: str = ""
    name: str = ""

    @property
    def listed(self) -> str:
        return f"{self.name}, {self.text}" if self.name else self.text


@dataclass(frozen=True)
class Dimension:
    """A measured distance with its text, drawn off to a `side` of the view; `row`: how far out on the left."""

    view: str
    a: Point3
    b: Point3
    text: str
    side: Side
    row: int = 0


@dataclass(frozen=True)
class Arc:
    """An angle at a corner, between two directions given in degrees from level."""

    view: str
    corner: Point3
    start: float
    end: float
    text: str


@dataclass(frozen=True)
class View:
    """One way to look: unit vectors to the right, up, and toward who looks."""

    key: str
    title: str
    right: Point3
    up: Point3
    toward: Point3
    cut_open: bool = True  # the ground is drawn as a section, with what is buried
    high: float = 430.0  # on paper, at most
    enlarged: bool = False

    def flat(self, point: Point3) -> Point:
        return dot(point, self.right), dot(point, self.up)

    @property
    def scaled(self) -> bool:
        """Whether a scale bar belongs under it: it is neither in perspective nor enlarged."""
        return self.cut_open and not self.enlarged

    def near(self, point: Point3) -> float:
        return dot(point, self.toward)


def looking(key: str, title: str, around: float, down: float, cut_open: bool = False) -> View:
    """From `around` degrees off the x axis toward z and `down` degrees above level."""
    a, e = math.radians(around), math.radians(down)
    toward = (math.cos(a) * math.cos(e), math.sin(e), math.sin(a) * math.cos(e))
    right = unit(cross(Y, toward))
    return View(key, title, right, cross(toward, right), toward, cut_open)


SIDE = View("side", "Side", X, Y, Z)
FRONT = View("front", "Front, seen toward the wall", (0.0, 0.0, -1.0), Y, X)
ELEVATION = View("front", "Front", X, Y, Z)
END = View("end", "End", (0.0, 0.0, -1.0), Y, X)
WHOLE = looking("whole", "The whole shore", 48.0, 24.0)


@dataclass
class Model:
    """The shore in space, and what is said about it in each view."""

    writing: Writing
    views: tuple[View, ...] = ()
    solids: list[Solid] = field(default_factory=list)
    tags: list[Tag] = field(default_factory=list)
    dimensions: list[Dimension] = field(default_factory=list)
    arcs: list[Arc] = field(default_factory=list)
    enlarged: list[Model] = field(default_factory=list)  # its joints, each with a view of its own

    def add(
        self, ink: Ink, profile: Sequence[Point3], along: Point3, name: str = "", *,
        axis: tuple[Point3, Point3] | None = None, round: bool = False, back: bool = False, seen: Seen = "all",
    ) -> Solid:  # fmt: skip
        solid = Solid(ink, tuple(profile), along, name, axis, round, back, seen)
        self.solids.append(solid)
        return solid

    def box(
        self, ink: Ink, low: Point3, high: Point3, name: str = "", *, back: bool = False, seen: Seen = "all"
    ) -> Solid:
        """Along the axes, between two opposite corners."""
        (x0, y0, z0), (x1, y1, z1) = low, high
        profile = [(x0, y0, z0), (x1, y0, z0), (x1, y1, z0), (x0, y1, z0)]
        middle = ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2)
        spans = (x1 - x0, y1 - y0, z1 - z0)
        longest = spans.index(max(spans))
        ends = [list(middle), list(middle)]
        ends[0][longest], ends[1][longest] = low[longest], high[longest]
        axis = (ends[0][0], ends[0][1], ends[0][2]), (ends[1][0], ends[1][1], ends[1][2])
        return self.add(ink, profile, (0.0, 0.0, z1 - z0), name, axis=axis, back=back, seen=seen)

    def beam(
        self, ink: Ink, a: Point3, b: Point3, across: Point3, wide: float, deep: float, name: str = "", *,
        seen: Seen = "all",
    ) -> Solid:  # fmt: skip
        """From a to b along its middle: `wide` in the direction `across`, `deep` square to that."""
        way = unit(less(b, a))
        level = unit(less(across, tuple(w * dot(across, way) for w in way)))  # type: ignore[arg-type]
        other = cross(way, level)
        corners = [
            add(add(a, level, i * wide / 2), other, j * deep / 2) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        return self.add(ink, corners, less(b, a), name, axis=(a, b), seen=seen)

    def tube(self, ink: Ink, a: Point3, b: Point3, across: float, name: str = "", *, seen: Seen = "all") -> Solid:
        """Round, from a to b."""
        way = unit(less(b, a))
        one = unit(cross(way, Y if abs(way[1]) < 0.9 else X))
        two = cross(way, one)
        ring = [
            add(add(a, one, math.cos(t) * across / 2), two, math.sin(t) * across / 2)
            for t in (math.tau * n / 10 for n in range(10))
        ]
        return self.add(ink, ring, less(b, a), name, axis=(a, b), round=True, seen=seen)

    def plank(
        self, ink: Ink, outline: Sequence[Point], z: float, thick: float, name: str = "",
        axis: tuple[Point3, Point3] | None = None, *, seen: Seen = "all",
    ) -> Solid:  # fmt: skip
        """A convex outline in the side view, from `z` on by `thick`."""
        profile = [(x, y, z) for x, y in outline]
        return self.add(ink, profile, (0.0, 0.0, thick), name, axis=axis, seen=seen)

    def tag(self, view: View, at: Point3, marks: Sequence[str], text: str = "", name: str = "") -> None:
        if marks or text:
            self.tags.append(Tag(view.key, at, tuple(marks), text, name))

    def measure(self, view: View, a: Point3, b: Point3, text: str, side: Side, row: int = 0) -> None:
        self.dimensions.append(Dimension(view.key, a, b, text, side, row))

    def named(self, name: str) -> Solid:
        """The first member of that name; tests and the drawing on a terminal measure by it."""
        return next(solid for solid in self.solids if solid.name == name)
