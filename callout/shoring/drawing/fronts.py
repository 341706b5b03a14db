"""Shores that stand or lie, seen from the front: posts between header and sole, cribs, openings, horizontals."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.drawing.scene import Scene, cut_of, inch, written

_DEPTH = 3.5  # a 4x4 on edge


def _depth(build: Build) -> float:
    return inch(build, "timber_depth") or _DEPTH


def front(build: Build) -> Scene:
    if build.request.kind == "cribbing":
        return _crib(build)
    if build.request.kind == "horizontal":
        return _horizontal(build)
    return _posts(build)


def _posts(build: Build) -> Scene:
    scene = Scene("front view", written(build))
    height, width = inch(build, "insertion") or 0.0, inch(build, "header") or 0.0
    post, depth = inch(build, "post") or 0.0, _depth(build)
    deep = inch(build, "header_depth") or depth
    scene.line("ground", (-18, 0), (width + 18, 0))
    scene.line("plate", (0, depth / 2), (width, depth / 2), name="sole")
    top = height - deep
    scene.line("plate", (0, top + deep / 2), (width, top + deep / 2), name="header")
    low = top - post
    for x in _post_places(build, width):
        scene.line("member", (x, low), (x, low + post), name="post")
        scene.line("mark", (x - 4, depth), (x + 4, low), name="wedges")
    if "diagonal" in build.geometry and build.request.kind != "laced_post":
        places = _post_places(build, width)
        inset = depth / 2 if build.request.kind == "window" else 0.0  # from corner to corner of a window's opening
        left, right = places[0] + inset, places[-1] - inset
        scene.line("tie", (left, low), (right, low + post), name="diagonal")
        scene.line("tie", (right, low), (left, low + post), name="diagonal")
        made = cut_of(build, "diagonal")
        scene.measure((left, low), (right, low + post), build.geometry["diagonal"].best, "along", "diagonal", made)
    if build.request.kind == "laced_post":  # between the two frames, so that they are not seen from here
        for name in ("lace", "diagonal"):
            scene.measure((0, 0), (0, 0), build.geometry[name].best, "note", f"{name} between the frames")
    scene.line("wall", (-18, height), (width + 18, height), (width + 18, height + 8), (-18, height + 8), (-18, height))
    scene.measure((0, 0), (0, height), build.geometry["insertion"].best, "left", "void")
    scene.measure((0, 0), (width, 0), build.geometry["header"].best, "below", "header")
    scene.measure((width, low), (width, low + post), build.geometry["post"].best, "right", "post")
    return scene


def _post_places(build: Build, width: float) -> list[float]:
    kind = build.request.kind
    if kind == "t":
        return [width / 2]
    if kind in ("double_t", "laced_post"):
        apart = (inch(build, "posts_out_to_out") or width) - _depth(build)
        return [(width - apart) / 2, (width + apart) / 2]
    if kind == "vertical_post":
        posts = sum(cut.quantity for cut in build.cuts if cut.label == "post")
        step = inch(build, "post_spacing") or width
        first = (width - step * (posts - 1)) / 2
        return [first + step * n for n in range(posts)]
    return [_DEPTH / 2, width - _DEPTH / 2]


def _crib(build: Build) -> Scene:
    scene = Scene("front view", written(build))
    depth = _depth(build)
    height, piece = inch(build, "insertion") or 0.0, inch(build, "piece") or 0.0
    scene.line("ground", (-12, 0), (piece + 12, 0))
    layers = sum(cut.quantity for cut in build.cuts if cut.label == "crib piece") // 2
    for layer in range(layers):
        low, high = layer * depth, (layer + 1) * depth
        if layer % 2 == 0:
            scene.line("member", (0, low), (piece, low), (piece, high), (0, high), (0, low), name="crib piece")
        else:
            for x in (4.0, piece - 4 - depth):
                scene.line("member", (x, low), (x + depth, low), (x + depth, high), (x, high), (x, low))
    scene.line("wall", (-12, height), (piece + 12, height), (piece + 12, height + 8), (-12, height + 8), (-12, height))
    scene.measure((0, 0), (0, height), build.geometry["insertion"].best, "left", "void")
    scene.measure((0, 0), (piece, 0), build.geometry["piece"].best, "below", "piece")
    return scene


def _horizontal(build: Build) -> Scene:
    scene = Scene("front view", written(build))
    gap, plate = inch(build, "insertion") or 0.0, inch(build, "wall_plate") or 0.0
    for x, thick in ((0.0, -8.0), (gap, 8.0)):
        scene.line("wall", (x, -12), (x, plate + 12), (x + thick, plate + 12), (x + thick, -12), (x, -12))
    for x in (_DEPTH / 2, gap - _DEPTH / 2):
        scene.line("plate", (x, 0), (x, plate), name="wall plate")
    strut, end = inch(build, "strut") or 0.0, inch(build, "setback") or 12.0
    far = _DEPTH + strut  # the wedges fill the rest
    for y in (end, plate - end):
        scene.line("member", (_DEPTH, y), (far, y), name="strut")
        scene.line("mark", (far, y - 4), (gap - _DEPTH, y + 4), name="wedges")
    scene.line("tie", (_DEPTH, end), (far, plate - end), name="diagonal")
    scene.line("tie", (_DEPTH, plate - end), (far, end), name="diagonal")
    geometry = build.geometry
    scene.measure((0, 0), (gap, 0), geometry["insertion"].best, "below", "gap")
    scene.measure((gap, 0), (gap, plate), geometry["wall_plate"].best, "right", "wall plate")
    scene.measure((_DEPTH, plate - end), (far, plate - end), geometry["strut"].best, "along", "strut")
    made = cut_of(build, "diagonal")
    scene.measure((_DEPTH, end), (far, plate - end), geometry["diagonal"].best, "along", "diagonal", made)
    return scene
