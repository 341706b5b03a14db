"""Timber rakers in space: plate, cleats, gussets, sole or trough, braces, ties, wedges, sole anchor and pickets."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.drawing.enlarged import enlarged, raker_outline, raker_over
from callout.shoring.drawing.rakers import SIDES, Place, RakerModel
from callout.shoring.drawing.solids import FRONT, SIDE, WHOLE, Model, Point, Z

_PLY, _GUSSET, _GAP = 0.75, 12.0, 1.25


def timber_model(build: Build) -> Model:
    wide, deep = marks.section(build, "wall plate")
    one = _Timber(build, deep, wide)
    one.draw()
    return one.model


class _Timber(RakerModel):
    """`wide`: across the raker, along the wall; `off`: how deep the wall plate is, and the raker."""

    def __init__(self, build: Build, deep: float, wide: float) -> None:
        super().__init__(build, deep)
        self.wide = wide
        cuts = build.end_cuts
        self.back = float(cuts.return_cut.inches) if cuts is not None and cuts.return_cut is not None else 0.0
        seat = self._on_plate(self.inch("insertion_up_wall"), self.back)
        self.over = raker_over(self.places[0], seat)  # of the raker's upper edge, over its true line

    def _on_plate(self, up: float, out: float) -> Point:
        """`up` the wall, `out` from the face of the wall plate."""
        return self.wall_point(up, self.off + out)

    def draw(self) -> None:
        self.ground_and_wall()
        solid, flying = self.build.request.sole == "solid", self.build.request.kind == "flying_raker"
        for place in self.places:
            self._plate(place)
            self._raker(place, solid)
            if solid:
                self._sole(place)
            else:
                self._trough(place)
            self._anchor(place, solid)
            self._braces(place, flying)
        self._ties()
        self.anchors(self.off)
        self.frame()
        self._tags(solid)
        self.model.enlarged = enlarged(self.build, self.writing, self.places[0], self._on_plate, self.off, self.wide)

    # --- the members ---------------------------------------------------------------------------------------------

    def _plank(
        self, outline: list[Point], place: Place, aside: float, thick: float, name: str, ink: str = "ply"
    ) -> None:
        """Plywood or planks on both sides of the raker."""
        for side in SIDES:
            z = place.z + (aside if side > 0 else -aside - thick)
            self.model.plank(ink, outline, z, thick, name)  # type: ignore[arg-type]

    def _plate(self, place: Place) -> None:
        model, half = self.model, self.wide / 2
        low, high = self.start, self.start + self.plate
        cut = marks.made(self.build, "wall plate")
        if cut is not None:
            high = self.start + float(cut.inches)
        (ax, ay), (bx, by) = self.wall_point(low), self.wall_point(high)
        axis = ((ax, ay, place.z), (bx, by, place.z))
        outline = self.along_wall(low, high, 0.0, self.off)
        model.plank("timber", outline, place.z - half, self.wide, "wall plate", axis)
        slant = self.inch("insertion_up_wall")
        cleat = marks.made(self.build, "wall cleat")
        if cleat is not None:
            outline = self.along_wall(slant, slant + float(cleat.inches), self.off, self.off + 1.5)
            model.plank("timber", outline, place.z - half, self.wide, "wall cleat")
        self._plank(self.along_wall(slant - 9.5, slant + 2.5, 0.75, 0.75 + _GUSSET), place, half, _PLY, "top gusset")
        if marks.any_items(self.build, "sheet"):
            outline = self.along_wall(low, high, -0.75, 0.0)
            model.plank("ply", outline, place.z - 6, 12.0, "backing")

    def _raker(self, place: Place, solid: bool) -> None:
        """As it is cut: its true line runs from its seat on the wall plate to its toe."""
        axis = (*place.heel, place.z), (*place.insertion, place.z)
        outline = raker_outline(place, self._on_plate, self.inch("insertion_up_wall"), self.off, self.back, solid)
        self.model.plank("timber", outline, place.z - self.wide / 2, self.wide, "raker", axis)

    def _sole(self, place: Place) -> None:
        model, half, (hx, hy) = self.model, self.wide / 2, place.heel
        length, cleat = (float(cut.inches) if (cut := marks.made(self.build, name)) else 0.0 for name in (
            "sole plate", "sole cleat"))  # fmt: skip
        model.box("timber", (self.off, 0, place.z - half), (self.off + length, self.sole, place.z + half), "sole plate")
        self._plank([(0.75, 0.5), (_GUSSET + 0.75, 0.5), (_GUSSET + 0.75, _GUSSET + 0.5), (0.75, _GUSSET + 0.5)],
                    place, half, _PLY, "corner gusset")  # fmt: skip
        self._plank([(hx - 10, 0.5), (hx + 2, 0.5), (hx + 2, _GUSSET + 0.5), (hx - 10, _GUSSET + 0.5)],
                    place, half, _PLY, "bottom gusset")  # fmt: skip
        start = hx + _GAP
        model.box("timber", (start, hy, place.z - half), (start + cleat, hy + 1.5, place.z + half), "sole cleat")
        self._wedges(hx, hx + _GAP, hy, place.z)
        self.pad("heel pad") if place.number == 1 else None

    def _wedges(self, near: float, far: float, level: float, z: float) -> None:
        """A pair, cut faces together, an inch and more past the raker on either side."""
        reach = self.wide / 2 + 2.5
        for outline in ([(near, z - reach), (far, z - reach), (near, z + reach)],
                        [(far, z - reach), (far, z + reach), (near, z + reach)]):  # fmt: skip
            self.model.add("timber", [(x, level, w) for x, w in outline], (0.0, 3.0, 0.0), "wedges")

    def _trough(self, place: Place) -> None:
        """Its base square to the raker, wedges between; a plywood side on either side."""
        model, deep, side = self.model, self.off, self.inch("heel_pad") or 18.0
        low, high = deep / 2 - side / 2, deep / 2 + side / 2
        base = [place.on(-_GAP, low), place.on(-_GAP, high), place.on(-_GAP - 3, high), place.on(-_GAP - 3, low)]
        model.plank("pad", base, place.z - side / 2, side, "trough base")
        wedge = [place.on(0, 0), place.on(0, deep), place.on(-_GAP, deep), place.on(-_GAP, 0)]
        model.plank("timber", wedge, place.z - self.wide / 2 - 2, self.wide + 4, "wedges")
        outline = [place.on(-_GAP, -3.5), place.on(-_GAP, 8.5), place.on(10.5, 8.5), place.on(10.5, -3.5)]
        self._plank(outline, place, self.wide / 2, _PLY, "trough side")

    def _anchor(self, place: Place, solid: bool) -> None:
        """The sole anchor across the end of the sole, or behind the trough; wedges before it, pickets behind it."""
        cut = marks.made(self.build, "sole anchor")
        if cut is None:
            return
        if solid:
            sole = marks.made(self.build, "sole plate")
            near = self.off + (float(sole.inches) if sole else self.base)
        else:
            near = max(place.on(-_GAP - 3, self.off / 2 - (self.inch("heel_pad") or 18.0) / 2)[0], place.heel[0]) + 1
        half, level = float(cut.inches) / 2, self.rise
        self._wedges(near, near + 1.5, level, place.z)
        self.model.box(
            "timber", (near + 1.5, level, place.z - half), (near + 5, level + 3.5, place.z + half), "sole anchor"
        )
        pickets = self.pickets_each()
        step = min(12.0, (2 * half - 4) / max(1, pickets - 1))
        for n in range(pickets):
            self.picket(near + 5.8, place.z + (n - (pickets - 1) / 2) * step, level)

    def _braces(self, place: Place, flying: bool) -> None:
        aside = self.wide / 2 + _PLY
        if (up := marks.inch(self.build, "mid_brace_up_raker")) and marks.made(self.build, "mid brace"):
            for side in SIDES:
                z = side * (aside + 0.75)
                a = (self.off, self.sole + 2, place.z + z)
                self.model.beam("timber", a, place.at(min(up, place.length), self.off / 2, z), Z, 1.5, 5.5, "mid brace")
        if not marks.made(self.build, "bottom brace"):
            return
        low = self.wall_point(self.start + 6, self.off / 2)
        end = place.on(4, self.off / 2)
        if flying:  # square to the short plate, to where it meets the raker
            share = (low[1] - place.heel[1]) / (place.insertion[1] - place.heel[1])
            end = place.on(place.length * share, self.off / 2)
        for side in SIDES:
            z = place.z + side * (aside + 0.75 + (1.6 if marks.made(self.build, "mid brace") else 0))
            self.model.beam("timber", (*low, z), (*end, z), Z, 1.5, 5.5, "bottom brace")

    def _ties(self) -> None:
        """Ties on the rakers' upper faces, one diagonal above them, the other below the rakers."""
        length = self.places[0].length
        ups = {"lower tie": 12.0, "middle tie": length / 2, "upper tie": length - 12.0}
        ups = {name: up for name, up in ups.items() if marks.counted(self.build, name)}
        for left, right in zip(self.places, self.places[1:], strict=False):
            out = self.wide / 2
            for name, up in ups.items():
                a, b = left.at(up, -0.75 - self.over, out), right.at(up, -0.75 - self.over, -out)
                self.model.beam("timber", a, b, (*left.way, 0.0), 5.5, 1.5, name)
            if marks.counted(self.build, "diagonal") and ups:
                low, high = min(ups.values()), max(ups.values())
                crossed = (
                    (left.at(low, -2.3 - self.over, out), right.at(high, -2.3 - self.over, -out)),
                    (right.at(low, self.off + 0.8, -out), left.at(high, self.off + 0.8, out)),
                )
                for a, b in crossed:
                    self.model.beam("timber", a, b, (left.down[0], left.down[1], 0.0), 1.5, 5.5, "diagonal")
        if self.count > 1:
            for up in ups.values():
                self.tie_height(up)
        self.ups = ups

    # --- what is said about them ---------------------------------------------------------------------------------

    def _member(self, label: str, plural: str = "") -> tuple[tuple[str, ...], str]:
        made = marks.made(self.build, label)
        return marks.letter(self.build, label), f"{plural or label}, {self.text(made)}" if made else label

    def _tags(self, solid: bool) -> None:
        model, build, first = self.model, self.build, self.places[0]
        slant, front = self.inch("insertion_up_wall"), self.wide / 2
        gussets = marks.items(build, "top gussets", "gusset")
        wedges, pickets = marks.any_items(build, "wedge pair"), marks.any_items(build, "picket")
        top = self.wall_point(self.start + self.plate - 5, self.off)
        both = (SIDE, WHOLE)
        spots = [
            ("wall plate", "", (*top, first.z + front)),
            ("wall cleat", "", (*self.wall_point(slant + 9, self.off + 1.5), front)),
            ("raker", "", first.at(first.length * 0.72, 0.0, front)),
        ]
        if marks.made(build, "mid brace"):
            up = self.inch("mid_brace_up_raker")
            x, y = first.on(up, self.off / 2)
            spots.append(("mid brace", "mid braces", ((x + self.off) / 2, (y + self.sole) / 2, front + 2)))
        if marks.made(build, "bottom brace"):
            spots.append(("bottom brace", "bottom braces", self._named_middle("bottom brace")))
        if solid:
            hx, hy = first.heel
            spots += [
                ("sole plate", "", (self.off + 18, self.sole / 2, front)),
                ("sole cleat", "", (hx + 18, hy + 1, front)),
            ]
        else:
            spots.append(("trough base", "", first.at(-3, 8, 0)))
        if marks.made(build, "sole anchor"):
            spots.append(("sole anchor", "", self._named_middle("sole anchor")))
        for label, words, at in spots:
            found, text = self._member(label, words)
            for view in both:
                model.tag(view, at, found, text if view is SIDE else "")
        x, y = self.wall_point(slant + 1, self.off + 9)
        model.tag(SIDE, (x, y, front), gussets, "gussets")
        model.tag(WHOLE, (x, y, front), gussets)
        model.tag(SIDE, (first.heel[0] + 0.6, first.heel[1] + 2, 0), wedges, "wedges")
        model.tag(WHOLE, (first.heel[0] + 0.6, first.heel[1] + 2, front + 2), wedges)
        picket = next((one for one in model.solids if one.name == "picket"), None)
        if picket is not None and picket.axis is not None:
            model.tag(SIDE, picket.axis[1], pickets, f"{self.pickets_each()} pickets a heel")
            model.tag(WHOLE, picket.axis[1], pickets)
        if found := marks.any_items(build, "sheet"):
            model.tag(SIDE, (*self.wall_point(self.start + self.plate * 0.55, 0.0), 0.0), found, "plywood behind")
        if self.count > 1:
            middle = (first.z + self.places[1].z) / 2
            for name, up in self.ups.items():
                at = (*first.on(up), (middle + self.places[1].z) / 2)
                found, text = self._member(name)
                model.tag(FRONT, at, found, text.removeprefix(f"{name}, "), name)
                model.tag(WHOLE, (*first.on(up, -1.5), middle), found)
            at = (*first.on(first.length * 0.62, -2), first.z + (self.places[1].z - first.z) * 0.6)
            found, text = self._member("diagonal")
            model.tag(FRONT, at, found, text.removeprefix("diagonal, "), "diagonals")
            model.tag(WHOLE, at, found)

    def _named_middle(self, name: str) -> tuple[float, float, float]:
        solid = next(one for one in reversed(self.model.solids) if one.name == name) if name != "bottom brace" else (
            self.model.named(name))  # fmt: skip
        assert solid.axis is not None
        a, b = solid.axis
        return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2
