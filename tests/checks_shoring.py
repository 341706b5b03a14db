"""Check values from outside the project, each with its source and grade: one table for tests and proof page.

Grades: A seen in a primary source, B seen restated, M from memory, D worked from stated inputs, P common practice
without a source. `ours` asks the program; nothing here is computed by the program itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from hypothesis import settings

from callout.shoring import loads, mechanics
from callout.shoring.build import Build
from callout.shoring.draft import Draft
from callout.shoring.geometry import base_exact, by_rule, raker_exact
from callout.shoring.refusals import clear_zone
from callout.shoring.request import Site
from callout.shoring.rules import Book, packaged_rules
from callout.shoring.stock import load_stock
from callout.shoring.units import q
from callout.shoring.work_out import work_out
from callout.values import Callout, Length

#: Property tests on a busy machine: no deadline for a single example.
UNHURRIED = settings(deadline=None)

SLIDES_60 = "training slides, Split Sole 60 Degree Raker"
SLIDES_45 = "training slides, Split Sole 45 Degree Raker"
SLIDES_SOLID = "training slides, Solid Sole 60 Degree Raker"
SLIDES_T = "training slides, Double T shore"
RESCUE_SLIDES = "rescue training slides, shores"
SLIDES_LACED = "training slides, plywood laced post"
COURSE = "course page, Raker Shore Construction Guide (metric)"
TEXTBOOK = "Mechanics of Materials 7e, solved problem"
WORKED = "arithmetic from the stated inputs"


@dataclass(frozen=True)
class Check:
    """`ours` must come within `tolerance` of `expected`."""

    name: str
    ours: Callable[[], float]
    expected: float
    unit: str
    tolerance: float
    source: str
    grade: str


def every_check() -> list[Check]:
    return [
        *_table_of_rakers(), *_table_of_30_degrees(), *_parts_of_rakers(), *_forces(), *_posts(), *_columns(),
        *_wood_table(), *_nails_and_pickets(), *_cribs_and_soil(), *_figures_as_data(), *_beams(),
        *_beams_over_posts(), *_bearing(),
    ]  # fmt: skip


def book() -> Book:
    return packaged_rules().opened()


def ft(feet: float) -> Length:
    return Length.nearest(feet * 12)


def inch(length: Length | None) -> float:
    assert length is not None
    return float(length.inches)


def draft(site: Site | None = None, **said: object) -> Draft:
    """The draft of a callout with its insertion in feet."""
    said["insertion"] = ft(said["insertion"])  # type: ignore[arg-type]
    found = work_out(Callout.model_validate(said), load_stock().kit, site or Site())
    assert isinstance(found, Draft), found
    return found


def share(found: Build | Draft, name: str) -> float:
    """How much of one part's strength is used."""
    return next(check.share for check in found.checks if check.name == name and check.share is not None)


def unchecked(found: Build | Draft) -> dict[str, str]:
    """What was not checked, and why."""
    return {check.name: check.note for check in found.checks if not check.checked}


def _pair(name: str, which: str, **said: object) -> Callable[[], float]:
    return lambda: inch(getattr(draft(**said).pairs[name], which))


#: insertion ft: raker 45 rule, 45 exact, base 45, raker 60 rule, 60 exact, base 60 rule, base 60 exact; inches.
RAKERS = {
    3: (51, 50.91, 36, 42, 41.57, 21, 20.78), 4: (68, 67.88, 48, 56, 55.43, 28, 27.71),
    5: (85, 84.85, 60, 70, 69.28, 35, 34.64), 6: (102, 101.82, 72, 84, 83.14, 42, 41.57),
    7: (119, 118.79, 84, 98, 96.99, 49, 48.50), 8: (136, 135.76, 96, 112, 110.85, 56, 55.43),
    9: (153, 152.74, 108, 126, 124.71, 63, 62.35), 10: (170, 169.71, 120, 140, 138.56, 70, 69.28),
    11: (187, 186.68, 132, 154, 152.42, 77, 76.21), 12: (204, 203.65, 144, 168, 166.28, 84, 83.14),
    13: (221, 220.62, 156, 182, 180.13, 91, 90.07), 14: (238, 237.59, 168, 196, 193.99, 98, 96.99),
    15: (255, 254.56, 180, 210, 207.85, 105, 103.92), 16: (272, 271.53, 192, 224, 221.70, 112, 110.85),
    17: (289, 288.50, 204, 238, 235.56, 119, 117.78), 18: (306, 305.47, 216, 252, 249.42, 126, 124.71),
    19: (323, 322.44, 228, 266, 263.27, 133, 131.64), 20: (340, 339.41, 240, 280, 277.13, 140, 138.56),
    24: (408, 407.29, 288, 336, 332.55, 168, 166.28),
}  # fmt: skip


def _rule(name: str, feet: int, angle: int) -> Callable[[], float]:
    return lambda: inch(by_rule(book(), name, ft(feet), angle))


