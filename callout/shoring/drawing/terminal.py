"""The drawing on a terminal: plain characters, roughly to scale (a character is taken as twice as high as wide)."""

from __future__ import annotations

import itertools

from callout.shoring.build import Build
from callout.shoring.drawing.solids import Model, Point, Solid, View
from callout.shoring.drawing.svg import model_of

_ROWS, _COLUMNS = 20, 60
_SOLID = {"wall": "#", "ground": "~", "pad": "="}
#: Of a member that is a plate or a block, its outline is drawn; of any other its true line.
_HEAVY = ("wall plate", "sole plate", "header", "sole")


def terminal_drawing(build: Build) -> str:
    """The elevations, one under another; empty where there is nothing to draw."""
    model = model_of(build)
    if model is None:
        return ""
    return "\n".join(_view(model, view) for view in model.views if view.cut_open)


def _view(model: Model, view: View) -> str:
    shown = [solid for solid in model.solids if solid.back or solid.axis is not None]
    lines = [(solid, [view.flat(point) for point in _path(solid, view)]) for solid in shown]
    points = [point for _, path in lines for point in path]
    x0, x1 = min(x for x, _ in points), max(x for x, _ in points)
    y0, y1 = min(y for _, y in points), max(y for _, y in points)
    cell = max((y1 - y0) / (_ROWS - 1), (x1 - x0) / (_COLUMNS - 1) / 2)  # inches a row
    rows, columns = round((y1 - y0) / cell) + 1, round(2 * (x1 - x0) / cell) + 1
    grid = [[" "] * columns for _ in range(rows)]

    def cell_of(point: Point) -> tuple[int, int]:
        return round(2 * (point[0] - x0) / cell), rows - 1 - round((point[1] - y0) / cell)

    for solid, path in lines:
        for a, b in itertools.pairwise(path):
            _line(grid, cell_of(a), cell_of(b), _mark(solid))
    drawn = ["  " + "".join(line).rstrip() for line in grid]
    measured = [f"  {one.text}" for one in model.dimensions if one.view == view.key]
    said = [f"  {' '.join(tag.marks)} {tag.text}" for tag in model.tags if tag.view == view.key and tag.text]
    return "\n".join([f"{view.title}:", *drawn, *measured, *dict.fromkeys(said)]) + "\n"


def _path(solid: Solid, view: View) -> list[tuple[float, float, float]]:
    """The true line of a member; the edge of wall and ground that is seen."""
    if not solid.back:
        assert solid.axis is not None
        return list(solid.axis)
    if solid.ink == "ground":
        first, away = solid.profile[0], solid.along[2]
        edges = sorted(solid.profile, key=lambda point: -point[1])[:2], [first, (*first[:2], first[2] + away)]
        return max(edges, key=lambda edge: abs(view.flat(edge[0])[0] - view.flat(edge[1])[0]))
    return [*solid.profile, solid.profile[0]] if view.key == "side" else []


def _mark(solid: Solid) -> str | None:
    return "H" if solid.name in _HEAVY else _SOLID.get(solid.ink)


def _line(grid: list[list[str]], a: tuple[int, int], b: tuple[int, int], ink: str | None) -> None:
    steps = max(abs(b[0] - a[0]), abs(b[1] - a[1]), 1)
    mark = ink or _slant(b[0] - a[0], b[1] - a[1])
    for n in range(steps + 1):
        x = a[0] + round((b[0] - a[0]) * n / steps)
        y = a[1] + round((b[1] - a[1]) * n / steps)
        if grid[y][x] in " #~" or ink is None:
            grid[y][x] = mark


def _slant(dx: int, dy: int) -> str:
    if abs(dy) * 3 < abs(dx):
        return "-"
    if abs(dx) * 3 < abs(dy):
        return "|"
    return "\\" if dx * dy > 0 else "/"
