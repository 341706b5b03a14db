"""What each part of a shore carries, worked out again from statics, NDS 3.3, 3.7, 3.10 and the stock file alone: pounds
and inches, no code shared with the planner. A header over several posts is solved by stiffness, not by moments.

Strengths: Douglas fir-larch No. 2 (NDS Supplement, see the facts in docs/proofs/shoring.md); nails NDS Table 12N.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

Json = dict[str, Any]
DRESSED = {"2x4": (1.5, 3.5), "2x6": (1.5, 5.5), "4x4": (3.5, 3.5), "4x6": (3.5, 5.5), "4x8": (3.5, 7.25),
           "4x10": (3.5, 9.25), "4x12": (3.5, 11.25), "6x6": (5.5, 5.5)}  # fmt: skip
BENDING = {"4x4": 1350, "4x6": 1170, "4x8": 1170, "4x10": 1080, "4x12": 990, "6x6": 750}  # psi, No. 2 with CF
SHEAR = {"4": 180, "6": 170}
COLUMN = {"4": (1350 * 1.15, 580000), "6": (700, 470000)}  # Fc with CF, Emin
ACROSS = 625
SOIL = {"loam": 1.0, "clay": 0.9, "sand": 0.5, "gravel": 0.9}
BEARS = {"loam": 1500, "clay": 1500, "sand": 2000, "gravel": 3000}  # psf
NAIL_16D, NAIL_8D_PLY, MINUTES, YEARS = 141, 90, 1.6, 1.0
PUBLISHED = {"t": 4000, "double_t": 8000, "laced_post": 32000}
_EIGHTIETHS = 2032  # of a millimetre, in an inch


def inches(length: Json | None) -> float:
    return 0.0 if length is None else length["eightieths_mm"] / _EIGHTIETHS


def wood_column(section: str, length: float) -> float:
    """NDS 3.7."""
    fc, emin = COLUMN[section[0]]
    side = DRESSED[section][0]
    ratio = 0.822 * emin / (length / side) ** 2 / fc
    half = (1 + ratio) / 1.6
    return float(fc * (half - math.sqrt(half**2 - ratio / 0.8)) * side**2)


def at_an_angle(section: str, degrees: float) -> float:
    """Hankinson, NDS 3.10.3."""
    along, sine = COLUMN[section[0]][0], math.sin(math.radians(degrees)) ** 2
    return along * ACROSS / (along * sine + ACROSS * (1 - sine))


def seat(side: float, to_end: float) -> float:
    """A post across the grain, NDS 3.10.2 and 3.10.4."""
    return ACROSS * side**2 * (1 if to_end < 3 or side >= 6 else (side + 0.375) / side)


def by_stiffness(at: list[float], length: float, width: float) -> tuple[float, float, float]:
    """(greatest moment, greatest shear at the face of a seat, greatest reaction) of a beam of `length` under one pound
    spread along it, on posts `at` these places that are `width` wide."""
    knots = sorted({0.0, length, *at})
    load, size = 1 / length, 2 * len(knots)
    matrix, forces = np.zeros((size, size)), np.zeros(size)
    for n in range(len(knots) - 1):
        span = knots[n + 1] - knots[n]
        element = np.array([
            [12, 6 * span, -12, 6 * span], [6 * span, 4 * span**2, -6 * span, 2 * span**2],
            [-12, -6 * span, 12, -6 * span], [6 * span, 2 * span**2, -6 * span, 4 * span**2],
        ])  # fmt: skip
        place = slice(2 * n, 2 * n + 4)
        matrix[place, place] += element / span**3
        forces[place] += -load * span * np.array([1 / 2, span / 12, 1 / 2, -span / 12])
    held = [2 * knots.index(one) for one in at]
    if len(at) == 1:  # it balances on its one post
        held.append(held[0] + 1)
    free = [n for n in range(size) if n not in held]
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(matrix[np.ix_(free, free)], forces[free])
    reactions = (matrix @ moved - forces)[held[: len(at)]]
    x = np.linspace(0, length, 4001)
    shear, moment, open_air = -load * x, -load * x**2 / 2, np.full(x.shape, True)
    for reaction, place in zip(reactions, at, strict=True):
        shear = shear + reaction * (x > place)
        moment = moment + reaction * np.maximum(0, x - place)
        open_air &= abs(x - place) >= width / 2
    return float(abs(moment).max()), float(abs(shear[open_air]).max()), float(max(reactions))


def standing(build: Json) -> Iterator[tuple[str, float]]:
    """(check, the load on the shore at which the part is used up)."""
    kind, cuts = build["request"]["kind"], {one["label"]: one for one in build["cuts"]}
    geometry = build["geometry"]
    if kind == "cribbing":
        section = cuts["crib piece"]["section"]
        side = DRESSED[section][0]
        yield "contacts of the crib, as published", 4 * {"4x4": 6000, "6x6": 15000}[section]
        yield "contacts across the grain", 4 * seat(side, 4)
        return
    post = cuts.get("post") or cuts["strut"]
    section, side = post["section"], DRESSED[post["section"]][0]
    header = cuts.get("header") or cuts["wall plate"]
    length, deep, graded = inches(header["length"]), DRESSED[header["section"]][1], header["section"][0]
    frames = 2 if kind == "laced_post" else 1
    posts = post["quantity"] // frames
    if kind in ("window", "door"):
        at = [side / 2, length - side / 2]
    elif kind == "vertical_post":
        apart = inches(geometry["post_spacing"]["exact"])
        at = [(length - apart * (posts - 1)) / 2 + n * apart for n in range(posts)]
    elif kind == "horizontal":
        at = [inches(geometry["setback"]["exact"]), length - inches(geometry["setback"]["exact"])]
    elif posts == 1:
        at = [length / 2]
    else:
        past = (length - inches(geometry["posts_out_to_out"]["exact"]) + side) / 2
        at = [past, length - past]
    moment, shear, busiest = by_stiffness(at, length, side)
    if kind in ("window", "door"):  # from the middle of one seat to that of the other, NDS 3.2.1
        moment = (length - side) ** 2 / 8 / length
    if posts == 1:
        moment = (length / 2 - side / 2) ** 2 / 2 / length
    if posts > 2:  # or cut over a post: each piece rests freely
        apart = at[1] - at[0]
        moment, busiest = max(moment, apart**2 / 8 / length), max(busiest, apart / length)
        shear = max(shear, (apart - side) / 2 / length)
    what = "struts" if kind == "horizontal" else "posts"
    yield f"{what} as columns", frames * wood_column(section, inches(post["length"])) / busiest
    name = "struts on the wall plates" if kind == "horizontal" else "posts on header and sole"
    yield name, frames * seat(side, min(at) - side / 2) / busiest
    tested = kind == "laced_post" or (section == "4x4" and not (kind == "double_t" and inches(post["length"]) > 132))
    if kind in PUBLISHED and tested:  # with the load over the posts: its header is not reckoned
        yield "the whole system, as published", PUBLISHED[kind] * (2.5 if section == "6x6" else 1)
        return
    name = "wall plate" if kind == "horizontal" else "header"
    wide = DRESSED[header["section"]][0]
    yield f"{name} in bending", frames * BENDING[header["section"]] * wide * deep**2 / 6 / moment
    yield f"{name} in shear", frames * SHEAR[graded] * wide * deep * 2 / 3 / shear


def raker(build: Json, force: float, kit: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """(check, share) of one raker."""
    request, site = build["request"], build["site"]
    angle = math.radians(request["angle_deg"] or 45)
    axial, uplift = force / math.cos(angle), force * math.tan(angle)
    pickets = next(one["value"] for one in build["loads"] if one["name"] == "pickets at each heel")\
        if request["ground"] != "pavement" else None  # fmt: skip
    if pickets:
        yield "pickets at the heel", force / (pickets * 700 * SOIL[site["soil"] or "loam"])
    timber = request["sole"] is not None or request["kind"] == "flying_raker"
    if timber:
        yield from _timber(build, axial, uplift, force, _lasting(build))
        width = DRESSED[next(c for c in build["cuts"] if c["label"] == "raker")["section"]][0]
    else:
        yield from _struts(build, axial, kit)
        width = _length(kit["strut"]["outside"]) if kit.get("strut") else 0.0
    square = not timber or request["sole"] == "solid"
    yield from _pad(build, uplift if square else axial, "heel pad" if square else "trough base", width)


def _lasting(build: Json) -> float:
    """Of the force, what does not pass like wind or an aftershock: the lean's, or one that somebody gave."""
    request, site = build["request"], build["site"]
    given = float(site["force_lb"] or 0)
    high, thick = inches(request["wall_height"]), inches(request["wall_thickness"])
    if (given and site["force_by"]) or not (high and thick and inches(request["lean"]) > 0):
        return given
    chosen = {one["part"]: one["value"] for one in build["chosen"]}
    pcf = {"concrete": 150, "timber": 35}.get(site["wall"] or "brick", 125)
    weight = high * thick * inches(request["spacing"] or chosen["spacing"]) * pcf / 1728
    held = inches(request["insertion"])
    return max(given, weight * inches(request["lean"]) * high / held / 2 / held)


