"""Rakers: the side elevation, and the row seen along the wall."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from callout.shoring.build import Build
from callout.shoring.drawing.scene import Point, Scene, cut_of, inch, written


def side(build: Build) -> Scene:
    geometry = build.geometry
    height, lean = inch(build, "insertion") or 0.0, inch(build, "lean") or 0.0
    base, rise = inch(build, "base") or 0.0, inch(build, "heel_rise") or 0.0
    sole = inch(build, "sole_thickness") or 0.0
    scene = Scene("side elevation, exact lengths", written(build))
    slope = lean / height
    start = inch(build, "plate_foot_up_wall") or 0.0
    if build.request.kind == "flying_raker":
        start = (inch(build, "insertion_up_wall") or height) - (inch(build, "insertion_on_plate") or height)
    plate = inch(build, "wall_plate") or height
    wall = float(build.request.wall_height.inches) if build.request.wall_height else start + plate + 12
    thick = float(build.request.wall_thickness.inches) if build.request.wall_thickness else 8.0

    def up_wall(along: float) -> Point:
        """A point of the wall's face, `along` the wall from the grade."""
        run = math.hypot(height, lean)
        return lean * along / run, height * along / run

    foot, insertion = (inch(build, "base_on_sole") or base, rise + sole), (lean, height)
    end = base + 0.2 * height
    scene.line("ground", (-thick, 0), (0, 0), *_to_the_heel(build, base, rise), (end, rise))
    top = (slope * wall, wall)
    scene.line("wall", (-thick, 0), (0, 0), top, (top[0] - thick, wall), (-thick, 0))
    scene.line("plate", up_wall(start), up_wall(start + plate), name="wall plate")
    if sole:
        scene.line("plate", (0, sole / 2), (inch(build, "sole_plate") or base, sole / 2), name="sole")
    scene.line("member", foot, insertion, name="raker")
    _braces(build, scene, foot, up_wall, start)
    for n in range(2):
        scene.line("mark", (foot[0] + 4 + 4 * n, rise + 3), (foot[0] + 5 + 4 * n, rise - 14), name="pickets")
    left = min(0.0, lean)
    scene.measure((left, 0), (left, height), geometry["insertion"].best, "left", "insertion")
    ends = up_wall(start), up_wall(start + plate)
    made = cut_of(build, "wall plate")
    scene.measure((left, ends[0][1]), (left, ends[1][1]), geometry["wall_plate"].best, "far left", "wall plate", made)
    low = min(0.0, rise)
    scene.measure((0, low), (base, low), geometry["base"].best, "below", "base")
    if sole:
        made, drawn = cut_of(build, "sole plate"), geometry["sole_plate"].best
        scene.measure((0, low), (float(drawn.inches), low), drawn, "far below", "sole plate", made)
    made = cut_of(build, "raker")
    scene.measure(foot, insertion, geometry["raker_on_sole" if sole else "raker"].best, "along", "raker", made)
    return scene


def _to_the_heel(build: Build, base: float, rise: float) -> tuple[Point, ...]:
    """The ground from the wall to the heel: a step where the curb is known to stand, else a slope."""
    site = build.site
    if site.curb is None or site.curb_at is None or float(site.curb_at.inches) >= base:
        return (base * 0.6, 0 if rise >= 0 else rise), (base * 0.75, rise)
    at = float(site.curb_at.inches)
    return (at, rise + float(site.curb.inches)), (at, rise)