def _exact(form: Callable[[Length, float], Length], feet: float, angle: float) -> Callable[[], float]:
    return lambda: inch(form(ft(feet), angle))


def _table_of_rakers() -> Iterator[Check]:
    for feet, (l45, e45, b45, l60, e60, b60, x60) in RAKERS.items():
        seen = feet == 8
        for name, ours, expected, tolerance, source in (
            ("raker 45, rule", _rule("raker", feet, 45), l45, 0, SLIDES_45),
            ("raker 45, exact", _exact(raker_exact, feet, 45), e45, 0.02, WORKED),
            ("base 45, rule", _rule("base", feet, 45), b45, 0, SLIDES_45),
            ("base 45, exact", _exact(base_exact, feet, 45), b45, 0.001, WORKED),
            ("raker 60, rule", _rule("raker", feet, 60), l60, 0, SLIDES_60),
            ("raker 60, exact", _exact(raker_exact, feet, 60), e60, 0.02, WORKED),
            ("base 60, rule", _rule("base", feet, 60), b60, 0, SLIDES_60),
            ("base 60, exact", _exact(base_exact, feet, 60), x60, 0.02, WORKED),
        ):
            grade = "B" if seen and source != WORKED else "D"
            yield Check(f"{feet} ft, {name}", ours, expected, "in", tolerance, source, grade)


def _table_of_30_degrees() -> Iterator[Check]:
    bases = {3: 62.35, 5: 103.92, 8: 166.28, 10: 207.85, 11: 228.63, 12: 249.42, 15: 311.77, 20: 415.69}
    for feet, base in bases.items():
        yield Check(f"{feet} ft, raker 30, exact", _exact(raker_exact, feet, 30), feet * 24, "in", 0.01, WORKED, "D")
        yield Check(f"{feet} ft, base 30, exact", _exact(base_exact, feet, 30), base, "in", 0.02, WORKED, "D")


def _parts_of_rakers() -> Iterator[Check]:
    solid60: dict[str, object] = {"insertion": 8, "angle_deg": 60, "sole": "solid"}
    split60: dict[str, object] = {"insertion": 8, "angle_deg": 60, "sole": "split"}
    split45: dict[str, object] = {"insertion": 8, "angle_deg": 45, "sole": "split"}
    struts: dict[str, object] = {"insertion": 11, "angle_deg": 60}
    for name, ours, expected, tolerance, source, grade in (
        ("struts 60, 11 ft: raker, rule", _pair("raker", "rule", **struts), 154, 0, SLIDES_60, "B"),
        ("struts 60, 11 ft: base, rule", _pair("base", "rule", **struts), 77, 0, SLIDES_SOLID, "B"),
        ("struts 60, 11 ft: raker, exact", _pair("raker", "exact", **struts), 152.42, 0.02, WORKED, "D"),
        ("struts 60, 11 ft: base, exact", _pair("base", "exact", **struts), 76.21, 0.02, WORKED, "D"),
        ("solid sole 60, 8 ft: wall plate", _pair("wall_plate", "rule", **solid60), 129.5, 0, SLIDES_SOLID, "B"),
        ("solid sole 60, 8 ft: sole plate, least (slides: 81.5, a slip)",
         _pair("sole_plate", "rule", **solid60), 83.5, 0, WORKED, "D"),
        ("split sole 60, 8 ft: wall plate", _pair("wall_plate", "rule", **split60), 126, 0, SLIDES_60, "B"),
        ("split sole 60, 8 ft: bottom brace", _pair("bottom_brace", "rule", **split60), 56, 0, SLIDES_60, "B"),
        ("split sole 60, 8 ft: raker", _pair("raker", "rule", **split60), 112, 0, SLIDES_60, "B"),
        ("split sole 45, 8 ft: wall plate", _pair("wall_plate", "rule", **split45), 120, 0, SLIDES_45, "B"),
        ("split sole 45, 8 ft: bottom brace", _pair("bottom_brace", "rule", **split45), 96, 0, SLIDES_45, "B"),
        ("split sole 45, 8 ft: raker", _pair("raker", "rule", **split45), 136, 0, SLIDES_45, "B"),
        ("solid sole 45, 8 ft: wall plate", _pair("wall_plate", "rule", **(split45 | {"sole": "solid"})), 123.5, 0,
         WORKED, "D"),
    ):
        yield Check(name, ours, expected, "in", tolerance, source, grade)
    yield Check("end cut at the top, 60", lambda: draft(**split60).end_cuts.top_deg, 60, "deg", 0, SLIDES_60, "B")
    yield Check("end cut at the bottom, 60", lambda: draft(**split60).end_cuts.bottom_deg, 30, "deg", 0, SLIDES_60, "B")
    yield Check("end cuts, 45", lambda: draft(**split45).end_cuts.top_deg, 45, "deg", 0, SLIDES_45, "B")
    yield Check("rakers along 20 ft of wall", _rakers_along(20), 3, "1", 0, "our convention, not published", "D")
    yield Check("rakers along 40 ft of wall", _rakers_along(40), 5, "1", 0, "our convention, not published", "D")


    yield Check("clear zone of a free-standing wall, 11 ft high", lambda: inch(clear_zone(ft(11), book())) / 12,
                15, "ft", 0, "Department of Commerce, masonry wall safety: height + 4 ft", "B")  # fmt: skip


