"""Rakers of adjustable struts in space: joined wall plates, struts and fittings, braces, a K of ties, pickets."""

from __future__ import annotations

from itertools import pairwise

from callout.shoring.build import Build
from callout.shoring.draft import BEHIND_WALER
from callout.shoring.drawing import marks
from callout.shoring.drawing.rakers import Place, RakerModel
from callout.shoring.drawing.solids import FRONT, SIDE, WHOLE, Model, Point3, between

_PLATE, _FACE, _TUBE, _INNER, _TIE = 2.0, 6.0, 3.5, 2.6, 2.0  # how deep and wide such pieces are drawn


def strut_model(build: Build) -> Model:
    one = _Struts(build, 0.0)
    one.draw()
    return one.model


class _Struts(RakerModel):
    def draw(self) -> None:
        self.ground_and_wall()
        for place in self.places:
            self._plate(place)
            self._strut(place)
            self._brace(place)
            self._pickets(place)
        self._ties()
        self.anchors(_PLATE)
        self.pad("heel pad")
        self.frame()
        self._tags()

    def _plate(self, place: Place) -> None:
        """Piece by piece, a joint over every seam."""
        each = sum(p.quantity for p in self.build.parts if p.part == "wall plate") // max(1, self.count) or 1
        for n in range(each):
            low, high = (self.start + self.plate * share / each for share in (n, n + 1))
            outline = self.along_wall(low, high, 0.0, _PLATE)
            a, b = self.wall_point(low), self.wall_point(high)
            axis = ((*a, place.z), (*b, place.z))
            self.model.plank("metal", outline, place.z - _FACE / 2, _FACE, "wall plate", axis)
            if n:
                outline = self.along_wall(low - 4, low + 4, _PLATE, _PLATE + 0.6)
                self.model.plank("metal", outline, place.z - _FACE / 2 + 0.8, _FACE - 1.6, "plate joint")

    def _strut(self, place: Place) -> None:
        """The outer tube stands at the heel, the inner one comes out of it at the collar."""
        model, length = self.model, place.length
        slant = self.inch("insertion_up_wall")
        model.plank(
            "metal", self.along_wall(slant - 4.5, slant + 4.5, _PLATE, _PLATE + 1.2), place.z - 2.8, 5.6, "head fitting"
        )
        heel, head, collar = 5.0, length - 7.5, length * 0.6
        fork = [place.at(head, 0), place.at(length - 3.2, 0)]
        model.tube("metal", fork[0], fork[1], 2.2, "head fitting")
        x, y = place.heel
        model.box("metal", (x - 6, y, place.z - 5), (x + 6, y + 0.9, place.z + 5), "base plate")
        model.box("metal", (x - 2, y + 0.9, place.z - 2), (x + 2, y + 3.6, place.z + 2), "base plate")
        outer = model.tube("metal", place.at(heel, 0), place.at(collar, 0), _TUBE, "")
        model.solids[-1] = type(outer)(
            outer.ink, outer.profile, outer.along, "raker", ((x, y, place.z), (*place.insertion, place.z)), True
        )
        model.tube("metal", place.at(collar, 0), place.at(collar + 3, 0), _TUBE + 1.2, "collar")
        model.tube("metal", place.at(collar + 3, 0), place.at(head, 0), _INNER, "inner tube")
        pieces = next((one for one in self.build.setting if one.label == f"raker {place.number}"), None)
        if pieces is not None and any("extension" in piece for piece in pieces.pieces):
            model.tube("metal", place.at(length * 0.28, 0), place.at(length * 0.28 + 4, 0), _TUBE + 0.9, "coupler")

    def _brace(self, place: Place) -> None:
        up_wall, up = self.inch("mid_brace_up_wall"), self.inch("mid_brace_up_raker")
        if not up:
            return
        a = (*self.wall_point(up_wall, _PLATE), place.z)
        end = place.at(up, 1.6)
        self.model.tube("metal", a, between(a, end, 0.97), 2.0, "mid brace")
        self.model.tube("metal", place.at(up - 2, 0), place.at(up + 2, 0), _TUBE + 1.6, "brace clamp")

    def _pickets(self, place: Place) -> None:
        x, y = place.heel
        for n in range(self.pickets_each()):
            row, side = divmod(n, 2)
            self.picket(x + 4.5 + row * 11, place.z + (3.2 if side else -3.2), y)

    def _ties(self) -> None:
        ups = {
            name: up for name in ("lower lateral", "middle lateral", "upper lateral")
            if (up := marks.inch(self.build, name.replace(" ", "_") + "_up_raker"))
        }  # fmt: skip
        self.ups = dict(sorted(ups.items(), key=lambda one: one[1]))
        heights = list(self.ups.values())
        for left, right in zip(self.places, self.places[1:], strict=False):
            for name, up in self.ups.items():
                self._tie(left.at(up, -3.2), right.at(up, -3.2), name)
            for k, (low, high) in enumerate(pairwise(heights)):
                a, b = (left, right) if k % 2 == 0 else (right, left)
                names = ("lower diagonal", "upper diagonal")
                self._tie(a.at(low, 3.2), b.at(high, 3.2), names[min(k, 1)])
        if self.count > 1:
            for up in self.ups.values():
                self.tie_height(up)
        self._waler()

    def _tie(self, a: Point3, b: Point3, name: str) -> None:
        self.model.tube("metal", between(a, b, 0.02), between(a, b, 0.98), _TIE, name)
        for share in (0.04, 0.96):
            self.model.tube(
                "metal", between(a, b, share - 0.025), between(a, b, share + 0.025), _TIE + 1.5, "tie clamp"
            )

    def _waler(self) -> None:
        cut = marks.made(self.build, "waler")
        if cut is None:
            return
        x, y = self.places[0].heel
        length, middle = float(cut.inches), (self.places[0].z + self.places[-1].z) / 2
        near = x + 7.5
        self.model.box("timber", (near, y, middle - length / 2), (near + 3.5, y + 5.5, middle + length / 2), "waler")
        behind = next((round(one.value) for one in self.build.loads if one.name == BEHIND_WALER), 0)
        ends = self.places[0].z + 9, self.places[-1].z - 9
        for n in range(behind):
            side, rank = n % 2, n // 2
            way = 1 if side == 0 else -1
            self.picket(near + 4.4, ends[side] - way * rank * 6, y)

    def _tags(self) -> None:
        model, build, first, last = self.model, self.build, self.places[0], self.places[-1]
        slant, up = self.inch("insertion_up_wall"), self.inch("mid_brace_up_raker")
        setting = marks.made(build, "raker")
        raker = marks.items(build, "raker 1", "strut", "extension", "coupler")
        both = [
            (first.at(first.length * 0.76), raker, f"raker, set {self.text(setting)}" if setting else "raker"),
            (
                (*self.wall_point(self.start + self.plate - 6, _PLATE), first.z),
                marks.items(build, "wall plates", "wall plate"),
                f"wall plate, {self.text(self.plate)}",
            ),
            (
                (*self.wall_point(slant, _PLATE + 1), first.z),
                marks.items(build, "raker 1", "head fitting"),
                "head fitting",
            ),
            (
                (first.heel[0] - 5, first.heel[1] + 0.5, first.z + 4),
                marks.items(build, "raker 1", "base plate"),
                "base plate",
            ),
        ]
        if up:
            brace = marks.made(build, "mid brace")
            at = between((*self.wall_point(self.inch("mid_brace_up_wall"), _PLATE), first.z), first.at(up), 0.5)
            both.append(
                (
                    at,
                    marks.items(build, "mid brace 1", "brace", "extension", "coupler"),
                    f"mid brace, set {self.text(brace)}" if brace else "mid brace",
                )
            )
            both.append((first.at(up + 1, -2), marks.items(build, "raker 1", "brace clamp"), "brace clamp"))
        joint = next((one for one in model.solids if one.name == "plate joint"), None)
        if joint is not None:
            both.append((joint.profile[1], marks.items(build, "wall plates", "plate joint"), "plate joint"))
        for at, found, text in both:
            model.tag(SIDE, at, found, text)
            model.tag(WHOLE, at, found)
        picket = first.heel[0] + 4.5, first.heel[1] + 9, first.z + 3.2
        pickets = marks.any_items(build, "picket")
        model.tag(SIDE, picket, pickets, f"{self.pickets_each()} pickets a base")
        model.tag(WHOLE, (picket[0], picket[1], last.z), pickets)
        if (waler := marks.made(build, "waler")) is not None:
            at = (first.heel[0] + 9, first.heel[1] + 5, first.z + 8)
            model.tag(SIDE, at, marks.letter(build, "waler"), f"waler, {self.text(waler)}")
            model.tag(WHOLE, at, marks.letter(build, "waler"))
            model.tag(
                SIDE, (first.heel[0] + 12, first.heel[1] + 9, 0.0), marks.any_items(build, "wedge pair"), "wedges"
            )
        self._front_tags()

    def _front_tags(self) -> None:
        if self.count < 2:
            return
        model, build, left, right = self.model, self.build, self.places[0], self.places[1]
        lateral = marks.any_items(build, "lateral")
        diagonal = marks.any_items(build, "diagonal")
        for name, up in self.ups.items():
            at = between(left.at(up, -3.2), right.at(up, -3.2), 0.7)
            model.tag(FRONT, at, self._items(name) or lateral, self._set(name), "lateral")
            model.tag(WHOLE, between(left.at(up, -3.2), right.at(up, -3.2), 0.5), self._items(name) or lateral)
        clamp = between(
            left.at(next(iter(self.ups.values())), -3.2), right.at(next(iter(self.ups.values())), -3.2), 0.96
        )
        model.tag(FRONT, clamp, marks.any_items(build, "tie clamp"), "tie clamps")
        for k, (low, high) in enumerate(pairwise(self.ups.values())):
            a, b = (left, right) if k % 2 == 0 else (right, left)
            name = ("lower diagonal", "upper diagonal")[min(k, 1)]
            at = between(a.at(low, 3.2), b.at(high, 3.2), 0.5)
            model.tag(FRONT, at, self._items(name) or diagonal, self._set(name), "diagonal")
            model.tag(WHOLE, at, self._items(name) or diagonal)

    def _items(self, name: str) -> tuple[str, ...]:
        kinds = ("lateral", "diagonal", "extension", "coupler")
        return marks.items(self.build, name, *kinds) or marks.items(self.build, f"{name}, rakers 1 to 2", *kinds)

    def _set(self, name: str) -> str:
        for one in self.build.setting:
            if one.label in (name, f"{name}, rakers 1 to 2"):
                return f"set {self.text(one.to_set)}"
        return name
