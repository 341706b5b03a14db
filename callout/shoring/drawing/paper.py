"""One view on paper: members, dimensions and labels laid out without one lying on another. Units are those of the SVG.

Labels stand in the free room beside the shore, in rows, each with a line to its member.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from callout.shoring.drawing.order import from_the_back
from callout.shoring.drawing.solids import Arc, Model, Point, Point3, Solid, Tag, View, dot

WIDTH = 520.0
TYPE, MARK, SMALL, LIST = 16.0, 14.0, 14.0, 15.0  # sizes of type; at this width 16 is 11 on a phone of 360 px
_LETTER = 0.55  # how wide a letter is taken to be, of its size
_ROW = 22.0
_HEAD = 34.0
_END = 9.5  # inches; the deepest timber is 9 1/4 in
_CROWDED = 1e5  # what a label that lies on the shore costs, beside its distance in units of the paper
_COLUMN = 58.0  # for the marks on either side of the whole shore


@dataclass(frozen=True)
class Patch:
    """A filled outline. `tone`: 0 lit from above, 1 from the front, 2 from the side; `name` of the member."""

    points: tuple[Point, ...]
    ink: str
    tone: int = 0
    name: str = ""


@dataclass(frozen=True)
class PaperLine:
    """A thin line: "leader", "dimension", "extension", "tick", "arc", "grain"."""

    points: tuple[Point, ...]
    kind: str


@dataclass(frozen=True)
class Words:
    at: Point
    text: str
    size: float = TYPE
    anchor: str = "start"
    turn: float = 0.0
    bold: bool = False


@dataclass(frozen=True)
class Ring:
    """A mark of the lists in its ring."""

    at: Point
    text: str
    wide: float = 24.0


Shape = Patch | PaperLine | Words | Ring


@dataclass
class Paper:
    """A finished view."""

    title: str
    height: float
    scale: float  # units of the paper an inch
    shapes: list[Shape] = field(default_factory=list)


def wide(text: str, size: float = TYPE) -> float:
    return len(text) * size * _LETTER


def laid_out(model: Model, view: View) -> Paper:
    """The view in a width of `WIDTH`; as high as it must be."""
    shown = [one for one in model.solids if one.seen != "section" or view.cut_open]
    painted = [one for one in shown if one.back] + from_the_back([one for one in shown if not one.back], view)
    for smaller, legend in ((1.0, False), (0.9, False), (1.0, True), (0.85, True), (0.7, True)):
        found = _Layout(model, view, painted, smaller, legend)
        if not found.crowded:
            break
    return found.paper


class _Layout:
    def __init__(self, model: Model, view: View, painted: list[Solid], smaller: float, legend: bool) -> None:
        self.model, self.view, self.smaller, self.crowded = model, view, smaller, False
        self.legend = legend
        self.solids = painted
        self.tags = [tag for tag in model.tags if tag.view == view.key]
        self.dimensions = [one for one in model.dimensions if one.view == view.key]
        self._fit()
        self.paper = Paper(view.title, self.height, self.scale)
        self._members()
        self._arcs()
        self._dimensions()
        self._labels()
        if self.legend and view.cut_open:
            self._write_legend()
        self._scale_bar()
        self.paper.shapes.append(Words((14, 24), view.title, TYPE, bold=True))

    def _fit(self) -> None:
        """The scale, and the room for dimensions and labels; smaller by `smaller` where labels found no room."""
        flat = [self.view.flat(point) for solid in self.solids for point in solid.points]
        self.x0, self.x1 = min(x for x, _ in flat), max(x for x, _ in flat)
        self.y0, self.y1 = min(y for _, y in flat), max(y for _, y in flat)
        across, up = self.x1 - self.x0, self.y1 - self.y0
        worded = [tag for tag in self.tags if tag.text]
        if self.view.key != "side" and across > 0.8 * up:
            self.legend = True
        labels = max((self._label_width(tag) for tag in worded), default=0.0)
        if not self.view.cut_open:
            room, self.height = WIDTH - 2 * _COLUMN, 420.0
            self.scale = min(room / across, self.height / up)
            self.left = (WIDTH - across * self.scale) / 2
            self.height = _HEAD + max(up * self.scale, 29.0 * (len(self.tags) // 2 + 1)) + 24
            self.floor = self.height - 20
            return
        rows = 1 + max((one.row for one in self.dimensions if one.side == "left"), default=-1)
        levels = [wide(one.text, SMALL) for one in self.dimensions if one.side == "level"]
        self.left = 16.0 + 32.0 * rows + (max(levels) + 22 if levels else 8.0)
        room = WIDTH - self.left - 14
        if self.view.key != "side":  # beside a raker seen from the side the sky is free
            room -= labels + 24
        self.scale = min(room / across, self.view.high / up) * self.smaller
        below = 34.0 * any(one.side == "below" for one in self.dimensions) + (46.0 if self.view.scaled else 20.0)
        self.under = below - 18.0
        if self.legend:
            below += 24.0 * len(self._legend_rows()) + 18
        self.height = _HEAD + max(up * self.scale, _ROW * len(worded) + 10) + below
        self.floor = self.height - below

    def _label_width(self, tag: Tag) -> float:
        rings = sum(max(24.0, wide(mark, MARK) + 10) + 3 for mark in tag.marks)
        return rings + (0.0 if self.legend and tag.marks else wide(tag.text) + 3)

    def _legend_rows(self) -> list[list[Tag]]:
        """What the marks are, under the drawing: one or two to a line, each once."""
        found = list({(tag.marks, tag.listed): tag for tag in self.tags if tag.marks and tag.text}.values())
        found.sort(key=lambda tag: (tag.marks[0].isdigit(), tag.marks[0].zfill(3)))
        widths = [sum(max(24.0, wide(m, MARK) + 10) + 3 for m in tag.marks) + wide(tag.listed, LIST) for tag in found]
        across = 2 if max(widths, default=0.0) < WIDTH / 2 - 14 else 1
        rows = -(-len(found) // across)
        return [found[n::rows] for n in range(rows)]

    def on_paper(self, point: Point3) -> Point:
        x, y = self.view.flat(point)
        return self.left + (x - self.x0) * self.scale, self.floor - (y - self.y0) * self.scale

    # --- members -------------------------------------------------------------------------------------------------

    def _members(self) -> None:
        self.outline: list[tuple[float, float, float]] = []  # low, high and right end of what is drawn, on paper
        for solid in self.solids:
            self._paint(solid)

    def _paint(self, solid: Solid) -> None:
        ink = solid.ink if (self.view.cut_open and self.view.key == "side") or not solid.back else f"{solid.ink} plain"
        if solid.round:
            hull = _hull([self.on_paper(point) for point in solid.points])
            self._patch(hull, ink, 1, solid.name)
            return
        lid = solid.seen == "lid" and not self.view.cut_open
        for face, looks in solid.faces():
            facing = dot(looks, self.view.toward)
            if facing > 1e-6 and (not lid or looks[1] > 0.7):
                tone = 0 if looks[1] > 0.6 else 1 if abs(looks[2]) > 0.6 else 2
                flat = [self.on_paper(point) for point in face]
                self._patch(flat, ink, tone, solid.name)
                if solid.ink == "timber" and len(face) == 4 and _end_grain(face):
                    crossed = ((flat[0], flat[2]), (flat[1], flat[3]))
                    self.paper.shapes += [PaperLine(ends, "grain") for ends in crossed]

    def _patch(self, points: list[Point], ink: str, tone: int, name: str) -> None:
        self.paper.shapes.append(Patch(tuple(points), ink, tone, name))
        self._occupy(points)

    def _occupy(self, points: list[Point]) -> None:
        for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]], strict=True):
            steps = max(1, int(abs(by - ay) // 8))
            for n in range(steps):
                (x0, y0), (x1, y1) = ((ax + (bx - ax) * s / steps, ay + (by - ay) * s / steps) for s in (n, n + 1))
                self.outline.append((min(y0, y1), max(y0, y1), max(x0, x1)))

    # --- dimensions ----------------------------------------------------------------------------------------------

    def _dimensions(self) -> None:
        for one in self.dimensions:
            a, b = self.on_paper(one.a), self.on_paper(one.b)
            if one.side == "below":
                at = self.floor + 16
                self._measured((a[0], at), (b[0], at), a, b, one.text)
            elif one.side == "left":
                at = self.left - 16 - 32 * one.row - self._levels_take()
                self._measured((at, a[1]), (at, b[1]), a, b, one.text)
        self._levels()

    def _levels_take(self) -> float:
        levels = [wide(one.text, SMALL) for one in self.dimensions if one.side == "level"]
        return max(levels) + 14 if levels else 0.0

    def _levels(self) -> None:
        """Heights above the ground at the heel, one over the other, each written at its own height."""
        levels = sorted((one for one in self.dimensions if one.side == "level"), key=lambda one: one.b[1])
        if not levels:
            return
        x, ground = self.left - 12, self.on_paper(levels[0].a)[1]
        last = ground + 20
        self.paper.shapes.append(PaperLine(((x, ground), (x, self.on_paper(levels[-1].b)[1])), "dimension"))
        self.paper.shapes.append(PaperLine(((x - 4, ground + 4), (x + 4, ground - 4)), "tick"))
        for one in levels:
            point = self.on_paper(one.b)
            last = min(last - 17, point[1])
            self.paper.shapes.append(PaperLine((point, (x, point[1])), "extension"))
            self.paper.shapes.append(PaperLine(((x - 4, point[1] + 4), (x + 4, point[1] - 4)), "tick"))
            self.paper.shapes.append(Words((x - 8, last + 5), one.text, SMALL, "end"))

    def _measured(self, a: Point, b: Point, from_a: Point, from_b: Point, text: str) -> None:
        shapes = self.paper.shapes
        shapes.append(PaperLine((a, b), "dimension"))
        for end, start in ((a, from_a), (b, from_b)):
            shapes.append(PaperLine((start, end), "extension"))
            shapes.append(PaperLine(((end[0] - 4, end[1] + 4), (end[0] + 4, end[1] - 4)), "tick"))
        middle = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
        if a[1] == b[1]:
            half = wide(text) / 2
            x = min(max(middle[0], half + 6), WIDTH - half - 6)
            shapes.append(Words((x, middle[1] + 18), text, TYPE, "middle"))
        else:
            half = wide(text) / 2
            y = min(max(middle[1], half + _HEAD - 8), self.height - half)
            shapes.append(Words((middle[0] - 6, y), text, TYPE, "middle", turn=-90))

    def _arcs(self) -> None:
        for arc in (one for one in self.model.arcs if one.view == self.view.key):
            self._arc(arc)

    def _arc(self, arc: Arc) -> None:
        x, y = self.on_paper(arc.corner)
        radius = 46.0
        turns = [math.radians(arc.start + (arc.end - arc.start) * n / 16) for n in range(17)]
        self.paper.shapes.append(
            PaperLine(tuple((x + radius * math.cos(t), y - radius * math.sin(t)) for t in turns), "arc")
        )
        middle = math.radians((arc.start + arc.end) / 2)
        at = x + (radius + 20) * math.cos(middle), y - (radius + 20) * math.sin(middle) + 5
        self.paper.shapes.append(Words(at, arc.text, TYPE, "middle", bold=True))

    # --- labels --------------------------------------------------------------------------------------------------

    def _labels(self) -> None:
        if self.view.cut_open:
            self._column([tag for tag in self.tags if tag.marks or tag.text])
        else:
            self._rings([tag for tag in self.tags if tag.marks])

    def _column(self, tags: list[Tag]) -> None:
        """Rows to the right of the shore, in the order of the members' heights, as near to them as there is room."""
        tags = sorted(tags, key=lambda tag: self.on_paper(tag.at)[1])
        rows = [_HEAD + 4 + _ROW / 2 * n for n in range(int((self.floor - _HEAD + 4) // (_ROW / 2)))]
        free = [self._right_of(y) + 18 for y in rows]

        def cost(tag: Tag, k: int) -> float:
            crowded = free[k] + self._label_width(tag) > WIDTH - 6
            return abs(rows[k] - self.on_paper(tag.at)[1]) + (_CROWDED if crowded else 0.0)

        for tag, k in zip(tags, _rows_for(tags, len(rows), cost), strict=True):
            if cost(tag, k) >= _CROWDED:
                self.crowded = True
            self._label(tag, (min(free[k], WIDTH - 6 - self._label_width(tag)), rows[k]))

    def _right_of(self, y: float) -> float:
        """The right end of what is drawn in the row at `y`."""
        return max((x for low, high, x in self.outline if low <= y + 11 and high >= y - 11), default=self.left)

    def _label(self, tag: Tag, at: Point) -> None:
        x, y = at
        self.paper.shapes.append(PaperLine((self.on_paper(tag.at), (x, y)), "leader"))
        for mark in tag.marks:
            ring = max(24.0, wide(mark, MARK) + 10)
            self.paper.shapes.append(Ring((x + ring / 2, y), mark, ring))
            x += ring + 3
        if tag.text and not (self.legend and tag.marks):
            self.paper.shapes.append(Words((x + 3, y + 5.5), tag.text))

    def _write_legend(self) -> None:
        for n, row in enumerate(self._legend_rows()):
            for k, tag in enumerate(row):
                x, y = 14.0 + k * WIDTH / 2, self.floor + self.under + 24 * n
                for mark in tag.marks:
                    ring = max(24.0, wide(mark, MARK) + 10)
                    self.paper.shapes.append(Ring((x + ring / 2, y), mark, ring))
                    x += ring + 3
                self.paper.shapes.append(Words((x + 3, y + 5.5), tag.listed, LIST))

    def _rings(self, tags: list[Tag]) -> None:
        """Marks alone, in two columns on either side of the shore, each beside what is nearest."""
        seen: dict[tuple[str, ...], Tag] = {}
        for tag in tags:
            seen.setdefault(tag.marks, tag)
        ordered = sorted(seen.values(), key=lambda tag: self.on_paper(tag.at)[0])
        half = len(ordered) // 2
        for side, group in (("left", ordered[:half]), ("right", ordered[half:])):
            group.sort(key=lambda tag: self.on_paper(tag.at)[1])
            bottom = self.height - 18
            last = _HEAD
            for n, tag in enumerate(group):
                wanted = self.on_paper(tag.at)[1]
                y = min(max(wanted, last + 29), bottom - 29 * (len(group) - 1 - n))
                last = y
                rings = sum(max(24.0, wide(mark, MARK) + 10) + 3 for mark in tag.marks)
                x = 8.0 if side == "left" else WIDTH - 8 - rings
                self._ring_label(tag, x, y, side, rings)

    def _ring_label(self, tag: Tag, x: float, y: float, side: str, rings: float) -> None:
        end = (x + rings - 3, y) if side == "left" else (x, y)
        self.paper.shapes.append(PaperLine((self.on_paper(tag.at), end), "leader"))
        for mark in tag.marks:
            ring = max(24.0, wide(mark, MARK) + 10)
            self.paper.shapes.append(Ring((x + ring / 2, y), mark, ring))
            x += ring + 3

    # --- scale ---------------------------------------------------------------------------------------------------

    def _scale_bar(self) -> None:
        """Black and white feet or metres, as long as a third of the width allows."""
        if not self.view.scaled:
            return
        each = (1000 / 25.4 if self.model.writing.metric else 12.0) * self.scale
        count = max(1, min(5, int(WIDTH / 3 // each)))
        x, y = 14.0, self.height - 14
        for n in range(count):
            ends = x + n * each, x + (n + 1) * each
            box = ((ends[0], y - 6), (ends[1], y - 6), (ends[1], y), (ends[0], y))
            self.paper.shapes.append(Patch(box, "bar" if n % 2 == 0 else "bar light"))
        unit = "m" if self.model.writing.metric else "ft"
        self.paper.shapes.append(Words((x + count * each + 8, y), f"{count} {unit}", SMALL))


def _end_grain(face: Sequence[Point3]) -> bool:
    """Whether a face is the sawn end of a timber, which is crossed: no side of a timber is as small."""
    return max(math.dist(a, b) for a, b in zip(face, (*face[1:], face[0]), strict=True)) < _END


def _rows_for(tags: list[Tag], rows: int, cost: Callable[[Tag, int], float]) -> list[int]:
    """The cheapest half-row of each label, two half-rows apart or more, in the given order."""
    if not tags:
        return []
    best: list[list[tuple[float, int]]] = []  # for each label and last row it may take: cost, row taken
    for n, tag in enumerate(tags):
        line: list[tuple[float, int]] = []
        for k in range(rows):
            before = 0.0 if n == 0 else (best[n - 1][k - 2][0] if k >= 2 else math.inf)
            here = (before + cost(tag, k), k)
            line.append(min(line[-1], here) if line else here)
        best.append(line)
    found, last = [], rows - 1
    for line in reversed(best):
        row = line[max(0, last)][1]
        found.append(row)
        last = row - 2
    return found[::-1]


def _hull(points: list[Point]) -> list[Point]:
    """The outline of points (Andrew's monotone chain)."""
    ordered = sorted(set(points))

    def half(run: list[Point]) -> list[Point]:
        chain: list[Point] = []
        for p in run:
            while len(chain) > 1 and (
                (chain[-1][0] - chain[-2][0]) * (p[1] - chain[-2][1])
                <= (chain[-1][1] - chain[-2][1]) * (p[0] - chain[-2][0])
            ):
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return half(ordered) + half(ordered[::-1]) if len(ordered) > 2 else ordered
