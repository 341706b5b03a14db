"""Shores that stand or lie, in space: posts, laced frames, cribs, openings, struts between walls.

x runs along the header, y up, z toward who looks. The void, the gap or the opening is the request's insertion.
"""

from __future__ import annotations

import itertools

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.drawing.solids import ELEVATION, END, WHOLE, Model, Point3, View, X, Z
from callout.shoring.request import writing_of
from callout.shoring.units import many
from callout.values import Length

_PLANK = 1.5  # a 2x6 laid flat, in inches

_PLY, _WEDGES, _BRACE = 0.75, 1.5, 5.5


def standing_model(build: Build) -> Model:
    one = _Standing(build)
    if build.request.kind == "cribbing":
        one.crib()
    elif build.request.kind == "horizontal":
        one.horizontal()
    else:
        one.posts()
    return one.model


class _Standing:
    def __init__(self, build: Build) -> None:
        self.build, self.kind = build, build.request.kind
        self.writing = writing_of(build.request, build.site)
        self.model = Model(self.writing, (ELEVATION, WHOLE))
        self.height = self.inch("insertion")

    def inch(self, name: str) -> float:
        return marks.inch(self.build, name) or 0.0

    def text(self, length: Length | float) -> str:
        length = length if isinstance(length, Length) else Length.nearest(length)
        return self.writing.length(length)

    def tag(self, view: View, label: str, at: Point3, words: str = "") -> None:
        """A sawn member with its letter and length; in the view of the whole its letter alone."""
        made = marks.made(self.build, label)
        if made is None:
            return
        text = f"{words or label}, {self.text(made)}" if view is not WHOLE else ""
        self.model.tag(view, at, marks.letter(self.build, label), text)

    def both(self, label: str, at: Point3, words: str = "") -> None:
        self.tag(ELEVATION, label, at, words)
        self.tag(WHOLE, label, at)

    def item(self, at: Point3, numbers: tuple[str, ...], text: str) -> None:
        self.model.tag(ELEVATION, at, numbers, text)
        self.model.tag(WHOLE, at, numbers)

    # --- posts between header and sole ---------------------------------------------------------------------------

    def posts(self) -> None:
        build, model = self.build, self.model
        self.wide = marks.section(build, "post")[1]
        self.long = self.inch("header")
        across, deep = marks.section(build, "header")
        if deep == across:
            deep = self.inch("header_depth") or deep
        self.top = self.height - (self.inch("header_depth") or deep)
        self.floor = marks.section(build, "sole")[1]
        self.low = self.top - self.inch("post")
        self.frames = [0.0, -self.inch("frames_apart")] if self.kind == "laced_post" else [0.0]
        self.places = self._post_places()
        self._around()
        for z in self.frames:
            half = self.wide / 2
            model.box("timber", (0, 0, z - half), (self.long, self.floor, z + half), "sole")
            model.box("timber", (0, self.top, z - half), (self.long, self.height, z + half), "header")
            for x in self.places:
                model.box("timber", (x - half, self.low, z - half), (x + half, self.top, z + half), "post")
                self._wedges_under(x, z)
            self._gussets(z)
        self._diagonals()
        if self.kind == "laced_post":
            self._laces()
        self._post_tags()

    def _post_places(self) -> list[float]:
        if self.kind == "t":
            return [self.long / 2]
        if self.kind in ("double_t", "laced_post"):
            apart = (self.inch("posts_out_to_out") or self.long) - self.wide
            return [(self.long - apart) / 2, (self.long + apart) / 2]
        if self.kind == "vertical_post":
            count = marks.counted(self.build, "post")
            step = self.inch("post_spacing") or self.long
            first = (self.long - step * (count - 1)) / 2
            return [first + step * n for n in range(count)]
        return [self.wide / 2 + (_WEDGES if self.kind in ("window", "door") else 0), self.long - self.wide / 2]

    def _around(self) -> None:
        """The ground and what comes down; or the wall about an opening."""
        model, deep = self.model, 8.0
        z0, z1 = min(self.frames) - 14.0, 14.0
        if self.kind in ("window", "door"):
            clear = (self.inch("span") - self.long) / 2
            left, right = -clear, self.long + clear
            z0, z1 = -self.wide / 2 - 3, self.wide / 2 - 0.5
            for low, high in (((left - 16, -10 if self.kind == "window" else 0, z0), (left, self.height + 14, z1)),
                              ((right, -10 if self.kind == "window" else 0, z0), (right + 16, self.height + 14, z1)),
                              ((left, self.height, z0), (right, self.height + 14, z1))):  # fmt: skip
                model.box("wall", low, high, "wall", back=True)
            under = "wall" if self.kind == "window" else "ground"
            model.box(under, (left - 16, -10, z0), (right + 16, 0, z1), under, back=True)  # type: ignore[arg-type]
            return
        model.box("ground", (-14, -7, z0), (self.long + 14, 0, z1), "ground", back=True)
        model.box(
            "wall", (-14, self.height, z0), (self.long + 14, self.height + deep, z1), "load", back=True, seen="section"
        )

    def _wedges_under(self, x: float, z: float) -> None:
        """A pair, cut faces together, across the sole."""
        reach, low = self.wide / 2 + 3, self.low - _WEDGES
        for outline in ([(low, z - reach), (low, z + reach), (self.low, z - reach)],
                        [(self.low, z - reach), (low, z + reach), (self.low, z + reach)]):  # fmt: skip
            profile = [(x - self.wide / 2, y, w) for y, w in outline]
            self.model.add("timber", profile, (self.wide, 0.0, 0.0), "wedges")

    def _plate(self, x0: float, y0: float, x1: float, y1: float, z: float, name: str, back: bool = True) -> None:
        """Plywood on the front of a frame, and on its back."""
        half = self.wide / 2
        self.model.box("ply", (x0, y0, z + half), (x1, y1, z + half + _PLY), name)
        if back:
            self.model.box("ply", (x0, y0, z - half - _PLY), (x1, y1, z - half), name)

    def _gussets(self, z: float) -> None:
        half, top = self.wide / 2, self.height
        used = {name for part in self.build.parts if part.part == "gusset" for name in part.use.split(", ")}
        if self.kind in ("double_t", "laced_post"):
            left, right = self.places[0] - half, self.places[-1] + half
            self._plate(left, top - 12, right, top, z, "top gusset")
            reach = (right - left) / 2 if self.kind == "laced_post" else 6
            for up in self._middles() if "middle gussets" in used else ():
                self._plate(left, up - reach, right, up + reach, z, "middle gusset")
        elif self.kind in ("window", "door"):
            for x in (self.places[0] - half, self.places[-1] + half - 6):
                self._plate(x, top - 12, x + 6, top, z, "corner gusset")
                if self.kind == "window":
                    self._plate(x, 0, x + 6, 12, z, "corner gusset")
        else:
            for x in self.places:
                self._plate(x - 6, top - 12, x + 6, top, z, "top gusset", back=self.kind == "t")
        for x in self.places if "bottom gussets" in used or "top and bottom gussets" in used else ():
            whole = self.kind == "vertical_post"
            self._plate(x - (6 if whole else 3), 0, x + (6 if whole else 3), 12, z, "bottom gusset", back=not whole)

    def _middles(self) -> list[float]:
        """One at mid-height, or two at the thirds."""
        part = next((p for p in self.build.parts if "middle gussets" in p.use), None)
        two = self.kind == "laced_post" and part is not None and part.quantity > 4
        span = self.top - self.low
        return [self.low + span * share for share in ((1 / 3, 2 / 3) if two else (1 / 2,))]

    def _diagonals(self) -> None:
        """An X in the plane of the posts, one on either face."""
        if self.kind == "laced_post" or not marks.counted(self.build, "diagonal"):
            return
        inset = self.wide / 2 if self.kind == "window" else 0.0
        left, right = self.places[0] + inset, self.places[-1] - inset
        if self.kind == "window":
            left = self.wide
        front, back = self.wide / 2 + _PLY + 0.8, -self.wide / 2 - _PLY - 0.8
        self.model.beam("timber", (left, self.low, front), (right, self.top, front), Z, 1.5, _BRACE, "diagonal")
        self.model.beam("timber", (right, self.low, back), (left, self.top, back), Z, 1.5, _BRACE, "diagonal")
        if marks.counted(self.build, "middle tie"):
            up = (self.low + self.top) / 2
            self.model.beam("timber", (0, up, back - 1.6), (self.long, up, back - 1.6), Z, 1.5, _BRACE, "middle tie")

    def _laces(self) -> None:
        """Between the two frames, on both open sides: laces at every level, a diagonal in every bay."""
        apart, half = self.inch("frames_apart"), self.wide / 2
        levels = marks.counted(self.build, "lace") // 2 or 2
        ups = [self.low + 3 + (self.top - self.low - 6) * n / (levels - 1) for n in range(levels)]
        for x, out in ((self.places[0] - half - 0.75, -1.6), (self.places[-1] + half + 0.75, 1.6)):
            for up in ups:
                a, b = (x, up, half), (x, up, -apart - half)
                self.model.beam("timber", a, b, X, 1.5, _BRACE, "lace")
            for n, (low, high) in enumerate(itertools.pairwise(ups)):
                a, b = (x + out, low, 0.0), (x + out, high, -apart)
                if n % 2:
                    a, b = (x + out, low, -apart), (x + out, high, 0.0)
                self.model.beam("timber", a, b, X, 1.5, _BRACE, "diagonal")
        self.model.views = (ELEVATION, END, WHOLE)

    def _post_tags(self) -> None:
        build, model, half = self.build, self.model, self.wide / 2
        x, face = self.places[-1], self.wide / 2
        self.both("header", (self.long - 4, self.height - 1.5, face))
        self.both("post", (x + half - 0.5, self.low + (self.top - self.low) * 0.66, face))
        self.both("sole", (self.long - 3, 1.5, face))
        self.item((x + half, self.low - 0.7, face + 1), marks.any_items(build, "wedge pair"), "wedges")
        for use, at, text in (
            ("top gussets", (x - 1, self.height - 8, face + 1), "gussets"),
            ("corner gussets", (x, self.height - 9, face + 1), "corner gussets"),
            ("middle gussets", (x - 1, self._middles()[-1] - 3, face + 1), "middle gussets"),
            ("bottom gussets", (x + 1, 9, face + 1), "half gussets"),
            ("top and bottom gussets", (x + 4, self.height - 9, face + 1), "gussets"),
        ):
            if found := marks.items(build, use, "gusset"):
                self.item(at, found, f"{text}, {marks.nails(build, use[:-1])} x 8d each")
        diagonal = next((one for one in model.solids if one.name == "diagonal"), None)
        if diagonal is not None and diagonal.axis is not None:
            a, b = diagonal.axis
            at = (a[0] + (b[0] - a[0]) * 0.6, a[1] + (b[1] - a[1]) * 0.6, a[2] + (b[2] - a[2]) * 0.6)
            if self.kind != "laced_post":
                self.both("diagonal", at, "diagonals")
            else:
                self._lace_tags()
        self.both("middle tie", (self.long - 2, (self.low + self.top) / 2, -face - 3))
        self._post_measures()

    def _lace_tags(self) -> None:
        apart, out = self.inch("frames_apart"), self.places[-1] + self.wide / 2 + 2
        laces = [one for one in self.model.solids if one.name == "lace" and one.profile[0][0] > self.places[0] + 4]
        for n, lace in enumerate(laces):
            at = (out, lace.profile[0][1], -apart * 0.8)
            if n == len(laces) - 1:
                self.tag(END, "lace", at, "laces")
                self.tag(WHOLE, "lace", at)
        diagonal = next(one for one in reversed(self.model.solids) if one.name == "diagonal")
        assert diagonal.axis is not None
        a, b = diagonal.axis
        at = (out + 1.6, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)
        self.tag(END, "diagonal", at, "diagonals")
        self.tag(WHOLE, "diagonal", at)
        text = f"{self.text(self.inch('frames_apart'))} between frames, on centre"
        self.model.measure(END, (0, 0, 0), (0, 0, -apart), text, "below")

    def _post_measures(self) -> None:
        model, build = self.model, self.build
        what = "opening" if self.kind in ("window", "door") else "void"
        model.measure(
            ELEVATION, (0, 0, 0), (0, self.height, 0), f"{what} {self.text(build.geometry['insertion'].best)}", "left"
        )
        if self.kind == "vertical_post" and len(self.places) > 1:
            text = f"{self.text(self.inch('post_spacing'))} on centre"
            model.measure(ELEVATION, (self.places[0], 0, 0), (self.places[1], 0, 0), text, "below")
        elif self.kind in ("double_t", "laced_post"):
            half = self.wide / 2
            text = f"posts {self.text(self.inch('posts_out_to_out'))} out to out"
            model.measure(ELEVATION, (self.places[0] - half, 0, 0), (self.places[-1] + half, 0, 0), text, "below")
        elif self.kind in ("window", "door"):
            clear = (self.inch("span") - self.long) / 2
            text = f"opening {self.text(build.geometry['span'].best)} wide"
            model.measure(ELEVATION, (-clear, 0, 0), (self.long + clear, 0, 0), text, "below")
        if self.kind in ("window", "door"):
            left = self.places[0] - self.wide / 2
            up = self.low + (self.top - self.low) * 0.5
            for reach in (-6, 6):  # the pair at the side, between jamb and post
                model.box("timber", (left - _WEDGES, up + reach - 4, -2), (left, up + reach + 4, 2), "side wedges")

    # --- cribs ---------------------------------------------------------------------------------------------------

    def crib(self) -> None:
        build, model = self.build, self.model
        depth, piece = self.inch("timber_depth") or 3.5, self.inch("piece")
        layers = marks.counted(build, "crib piece") // 2
        over = next((float(p.at.inches) for p in build.positions if p.name == "overhang" and p.at), 4.0)
        pair = (over, piece - over - depth)
        model.box("ground", (-10, -7, -piece - 10), (piece + 10, 0, 10), "ground", back=True)
        top = layers * depth
        for layer in range(layers):
            low = layer * depth
            for at in pair:
                if layer % 2 == 0:
                    model.box("timber", (0, low, -at - depth), (piece, low + depth, -at), "crib piece")
                else:
                    model.box("timber", (at, low, -piece), (at + depth, low + depth, 0), "crib piece")
        planks = marks.counted(build, "packing") // 2
        for layer in range(planks):
            low, across = top + layer * _PLANK, (layers + layer) % 2 == 0
            for at in pair:
                if across:
                    model.box("timber", (0, low, -at - depth), (piece, low + _PLANK, -at), "packing")
                else:
                    model.box("timber", (at, low, -piece), (at + depth, low + _PLANK, 0), "packing")
        top += planks * _PLANK
        for x in pair:
            for z in pair:
                model.box("timber", (x, top, -z - depth - 1), (x + depth, self.height, -z + 1), "wedges")
        model.box(
            "wall",
            (-10, self.height, -piece - 10),
            (piece + 10, self.height + 8, 10),
            "load",
            back=True,
            seen="section",
        )
        self.both("crib piece", (piece - 2, depth * (layers // 2) + 1, -pair[0]), f"{layers} layers of two, each")
        if planks:
            self.both("packing", (2, top - _PLANK * planks / 2, -pair[0]), f"{many(planks, 'layer')} of planks, each")
        text = f"wedges and shims, {self.text(self.inch('rest'))}"
        self.item((piece - over - 1, top + 0.5, -over), marks.any_items(build, "wedge pair"), text)
        void = self.text(build.geometry["insertion"].best)
        model.measure(ELEVATION, (0, 0, 0), (0, self.height, 0), f"void {void}", "left")
        model.measure(ELEVATION, (0, 0, 0), (over, 0, 0), f"overhang {self.text(over)}", "below")

    # --- between two walls ---------------------------------------------------------------------------------------

    def horizontal(self) -> None:
        build, model = self.build, self.model
        gap, plate = self.height, self.inch("wall_plate")
        wide, deep = marks.section(build, "wall plate")
        strut, end = self.inch("strut"), self.inch("setback") or 12.0
        half = wide / 2
        for low, high in (((-8, -12, -12), (0, plate + 12, 12)), ((gap, -12, -12), (gap + 8, plate + 12, 12))):
            model.box("wall", low, high, "wall", back=True)
        for x in (0.0, gap - deep):
            model.box("timber", (x, 0, -half), (x + deep, plate, half), "wall plate")
        far = deep + strut
        for y in (end, plate - end):
            model.box("timber", (deep, y - half, -half), (far, y + half, half), "strut")
            model.box("timber", (far, y - half, -half - 3), (gap - deep, y + half, half + 3), "wedges")
            for x, back in ((0.0, 12.0), (gap - 12.0, gap)):
                for z in (half, -half - _PLY):
                    model.box("ply", (x, y - 6, z), (back if x == 0 else gap, y + 6, z + _PLY), "gusset")
        for (a, b), z in (((end, plate - end), half + _PLY + 0.8), ((plate - end, end), -half - _PLY - 0.8)):
            model.beam("timber", (deep, a, z), (far, b, z), Z, 1.5, _BRACE, "diagonal")
        self.both("wall plate", (gap - 1, plate * 0.5, half), "wall plates")
        self.both("strut", (deep + strut * 0.55, plate - end, half), "struts")
        self.both("diagonal", (deep + strut * 0.62, end + (plate - 2 * end) * 0.62, half + 2), "diagonals")
        self.item((gap - deep - 0.5, end, half + 2), marks.any_items(build, "wedge pair"), "wedges")
        self.item((gap - 9, plate - end + 4, half + 1), marks.any_items(build, "gusset"),
                  f"gussets, {marks.nails(build, 'strut gusset')} x 8d each")  # fmt: skip
        model.measure(ELEVATION, (0, 0, 0), (gap, 0, 0), f"gap {self.text(build.geometry['insertion'].best)}", "below")
        model.measure(ELEVATION, (0, plate - end, 0), (0, plate, 0), f"{self.text(end)}", "left")
