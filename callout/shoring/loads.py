"""Forces in a raker shore and what resists them. Statics; every input has its source; nothing here is an approval.

N = F / cos(angle) along the raker, V = F tan(angle) up the wall plate and down at the heel, F out at the base.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from callout.shoring.columns import Tube, Wood, aluminium_stress, field_rule
from callout.shoring.draft import Draft
from callout.shoring.kit import StrutTube
from callout.shoring.quantity import Quantity, q
from callout.shoring.rules import Book
from callout.shoring.tubes import too_slender, tube_capacity
from callout.values import Length


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


def pickets_for(thrust: Quantity, each: Quantity, soil_factor: float, least: int) -> int:
    return max(least, math.ceil(float(thrust / (each * soil_factor)) - 1e-9))


def pad_side(load: Quantity, bearing: Quantity) -> Quantity:
    """Side of the square pad that spreads `load` to the ground's presumptive `bearing`."""
    return Quantity(math.sqrt((load / bearing).value), (0, 1))


def inches(length: Length) -> Quantity:
    return q(float(length.inches), "in")


def wall_force(draft: Draft, pattern_load: str) -> Quantity:
    """The force on one raker: from the wall where its size is known, else the published load of the pattern."""
    work, book = draft.work, draft.book
    draft.quote("design load of the pattern, one raker", pattern_load)
    draft.notes.append("the published load does not say whether it is horizontal or along the raker: read your guide")
    published = book.quantity(pattern_load)
    if work.wall_height is None or work.wall_thickness is None:
        draft.notes.append("wall height or thickness not said: the loads use the published design load of the pattern")
        return published
    density = "concrete" if work.wall == "concrete" else "wood" if work.wall == "timber" else "masonry"
    weight = wall_weight(
        inches(work.wall_height), inches(work.wall_thickness), inches(work.spacing), book.quantity(density)
    )
    draft.quote(f"weight of {density}", density)
    draft.figure("wall weight for one raker", weight, "lb")
    draft.quote("share of the wall's weight taken as sideways force", "wall_share")
    force = weight * book.number("wall_share")
    if work.lean > Length(0):
        offset = inches(work.lean) * float(inches(work.wall_height) / inches(work.insertion)) / 2
        held = lean_force(weight, offset, inches(work.insertion))
        draft.figure("force from the lean", held, "lb")
        force = force + held
    draft.figure("wall force, one raker", force, "lb")
    _against_published(draft, force, published)
    return force


def _against_published(draft: Draft, force: Quantity, published: Quantity) -> None:
    """No margin is shown: whether the published load is horizontal or along the raker is not stated."""
    if published < force:
        draft.checks.append("the wall force is over the published design load: more rakers, or a specialist's design")
    elif published < forces(force, draft.work.angle).axial:
        draft.checks.append("the raker's force is over the published design load if that is meant along the raker")


def raker_loads(draft: Draft, force: Quantity, braced: Length, member: str | StrutTube | None) -> Forces:
    """State the forces and check the member: a timber section, the tube that a stock file gives, or None for the
    invented tube of the demonstration."""
    found = forces(force, draft.work.angle)
    draft.figure("axial force in the raker", found.axial, "lb")
    draft.figure("uplift on the wall plate", found.uplift, "lb")
    draft.figure("base thrust", found.thrust, "lb")
    if isinstance(member, str):
        capacity = _timber_capacity(draft, member, braced)
    elif member is None:
        capacity = _invented_capacity(draft, braced)
    else:
        capacity = tube_capacity(draft, member, braced)
    draft.utilisation["raker as a column"] = float(found.axial / capacity)
    if capacity < found.axial:
        draft.checks.append("NOT ENOUGH: the raker as a column carries less than its axial force; ask the specialist")
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


def _invented_capacity(draft: Draft, braced: Length) -> Quantity:
    book = draft.book
    tube = Tube(book.quantity("strut_outside"), book.quantity("strut_wall"))
    slender = book.number("strut_k") * float(inches(braced) / tube.gyration)
    draft.figure("slenderness KL/r of the strut", slender, "1")
    stress = aluminium_stress(book.quantity("strut_fcy"), book.quantity("strut_e"), slender)
    capacity = stress * tube.area / book.number("strut_omega")
    name = f"column capacity, strut tube of the kit, braced at {draft.text(braced)}"
    draft.figure(name, capacity, "lb", by="strut_fcy")
    too_slender(draft, slender)
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


def strength_class(section: str) -> str:
    """Posts and timbers begin at 5x5; smaller sections are graded like a 4x4."""
    return "6x6" if section == "6x6" else "4x4"


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
        draft.checks.append(f"L/d is {slender:.1f}, over {warn:g}: buckling may come before the wood warns by crushing")


def against_load(draft: Draft, takes: Quantity) -> None:
    """What comes down on the shore, where somebody said so, against what it is taken to carry."""
    if draft.work.load_lb is None:
        draft.checks.append("the load above is not known here: compare it with the figures before relying on the shore")
        return
    load = q(draft.work.load_lb, "lb")
    draft.utilisation["load on the shore"] = float(load / takes)
    if takes < load:
        draft.checks.append("NOT ENOUGH: the shore is not taken to carry the load; ask the specialist")


def nail_check(draft: Draft, nails: int, uplift: Quantity) -> None:
    """Plausibility only: the cleat's nails against the uplift (NDS single shear, ten-minute duration)."""
    strength = nails * draft.book.quantity("nail_16d") * draft.book.number("load_duration")
    what = "plausibility only, not proof of the rating"
    draft.figure(f"wall cleat, {nails} nails 16d", strength, "lb", what, "nail_16d")
    if strength < uplift:
        draft.checks.append(
            "the wall cleat's nails alone do not take the uplift: top gussets and wall-plate anchors must share it"
        )


def holdfast(draft: Draft, thrust: Quantity, least: int) -> int:
    """Pickets at one heel: `least` to start, more by soil and load. On pavement the least count stands, unchecked."""
    book, work = draft.book, draft.work
    if work.ground == "pavement":
        draft.checks.append(
            f"no figure for pickets in pavement: {least} at each heel is a start; thrust {work.writing.force(thrust)}"
        )
        return least
    factor = book.number(f"soil_factor_{work.soil}")
    draft.quote("one picket", "picket_load")
    draft.quote(f"soil factor, {work.soil}", f"soil_factor_{work.soil}")
    count = pickets_for(thrust, book.quantity("picket_load"), factor, least)
    draft.figure("pickets at each heel", float(count), "1", "order of magnitude only")
    draft.utilisation["pickets at the heel"] = float(thrust / (book.quantity("picket_load") * factor)) / count
    return count
