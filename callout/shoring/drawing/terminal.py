"""The drawing on a terminal: plain characters, roughly to scale (a character is taken as twice as high as wide)."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.drawing.scene import Dimension, Ink, Point, Scene, scenes

_ROWS, _COLUMNS = 20, 60
_SOLID: dict[Ink, str] = {"wall": "#", "ground": "~", "plate": "H", "mark": "x"}


def terminal_drawing(build: Build) -> str:
    """One drawing under another, each with its dimensions below; empty where there is nothing to draw."""
    return "\n".join(_view(scene) for scene in scenes(build))


def _view(scene: Scene) -> str:
    x0, y0, x1, y1 = scene.box
    cell = max((y1 - y0) / (_ROWS - 1), (x1 - x0) / (_COLUMNS - 1) / 2)  # inches a row
    rows, columns = round((y1 - y0) / cell) + 1, round(2 * (x1 - x0) / cell) + 1
    grid = [[" "] * columns for _ in range(rows)]

    def cell_of(point: Point) -> tuple[int, int]:
        return round(2 * (point[0] - x0) / cell), rows - 1 - round((point[1] - y0) / cell)

    for stroke in scene.strokes:
        for a, b in zip(stroke.points, stroke.points[1:], strict=False):
            _line(grid, cell_of(a), cell_of(b), _SOLID.get(stroke.ink))
    drawn = ["  " + "".join(line).rstrip() for line in grid]
    return "\n".join([f"{scene.title}:", *drawn, *(_note(d) for d in scene.dimensions)]) + "\n"


def _note(dimension: Dimension) -> str:
    arrow = {"along": "/", "below": "-", "far below": "-", "leader": "-", "note": " "}.get(dimension.side, "|")
    return f"  {arrow} {dimension.text}"


def _line(grid: list[list[str]], a: tuple[int, int], b: tuple[int, int], ink: str | None) -> None:
    steps = max(abs(b[0] - a[0]), abs(b[1] - a[1]), 1)
    mark = ink or _slant(b[0] - a[0], b[1] - a[1])
    for n in range(steps + 1):
        x = a[0] + round((b[0] - a[0]) * n / steps)
        y = a[1] + round((b[1] - a[1]) * n / steps)
        if grid[y][x] in " #" or ink in (None, "x"):
            grid[y][x] = mark


def _slant(dx: int, dy: int) -> str:
    if abs(dy) * 3 < abs(dx):
        return "-"
    if abs(dx) * 3 < abs(dy):
        return "|"
    return "\\" if dx * dy > 0 else "/"
