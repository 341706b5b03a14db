"""Timber rakers: solid sole, split sole, flying. Lengths as crews cut them, cut list, nails, wedges, anchorage.

A raker is cut by the rule of thumb; wedges at the heel take up what the rule is longer than exact.
"""

from __future__ import annotations

import math

from callout.shoring.build import EndCuts
from callout.shoring.draft import Draft
from callout.shoring.geometry import Pair, Raker, hypotenuse, raker_geometry, standard_angle
from callout.shoring.joints import (
    bent_by_wall_and_ground,
    bottom_joint,
    heel_pad,
    place_anchors,
    plate_anchors,
    top_joint,
    trough_seat,
)
from callout.shoring.loads import holdfast, sole_anchors, timber_loads, wall_force
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.units import Quantity, q
from callout.values import Length


def timber_raker(work: Work, book: Book) -> Draft:
    sole = "flying" if work.kind == "flying_raker" else work.sole
    names = {"solid": "solid-sole", "split": "split-sole", "flying": "flying"}
    plural = "raker" if work.rakers == 1 else f"rakers, {work.rakers}"
    draft = Draft(work, book, f"{sole}_raker", f"{names[str(sole)]} timber {plural}")
    raker = raker_geometry(
        work.insertion, work.angle, book, lean=work.lean, heel_rise=work.heel_rise, sole_thickness=work.sole_thickness
    )
    draft.pairs = dict(raker.pairs)
    small = work.insertion <= book.length("timber_4x4_insertion_most")
    section, two_by = ("4x4", "2x4") if small and not work.stronger.six_by_six else ("6x6", "2x6")
    return_cut = book.length("return_cut")
    note = "" if sole == "solid" else "leave out the bottom cut where a trough takes the heel: cut it square"
    draft.end_cuts = EndCuts(
        top_deg=round(raker.top_cut, 2), bottom_deg=round(raker.bottom_cut, 2), return_cut=return_cut, note=note
    )
    draft.pair("return_cut", rule=return_cut, exact=return_cut)
    cut = _raker(draft, section)
    nails = _wall_plate(draft, section, two_by, str(sole))
    if sole == "solid":
        _solid_sole(draft, section, two_by)
    else:
        _trough(draft, str(sole))
    _mid_brace(draft, cut, str(sole))
    _ties(draft, raker, section)
    braced = _braced(draft, cut)
    force = wall_force(draft, _pattern_load(str(sole), small))
    if sole == "solid":
        draft.notes.append("the published design load is that of a split-sole raker; for a solid sole read your guide")
    found = timber_loads(draft, force, braced, section)
    stands = q(min(book.rule(f"dressed_{section}").value), "in")
    if sole == "solid":
        heel_pad(draft, found.uplift, stands)
        bottom_joint(draft, found, section)
    else:  # square to the raker: what presses on it is the whole force along the raker (statics)
        heel_pad(draft, found.axial, stands, "trough base")
        trough_seat(draft, found, section)
    top_joint(draft, found, section, nails, raker.top_cut)
    _anchorage(draft, found.thrust, section)
    bent_by_wall_and_ground(draft)
    anchors = book.count("anchors_least") + work.stronger.anchors
    place_anchors(draft, draft.pairs["insertion_on_plate"].best, anchors, "up the wall plate from its foot")
    plate_anchors(draft, found.uplift, anchors)
    draft.say(
        raker=cut, heel=work.writing.dug(_heel_off_the_wall(draft, section)), spacing=work.spacing,
        gap=book.length("wedge_gap"), top_cut=f"{raker.top_cut:.0f}", bottom_cut=f"{raker.bottom_cut:.0f}",
        return_cut=return_cut, wall=work.wall,
    )  # fmt: skip
    draft.lifted = ("raker", "wall plate", "wall cleat", "sole plate", "top gussets", "corner gussets")
    draft.lifts = work.rakers
    return draft


def _pattern_load(sole: str, small: bool) -> str:
    if sole == "flying":
        return "design_load_flying"
    return "design_load_4x4_raker" if small else "design_load_6x6_raker"


