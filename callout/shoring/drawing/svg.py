"""The drawing as SVG: to scale, dimensioned, black on white, told apart by line weight and dash, never by colour."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from callout.shoring.build import Build
from callout.shoring.drawing.scene import Dimension, Ink, Point, Scene, scenes

_WIDTH, _HEIGHT, _MARGIN, _HEAD = 600.0, 600.0, 92.0, 70.0
_LEAST_WIDTH = 720.0
_NOTE_LINES = 3
_STROKES: dict[Ink, str] = {
    "wall": 'fill="url(#wall)" stroke="black" stroke-width="1.2"',
    "ground": 'fill="none" stroke="black" stroke-width="2.2" stroke-dasharray="14 4 3 4"',
    "plate": 'fill="none" stroke="black" stroke-width="6.5" stroke-linecap="butt"',
    "member": 'fill="none" stroke="black" stroke-width="4"',
    "tie": 'fill="none" stroke="black" stroke-width="1.8"',
    "mark": 'fill="none" stroke="black" stroke-width="2.6"',
}
_PATTERN = (
    '<defs><pattern id="wall" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(38)">'
    '<path d="M0 0V9" stroke="black" stroke-width="0.8"/></pattern></defs>'
)
#: How far off a dimension line runs from what it measures.
_AWAY: dict[str, Point] = {
    "left": (-36, 0), "far left": (-66, 0), "right": (36, 0), "below": (0, 30), "far below": (0, 60),
}  # fmt: skip


def svg_drawing(build: Build) -> str:
    """A whole SVG file. A refused build gets its reason in place of a drawing."""
    views = scenes(build)
    width = max(_LEAST_WIDTH, len(views) * _WIDTH)
    body = [_text((16, 26), f"Build {build.build_id}: {build.title}", 19, "start", bold=True)]
    if build.refused is not None:
        body.append(_text((16, 52), build.refused.reason, 15, "start"))
    for number, scene in enumerate(views):
        body += _view(scene, number * _WIDTH)
    body.append(_text((16, _HEIGHT + 56), "  ".join(build.cautions[:2]), 13, "start"))
    lines = "\n".join(body)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {_HEIGHT + 70:g}" width="{width:g}" '
        f'height="{_HEIGHT + 70:g}" font-family="Helvetica, Arial, sans-serif">\n'
        f'<rect width="100%" height="100%" fill="white"/>\n{_PATTERN}\n{lines}\n</svg>\n'
    )


def _view(scene: Scene, left: float) -> list[str]:
    x0, y0, x1, y1 = scene.box
    scale = min((_WIDTH - 2 * _MARGIN) / (x1 - x0), (_HEIGHT - _HEAD - _MARGIN) / (y1 - y0))

    def paper(point: Point) -> Point:
        return left + _WIDTH / 2 + (point[0] - (x0 + x1) / 2) * scale, _HEIGHT - _MARGIN / 2 - (point[1] - y0) * scale

    found = [_text((left + _MARGIN, 54), f"{scene.title}  ({_scale(scene, scale)})", 13, "start")]
    for stroke in scene.strokes:
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(paper, stroke.points))
        title = f"<title>{escape(stroke.name)}</title>" if stroke.name else ""
        found.append(f'<polyline points="{path}" {_STROKES[stroke.ink]}>{title}</polyline>')
    for number, line in enumerate(_notes(scene)):
        found.append(_text((left + _MARGIN, 71 + 16 * number), line, 13, "start"))
    for dimension in scene.dimensions:
        found += _dimension(dimension, paper(dimension.a), paper(dimension.b))
    return found


def _notes(scene: Scene) -> list[str]:
    """The notes, in the few lines that there is room for over the drawing."""
    notes = [dimension.text for dimension in scene.dimensions if dimension.side == "note"]
    return ["; ".join(notes[line::_NOTE_LINES]) for line in range(min(_NOTE_LINES, len(notes)))]


def _scale(scene: Scene, scale: float) -> str:
    """How large a foot or a metre is on this paper; `scale` is pixels an inch."""
    return f"1 m = {1000 / 25.4 * scale:.0f} px" if scene.writing.metric else f"1 ft = {12 * scale:.0f} px"


def _dimension(dimension: Dimension, a: Point, b: Point) -> list[str]:
    """A thin line with slashes at its ends beside what it measures; the text along it."""
    if dimension.side == "note":
        return []
    if dimension.side == "leader":
        line = f"M{b[0]:.1f} {b[1]:.1f}l26 14h12"
        found = [f'<path d="{line}" fill="none" stroke="black" stroke-width="0.9"/>']
        return [*found, _text((b[0] + 42, b[1] + 19), dimension.text, 15, "start")]
    if dimension.side == "along":
        middle = (a[0] * 0.3 + b[0] * 0.7, a[1] * 0.3 + b[1] * 0.7)
        turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
        turn = turn - 180 if turn > 90 else turn + 180 if turn < -90 else turn
        rise = math.radians(turn - 90)
        at = (middle[0] + 12 * math.cos(rise), middle[1] + 12 * math.sin(rise))
        return [_text(at, dimension.text, 15, "middle", turn=turn)]
    dx, dy = _AWAY[dimension.side]
    a, b = (a[0] + dx, a[1] + dy), (b[0] + dx, b[1] + dy)
    found = [f'<path d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" stroke="black" stroke-width="0.9"/>']
    for x, y in (a, b):
        slash = f"M{x - 4:.1f} {y + 4:.1f}L{x + 4:.1f} {y - 4:.1f}"
        found.append(f'<path d="{slash}" stroke="black" stroke-width="1.6"/>')
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    if dimension.side in ("below", "far below"):
        found.append(_text((middle[0], middle[1] + 17), dimension.text, 15, "middle"))
    else:
        shift = 17 if dimension.side == "right" else -8
        found.append(_text((middle[0] + shift, middle[1]), dimension.text, 15, "middle", turn=-90))
    return found


def _text(at: Point, text: str, size: int, anchor: str, *, turn: float = 0.0, bold: bool = False) -> str:
    x, y = at
    turned = f' transform="rotate({turn:.1f} {x:.1f} {y:.1f})"' if turn else ""
    weight = ' font-weight="bold"' if bold else ""
    halo = 'paint-order="stroke" stroke="white" stroke-width="3"'
    where = f'x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}"'
    return f"<text {where} {halo}{weight}{turned}>{escape(text)}</text>"
