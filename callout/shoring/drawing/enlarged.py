"""The two ends of a timber raker, enlarged: how they are cut, what they bear on, how many nails hold them.

Nails are drawn where they go, as many as the pattern says; a member that goes on beyond the picture is broken off.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import islice

from callout.shoring.build import Build, EndCuts
from callout.shoring.drawing import marks
from callout.shoring.drawing.rakers import Place
from callout.shoring.drawing.solids import SIDE, Model, Point
from callout.shoring.units import Writing
from callout.values import Length

HIGH = 175.0  # on paper
_SHOWN = 21.0  # inches of the raker
_GUSSET, _PLY, _GAP, _NAIL = 12.0, 0.75, 1.25, 0.3
#: (along the wall, off it) -> a point of the side view.
OnWall = Callable[[float, float], Point]
HEAD = replace(SIDE, title="Head of the raker, enlarged", high=HIGH, enlarged=True)
HEEL = replace(SIDE, title="Heel of the raker, enlarged", high=HIGH, enlarged=True)


def raker_outline(place: Place, on_wall: OnWall, up_wall: float, deep: float, back: float, solid: bool) -> list[Point]:
    """A raker as it is cut: its top on the wall plate with a return cut of `back` under the wall cleat, its heel on the
    sole with one before the sole cleat, or square for a trough. `up_wall`: the insertion; `on_wall` measures off the
    plate's face. In order: plate, return cut, upper edge, heel, lower edge."""
    head, out, (hx, hy) = on_wall(up_wall, 0.0), on_wall(up_wall, back), place.heel
    wall = _way(head, on_wall(up_wall + 1, 0.0))
    if solid:
        low = (hx, hy + back)
        edge = _way(low, out)
        under = (low[0] - edge[1] * deep, low[1] + edge[0] * deep)
        toe = _meet(under, edge, (hx, hy), (1.0, 0.0))
        return [head, out, low, (hx, hy), toe, _meet(under, edge, head, wall)]
    over = raker_over(place, out)
    low, under = place.on(0.0, -over), place.on(0.0, deep - over)
    return [head, out, low, under, _meet(under, place.way, head, wall)]


def raker_over(place: Place, out: Point) -> float:
    """How far the upper edge stands over the true line, for the sake of the return cut that ends at `out`."""
    (x, y), (u, v) = place.heel, place.way
    return abs((out[0] - x) * v - (out[1] - y) * u)


def _way(a: Point, b: Point) -> Point:
    size = math.dist(a, b) or 1.0
    return (b[0] - a[0]) / size, (b[1] - a[1]) / size


def _meet(a: Point, way: Point, b: Point, other: Point) -> Point:
    """Where the line through `a` meets the one through `b`."""
    turn = way[0] * other[1] - way[1] * other[0] or 1e-9
    along = ((b[0] - a[0]) * other[1] - (b[1] - a[1]) * other[0]) / turn
    return a[0] + way[0] * along, a[1] + way[1] * along


def enlarged(build: Build, writing: Writing, place: Place, on_wall: OnWall, off: float, wide: float) -> list[Model]:
    """Head and heel. `off`: depth of the wall plate and of the raker, `wide`: across it."""
    cuts = build.end_cuts
    if cuts is None or cuts.return_cut is None:
        return []
    up = marks.inch(build, "insertion_up_wall") or 0.0
    solid = build.request.sole == "solid"
    outline = raker_outline(place, on_wall, up, off, float(cuts.return_cut.inches), solid)
    head, heel = (_Joint(build, cuts, place, outline, off, Model(writing, (view,)), wide / 2) for view in (HEAD, HEEL))
    _head(head, on_wall, up)
    (_on_sole if solid else _in_trough)(heel)
    return [head.model, heel.model]