def _rakers_along(feet: int) -> Callable[[], float]:
    return lambda: draft(Site(wall_length=ft(feet)), insertion=8, angle_deg=45, sole="split").work.rakers


def _forces() -> Iterator[Check]:
    for angle, force, axial, uplift in (
        (30, 1000, 1155, 577), (30, 2500, 2887, 1443), (30, 3600, 4157, 2078),
        (45, 1000, 1414, 1000), (45, 2500, 3536, 2500), (45, 3600, 5091, 3600),
        (60, 1000, 2000, 1732), (60, 2500, 5000, 4330), (60, 3600, 7200, 6235),
    ):  # fmt: skip
        for name, expected in (("axial", axial), ("uplift", uplift), ("thrust", force)):
            yield Check(
                f"{name} at {angle} degrees, {force} lb on the wall",
                lambda n=name, f=force, a=angle: getattr(loads.forces(q(f, "lb"), a), n).to("lb"),
                expected, "lb", 0.51, "statics", "D",
            )  # fmt: skip
    feet = q(1, "ft")
    weight = loads.wall_weight(12 * feet, 1 * feet, 8 * feet, book().quantity("masonry"))
    yield Check("12 in masonry, 12 ft high, 8 ft wide", lambda: weight.to("lb"), 12000, "lb", 0.01, WORKED, "D")
    yield Check(
        "force that holds a tenth of lean, 12 ft wall, insertion 11 ft",
        lambda: loads.lean_force(q(12000, "lb"), 0.6 * feet, 11 * feet).to("lb"), 655, "lb", 0.5, WORKED, "D",
    )  # fmt: skip


def _posts() -> Iterator[Check]:
    for kind, height, post in (("t", 8, 87.5), ("double_t", 8, 87.5), ("laced_post", 8, 87.5), ("t", 10, 111.5)):
        yield Check(
            f"{kind} post cut, void {height} ft, 4x4 header and sole and wedges",
            _pair("post", "rule", insertion=height, kind=kind), post, "in", 0, SLIDES_T, "B",
        )  # fmt: skip
    for section, feet, pounds in (
        ("4x4", 8, 7816), ("4x4", 10, 5002), ("4x4", 12, 3474),
        ("6x6", 12, 21182), ("6x6", 14, 15562), ("6x6", 16, 11915), ("6x6", 20, 7626),
    ):  # fmt: skip
        side = q(3.5 if section == "4x4" else 5.5, "in")
        yield Check(
            f"long-column rule, {section} {feet} ft",
            lambda s=side, f=feet: mechanics.field_rule(q(1.6e6, "psi"), s**2, float(q(f, "ft") / s)).to("lb"),
            pounds, "lb", 0.6, WORKED, "D",
        )  # fmt: skip
    for kind, height, post in (("t", 8, 83.5), ("double_t", 10, 107.5), ("laced_post", 8, 83.5)):
        yield Check(
            f"{kind} post cut, void {height} ft, 6x6 header and sole and wedges",
            lambda k=kind, h=height: inch(draft(Site(post="6x6"), insertion=h, kind=k).pairs["post"].rule), post, "in",
            0, SLIDES_T, "B",
        )  # fmt: skip
    for section, limit, expected in (("4x4", 25, 87.5), ("4x4", 50, 175), ("6x6", 25, 137.5), ("6x6", 50, 275)):
        side = q(3.5 if section == "4x4" else 5.5, "in")
        yield Check(f"length at L/d {limit}, {section}", lambda s=side, n=limit: (n * s).to("in"), expected, "in", 0,
                    "structural-collapse exam item" if limit == 25 else "NDS 3.7.1, from memory",
                    "B" if limit == 25 else "M")  # fmt: skip