def _raker(draft: Draft, section: str) -> Length:
    """Cut by the rule where there is one: on a solid sole, by the height above the sole."""
    pair = draft.pairs["raker_on_sole" if draft.work.sole_thickness else "raker"]
    length = draft.tape(pair.rule if pair.rule is not None else pair.best)
    draft.pairs["raker_cut"] = _like_the_raker(draft, length)
    top, bottom = draft.end_cuts.top_deg if draft.end_cuts else 0, draft.end_cuts.bottom_deg if draft.end_cuts else 0
    back = f"with a {draft.text(draft.book.length('return_cut'))} return cut"
    heel = f"{bottom:.0f} degrees {back}" if draft.work.sole == "solid" else "square, for the trough"
    draft.cut("raker", section, length, draft.work.rakers, f"top {top:.0f} degrees {back}, bottom {heel}")
    return length


def _like_the_raker(draft: Draft, length: Length) -> Pair:
    """A length measured on the raker as it is cut: by rule where the raker is."""
    return Pair(rule=length) if draft.pairs["raker"].rule is not None else Pair(exact=length)


def _wall_plate(draft: Draft, section: str, two_by: str, sole: str) -> int:
    """Wall plate and its cleat; returns the nails of the cleat."""
    work, book = draft.work, draft.book
    angle = standard_angle(work.angle)
    more = work.stronger.cleat_nails
    cleat, nails = book.length(f"wall_cleat_{angle}"), book.count(f"nails_wall_cleat_{angle}") + more
    cleat += book.length("cleat_per_nail") * more
    slant = draft.pairs["insertion_up_wall"].best
    below = min(slant, book.length("flying_plate_below")) if sole == "flying" else slant
    rule = None if sole == "flying" else work.insertion + work.sole_thickness + cleat
    draft.pair("wall_plate", rule=rule, exact=below + cleat)
    draft.pair("insertion_on_plate", exact=below)
    draft.pair("wall_cleat", exact=cleat)
    # The rule's plate is the longer one on a solid sole; the surplus stands above the cleat.
    longer = below + cleat if rule is None else max(rule, below + cleat)
    longer = draft.cut("wall plate", section, longer, work.rakers, loose=True)
    draft.cut("wall cleat", two_by, cleat, work.rakers)
    draft.piece("wall cleats", "nail", nails * work.rakers, variant="16d")
    draft.joint("wall cleat to wall plate, each", nails, "16d nails")
    side = book.length("gusset_side").text.removesuffix(" in").replace("1 ft", "12")
    draft.piece("top gussets", "gusset", 2 * work.rakers, variant=f"{side}x{side}")
    draft.piece("top gussets", "nail", 2 * book.count("nails_gusset") * work.rakers, variant="8d")
    to_raker = book.count("nails_top_gusset_raker")
    draft.joint("top gusset to the wall plate, each of two sides", book.count("nails_gusset") - to_raker, "8d nails")
    draft.joint("top gusset to the raker, each of two sides", to_raker, "8d nails")
    _backing(draft, longer)
    draft.shims()
    draft.place("bottom of the wall cleat", "up the wall plate from its foot, where the raker's top seats", below)
    draft.say(plate=longer, cleat=cleat, nails=str(nails))
    return nails


