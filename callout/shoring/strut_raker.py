"""Raker of adjustable struts: a pair or a row, with wall plates and fittings of the kit. Lengths, needs and positions.

The setting, the plate's holes, the anchors, the pickets and the bay follow `rules/practice.toml`, line by line.
"""

from __future__ import annotations

import math
from itertools import pairwise

from callout.shoring.anchors import place_anchors, plate_anchors
from callout.shoring.build import EndCuts
from callout.shoring.draft import BEHIND_WALER, Draft
from callout.shoring.geometry import Pair, Raker, bay, mid_brace, raker_geometry
from callout.shoring.heel import heel_pad
from callout.shoring.kit import Kit
from callout.shoring.loads import holdfast, inches, raker_loads, wall_force
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.values import Length


def strut_raker(work: Work, book: Book, kit: Kit) -> Draft:
    draft = Draft(work, book, "strut_raker", f"{_count(work.rakers)} of adjustable struts")
    raker = raker_geometry(work, book)
    draft.pairs = raker.pairs
    draft.end_cuts = EndCuts(
        top_deg=round(raker.top_cut, 2), bottom_deg=round(raker.bottom_cut, 2), note="the fittings turn to these angles"
    )
    _set_struts(draft, raker, kit)
    plates, anchors = _wall_plate(draft, kit)
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
    """The crew's look-up: the raker by its rule (exactly where there is none), rounded up to whole feet."""
    pair = raker.pairs["raker"]
    looked_up = pair.rule if pair.rule is not None else pair.best
    setting = looked_up.round_up(draft.book.length("setting_step"))
    screw = draft.book.length("screw_gives")
    draft.pairs["setting"] = Pair(rule=setting) if pair.rule is not None else Pair(exact=setting)
    # The plate keeps the strut's head off the wall; the base stays where it is measured from the wall.
    off_wall = Length(round(kit.plate_thickness.eightieths * math.cos(math.radians(draft.work.angle))))
    takes = draft.tape(kit.head_takes + kit.base_takes + off_wall)
    for number in range(1, draft.work.rakers + 1):
        draft.span(
            f"raker {number}", "strut", setting, raker.exact("raker"), takes, (kit.slack_in, kit.slack_out)
        )  # fmt: skip
    rise = draft.work.insertion - draft.work.heel_rise
    stands = math.degrees(math.asin(min(1.0, rise.eightieths / setting.eightieths)))
    turn = setting - raker.exact("raker")
    draft.say(
        setting=setting, dug=draft.work.writing.dug(raker.exact("base")), screw=screw, turn=turn,
        end=draft.book.text("extension_end"),
        how=f"strut and extensions to {draft.text(setting - screw)} first",
    )  # fmt: skip
    draft.notes.append(
        f"at the setting length of {draft.text(setting)} the raker would stand at {stands:.0f} degrees; "
        f"turned in by {draft.text(turn)} it stands at {draft.work.angle}"
    )


def holes(kit: Kit, plates: int) -> list[Length]:
    """Every hole of `plates` wall plates joined end to end, from the lower end."""
    each: list[Length] = []
    at = kit.plate_first_hole
    while at <= kit.plate_length - kit.plate_first_hole:
        each.append(at)
        at += kit.plate_hole_spacing
    return [kit.plate_length * plate + hole for plate in range(plates) for hole in each]