def _columns() -> Iterator[Check]:
    tube = mechanics.Tube(q(40, "mm"), q(2, "mm"))
    yield Check("steel tube 40/36 mm, I", lambda: tube.inertia.to("mm4"), 43220, "mm4", 5, TEXTBOOK + " 11.4-2", "A")
    cases = (("pin-pin", 1.0, 62.2), ("fix-fix", 0.5, 249), ("fix-pin", 0.69916, 127), ("fix-free", 2.0, 15.6))
    for ends, k, load in cases:
        yield Check(
            f"Euler, steel tube 1.2 m, {ends}",
            lambda k=k: mechanics.euler(q(210, "GPa"), tube.inertia, q(1200, "mm"), k).to("kN"),
            load, "kN", 0.5 if load > 100 else 0.05, TEXTBOOK + " 11.4-2", "A",
        )  # fmt: skip
    wall = mechanics.Tube(q(2, "in"), q(0.165, "in"))
    yield Check(
        "Euler, aluminium strut 2 in, 6 ft: wall 0.165 in carries twice 4 kip",
        lambda: mechanics.euler(q(10400, "ksi"), wall.inertia, q(6, "ft")).to("kip"), 8.0, "kip", 0.06,
        TEXTBOOK + " 11.3-15", "A",
    )  # fmt: skip
    yield Check("aluminium strut 2 in, I needed", lambda: wall.inertia.to("in4"), 0.404, "in4", 0.003,
                TEXTBOOK + " 11.3-15", "A")  # fmt: skip
    older = mechanics.Tube(q(3.25, "in"), q(0.125, "in"))
    name, source = "6061-T6 tube 3.25/3.00", TEXTBOOK + " 11.9-23"
    yield Check(f"{name}, r", lambda: older.gyration.to("in"), 1.106, "in", 0.0006, source, "A")
    yield Check(f"{name}, A", lambda: older.area.to("in2"), 1.227, "in2", 0.0006, source, "A")
    for feet, kip in ((2, 18.1), (3, 14.7), (4, 8.3), (5, 5.3)):
        yield Check(
            f"6061-T6 tube, K 2, {feet} ft, older formulas",
            lambda f=feet: (
                mechanics.aluminium_stress_older(2 * float(q(f, "ft") / older.gyration)) * older.area
            ).to("kip"),
            kip, "kip", 0.06, TEXTBOOK + " 11.9-23, -24 (superseded formulas)", "A",
        )  # fmt: skip
    alloy = q(35, "ksi"), q(10100, "ksi")
    for slender in (66, 80, 100, 150):
        yield Check(
            f"6061-T6, KL/r {slender}: today's curve over 1.65 is the older 51,000/(KL/r)^2",
            lambda s=slender: mechanics.aluminium_stress(*alloy, s).to("ksi") / 1.65 / (51000 / s**2), 1.0, "1", 0.01,
            TEXTBOOK + " 11.9-23 (older formula)", "A",
        )  # fmt: skip
    for slender, share in ((18, 1.0), (30, 0.962), (42, 0.925), (65, 0.853)):
        yield Check(
            f"6061-T6, KL/r {slender}: today's curve is the older straight line times a share from 1 to 0.85",
            lambda s=slender: mechanics.aluminium_stress(*alloy, s).to("ksi") / (1.95 * (20.2 - 0.126 * s)), share, "1",
            0.005, TEXTBOOK + " 11.9-23 (older formula with its factor 1.95); share from memory (ADM 2015 E.2)", "M",
        )  # fmt: skip
    yield Check("6061-T6, stocky: the yield strength", lambda: mechanics.aluminium_stress(*alloy, 10).to("ksi"), 35,
                "ksi", 0, "Aluminum Design Manual 2015 E.2, from memory", "M")  # fmt: skip
    for feet, cp, kip in ((6, 0.6621, 16.8), (8, 0.4464, 11.3), (10, 0.3050, 7.7)):
        def fce(f: float = feet) -> float:
            stress = mechanics.wood_fce(q(1.3e6, "psi"), f * 12 / 3.5, 0.3)
            return mechanics.stability_factor(stress, q(1000, "psi"))
        yield Check(f"wood 3.5 x 7.25, {feet} ft, Cp", fce, cp, "1", 0.0001, TEXTBOOK + " 11.9-31", "A")
        yield Check(f"wood 3.5 x 7.25, {feet} ft, P", lambda c=fce: c() * 3.5 * 7.25, kip, "kip", 0.05,
                    TEXTBOOK + " 11.9-31", "A")  # fmt: skip
    sheet = "wood-column worksheet after a wood-design text, p. 7.15"
    six = mechanics.wood_fce(q(1.6e6, "psi"), 168 / 5.5, 0.3)
    cp = mechanics.stability_factor(six, q(900, "psi"))
    yield Check("wood 6x6, 14 ft, FcE", lambda: six.to("psi"), 514.46, "psi", 0.01, sheet, "B")
    yield Check("wood 6x6, 14 ft, Cp", lambda: cp, 0.4819, "1", 0.00006, sheet, "B")
    yield Check("wood 6x6, 14 ft, Fc'", lambda: 900 * cp, 433.8, "psi", 0.1, sheet, "B")
    yield Check("wood 6x6, 14 ft, capacity", lambda: 900 * cp * 5.5**2, 13120, "lb", 10, sheet, "B")
    steel, fy, e, area = "worked AISC problem, HSS16x16x1/2", q(46, "ksi"), q(29000, "ksi"), q(28.3, "in2")
    for name, ours, expected, tolerance in (
        ("Fcr", lambda: mechanics.steel_stress(fy, e, 34.23).to("ksi"), 42.51, 0.01),
        ("allowable", lambda: mechanics.steel_capacity(fy, e, area, 34.23).to("kip"), 720, 0.6),
        ("nominal", lambda: mechanics.steel_capacity(fy, e, area, 34.23, 1.0).to("kip"), 1203, 0.6),
        ("limit of the branches", lambda: 4.71 * math.sqrt(29000 / 46), 118.26, 0.01),
    ):  # fmt: skip
        yield Check(f"steel HSS, {name}", ours, expected, "ksi" if name == "Fcr" else "kip", tolerance, steel, "B")