@dataclass(frozen=True)
class _Joint:
    """One end of a raker: members as planks across its width, plywood and nails in front of them."""

    build: Build
    cuts: EndCuts
    place: Place
    outline: list[Point]
    off: float
    model: Model
    half: float

    @property
    def return_cut(self) -> Length:
        return self.cuts.return_cut or Length(0)

    def timber(self, outline: list[Point], name: str) -> None:
        self.model.plank("timber", outline, -self.half, 2 * self.half, name)

    def ply(self, outline: list[Point], name: str) -> None:
        self.model.plank("ply", outline, self.half, _PLY, name)

    def nails(self, start: Point, end: Point, second: Point, count: int) -> None:
        """Two rows from `start` toward `end`, the second beginning at `second` and half a step on."""
        front, each = self.half + _PLY, max(1, -(-count // 2))
        step = (end[0] - start[0]) / max(1, each - 0.5), (end[1] - start[1]) / max(1, each - 0.5)
        rows = ((first, n + half) for n in range(each) for first, half in ((start, 0.0), (second, 0.5)))
        for (x, y), n in islice(rows, count):
            at = x + step[0] * n, y + step[1] * n
            self.model.tube("metal", (*at, front), (*at, front + 0.1), _NAIL, "nail")

    def raker_nails(self, near: float, far: float, count: int) -> None:
        """On the raker, from `near` to `far` up it."""
        start, end = (self.place.on(up, self.off * 0.15) for up in (near, far))
        self.nails(start, end, self.place.on(near, self.off * 0.6), count)

    def cleat_nails(self, cleat: str, count: int, on: Callable[[float, float], Point], shown: float) -> None:
        """Through a cleat, as far as it is shown: those of one of its two rows. `on`: along it, and out from it."""
        length = marks.made(self.build, cleat)
        if length is None or count < 2:
            return
        at, step, front = 3.0, (float(length.inches) - 6) / max(1, count // 2 - 1), self.half + 0.05
        while at < shown:
            self.model.tube("metal", (*on(at, 1.6), front), (*on(at, -2.0), front), 0.12, "nail")
            at += step

    def say(self, at: Point, text: str, *found: str) -> None:
        self.model.tag(SIDE, (*at, self.half + _PLY), found, text)

    def cut(self, label: str, at: Point, text: str = "") -> None:
        self.say(at, text or label, *marks.letter(self.build, label))

    def raker(self, *, from_heel: bool) -> None:
        self.timber(_broken_off(self.outline, self.place, from_heel=from_heel), "raker")
        self.cut("raker", self.place.on(_SHOWN - 3 if from_heel else self.place.length - _SHOWN + 1.5, self.off / 2))


def _head(one: _Joint, on_wall: OnWall, up: float) -> None:
    build, off, far = one.build, one.off, one.place.length
    one.timber(_strip(on_wall, up - 19, up + 12, -off, 0.0), "wall plate")
    one.timber(_strip(on_wall, up, up + 12, 0.0, 1.5), "wall cleat")
    one.raker(from_heel=False)
    one.ply(_strip(on_wall, up - 9.5, up + 2.5, _PLY - off, _PLY - off + _GUSSET), "top gusset")
    to_plate, to_raker = (marks.nails(build, f"top gusset to the {what}") for what in ("wall plate", "raker"))
    one.nails(on_wall(up - 9, 1.5 - off), on_wall(up + 2, 1.5 - off), on_wall(up - 9, -0.8), to_plate)
    one.raker_nails(far - 8.5, far - 3.5, to_raker)
    cleat = marks.nails(build, "wall cleat to wall plate")
    one.cleat_nails("wall cleat", cleat, lambda along, out: on_wall(up + along, out), 12.0)
    one.cut("wall plate", on_wall(up + 9, -off / 2))
    one.cut("wall cleat", on_wall(up + 6, 1.5), f"wall cleat, {cleat} x 16d in two rows")
    back = one.model.writing.length(one.return_cut)
    one.say(on_wall(up, float(one.return_cut.inches)), f"return cut {back}, under the cleat")
    one.say(_mean(one.outline[-1], one.outline[0]), f"cut {one.cuts.top_deg:.0f}°, flat on the plate")
    found = marks.items(build, "top gussets", "gusset")
    one.say(on_wall(up - 7, _GUSSET - off), f"gussets: {to_plate} x 8d to plate, {to_raker} to raker", *found)


def _on_sole(one: _Joint) -> None:
    build, (x, y) = one.build, one.place.heel
    sole, start = marks.inch(build, "sole_thickness") or 3.5, x + _GAP
    one.timber(_box(x - 14, y - sole, x + 15, y), "sole plate")
    one.raker(from_heel=True)
    one.timber(_box(x, y, start, y + 3), "wedges")
    one.timber(_box(start, y, start + 12, y + 1.5), "sole cleat")
    low = y - sole + 0.5
    one.ply(_box(x - 10, low, x + 2, low + _GUSSET), "bottom gusset")
    to_raker, to_sole = (marks.nails(build, f"bottom gusset to the {what}") for what in ("raker", "sole"))
    one.nails((x - 9, low + 0.6), (x + 1, low + 0.6), (x - 9, low + 2.0), to_sole)
    one.raker_nails(3.5, 8.5, to_raker)
    cleat = marks.nails(build, "sole cleat to sole")
    one.cleat_nails("sole cleat", cleat, lambda along, out: (start + along, y + out), 12.0)
    back = float(one.return_cut.inches)
    text = f"return cut {one.model.writing.length(one.return_cut)}, before the wedges"
    one.say((x, y + back * 0.6), text)
    one.say(_mean(one.outline[3], one.outline[4]), f"cut {one.cuts.bottom_deg:.0f}°, flat on the sole")
    text = f"gussets: {to_raker} x 8d to raker, {to_sole} to sole"
    one.say((x - 2, low + 10), text, *marks.items(build, "bottom gussets", "gusset"))
    one.cut("sole cleat", (start + 9, y + 1), f"sole cleat, {cleat} x 16d in two rows")
    one.say((x + 0.6, y + 2.5), "wedges", *marks.any_items(build, "wedge pair"))
    one.cut("sole plate", (x + 12, y - sole / 2))


def _in_trough(one: _Joint) -> None:
    build, on, off, side = one.build, one.place.on, one.off, marks.inch(one.build, "heel_pad") or 18.0
    low, high = off / 2 - side / 2, off / 2 + side / 2
    base = [on(-_GAP, low), on(-_GAP, high), on(-_GAP - 3, high), on(-_GAP - 3, low)]
    one.model.plank("pad", base, -one.half, 2 * one.half, "trough base")
    one.raker(from_heel=True)
    one.timber([on(0, 0), on(0, off), on(-_GAP, off), on(-_GAP, 0)], "wedges")
    one.ply([on(-_GAP, -3.5), on(-_GAP, 8.5), on(10.5, 8.5), on(10.5, -3.5)], "trough side")
    nails = marks.nails(build, "trough side")
    one.raker_nails(1.5, 9.5, nails)
    one.say(on(0, off * 0.6), "cut square")
    one.say(on(9, 7), f"trough sides, {nails} x 8d each", *marks.items(build, "trough sides", "gusset"))
    one.say(on(-_GAP / 2, 1), "wedges, tightened last", *marks.any_items(build, "wedge pair"))
    one.cut("trough base", on(-_GAP - 1.5, high - 3), "trough base, square to the raker")


def _box(x0: float, y0: float, x1: float, y1: float) -> list[Point]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _strip(on_wall: OnWall, low: float, high: float, near: float, far: float) -> list[Point]:
    return [on_wall(low, near), on_wall(low, far), on_wall(high, far), on_wall(high, near)]


def _broken_off(outline: list[Point], place: Place, *, from_heel: bool) -> list[Point]:
    """The outline of a raker as far as it is shown from its heel, or from its head."""
    (hx, hy), (u, v), line = place.heel, place.way, _SHOWN if from_heel else place.length - _SHOWN

    def beyond(point: Point) -> float:
        up = (point[0] - hx) * u + (point[1] - hy) * v
        return up - line if from_heel else line - up

    kept: list[Point] = []
    for a, b in zip(outline, [*outline[1:], outline[0]], strict=True):
        if beyond(a) <= 0:
            kept.append(a)
        if (beyond(a) > 0) != (beyond(b) > 0):
            share = beyond(a) / (beyond(a) - beyond(b))
            kept.append((a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share))
    return kept


def _mean(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
