"""Forces in a raker shore and what resists them. Statics; every input has its source; nothing here is an approval.

N = F / cos(angle) along the raker, V = F tan(angle) up the wall plate and down at the heel, F out at the base.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from callout.shoring.draft import Draft
from callout.shoring.mechanics import Wood, field_rule, strength_class
from callout.shoring.rules import Book
from callout.shoring.units import Quantity, q
from callout.values import Length

RAKER_COLUMN = "raker as a column"


@dataclass(frozen=True)
class Forces:
    """In one raker: along it, up the wall plate (and down at the heel), out at the base."""

    axial: Quantity
    uplift: Quantity
    thrust: Quantity


def forces(wall_force: Quantity, angle: float) -> Forces:
    slope = math.radians(angle)
    return Forces(wall_force / math.cos(slope), wall_force * math.tan(slope), wall_force)


def wall_weight(height: Quantity, thickness: Quantity, tributary: Quantity, density: Quantity) -> Quantity:
    """Weight of the wall that one raker holds."""
    return height * thickness * tributary * density


def lean_force(weight: Quantity, offset: Quantity, insertion: Quantity) -> Quantity:
    """Force at the insertion that holds a wall hinged at its foot whose centre of weight has moved out by `offset`."""
    return weight * float(offset / insertion)


def force_of_lean(weight: Quantity, lean: Length, height: Length, insertion: Length) -> Quantity:
    """The same for a wall that leans by `lean` at the insertion: its centre of weight is halfway up."""
    offset = inches(lean) * float(inches(height) / inches(insertion)) / 2
    return lean_force(weight, offset, inches(insertion))


def density_of(wall: str | None) -> str:
    """The rule that holds what such a wall weighs."""
    return {"concrete": "concrete", "timber": "wood"}.get(str(wall), "masonry")


def pickets_for(thrust: Quantity, each: Quantity, soil_factor: float, least: int) -> int:
    return max(least, math.ceil(float(thrust / (each * soil_factor)) - 1e-9))


def pad_side(load: Quantity, bearing: Quantity) -> Quantity:
    """Side of the square pad that spreads `load` to the ground's presumptive `bearing`."""
    return Quantity(math.sqrt((load / bearing).value), (0, 1))


def inches(length: Length) -> Quantity:
    return q(float(length.inches), "in")


def wall_force(draft: Draft, pattern_load: str) -> Quantity:
    """The force on one raker: the published load of the pattern, or what the wall's size gives where that is more. The
    share of a wall's weight is from memory, so it never makes a shore lighter; a specialist's figure does. A share of
    the weight stands for wind and aftershocks; a lean lasts, and so may a force that somebody gave."""
    work, book = draft.work, draft.book
    draft.quote("design load of the pattern, one raker", pattern_load)
    draft.notes.append("the published load does not say whether it is horizontal or along the raker: read your guide")
    published = book.quantity(pattern_load)
    if work.force_lb is not None and work.force_by:
        given = q(work.force_lb, "lb")
        draft.lasting = given
        draft.figure("wall force, one raker", given, "lb", f"as {work.force_by} gave it")
        _against_published(draft, given, published)
        return given
    force = published
    if work.wall_height is None or work.wall_thickness is None:
        draft.notes.append("wall height or thickness not said: the loads use the published design load of the pattern")
    else:
        estimate = _from_the_wall(draft, work.wall_height, work.wall_thickness)
        if estimate < published:
            draft.notes.append("the estimate from the wall is the lesser: the published design load stands")
        force = max(published, estimate)
    if work.force_lb is not None:
        given = q(work.force_lb, "lb")
        draft.lasting = given if draft.lasting is None else max(given, draft.lasting)
        force = max(force, given)
        draft.notes.append("a force was given without a specialist's name: it counts only where it is the greater")
    draft.figure("wall force, one raker", force, "lb")
    _against_published(draft, force, published)
    return force


def _from_the_wall(draft: Draft, height: Length, thickness: Length) -> Quantity:
    """A tenth of the wall's weight, and what its lean pushes."""
    work, book = draft.work, draft.book
    density = density_of(work.wall)
    weight = wall_weight(inches(height), inches(thickness), inches(work.spacing), book.quantity(density))
    draft.quote(f"weight of {density}", density)
    draft.figure("wall weight for one raker", weight, "lb")
    draft.quote("share of the wall's weight taken as sideways force", "wall_share")
    force = weight * book.number("wall_share")
    if work.lean > Length(0):
        held = force_of_lean(weight, work.lean, height, work.insertion)
        draft.lasting = held
        draft.figure("force from the lean", held, "lb")
        force = force + held
    draft.figure("wall force by the wall's size, one raker", force, "lb")
    return force


def _against_published(draft: Draft, force: Quantity, published: Quantity) -> None:
    """No margin is shown: whether the published load is horizontal or along the raker is not stated."""
    if published < force:
        draft.before_load.append("the wall force is over the published design load: more rakers, or a specialist")
    elif published < forces(force, draft.work.angle).axial:
        draft.before_load.append("the raker's force is over the published design load if that is meant along the raker")