def _wall_plate(draft: Draft, kit: Kit) -> tuple[int, int]:
    """How many plates are joined, and how many anchors hold them. The head fitting's hole is counted from the top end;
    which it is depends on the angle."""
    work, book = draft.work, draft.book
    steep = f"plate_above_insertion_{work.angle}"
    wanted = book.length(steep if book.has(steep) else "plate_above_insertion")
    slant = draft.pairs["insertion_up_wall"].best
    plates = max(1, (slant + wanted).eightieths // kit.plate_length.eightieths)
    total = kit.plate_length * plates
    from_top = max(wanted, total - slant)
    drilled = [total - hole for hole in reversed(holes(kit, plates))]
    hole = next((number for number, at in enumerate(drilled, 1) if at >= from_top), len(drilled))
    above = drilled[hole - 1]
    foot = max(Length(0), slant - (total - above))
    draft.pair("wall_plate", exact=total)
    draft.pair("insertion_on_plate", exact=total - above)
    draft.pair("plate_foot_up_wall", exact=foot)
    draft.piece("wall plates", "wall plate", plates * work.rakers, min_length=kit.plate_length)
    draft.piece("wall plates", "plate joint", (plates - 1) * work.rakers)
    draft.place("head fitting", f"hole {hole} of the wall plate, counted from its top end", above)
    draft.place("wall plate", "its foot up the wall from the grade" if foot else "its foot on the grade", foot or None)
    anchors = max(book.count("anchors_least"), kit.anchor_holes, plates) + work.stronger.anchors
    place_anchors(draft, total - above, anchors, "up the wall plate from its foot, or the next hole")
    if plates > 1:
        draft.say(joined=total)
    draft.say(plate=total, plates=str(plates), hole=str(hole), wall=work.wall)
    return plates, anchors


def _mid_brace(draft: Draft, raker: Raker, kit: Kit, plates: int) -> None:
    """The hole nearest to the practised height up the wall, and the brace that is square to the plate there."""
    slant = raker.exact("insertion_up_wall")
    foot = draft.pairs["plate_foot_up_wall"].best
    wanted = Length(round(slant.eightieths * draft.book.number("mid_brace_share"))) - foot
    drilled = holes(kit, plates)
    hole = min(range(len(drilled)), key=lambda n: (abs(drilled[n].eightieths - wanted.eightieths), n))
    raker.pairs.update(mid_brace(raker, foot + drilled[hole]))
    brace = draft.pairs["mid_brace"].best
    slack = draft.book.length("tie_slack")
    for number in range(1, draft.work.rakers + 1):
        draft.span(f"mid brace {number}", "brace", brace, brace, kit.brace_takes, (slack, slack))
    plate, place = divmod(hole, len(drilled) // plates)
    which = f"{place + 1} of plate {plate + 1}" if plates > 1 else f"{place + 1} of the plate"
    draft.place("mid brace", f"hole {which}, counted from the foot; square to the wall plate", drilled[hole])
    draft.say(brace=brace, brace_hole=which)


def ties_up_raker(raker: Raker, work: Work, book: Book) -> dict[str, Length]:
    """The laterals by name and how far up the raker from the heel, from the bottom; short rakers have no middle one."""
    length = raker.exact("raker")
    above_ground = book.length("lower_lateral_above_ground")
    lower = Length(round(above_ground.eightieths / math.sin(math.radians(work.angle))))
    upper = length - book.length("upper_lateral_below_top")
    apart = book.length("ties_apart_least")
    brace = raker.exact("mid_brace_up_raker")
    if length < book.length("full_bay_over"):  # one on either side of the mid brace's clamp, and clear of it
        return {"lower lateral": min(lower, brace - apart), "upper lateral": max(upper, brace + apart)}
    middle = brace + apart
    return {"lower lateral": lower, "middle lateral": middle, "upper lateral": upper}


def _bay(draft: Draft, raker: Raker, kit: Kit) -> None:
    """Laterals and diagonals between neighbours, in the order in which they are set: a K."""
    work, book = draft.work, draft.book
    if work.rakers < 2:
        draft.before_load.append("a single raker is not a braced pair: it holds in one plane only, for a short time")
        return
    ties = ties_up_raker(raker, work, book)
    diagonals = dict(zip(("lower diagonal", "upper diagonal"), bay(work.spacing, tuple(ties.values())), strict=False))
    slack = book.length("tie_slack")
    draft.pair("spacing", exact=work.spacing)
    for name, at in ties.items():
        draft.pair(name.replace(" ", "_") + "_up_raker", exact=at)
    draft.pair("lateral", exact=work.spacing)
    for name, length in diagonals.items():
        draft.pair(name.replace(" ", "_"), exact=length)
    for between in range(1, work.rakers):
        suffix = f", rakers {between} to {between + 1}" if work.rakers > 2 else ""
        for name in book.rule("bay_order").value:
            if name not in ties and name not in diagonals:
                continue
            length = work.spacing if name in ties else diagonals[name]
            family = "lateral" if name in ties else "diagonal"
            draft.span(name + suffix, family, length, length, kit.clamp_takes, (slack, slack))
            draft.piece(name + suffix, "tie clamp", 2)
    for name, at in ties.items():
        draft.place(name, "up the raker from the heel, to the clamp's centre", at)
    seat = work.spacing - kit.clamp_takes
    order = [name for name in book.rule("bay_order").value if name in ties or name in diagonals]
    following = "second" if work.rakers == 2 else "next"
    draft.say(spacing=work.spacing, seat=seat, bay=", ".join(order), next=following)


def _braced(draft: Draft, raker: Raker) -> Length:
    """The longest part of the raker that is free to buckle: the mid brace holds it in the plane of the shore, laterals
    hold it sideways; a raker that stands alone has none (statics: a tube goes the weaker way)."""
    length, brace = raker.exact("raker"), draft.pairs["mid_brace_up_raker"].best
    ties = ties_up_raker(raker, draft.work, draft.book).values() if draft.work.rakers > 1 else ()
    sideways = pairwise((Length(0), *ties, length))
    longest: Length = max(brace, length - brace, *(high - low for low, high in sideways))
    return longest


def _loads(draft: Draft, raker: Raker, kit: Kit, anchors: int) -> int:
    """Forces, and what takes them; returns the pickets at each heel."""
    force = wall_force(draft, "design_load_4x4_raker")
    draft.notes.append("the design load is that of a 4x4 timber raker, for comparison: the kit's own rating decides")
    braced = _braced(draft, raker)
    draft.pairs["braced_length"] = Pair(exact=braced)
    found = raker_loads(draft, force, braced, kit.strut)
    plate_anchors(draft, found.uplift, anchors)
    pickets = holdfast(draft, found.thrust, draft.book.count("pickets_start"))
    draft.piece("bases", "picket", pickets * draft.work.rakers)
    heel_pad(draft, found.uplift, inches(kit.strut.outside) if kit.strut else draft.book.quantity("strut_outside"))
    drilled = [hole for hole in draft.book.rule("picket_holes").value if hole <= kit.base_picket_holes]
    first = " and ".join(str(hole) for hole in drilled)
    room = f"{draft.text(kit.waler_gap)} left behind them for a waler"
    start = draft.book.count("pickets_start")
    draft.place("first pickets", f"{start} at each base, through holes {first}; {room}")
    if pickets > start:
        where = "through its other holes, the rest in line behind, clear of the waler's room"
        draft.place("more pickets", f"{pickets - start} at each base: {where}")
        draft.say(more=f"{pickets - start} more pickets, {pickets} altogether")
    draft.say(start=str(start), picket_holes=first, room=kit.waler_gap)
    return pickets


def _waler(draft: Draft, pickets: int) -> None:
    """The waler holds the timber rakers beside, also while this shore is moved: so it has pickets of its own."""
    work, book = draft.work, draft.book
    least = book.count("pickets_pavement" if work.ground == "pavement" else "pickets_soil_timber")
    behind = max(least, pickets) * book.count("waler_rakers")
    draft.piece("waler", "picket", behind)
    draft.figure(BEHIND_WALER, float(behind), "1", "as at the heels of the timber rakers beside; order of magnitude")
    over = book.length("waler_overhang")
    section = book.text("waler")
    draft.cut("waler", section, work.spacing * (work.rakers - 1) + over * 2)
    draft.piece("waler", "wedge pair", work.rakers, variant="4x4")
    draft.say(waler=section, behind=str(behind))
    draft.place("waler", f"close behind the pickets of the bases, {behind} pickets of its own behind it")