def _nailed(seat: float, nails: int, load: float, lasts: float) -> float:
    """The share used of a cleat at its seat and two gussets, of which the smaller group counts: NDS 2.3.2, the whole
    load for minutes, what lasts of it for years."""
    return max(part / (min(seat, nails * NAIL_16D * factor) + 2 * 5 * NAIL_8D_PLY * factor)
               for part, factor in ((load, MINUTES), (lasts, YEARS)))  # fmt: skip


def _pad(build: Json, load: float, label: str, stands: float) -> Iterator[tuple[str, float]]:
    cut = next((one for one in build["cuts"] if one["label"] == label), None)
    if cut is None:
        return
    rakers = build["request"]["rakers"] or next(c["value"] for c in build["chosen"] if c["part"] == "rakers")
    layers = next((c["value"] for c in build["chosen"] if c["part"] == "pad_layers"), 2)
    side, planks = inches(cut["length"]), cut["quantity"] / rakers / layers
    psf = BEARS[build["site"]["soil"] or "loam"]  # on pavement, too: a trough lies in the ground
    yield "ground under the heel pad", load / (planks * 5.5 * side * psf / 144)
    pressure = load / (planks * 5.5 * side)
    yield "bending of the pad's planks", 3 * pressure * ((side - stands) / 2) ** 2 / 1.5**2 / (layers / 2) / 1345