def state(draft: Draft, found: Forces) -> None:
    """The forces in one raker, among the figures."""
    draft.figure("axial force in the raker", found.axial, "lb")
    draft.figure("uplift on the wall plate", found.uplift, "lb")
    draft.figure("base thrust", found.thrust, "lb")


def timber_loads(draft: Draft, force: Quantity, braced: Length, section: str) -> Forces:
    """State the forces and check the timber as a column."""
    found = forces(force, draft.work.angle)
    state(draft, found)
    draft.check(RAKER_COLUMN, found.axial, _timber_capacity(draft, section, braced), by=f"fc_{strength_class(section)}")
    return found


def _timber_capacity(draft: Draft, section: str, braced: Length) -> Quantity:
    wood = timber(draft.book, section)
    slender = wood.slenderness(inches(braced))
    draft.figure("slenderness L/d of the raker", slender, "1")
    slenderness_check(draft, slender, section)
    capacity = wood.capacity(inches(braced), draft.book.number("load_duration_column"))
    name = f"column capacity, {section} timber, braced at {draft.text(braced)}"
    draft.figure(name, capacity, "lb", by=f"fc_{strength_class(section)}")
    older_rule(draft, section, slender)
    return capacity


def timber(book: Book, section: str) -> Wood:
    """The column values of a timber section: those of 4x4, or of posts and timbers from 5x5 up."""
    graded = strength_class(section)
    sides = sorted(book.rule(f"dressed_{section}").value)
    return Wood(
        q(sides[0], "in"), q(sides[1], "in"),
        book.quantity(f"fc_{graded}") * book.number(f"size_factor_{graded}"),
        book.quantity(f"emin_{graded}"), book.number("c_sawn"),
    )  # fmt: skip


def older_rule(draft: Draft, section: str, slender: float, posts: int = 1) -> None:
    """The field guide's figures rest on the older long-column rule: shown beside today's for long columns, not used."""
    if slender <= draft.book.number("slenderness_warn"):
        return
    sides = draft.book.rule(f"dressed_{section}").value
    carried = field_rule(draft.book.quantity("field_rule_e"), q(sides[0], "in") * q(sides[1], "in"), slender) * posts
    note = "older long-column rule, as in field guides; for comparison"
    draft.figure("the same by the older long-column rule", carried, "lb", note, "field_rule_e")


def slenderness_check(draft: Draft, slender: float, section: str) -> None:
    draft.slenderness = max(draft.slenderness, slender)
    warn = draft.book.number("slenderness_warn")
    if slender > warn:
        draft.before_load.append(f"L/d is {slender:.1f}, over {warn:g}: it may buckle before the wood warns")


#: The load duration of nails (NDS 2.3.2): of wind and aftershocks, or of what lasts, as for the columns.
SHOCK, LASTING = "load_duration", "load_duration_column"


def quote_shock(draft: Draft) -> None:
    draft.quote("load duration of nails, against wind and aftershocks", SHOCK)


def nail_strength(book: Book, nails: int, rule: str = "nail_16d", duration: str = SHOCK) -> Quantity:
    """NDS single shear."""
    return nails * book.quantity(rule) * book.number(duration)


def holdfast(draft: Draft, thrust: Quantity, least: int) -> int:
    """Pickets at one heel: `least` to start, more by soil and load. On pavement the least count stands, unchecked."""
    book, work = draft.book, draft.work
    if work.ground == "pavement":
        against = work.writing.force(thrust)
        draft.not_checked("pickets in pavement", f"{least} at each heel is a start against {against}")
        return least
    factor = book.number(f"soil_factor_{work.soil}")
    draft.quote("one picket", "picket_load")
    draft.quote(f"soil factor, {work.soil}", f"soil_factor_{work.soil}")
    count = pickets_for(thrust, book.quantity("picket_load"), factor, least)
    draft.figure("pickets at each heel", float(count), "1", "order of magnitude only")
    draft.check("pickets at the heel", thrust, count * factor * book.quantity("picket_load"), by="picket_load")
    return count


HOLDFAST = "room for the pickets"


def sole_anchors(draft: Draft, pickets: int, label: str = "sole anchor") -> Length:
    """The timbers that the pickets of one heel stand behind, long enough for all of them at their spacing: one, or a
    second behind it. Returns how long each is."""
    book, work = draft.book, draft.work
    apart, longest = book.length("picket_spacing"), book.length("sole_anchor_most")
    holds = longest.eightieths // apart.eightieths
    anchors = max(1, -(-pickets // holds))
    each = -(-pickets // anchors)
    length = max(book.length("sole_anchor"), apart * each)
    draft.cut(label, "4x4", length, anchors * work.rakers)
    behind = "" if anchors == 1 else f", in {anchors} rows, the second sole anchor behind the first"
    draft.say(apart=apart)
    draft.place("pickets", f"apart along the sole anchor, {each} behind each{behind}", apart)
    most = book.count("sole_anchors_most") * holds
    if pickets > most:
        draft.check(HOLDFAST, q(pickets, "1"), q(most, "1"), "1", by="sole_anchors_most")
    return length