#: section, grade, ft: P at CD 1.0, 1.25, 1.6 (lb). Strengths of the NDS Supplement from memory, so grade M.
WOOD = {
    ("4x4", 1, 6): (11783, 12504, 13097), ("4x4", 1, 8): (7479, 7671, 7827), ("4x4", 1, 10): (5001, 5070, 5128),
    ("4x4", 1, 11): (4183, 4228, 4266), ("4x4", 1, 12): (3545, 3576, 3602), ("4x4", 1, 14): (2635, 2651, 2664),
    ("4x4", 2, 6): (10886, 11594, 12176), ("4x4", 2, 8): (6960, 7148, 7302), ("4x4", 2, 10): (4665, 4733, 4789),
    ("4x4", 2, 11): (3904, 3949, 3986), ("4x4", 2, 12): (3311, 3341, 3366), ("4x4", 2, 14): (2462, 2477, 2490),
    ("6x6", 1, 8): (24795, 28830, 33070), ("6x6", 1, 10): (20918, 23073, 24972), ("6x6", 1, 12): (16823, 17848, 18688),
    ("6x6", 1, 14): (13349, 13855, 14265), ("6x6", 1, 16): (10671, 10943, 11165), ("6x6", 1, 20): (7134, 7232, 7314),
    ("6x6", 2, 8): (17995, 21217, 24804), ("6x6", 2, 10): (15659, 17586, 19375), ("6x6", 2, 12): (12960, 13944, 14767),
    ("6x6", 2, 14): (10475, 10972, 11376), ("6x6", 2, 16): (8463, 8731, 8948), ("6x6", 2, 20): (5715, 5811, 5890),
}  # fmt: skip
_STRENGTHS = {("4x4", 1): (1500 * 1.15, 620e3), ("4x4", 2): (1350 * 1.15, 580e3),
              ("6x6", 1): (1000, 580e3), ("6x6", 2): (700, 470e3)}  # fmt: skip


def _wood_table() -> Iterator[Check]:
    for (section, number, feet), row in WOOD.items():
        fc, emin = _STRENGTHS[section, number]
        side = q(3.5 if section == "4x4" else 5.5, "in")
        wood = mechanics.Wood(side, side, q(fc, "psi"), q(emin, "psi"))
        for duration, expected in zip((1.0, 1.25, 1.6), row, strict=True):
            yield Check(
                f"{section} No.{number}, {feet} ft, CD {duration:g}",
                lambda w=wood, f=feet, d=duration: w.capacity(q(f, "ft"), d).to("lb"),
                expected, "lb", 0.0002 * expected + 1, "NDS 3.7 with strengths from memory", "M",
            )  # fmt: skip


def _nails_and_pickets() -> Iterator[Check]:
    z = book().quantity("nail_16d")
    for nails, row in {11: (1551, 1939, 2482), 13: (1833, 2291, 2933), 14: (1974, 2468, 3158),
                       17: (2397, 2996, 3835), 20: (2820, 3525, 4512)}.items():  # fmt: skip
        for duration, expected in zip((1.0, 1.25, 1.6), row, strict=True):
            yield Check(f"{nails} nails 16d, CD {duration:g}", lambda n=nails, d=duration: (n * z * d).to("lb"),
                        expected, "lb", 0.51, "NDS 2005 Table 11N, Z = 141 lb", "B")  # fmt: skip
    picket = book().quantity("picket_load")
    for thrust, factor, count in ((2500, 1.0, 4), (2500, 0.9, 4), (2500, 0.5, 8), (3600, 1.0, 6), (700, 1.0, 2)):
        yield Check(f"pickets for {thrust} lb, soil factor {factor:g}, at least 2",
                    lambda t=thrust, f=factor: loads.pickets_for(q(t, "lb"), picket, f, 2), count, "1", 0,
                    "NAVEDTRA 14251: about 700 lb each; division here", "A")  # fmt: skip
    yield Check("2,500 lb on four pickets, each", lambda: (q(2500, "lb") / 4).to("lb"), 625, "lb", 0, WORKED, "D")