def _timber(build: Json, axial: float, uplift: float, force: float, lasts: float) -> Iterator[tuple[str, float]]:
    cut = next(one for one in build["cuts"] if one["label"] == "raker")
    section, labels = cut["section"], {one["label"] for one in build["cuts"]}
    side, ends = DRESSED[section][0], build["end_cuts"]
    free = inches(cut["length"]) / (2 if {"mid brace", "middle tie"} <= labels else 1)
    yield "raker as a column", axial / wood_column(section, free)
    back, top = inches(ends["return_cut"]), ends["top_deg"]
    nails = next(f["quantity"] for f in build["fasteners"] if f["joint"].startswith("wall cleat"))
    face = side / math.cos(math.radians(top)) - back * math.tan(math.radians(top))
    yield "raker on the wall plate", force / (min(ACROSS, at_an_angle(section, top)) * side * face)
    seat_up = at_an_angle(section, 90 - top) * side * back
    yield "wall cleat and top gussets", _nailed(seat_up, nails, uplift, lasts * uplift / force)
    if build["request"]["sole"] != "solid":
        yield "raker on the trough", axial / (ACROSS * side**2)
        return
    slope = math.radians(build["request"]["angle_deg"])
    face = side / math.sin(slope) - back / math.tan(slope)
    angle = build["request"]["angle_deg"]
    yield "raker on the sole", uplift / (min(ACROSS, at_an_angle(section, 90 - angle)) * side * face)
    yield "sole cleat and bottom gussets", _nailed(at_an_angle(section, angle) * side * back, 14, force, lasts)


def _struts(build: Json, axial: float, kit: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """The least of the maker's table, the tube and the ends. A table without the length: no share."""
    for rating in kit.get("rating", ()):
        if "load_lb" in rating:
            yield rating["part"], axial / rating["load_lb"]
    long = next(inches(one["member"]) for one in build["setting"] if one["label"] == "raker 1")
    for rating in kit.get("rating", ()):
        if "loads" in rating and not rating.get("extended"):
            yield "struts by their maker's table", axial / next(
                load for at, load in rating["loads"] if _length(at) >= long - 1e-6
            )
    if kit.get("strut"):
        free = inches(build["geometry"]["braced_length"]["exact"])
        yield "raker as a column", axial / _tube(kit["strut"], free)


def _tube(strut: Mapping[str, Any], free: float) -> float:
    """AISC 360 chapter E over 1.67; Aluminum Design Manual 2015 E.2, artificially aged, over 1.65."""
    outside, inside = _length(strut["outside"]), _length(strut["outside"]) - 2 * _length(strut["wall"])
    area = math.pi / 4 * (outside**2 - inside**2)
    slender = strut.get("k", 1.0) * free / (math.hypot(outside, inside) / 4)
    yields, e = strut["yield_psi"], strut["e_psi"]
    if strut["material"] == "steel":
        euler = math.pi**2 * e / slender**2
        stress = yields * 0.658 ** (yields / euler) if yields <= 2.25 * euler else 0.877 * euler
        return float(stress * area / 1.67)
    b = yields / 1000 * (1 + math.sqrt(yields / 1000 / 2250))
    d = b / 10 * math.sqrt(b / (e / 1000))
    limit, least = 0.41 * b / d, (b - yields / 1000) / d
    if slender >= limit:
        stress = 0.85 * math.pi**2 * e / 1000 / slender**2
    else:
        stress = (b - d * slender) * (0.85 + 0.15 * (limit - slender) / (limit - least))
    return min(stress, yields / 1000) * 1000 * area / 1.65


def _length(text: str) -> float:
    """Inches of "5 ft", "3 1/2 in", "2.5 m", "76 mm"."""
    found, words = 0.0, text.split()
    unit = {"ft": 12, "in": 1, "m": 1000 / 25.4, "mm": 1 / 25.4}
    number = 0.0
    for word in words:
        if word in unit:
            found, number = found + number * unit[word], 0.0
        else:
            top, _, bottom = word.partition("/")
            number += float(top) / float(bottom or 1)
    return found
