"""An independent checker of builds: it reads what a build says (its JSON) and the stock file, and works everything out
again from the rules alone, in plain pounds and inches. It shares no code with the planner. Strengths: checker_strength.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator

from tests.checker_strength import DRESSED, SOIL, Json, inches, raker, standing

#: Sags and slenderness are limits of comfort; extended struts have a table of their own; pickets need room.
_NOT_HERE = ("sag of the", "slenderness", "extended struts", "room for the pickets")
_BITS = re.compile(r"[()\[\]{}<>=*#|_&%@+]")


def faults(build: Json, stock: Json) -> list[str]:
    """All that is wrong with a build; nothing for one that may be followed."""
    if build["refused"] is not None:
        return list(_refused(build))
    return [
        *_checks(build), *_pieces(build, stock), *_saw(build, stock), *_steps(build),
        *(_raker(build, stock["kit"]) if build["request"]["kind"] in ("raker", "flying_raker") else _standing(build)),
    ]  # fmt: skip


def _refused(build: Json) -> Iterator[str]:
    if build["possible"] or build["parts"] or build["steps"]:
        yield "a refused build can be followed"
    if not build["refused"]["reason"]:
        yield "no reason"


def _checks(build: Json) -> Iterator[str]:
    if build["possible"] == bool(build["missing"]):
        yield "possible and missing disagree"
    for check in build["checks"]:
        if check["checked"] != (check["share"] is not None):
            yield f"{check['name']}: neither a share nor not checked"
        if check["share"] is not None and check["share"] > 1:
            yield f"{check['name']}: {check['share']} of its strength, and not refused"


def _pieces(build: Json, stock: Json) -> Iterator[str]:
    lines = {one["name"]: one for table in ("adjustable", "extension", "coupler", "timber", "piece")
             for one in stock.get(table, [])}  # fmt: skip
    for part in build["parts"]:
        line = lines.get(part["name"])
        if line is None:
            yield f"{part['name']} is no line of the stock"
        elif part["quantity"] > line["quantity"]:
            yield f"{part['quantity']} {part['name']}, and {line['quantity']} are there"
    if build["possible"]:
        for one in build["setting"]:
            if one["lock"] is None or not one["pieces"]:
                yield f"{one['label']} has no pieces"
                continue
            turned = inches(one["lock"]) + inches(one["screw_out"])
            added = inches(one["closed"]) - inches(one["setting"]) + inches(one["member"])
            sizes = [lines[name] for name in one["pieces"] if name in lines]
            if not inches(one["closed"]) - 1e-6 <= inches(one["exact"]) <= inches(one["open"]) + 1e-6:
                yield f"{one['label']} cannot be brought to its exact length"
            if turned <= 0 or added <= 0 or not sizes:
                yield f"{one['label']} is set to nothing"


def _saw(build: Json, stock: Json) -> Iterator[str]:
    """Every cut lies on a timber that is long enough for all that is sawn from it."""
    sawn: Counter[str] = Counter()
    for bar in build["nesting"]:
        used = sum(inches(cut) for cut in bar["cuts"])
        if used > inches(bar["stock_length"]) + 1e-6:
            yield f"{bar['name']} is sawn into more than it is"
        sawn.update(label for label in bar["labels"])
    if build["possible"]:
        for label, quantity in _wanted(build).items():
            if sawn[label] != quantity:
                yield f"{quantity} {label} to cut, {sawn[label]} on the bars"


def _wanted(build: Json) -> Counter[str]:
    wanted: Counter[str] = Counter()
    for cut in build["cuts"]:
        wanted[cut["label"]] += cut["quantity"]
    return wanted


def _steps(build: Json) -> Iterator[str]:
    """Steps can be spoken, and name what the lists hold."""
    names = " ".join(part["name"] for part in build["parts"])
    for step in build["steps"]:
        if _BITS.search(step["text"]):
            yield f"a voice cannot say {step['text']!r}"
        for name in re.findall(r"the ((?:(?!and )[a-z]+ )+?extension)", step["text"]):
            if name not in names:
                yield f"the step puts on {name!r}, which is on no list"
    if not build["possible"]:
        return
    text = " / ".join(step["text"] for step in build["steps"])
    for one in build["setting"]:
        if one["screw_out"] is not None and f"screw out {_tape(one['screw_out'], build)}" not in text:
            yield f"no step sets the screw of {one['label']}"
    said = [int(n) for n in re.findall(r"drive (\d+) (?:more )?pickets?", text)]
    listed = sum(part["quantity"] for part in build["parts"] if part["part"] == "picket")
    if said and listed and max(said) > listed:
        yield f"{max(said)} pickets to drive, {listed} on the list"


def _tape(length: Json, build: Json) -> str:
    mm = round(length["eightieths_mm"] / 80)
    if _metric(build):
        return f"{mm} mm" if mm < 1000 else f"{mm / 1000:.3f}".rstrip("0").rstrip(".") + " m"
    sixteenths = round(length["eightieths_mm"] / 127)
    feet, rest = divmod(sixteenths, 192)
    whole, part = divmod(rest, 16)
    words = [f"{feet} ft"] if feet else []
    if whole or part or not feet:
        over = math.gcd(part, 16)
        fraction = f"{part // over}/{16 // over}" if part else ""
        words.append(f"{' '.join(filter(None, [str(whole) if whole or not part else '', fraction]))} in")
    return " ".join(words)


def _metric(build: Json) -> bool:
    """As the site says; else one length that no sixteenth of an inch can say."""
    if build["site"]["units"] is not None:
        return bool(build["site"]["units"] == "metres")
    given = [*build["request"].values(), *build["site"].values()]
    return any(one["eightieths_mm"] % 127 for one in given if isinstance(one, dict) and "eightieths_mm" in one)


def _raker(build: Json, kit: Json) -> Iterator[str]:
    request, site, geometry = build["request"], build["site"], build["geometry"]
    chosen = {one["part"]: one["value"] for one in build["chosen"]}
    figures = {one["name"]: one["value"] for one in build["loads"]}
    height = inches(request["insertion"])
    angle = math.radians(request["angle_deg"] or 45)
    top = request["wall_height"]
    if top is not None:
        if height > inches(top):
            yield "the insertion is above the wall"
        plate = inches(geometry["wall_plate"]["exact"])
        if plate - inches(geometry["insertion_on_plate"]["exact"]) + height > inches(top) + 1:
            yield "the wall plate passes the top of the wall"
    rakers = request["rakers"] or int(chosen["rakers"])
    spacing = inches(request["spacing"] or chosen["spacing"])
    if site["wall_length"] is not None and rakers > 1 and spacing * (rakers - 1) > inches(site["wall_length"]):
        yield "the row is longer than the wall"
    rise = height - inches((geometry.get("heel_rise") or {"exact": None})["exact"])
    if request["sole"] == "solid" and abs(rise - height) > 1:
        yield "a solid sole on a step or a slope"
    if abs(inches(geometry["raker"]["exact"]) - rise / math.sin(angle)) > 0.05:
        yield "the raker is not as long as its triangle"
    small = height <= 132 or request["sole"] is None
    least = 1000 if request["kind"] == "flying_raker" else 2500 if small else 3600
    force = figures["wall force, one raker"]
    if force < least and not (site["force_lb"] and site["force_by"]):
        yield f"{force} lb on a raker, under the published {least}"
    axial = force / math.cos(angle)
    if abs(figures["axial force in the raker"] - axial) > axial * 0.002:
        yield "the axial force is not F over the cosine"
    if request["ground"] != "pavement":
        soil = SOIL[site["soil"] or "loam"]
        if figures["pickets at each heel"] * 700 * soil < force * 0.999:
            yield "too few pickets for the ground"
    yield from _anchors(build, rakers)
    yield from _slender(build)
    yield from _as_reckoned(build, dict(raker(build, force, kit)))


def _anchors(build: Json, rakers: int) -> Iterator[str]:
    """Pickets behind sole anchors have 12 in (300 mm) each."""
    timbers = [cut for cut in build["cuts"] if cut["label"] == "sole anchor"]
    room = sum(int(inches(cut["length"]) // 11.8) * cut["quantity"] for cut in timbers)
    each = next((one["value"] for one in build["loads"] if one["name"] == "pickets at each heel"), 0)
    if build["request"]["sole"] is not None and each * rakers > room:
        yield f"{each * rakers:g} pickets, and room for {room}"


def _slender(build: Json) -> Iterator[str]:
    """NDS 3.7.1: no timber over 50, by the length that nothing holds."""
    cut = next((one for one in build["cuts"] if one["label"] == "raker"), None)
    if cut is not None:
        held = {"mid brace", "middle tie"} <= {one["label"] for one in build["cuts"]}
        slender = inches(cut["length"]) / (2 if held else 1) / DRESSED[cut["section"]][0]
        if slender > 50.05:
            yield f"L/d {slender:.1f}"


def _standing(build: Json) -> Iterator[str]:
    """Every part under a load that was said."""
    load = build["site"]["load_lb"]
    if load is None:
        if any(check["share"] is not None for check in build["checks"]):
            yield "a share without a load"
        return
    yield from _as_reckoned(build, {name: load / carries for name, carries in standing(build)})


def _as_reckoned(build: Json, shares: dict[str, float]) -> Iterator[str]:
    """Every part reckoned here is on the sheet with the same share, and every share on the sheet is reckoned here."""
    printed = {one["name"]: one["share"] for one in build["checks"] if one["share"] is not None}
    for name, share in shares.items():
        if share > 1.005:
            yield f"{name}: {share:.3f} of its strength, and released"
        if name not in printed:
            yield f"{name} is not on the sheet; it would be {share:.3f}"
        elif abs(printed[name] - share) > 0.004 + share / 100:
            yield f"{name}: {printed[name]} on the sheet, {share:.3f} worked out"
    for name in printed:
        if name not in shares and not name.startswith(_NOT_HERE):
            yield f"{name}: a share that is not worked out here"