def _cribs_and_soil() -> Iterator[Check]:
    cards = "trade article, Shoring Systems Part 1; study cards, Rescue Systems block III"
    contact = book().quantity("crib_contact_load")
    yield Check("4x4 crib, 4 contacts", lambda: (contact * 4).to("lb"), 24000, "lb", 0, cards, "B")
    larger = book().quantity("crib_contact_load_6x6")
    yield Check("6x6 crib, 4 contacts", lambda: (larger * 4).to("lb"), 60000, "lb", 0, cards, "B")
    yield Check("6x6: 4 contacts at 500 psi", lambda: (4 * q(5.5, "in") ** 2 * q(500, "psi")).to("lb"), 60500, "lb", 0,
                cards, "B")  # fmt: skip
    yield Check("4x4 crib, 9 contacts", lambda: (contact * 9).to("lb"), 54000, "lb", 0, cards, "B")
    yield Check("4 contacts at 500 psi", lambda: (4 * q(3.5, "in") ** 2 * q(500, "psi")).to("lb"), 24500, "lb", 0,
                cards, "B")  # fmt: skip
    yield Check("pressure of 4,330 lb on an 18 in pad", lambda: (q(4330, "lb") / q(18, "in") ** 2).to("psf"), 1924,
                "psf", 0.6, WORKED, "D")  # fmt: skip
    for soil, load, fits in (("clay", 1500, 0), ("sand", 2000, 1)):
        yield Check(f"18 in pad under 4,330 lb is enough on {soil}",
                    lambda n=load: float(loads.pad_side(q(4330, "lb"), q(n, "psf")) <= q(18, "in")), fits, "1", 0,
                    "IBC 2012 Table 1806.2", "A")  # fmt: skip


def _figures_as_data() -> Iterator[Check]:
    """Figures of the rules, as their sources print them: the check that they were copied right."""
    for key, expected, unit, source, grade in (
        ("wall_cleat_60", 30, "in", SLIDES_SOLID, "B"), ("wall_cleat_45", 24, "in", SLIDES_45, "B"),
        ("sole_cleat", 24, "in", SLIDES_SOLID, "B"), ("return_cut", 1.5, "in", SLIDES_60, "B"),
        ("wedge_gap", 1.25, "in", COURSE, "B"), ("spacing_most", 8, "ft", COURSE, "B"),
        ("midbrace_over_raker", 11, "ft", COURSE, "B"), ("ties_over_insertion", 8, "ft", COURSE, "B"),
        ("nails_wall_cleat_60", 20, "1", SLIDES_SOLID, "B"), ("nails_wall_cleat_45", 14, "1", SLIDES_45, "B"),
        ("nails_sole_cleat", 14, "1", SLIDES_SOLID, "B"), ("nails_gusset", 13, "1", COURSE, "B"),
        ("nails_top_gusset_raker", 5, "1", RESCUE_SLIDES, "B"),
        ("nails_bottom_gusset", 5, "1", COURSE, "B"), ("nails_bottom_gusset_sole", 8, "1", "from memory", "M"),
        ("nails_brace_end", 5, "1", COURSE, "B"),
        ("wedge_toenails", 2, "1", "trade article, Shoring Systems Part 1", "B"),
        ("nails_trough_side", 8, "1", "common practice, no source", "P"),
        ("gusset_nails_header", 14, "1", SLIDES_T, "B"), ("gusset_nails_post", 5, "1", SLIDES_T, "B"),
        ("gusset_nails_mid", 8, "1", SLIDES_T, "B"), ("gusset_nails_half", 8, "1", SLIDES_T, "B"),
        ("gusset_nails_laced", 11, "1", SLIDES_LACED, "B"),
        ("opening_clear", 1.5, "in", "trade article, Shoring Systems Part 2", "B"),
        ("design_load_4x4_raker", 2500, "lb", SLIDES_60, "B"), ("design_load_6x6_raker", 3600, "lb", SLIDES_60, "B"),
        ("design_load_flying", 1000, "lb", "from memory", "M"), ("lean_limit", 0.10, "1", SLIDES_60, "B"),
        ("pickets_soil_timber", 4, "1", SLIDES_SOLID, "B"), ("pickets_pavement", 2, "1", SLIDES_SOLID, "B"),
        ("post_deduct_4x4", 8.5, "in", SLIDES_T, "B"), ("post_deduct_6x6", 12.5, "in", SLIDES_T, "B"),
        ("double_t_load_low", 16000, "lb", SLIDES_T, "B"), ("double_t_load_high", 10000, "lb", SLIDES_T, "B"),
        ("double_t_load_least", 8000, "lb", RESCUE_SLIDES, "B"), ("t_load", 4000, "lb", RESCUE_SLIDES, "B"),
        ("double_t_posts_out", 24, "in", SLIDES_T, "B"), ("double_t_height_most", 144, "in", SLIDES_T, "B"),
        ("laced_load", 32000, "lb", SLIDES_LACED, "B"), ("laced_load_6x6", 80000, "lb", SLIDES_LACED, "B"),
        ("laced_height_most", 156, "in", SLIDES_LACED, "B"),
        ("t_header", 36, "in", "course page, T-Post Shore Construction Guide (metric)", "B"),
        ("masonry", 125, "pcf", "FEMA Rescue Specialist manual 06/98", "A"),
        ("wood", 35, "pcf", "FEMA Rescue Specialist manual 06/98", "A"),
        ("concrete", 150, "pcf", "study cards, Rescue Systems block III", "B"),
        ("bearing_clay", 1500, "psf", "IBC 2012 Table 1806.2", "A"),
        ("bearing_sand", 2000, "psf", "IBC 2012 Table 1806.2", "A"),
        ("bearing_gravel", 3000, "psf", "IBC 2012 Table 1806.2", "A"),
        ("crib_piece_least", 24, "in", "trade article, Shoring Systems Part 1", "B"),
        ("slenderness_warn", 25, "1", "structural-collapse exam item", "B"),
        ("slenderness_most", 50, "1", "NDS 3.7.1, from memory", "M"),
        ("wedge_room", 1.5, "in", SLIDES_T, "B"),
        ("horizontal_load_share", 0.10, "1", "FEMA Rescue Specialist manual 06/98", "A"),
        ("pad_side", 18, "in", "from memory", "M"), ("pad_planks", 3, "1", "from memory", "M"),
        ("anchors_least", 2, "1", "common practice, no source", "P"),
    ):  # fmt: skip
        yield Check(f"rule {key.replace('_', ' ')}", lambda k=key, u=unit: book().quantity(k).to(u), expected, unit,
                    1e-9, source, grade)  # fmt: skip