def _braces(build: Build, scene: Scene, foot: Point, up_wall: Callable[[float], Point], start: float) -> None:
    """The mid brace and the bottom brace, where the shore has them."""
    insertion = scene.strokes[-1].points[1]
    length = inch(build, "raker_on_sole") or inch(build, "raker") or 1.0

    def up_raker(along: float) -> Point:
        share = along / length
        return foot[0] + (insertion[0] - foot[0]) * share, foot[1] + (insertion[1] - foot[1]) * share

    brace = inch(build, "mid_brace_up_raker")
    if brace is not None:
        from_plate = inch(build, "mid_brace_up_wall")
        a, b = up_wall(from_plate or 0.0), up_raker(min(brace, length))
        scene.line("tie", a, b, name="mid brace")
        made = cut_of(build, "mid brace")
        scene.measure(a, b, build.geometry["mid_brace"].best, "leader", "mid brace", made)
    if any(cut.label == "bottom brace" for cut in build.cuts):
        low = up_wall(start + 4)
        end = foot if start == 0 else up_raker(length * (low[1] - foot[1]) / (insertion[1] - foot[1]))
        scene.line("tie", low, end, name="bottom brace")
        made = cut_of(build, "bottom brace")
        scene.measure(low, end, build.geometry["bottom_brace"].best, "note", "bottom brace", made)
    for name, pair in build.geometry.items():
        if name.endswith("_lateral_up_raker"):
            x, y = up_raker(float(pair.best.inches))
            scene.line("mark", (x - 2, y - 2), (x + 2, y + 2), name=name.removesuffix("_up_raker").replace("_", " "))


def row(build: Build) -> Scene:
    """The rakers seen from the front, in the wall's plane; heights are those above the grade."""
    scene = Scene("row along the wall", written(build))
    height = inch(build, "insertion") or 0.0
    spacing = inch(build, "spacing") or 0.0
    count = next((int(c.value) for c in build.chosen if c.part == "rakers" and isinstance(c.value, int)), 1)
    count = build.request.rakers or count
    rise = inch(build, "heel_rise") or 0.0
    end = spacing * (count - 1)
    margin = max(24.0, 0.12 * height)
    scene.line("ground", (-margin, rise), (end + margin, rise))
    for n in range(count):
        scene.line("member", (n * spacing, rise), (n * spacing, height), name=f"raker {n + 1}")
    ties = _tie_heights(build, rise, height)
    if count > 1:
        _measure_the_bay(build, scene, ties, spacing)
    for n in range(count - 1):
        left, right = n * spacing, (n + 1) * spacing
        for at in ties:
            scene.line("tie", (left, at), (right, at), name="lateral")
        if "diagonal" in build.geometry and len(ties) > 1:
            scene.line("tie", (left, ties[0]), (right, ties[-1]), name="diagonal")
            scene.line("tie", (right, ties[0]), (left, ties[-1]), name="diagonal")
        else:
            for k, (low, high) in enumerate(pairwise(ties)):
                a, b = (left, right) if k % 2 == 0 else (right, left)
                scene.line("tie", (a, low), (b, high), name="diagonal")
    if count > 1:
        scene.measure((0, rise), (spacing, rise), build.geometry["spacing"].best, "below", "on centre")
    scene.measure((0, 0), (0, height), build.geometry["insertion"].best, "left", "insertion")
    return scene


def _measure_the_bay(build: Build, scene: Scene, ties: list[float], spacing: float) -> None:
    """Laterals and diagonals in their true lengths, along the rakers: seen from the front they look shorter."""
    if not ties:
        return
    made = cut_of(build, "lower tie")
    scene.measure((0, ties[-1]), (spacing, ties[-1]), build.geometry["lateral"].best, "note", "lateral", made)
    for name, low, high in (("diagonal", 0, -1), ("lower_diagonal", 0, 1), ("upper_diagonal", 1, 2)):
        if name in build.geometry:
            across = (0.0, spacing) if name != "upper_diagonal" else (spacing, 0.0)
            a, b = (across[0], ties[low]), (across[1], ties[high])
            words, length = name.replace("_", " "), build.geometry[name].best
            scene.measure(a, b, length, "note", words, cut_of(build, words))


def _tie_heights(build: Build, rise: float, height: float) -> list[float]:
    along = [
        float(pair.best.inches) for name, pair in build.geometry.items() if name.endswith("_lateral_up_raker")
    ]
    raker = inch(build, "raker") or 1.0
    if not along and "lateral" in build.geometry:
        named = {cut.label for cut in build.cuts}
        shares = {"lower tie": 12 / raker, "middle tie": 0.5, "upper tie": 1 - 12 / raker}
        along = [raker * share for name, share in shares.items() if name in named]
    return sorted(rise + (height - rise) * at / raker for at in along)
