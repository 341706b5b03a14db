"""Raker of adjustable struts: a pair or a row, with wall plates and fittings of a kit. Lengths, needs and positions.

How the kit is made, set and rated comes from the stock file; what any kit has in common from the rules.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from callout.shoring.build import EndCuts, Refused
from callout.shoring.draft import BEHIND_WALER, Draft
from callout.shoring.geometry import Pair, Raker, bay, mid_brace, raker_geometry
from callout.shoring.joints import bent_by_wall_and_ground, heel_pad, place_anchors, plate_anchors
from callout.shoring.kit import Kit
from callout.shoring.loads import forces, holdfast, inches, sole_anchors, state, wall_force
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.struts import check_struts
from callout.shoring.units import many, q
from callout.values import Length

MOST_PLATES = 20  # joined for one raker


def strut_raker(work: Work, book: Book, kit: Kit) -> Draft:
    draft = Draft(work, book, "strut_raker", f"{_count(work.rakers)} of adjustable struts")
    draft.documents.append((kit.source, kit.edition, kit.grade))
    raker = raker_geometry(
        work.insertion, work.angle, book, lean=work.lean, heel_rise=work.heel_rise, sole_thickness=work.sole_thickness
    )
    draft.pairs = raker.pairs
    draft.end_cuts = EndCuts(
        top_deg=round(raker.top_cut, 2), bottom_deg=round(raker.bottom_cut, 2), note="the fittings turn to these angles"
    )
    _set_struts(draft, raker, kit)
    plates, anchors = _wall_plate(draft, raker, kit)
    _mid_brace(draft, raker, kit, plates)
    _bay(draft, raker, kit)
    for number in range(1, work.rakers + 1):
        where = f"raker {number}"
        draft.piece(where, "head fitting", 1)
        draft.piece(where, "base plate", 1)
        draft.piece(where, "brace clamp", 1)
    numbers = range(1, work.rakers + 1)
    draft.lifted = ("wall plates", *(f"{what} {n}" for what in ("raker", "mid brace") for n in numbers))
    draft.lifts = work.rakers
    pickets = _loads(draft, raker, kit, anchors)
    if work.timber_beside:
        _waler(draft, pickets)
    return draft


def _count(rakers: int) -> str:
    return {1: "one raker", 2: "pair of rakers"}.get(rakers, f"row of {rakers} rakers")


def _set_struts(draft: Draft, raker: Raker, kit: Kit) -> None:
    """The raker's own length, up to the next step that the kit is set by."""
    exact = raker.exact("raker")
    setting = exact.round_up(kit.set_step_metric if draft.work.writing.metric else kit.set_step)
    draft.pairs["setting"] = Pair(exact=setting)
    # The plate keeps the strut's head off the wall; the base stays where it is measured from the wall.
    off_wall = Length(round(kit.plate_thickness.eightieths * math.cos(math.radians(draft.work.angle))))
    takes = draft.tape(kit.head_takes + kit.base_takes + off_wall)
    for number in range(1, draft.work.rakers + 1):
        draft.span(f"raker {number}", "strut", setting, exact, takes, (kit.slack_in, kit.slack_out))
    draft.say(setting=setting, dug=draft.work.writing.dug(raker.exact("base")))


def holes(kit: Kit, plates: int) -> list[Length]:
    """Every hole of `plates` wall plates joined end to end, from the lower end."""
    each: list[Length] = []
    at = kit.plate_first_hole
    while at <= kit.plate_length - kit.plate_first_hole:
        each.append(at)
        at += kit.plate_hole_spacing
    return [kit.plate_length * plate + hole for plate in range(plates) for hole in each]


class _Plate(NamedTuple):
    """`plates` joined: the head fitting sits in `hole`, counted from the top, `above` below it; `foot` up the wall; the
    mid brace in the hole `brace`, counted from the foot."""

    plates: int
    hole: int
    above: Length
    foot: Length
    brace: int