COURSE_BEAMS = "course, beams of sawn timber (HW18 to HW21)"
SIZES = "published section properties of dressed timber"
LIBRARY = "NDS 2018 examples, as an open structural library checks them"
BEARING = "course notes on NDS 3.10, bearing"
HANDBOOK = "handbook of civil calculations, Hankinson's formula"


def _sawn(width: float, depth: float, e: float = 1.6e6) -> mechanics.Beam:
    return mechanics.Beam(q(width, "in"), q(depth, "in"), q(900, "psi"), q(180, "psi"), q(e, "psi"))


def _sag(spread: mechanics.Spread, sawn: mechanics.Beam, load: float) -> float:
    return load * spread.sag.value / (sawn.stiffness * sawn.inertia).value


def _beams() -> Iterator[Check]:
    none = q(0, "in")
    for size, (area, modulus, inertia) in {
        "4x4": (12.25, 7.146, 12.51), "4x6": (19.25, 17.65, 48.53), "4x8": (25.375, 30.66, 111.15),
        "4x10": (32.375, 49.91, 230.84), "6x6": (30.25, 27.73, 76.26),
    }.items():  # fmt: skip
        one = mechanics.beam(book(), size)
        yield Check(f"{size}, A", lambda b=one: (b.width * b.depth).to("in2"), area, "in2", 0.001, SIZES, "B")
        yield Check(f"{size}, S", lambda b=one: b.modulus.value, modulus, "in3", 0.01, SIZES, "B")
        yield Check(f"{size}, I", lambda b=one: b.inertia.to("in4"), inertia, "in4", 0.01, SIZES, "B")
    deep = _sawn(5.5, 11.5)
    span = mechanics.between_posts(q(14, "ft"), q(14, "ft"), none)
    yield Check("6x12, 14 ft, 6,300 lb spread: sag", lambda: _sag(span, deep, 6300), 0.349, "in", 0.001,
                COURSE_BEAMS, "B")  # fmt: skip
    yield Check("6x12, 14 ft, 6,300 lb spread: moment", lambda: 6300 * span.moment.value / 12, 11025, "lb ft", 0.5,
                COURSE_BEAMS, "B")  # fmt: skip
    yield Check("6x12, shear of 3,150 lb", lambda: 3150 / (deep.across / deep.shear).value, 74.7, "psi", 0.02,
                COURSE_BEAMS, "B")  # fmt: skip
    long = mechanics.between_posts(q(20, "ft"), q(20, "ft"), none)
    yield Check("6x18, 20 ft, 185 lb a foot: sag", lambda: _sag(long, _sawn(5.5, 17.5), 3700), 0.169, "in", 0.001,
                COURSE_BEAMS, "B")  # fmt: skip
    out = mechanics.over_posts(q(16, "ft"), 1, q(8, "ft"), none)
    yield Check("4x8 out 8 ft over a post, 200 lb a foot: sag", lambda: _sag(out, _sawn(3.5, 7.25, 1.9e6), 3200), 0.84,
                "in", 0.005, COURSE_BEAMS, "B")  # fmt: skip
    for size, feet, pounds in (("4x4", 4, 1608), ("4x6", 6, 2294), ("4x8", 8, 2989), ("4x10", 10, 3594),
                               ("4x12", 12, 4061)):  # fmt: skip
        along = mechanics.between_posts(q(feet, "ft"), q(feet, "ft"), none)
        yield Check(
            f"header {size} over {feet} ft, in bending",
            lambda s=size, a=along: mechanics.beam(book(), s).moment.value / a.moment.value, pounds, "lb", 1.5,
            "arithmetic on the strengths of NDS 2018 No. 2", "D",
        )  # fmt: skip
    two = mechanics.over_posts(q(72, "in"), 2, q(12, "in"), q(3.5, "in"))
    yield Check("6 ft header on two posts a foot in, 30,000 lb: moment", lambda: 30000 * two.moment.value / 12, 7500,
                "lb ft", 0.5, "statics: w L2/8 less w a2/2", "D")  # fmt: skip