def _backing(draft: Draft, plate: Length) -> None:
    """Sheathing behind the wall plates on weak masonry: strips of plywood, ripped from whole sheets."""
    work, book = draft.work, draft.book
    if work.wall not in book.rule("backing_walls").value:
        return
    length, width = (Length.nearest(side) for side in book.rule("sheet_size").value)
    strips = -(-plate.eightieths // length.eightieths) * work.rakers
    each = width.eightieths // book.length("backing_strip").eightieths
    draft.piece("backing of the wall plates", "sheet", -(-strips // each))
    nails = book.count("backing_nails")
    draft.piece("backing of the wall plates", "nail", nails * strips, variant="8d")
    draft.joint("backing, each strip", nails, "8d nails")
    draft.say(backing="")
    many = "1 strip" if strips == 1 else f"{strips} strips"
    draft.place("backing", f"{many} of plywood {draft.text(book.length('backing_strip'))} wide behind the wall plates")


def _solid_sole(draft: Draft, section: str, two_by: str) -> None:
    work, book = draft.work, draft.book
    base, base_by_rule = draft.pairs["base_on_sole"], draft.pairs["base"].rule
    cleat = book.length("sole_cleat")
    least = cleat + book.length("sole_beyond_cleat")
    rule = base_by_rule + least if base_by_rule is not None else None
    draft.pair("sole_plate", rule=rule, exact=base.best + least)
    length = max(base.best + least, rule or Length(0)) + book.length("sole_allowance")
    length = draft.cut("sole plate", section, length, work.rakers, loose=True)
    draft.cut("sole cleat", two_by, cleat, work.rakers)
    nails = book.count("nails_sole_cleat")
    draft.piece("sole cleats", "nail", nails * work.rakers, variant="16d")
    draft.joint("sole cleat to sole, each", nails, "16d nails; one only until the shore is pressed to the wall")
    to_raker, to_sole = book.count("nails_bottom_gusset"), book.count("nails_bottom_gusset_sole")
    for name, each in (("corner gussets", book.count("nails_gusset")), ("bottom gussets", to_raker + to_sole)):
        draft.piece(name, "gusset", 2 * work.rakers, variant="12x12")
        draft.piece(name, "nail", 2 * each * work.rakers, variant="8d")
    draft.joint("corner gusset, each of two sides", book.count("nails_gusset"), "8d nails")
    draft.joint("bottom gusset to the raker, each of two sides", to_raker, "8d nails")
    draft.joint("bottom gusset to the sole, each of two sides", to_sole, "8d nails, once the shore is tight")
    draft.place("heel", "along the sole from the wall plate to the toe of the raker", base.best)
    draft.say(sole=length)


def _trough(draft: Draft, sole: str) -> None:
    """Split sole and flying: a trough base square to the raker, and bottom braces back to the wall plate."""
    work, book = draft.work, draft.book
    sides, nails = book.count("channel_sides") * work.rakers, book.count("nails_trough_side")
    draft.piece("trough sides", "gusset", sides, variant="12x12")
    draft.piece("trough sides", "nail", nails * sides, variant="8d")
    draft.joint("trough side, each", nails, "8d nails")
    if sole == "flying":
        length = _square_to_raker(draft)
        draft.pair("bottom_brace", exact=length)
    else:
        rule, exact = draft.pairs["base"].rule, hypotenuse(draft.pairs["base"].best, work.heel_rise)
        length = exact if rule is None else max(rule, exact)
        draft.pair("bottom_brace", rule=rule, exact=exact)
    length = draft.cut("bottom brace", "2x6", length, 2 * work.rakers, loose=True)
    _brace_nails(draft, "bottom braces")
    draft.place("heel", "from the face of the wall plate to the toe of the raker", draft.pairs["base"].best)
    draft.say(bottom_brace=length)


def _square_to_raker(draft: Draft) -> Length:
    """From the foot of a flying raker's short wall plate to the raker, square to the plate."""
    above = draft.pairs["insertion_on_plate"].best
    top = draft.end_cuts.top_deg if draft.end_cuts else 45.0
    return Length(round(above.eightieths * math.tan(math.radians(90 - top))))


def _brace_nails(draft: Draft, label: str) -> None:
    nails = draft.book.count("nails_brace_end")
    draft.piece(label, "nail", 2 * 2 * nails * draft.work.rakers, variant="16d")
    draft.joint(f"{label[:-1]}, each end, each of two", nails, "16d nails")


def _heel_off_the_wall(draft: Draft, section: str) -> Length:
    """From the wall to the toe of the raker, before any wall plate stands: the base and the plate's own depth."""
    base = draft.pairs["base_on_sole" if draft.work.sole_thickness else "base"].best
    return base + Length.nearest(min(draft.book.rule(f"dressed_{section}").value))


def _braced(draft: Draft, cut: Length) -> Length:
    """The longest part of the raker that is free to buckle: half of it where a mid brace holds its middle in the plane
    of the shore and a middle tie holds it sideways, else the whole (statics; a square post goes the weaker way)."""
    if "mid_brace" not in draft.pairs:
        return cut
    tied = any(one.label == "middle tie" for one in draft.cuts)
    braced = draft.pairs["mid_brace_up_raker"].best if tied else cut
    draft.pairs["braced_length"] = _like_the_raker(draft, braced)
    if not tied:
        draft.before_load.append(
            f"the mid brace holds the raker in its own plane only: sideways it is free over {draft.text(cut)}"
        )
    return braced


def _mid_brace(draft: Draft, cut: Length, sole: str) -> None:
    """From the corner of wall plate and sole to the middle of the raker, over 11 ft."""
    work, book = draft.work, draft.book
    if sole == "flying" or (cut <= book.length("midbrace_over_raker") and not work.stronger.mid_brace):
        return
    half = draft.tape(Length(cut.eightieths // 2))
    brace = draft.tape(_corner_to_middle(draft))
    draft.pair("mid_brace", exact=brace)
    draft.pairs["mid_brace_up_raker"] = _like_the_raker(draft, half)
    brace = draft.cut("mid brace", "2x6", brace, 2 * work.rakers, loose=True)
    _brace_nails(draft, "mid braces")
    draft.place("mid brace", "up the raker from the heel to its centre, both sides", half)
    draft.say(mid_brace=brace)


def _corner_to_middle(draft: Draft) -> Length:
    """From the foot of the wall plate (the top of the sole) to the middle of the raker: half the sum of both ends.

    With a plumb wall on level ground the corner is square and this is half the raker (Thales)."""
    work = draft.work
    heel = draft.pairs["base_on_sole" if work.sole_thickness else "base"].best
    across = work.lean + heel
    up = work.insertion - work.sole_thickness + work.heel_rise
    return Length(round(math.hypot(across.eightieths, up.eightieths) / 2))


def _ties(draft: Draft, raker: Raker, section: str) -> None:
    work, book = draft.work, draft.book
    if work.rakers < 2:
        draft.before_load.append("a single raker is not a braced pair: it holds in one plane only, for a short time")
        return
    side = Length.nearest(max(book.rule(f"dressed_{section}").value))
    names = ["lower tie", "upper tie"]
    if work.insertion > book.length("ties_over_insertion") or work.stronger.mid_brace:
        names.insert(1, "middle tie")
    bays = work.rakers - 1
    tie = work.spacing + side
    setback = book.length("tie_setback")
    up = raker.exact("raker_on_sole" if work.sole_thickness else "raker") - setback * 2
    diagonal = hypotenuse(tie, max(up, Length(0)))
    draft.pair("spacing", exact=work.spacing)
    draft.pair("lateral", exact=tie)
    draft.pair("diagonal", exact=diagonal)
    two_by = book.text("tie_section")
    for name in names:
        draft.cut(name, two_by, tie, bays, loose=True)
    draft.cut("diagonal", two_by, diagonal, 2 * bays, loose=True)
    nails = book.count("nails_tie_end_2x4" if two_by == "2x4" else "nails_brace_end")
    draft.piece("ties and diagonals", "nail", 2 * nails * (len(names) + 2) * bays, variant="16d")
    draft.joint("tie or diagonal, each end", nails, "16d nails")
    draft.say(ties=", ".join(names))


def _anchorage(draft: Draft, thrust: Quantity, section: str) -> None:
    """Sole anchor, pickets and wedges at each heel."""
    work, book = draft.work, draft.book
    least = book.count("pickets_pavement" if work.ground == "pavement" else "pickets_soil_timber")
    pickets = holdfast(draft, thrust, least)
    anchors = sole_anchors(draft, pickets)
    draft.piece("sole anchors", "picket", pickets * work.rakers)
    draft.wedges("heels and sole anchors", 2 * work.rakers, section)
    draft.say(pickets=str(pickets), anchor=anchors)