def _ways_to_hang(raker: Raker, kit: Kit) -> list[_Plate]:
    """One way for each number of plates joined: the foot as near the ground as may be."""
    slant, found = raker.exact("insertion_up_wall"), []
    middle = Length(slant.eightieths // 2)
    for plates in range(1, MOST_PLATES + 1):
        total = kit.plate_length * plates
        from_top = max(kit.plate_above, total - slant)
        drilled = holes(kit, plates)
        down = [total - hole for hole in reversed(drilled)]
        hole = next((number for number, at in enumerate(down, 1) if at >= from_top), len(down))
        above = down[hole - 1]
        foot = max(Length(0), slant - (total - above))
        brace = min(range(len(drilled)), key=lambda n: (abs((foot + drilled[n] - middle).eightieths), n))
        found.append(_Plate(plates, hole, above, foot, brace))
        if total > slant + kit.plate_above + kit.plate_length:
            break
    return found


def _off_the_mark(way: _Plate, raker: Raker, kit: Kit) -> int:
    """How far the foot is off the ground and the mid brace off the middle, together."""
    middle = raker.exact("insertion_up_wall").eightieths // 2
    brace = way.foot + holes(kit, way.plates)[way.brace]
    return way.foot.eightieths + abs(brace.eightieths - middle)


def _wall_plate(draft: Draft, raker: Raker, kit: Kit) -> tuple[_Plate, int]:
    """The plates that are joined, and how many anchors hold them: of all that do not pass the top of the wall, those
    whose foot is nearest the ground and whose mid brace is nearest the middle."""
    work, book = draft.work, draft.book
    every = _ways_to_hang(raker, kit)
    fits = [one for one in every if work.wall_height is None or _top(one, kit) <= work.wall_height]
    if not fits:
        least = min(_top(one, kit) for one in every)
        high = draft.text(work.wall_height or least)
        draft.refused = Refused(
            reason=f"the wall plates would reach {draft.text(least)} up the wall, which is {high} high"
        )
    way = min(fits or every, key=lambda one: (_off_the_mark(one, raker, kit), one.plates))
    plates, total = way.plates, kit.plate_length * way.plates
    draft.pair("wall_plate", exact=total)
    draft.pair("insertion_on_plate", exact=total - way.above)
    draft.pair("plate_foot_up_wall", exact=way.foot)
    draft.piece("wall plates", "wall plate", plates * work.rakers, min_length=kit.plate_length)
    draft.piece("wall plates", "plate joint", (plates - 1) * work.rakers)
    draft.shims()
    draft.place("head fitting", f"hole {way.hole} of the wall plate, counted from its top end", way.above)
    on_ground = "its foot up the wall from the grade" if way.foot else "its foot on the grade"
    draft.place("wall plate", on_ground, way.foot or None)
    if work.wall_height is None:
        reach = draft.text(_top(way, kit))
        draft.before_load.append(f"the wall plates reach {reach} up the wall: look that it is that high")
    anchors = max(book.count("anchors_least"), kit.anchor_holes, plates) + work.stronger.anchors
    place_anchors(draft, total - way.above, anchors, "up the wall plate from its foot, or the next hole")
    if plates > 1:
        draft.say(joined=total)
    draft.say(plate=total, plates=str(plates), hole=str(way.hole), wall=work.wall)
    return way, anchors


def _top(way: _Plate, kit: Kit) -> Length:
    return way.foot + kit.plate_length * way.plates


def _mid_brace(draft: Draft, raker: Raker, kit: Kit, way: _Plate) -> None:
    """The brace that is square to the plate in its hole, and where it meets the raker."""
    drilled = holes(kit, way.plates)
    at = drilled[way.brace]
    raker.pairs.update(mid_brace(raker, way.foot + at))
    brace = draft.pairs["mid_brace"].best
    for number in range(1, draft.work.rakers + 1):
        draft.span(f"mid brace {number}", "brace", brace, brace, kit.brace_takes, (kit.tie_slack, kit.tie_slack))
    plate, place = divmod(way.brace, len(drilled) // way.plates)
    which = f"{place + 1} of plate {plate + 1}" if way.plates > 1 else f"{place + 1} of the plate"
    draft.place("mid brace", f"hole {which}, counted from the foot; square to the wall plate", at)
    draft.say(brace=brace, brace_hole=which)


def ties_up_raker(raker: Raker, work: Work, book: Book, kit: Kit) -> dict[str, Length]:
    """The laterals by name and how far up the raker from the heel, from the bottom; short rakers have no middle one."""
    length = raker.exact("raker")
    above_ground = book.length("lower_lateral_above_ground")
    lower = Length(round(above_ground.eightieths / math.sin(math.radians(work.angle))))
    upper = length - kit.shoulder
    apart = book.length("ties_apart_least")
    brace = raker.exact("mid_brace_up_raker")
    if length < kit.full_bay_over:  # one on either side of the mid brace's clamp, and clear of it
        return {"lower lateral": min(lower, brace - apart), "upper lateral": max(upper, brace + apart)}
    middle = brace + apart
    return {"lower lateral": lower, "middle lateral": middle, "upper lateral": upper}


def _bay(draft: Draft, raker: Raker, kit: Kit) -> None:
    """Laterals and diagonals between neighbours, in the order in which the kit's are set."""
    work, book = draft.work, draft.book
    if work.rakers < 2:
        draft.before_load.append("a single raker is not a braced pair: it holds in one plane only, for a short time")
        return
    ties = ties_up_raker(raker, work, book, kit)
    diagonals = dict(zip(("lower diagonal", "upper diagonal"), bay(work.spacing, tuple(ties.values())), strict=False))
    draft.pair("spacing", exact=work.spacing)
    for name, at in ties.items():
        draft.pair(name.replace(" ", "_") + "_up_raker", exact=at)
    draft.pair("lateral", exact=work.spacing)
    for name, length in diagonals.items():
        draft.pair(name.replace(" ", "_"), exact=length)
    for between in range(1, work.rakers):
        suffix = f", rakers {between} to {between + 1}" if work.rakers > 2 else ""
        for name in kit.bay_order:
            if name not in ties and name not in diagonals:
                continue
            length = work.spacing if name in ties else diagonals[name]
            family = "lateral" if name in ties else "diagonal"
            draft.span(name + suffix, family, length, length, kit.clamp_takes, (kit.tie_slack, kit.tie_slack))
            draft.piece(name + suffix, "tie clamp", 2)
    for name, at in ties.items():
        draft.place(name, "up the raker from the heel, to the clamp's centre", at)
    order = [name for name in kit.bay_order if name in ties or name in diagonals]
    following = "second" if work.rakers == 2 else "next"
    draft.say(spacing=work.spacing, bay=", ".join(order), next=following)


def _braced(draft: Draft, raker: Raker, kit: Kit) -> Length:
    """The longest part of the raker that is free to buckle: the mid brace holds it in the plane of the shore, laterals
    hold it sideways; a raker that stands alone has none (statics: a tube goes the weaker way)."""
    length, brace = raker.exact("raker"), draft.pairs["mid_brace_up_raker"].best
    ties = ties_up_raker(raker, draft.work, draft.book, kit).values() if draft.work.rakers > 1 else ()
    sideways = pairwise((Length(0), *ties, length))
    longest: Length = max(brace, length - brace, *(high - low for low, high in sideways))
    return longest


def _loads(draft: Draft, raker: Raker, kit: Kit, anchors: int) -> int:
    """Forces, and what takes them; returns the pickets at each heel."""
    work = draft.work
    force = wall_force(draft, "design_load_4x4_raker")
    draft.notes.append("the design load is that of a 4x4 timber raker, for comparison: the kit's own rating decides")
    braced = _braced(draft, raker, kit)
    draft.pairs["braced_length"] = Pair(exact=braced)
    found = forces(force, work.angle)
    state(draft, found)
    check_struts(draft, kit, found.axial, braced)
    plate_anchors(draft, found.uplift, anchors)
    pickets = holdfast(draft, found.thrust, kit.first_pickets)
    draft.piece("bases", "picket", pickets * work.rakers)
    heel_pad(draft, found.uplift, inches(kit.strut.outside) if kit.strut else q(0, "in"))
    holes_used = _first_holes(kit)
    first = f"hole{'' if len(holes_used) == 1 else 's'} {' and '.join(str(hole) for hole in holes_used)}"
    room = f"{work.writing.dug(kit.waler_gap)} left behind them for a waler"
    start = min(kit.first_pickets, pickets)
    draft.place("first pickets", f"{start} at each base, through {first}; {room}")
    in_holes = min(pickets, kit.base_picket_holes)
    if in_holes > start:
        draft.place("more pickets", f"{in_holes - start} at each base, through its other holes")
        draft.say(more=f"{many(in_holes - start, 'more picket')} through the other holes")
    if pickets > in_holes:
        length = sole_anchors(draft, pickets - in_holes)
        draft.say(behind_base=many(pickets - in_holes, "picket"), anchor=length)
    bent_by_wall_and_ground(draft)
    draft.say(start=many(start, "picket"), picket_holes=first, room=work.writing.dug(kit.waler_gap))
    return pickets


def _first_holes(kit: Kit) -> tuple[int, ...]:
    return kit.picket_holes or tuple(range(1, min(kit.first_pickets, kit.base_picket_holes) + 1))


def _waler(draft: Draft, pickets: int) -> None:
    """The waler holds the timber rakers beside, also while this shore is moved: so it has pickets of its own."""
    work, book = draft.work, draft.book
    least = book.count("pickets_pavement" if work.ground == "pavement" else "pickets_soil_timber")
    behind = max(least, pickets) * book.count("waler_rakers")
    draft.piece("waler", "picket", behind)
    draft.figure(BEHIND_WALER, float(behind), "1", "as at the heels of the timber rakers beside; order of magnitude")
    over = book.length("waler_overhang")
    section = book.text("waler")
    length = work.spacing * (work.rakers - 1) + over * 2
    draft.cut("waler", section, length)
    draft.piece("waler", "wedge pair", work.rakers, variant="4x4")
    apart = draft.tape(Length(length.eightieths // max(1, behind)))
    if apart < book.length("picket_spacing"):
        draft.place("waler pickets", "apart along the waler in two rows, the second behind the first", apart * 2)
    else:
        draft.place("waler pickets", "apart along the waler", apart)
    draft.say(waler=section, behind=str(behind))
    draft.place("waler", f"close behind the pickets of the bases, {behind} pickets of its own behind it")
    draft.not_checked("waler in bending", "where the timber rakers press on it is not known")