def _beams_over_posts() -> Iterator[Check]:
    """A header of one timber leans on its inner posts more than the length that each stands under."""
    none = q(0, "in")
    for posts, moment, shear, busiest in ((3, 1 / 8, 5 / 8, 10 / 8), (4, 1 / 8, 0.6, 1.1), (5, 1 / 8, 0.607, 1.143)):
        span = mechanics.over_posts(q(48 * (posts - 1), "in"), posts, none, none)
        load = 1 / (posts - 1)  # on one span, of a pound on all
        for what, ours, part, grade in (
            ("moment", lambda s=span, n=load: s.moment.value / 48 / n, moment, "D"),
            ("shear", lambda s=span, n=load: s.shear / n, shear, "M"),
            ("the busiest post", lambda s=span, n=load: s.busiest / n, busiest, "M"),
        ):
            yield Check(f"header over {posts} posts, of the load on one span: {what}", ours, part, "1", 0.0005,
                        "handbook table of continuous beams, from memory; or cut over a post", grade)  # fmt: skip
    out = mechanics.over_posts(q(120, "in"), 3, q(12, "in"), none)
    yield Check("10 ft header on three posts a foot in, 12,000 lb: the middle post", lambda: 12000 * out.busiest, 5550,
                "lb", 1, "theorem of three moments by hand: w (1.25 L - 1.5 a2/L)", "D")  # fmt: skip


def _bearing() -> Iterator[Check]:
    side = q(3.5, "in")
    for length, factor in ((0.5, 1.75), (1, 1.375), (1.5, 1.25), (2, 1.188), (3, 1.125), (3.5, 1.107), (4, 1.094),
                           (5.5, 1.068)):  # fmt: skip
        yield Check(f"Cb of a bearing {length} in long", lambda n=length: mechanics.help_beside(q(n, "in"), q(6, "in")),
                    factor, "1", 0.0006, BEARING, "B" if length == 3.5 else "D")  # fmt: skip
    yield Check("Cb at the end of a timber", lambda: mechanics.help_beside(side, q(0, "in")), 1, "1", 0, BEARING, "B")
    for section, inches, end, middle in (("4x4", 3.5, 7656, 8477), ("6x6", 5.5, 18906, 20195)):
        face = q(inches, "in")
        for where, far, pounds in (("end", 0, end), ("middle", 12, middle)):
            yield Check(
                f"{section} post on {section}, at the {where}",
                lambda s=section, f=face, n=far: mechanics.crushing(book(), s, f, f, q(n, "in")).to("lb"),
                pounds, "lb", 1, "arithmetic on Fc across the grain 625 psi (worked exercise) and Cb", "D",
            )  # fmt: skip
    yield Check("12,500 lb on 3 1/2 in square: times its strength",
                lambda: 12500 / mechanics.crushing(book(), "4x4", side, side, q(0, "in")).to("lb"),
                1020 / 625, "1", 0.002, "worked exercise on a post and its plate: fails", "B")  # fmt: skip
    sine = math.degrees(math.asin(0.6))
    yield Check("bearing at an angle, 1,400 and 400 psi",
                lambda: mechanics.at_an_angle(q(1400, "psi"), q(400, "psi"), sine).to("psi"), 737, "psi", 0.5, HANDBOOK,
                "A")  # fmt: skip
    for along, degrees, psi in ((1552.5, 30, 1132.4), (1552.5, 45, 891.2), (1552.5, 60, 734.7), (1000, 45, 769.2)):
        yield Check(
            f"bearing at {degrees} degrees, {along:g} and 625 psi",
            lambda a=along, d=degrees: mechanics.at_an_angle(q(a, "psi"), q(625, "psi"), d).to("psi"), psi, "psi", 0.06,
            "arithmetic after the same formula", "D",
        )  # fmt: skip
    for key, value, unit, source in (
        ("fb_4x4", 900, "psi", LIBRARY), ("fv_4x4", 180, "psi", LIBRARY), ("e_4x4", 1.6e6, "psi", LIBRARY),
        ("fc_across_4x4", 625, "psi", LIBRARY), ("fc_across_6x6", 625, "psi", "worked exercises on bearing"),
        ("fc_4x4", 1350, "psi", LIBRARY), ("emin_4x4", 580000, "psi", LIBRARY),
    ):  # fmt: skip
        yield Check(f"rule {key.replace('_', ' ')}", lambda k=key, u=unit: book().quantity(k).to(u), value, unit, 1e-6,
                    source, "B")  # fmt: skip
