"""What is to be drawn, in inches: x away from the wall (or along it), y up from the grade. No device is known here."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from callout.shoring.build import Build
from callout.shoring.request import writing_of
from callout.shoring.writing import Writing
from callout.values import Length

Point = tuple[float, float]
#: wall and ground are hatched; a member bears, a tie is lighter, a mark is a fixing, a plate is the heaviest line.
Ink = Literal["wall", "ground", "plate", "member", "tie", "mark"]
Side = Literal["left", "far left", "right", "below", "far below", "along", "leader", "note"]


@dataclass(frozen=True)
class Stroke:
    ink: Ink
    points: tuple[Point, ...]
    name: str = ""


@dataclass(frozen=True)
class Dimension:
    """A measured distance with its text, drawn off to a `side` of the line from a to b; a leader points at b, a note
    stands under the title of the drawing."""

    a: Point
    b: Point
    text: str
    side: Side


@dataclass
class Scene:
    title: str
    writing: Writing
    strokes: list[Stroke] = field(default_factory=list)
    dimensions: list[Dimension] = field(default_factory=list)

    def line(self, ink: Ink, *points: Point, name: str = "") -> None:
        self.strokes.append(Stroke(ink, points, name))

    def measure(
        self, a: Point, b: Point, length: Length, side: Side, what: str = "", made: tuple[str, Length] | None = None
    ) -> None:
        """`made`: how the member is made, where that is not the length that is drawn: ("cut", 12 ft 10 in)."""
        drawn = self.writing.length(length)
        self.dimensions.append(Dimension(a, b, f"{what} {drawn}".strip(), side))
        if made is not None and (other := self.writing.length(made[1])) != drawn:
            self.dimensions.append(Dimension(a, b, f"{what}: {made[0]} to {other}", "note"))

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of all that is drawn."""
        points = [p for s in self.strokes for p in s.points]
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return min(xs), min(ys), max(xs), max(ys)


def written(build: Build) -> Writing:
    """What the build's sheet and drawings are written in."""
    return writing_of(build.request, build.site)


def inch(build: Build, name: str) -> float | None:
    """A length of the geometry in inches: exact, or by rule where only that exists. None where the shore has none."""
    pair = build.geometry.get(name)
    return None if pair is None else float(pair.best.inches)


def cut_of(build: Build, label: str) -> tuple[str, Length] | None:
    """How the member of that name is made: cut to a length, or set to one. A rule or an allowance makes it longer."""
    lengths = [("cut", cut.length) for cut in build.cuts if cut.label == label]
    lengths += [("set", one.setting) for one in build.setting if one.label == f"{label} 1"]
    return lengths[0] if lengths else None


def scenes(build: Build) -> tuple[Scene, ...]:
    """The side elevation and the row along the wall; one front view for shores that stand or lie; none if refused."""
    from callout.shoring.drawing.fronts import front
    from callout.shoring.drawing.rakers import row, side

    if build.refused is not None or not build.geometry:
        return ()
    views = (side, row) if build.request.kind in ("raker", "flying_raker") else (front,)
    return tuple(view(build) for view in views)
