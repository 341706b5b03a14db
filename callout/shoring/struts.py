"""What an adjustable strut is taken to carry: the least of its maker's table, its own tube as a column, and the parts
at its ends. Without a table it says NOT RATED, with its own column figure beside it. Never an approval.
"""

from __future__ import annotations

from callout.shoring.build import Figure, Refused, not_enough
from callout.shoring.draft import Draft
from callout.shoring.kit import Kit, Rating, StrutTube
from callout.shoring.loads import RAKER_COLUMN
from callout.shoring.mechanics import Tube, aluminium_stress, steel_capacity
from callout.shoring.units import Quantity, q
from callout.values import Length

BY_TABLE = "struts by their maker's table"
BY_TABLE_EXTENDED = "extended struts by their maker's table"
_ENDS = ("head fitting", "base plate")


def check_struts(draft: Draft, kit: Kit, axial: Quantity, braced: Length) -> None:
    """Put the table, the column and the end fittings against the axial force."""
    carries = _column(draft, kit, axial, braced)
    length = next(need.wanted - need.deduct for need in draft.struts)
    table = next((one for one in kit.rating if one.family == "strut" and not one.extended), None)
    if table is None:
        beside = "" if carries is None else f"; its own column figure is {draft.work.writing.force(carries)}"
        draft.not_checked(BY_TABLE, f"NOT RATED, the stock file has no table{beside}")
        longest = draft.book.length("strut_unrated_longest")
        if draft.pairs["setting"].best > longest:
            at, most = draft.text(draft.pairs["setting"].best), draft.text(longest)
            reason = f"a strut set to {at} has no maker's table, and without one {most} is the most"
            draft.refused = Refused(reason=reason)
    else:
        rated(draft, table, length, axial, BY_TABLE)
    for part in _ENDS:
        ends = next((one for one in kit.rating if one.part == part), None)
        if ends is None or ends.load_lb is None:
            draft.not_checked(part, "NOT RATED, the stock file has no rating for it")
        else:
            _row(draft, part, axial, q(ends.load_lb, "lb"), ends)
    draft.axial = axial


def rated(draft: Draft, table: Rating, length: Length, axial: Quantity, name: str) -> None:
    """One line of a maker's table; beyond its end the strut is refused."""
    load = table.at(length)
    if load is None:
        longest = draft.text(table.loads[-1][0])
        draft.refused = Refused(reason=f"a strut of {draft.text(length)} is longer than its maker's table, {longest}")
        return
    _row(draft, name, axial, q(load, "lb"), table)


def _row(draft: Draft, name: str, axial: Quantity, strength: Quantity, by: Rating) -> None:
    draft.check(name, axial, strength, note="as the stock file gives it")
    draft.checks[-1] = draft.checks[-1].model_copy(
        update={"source": by.source, "edition": by.edition, "grade": by.grade}
    )
    draft.documents.append((by.source, by.edition, by.grade))


def _column(draft: Draft, kit: Kit, axial: Quantity, braced: Length) -> Quantity | None:
    """The tube between its braces; None, and not checked, where the stock file gives no tube."""
    if kit.strut is None:
        draft.not_checked(RAKER_COLUMN, "the stock file does not give the strut's tube")
        return None
    carries = tube_capacity(draft, kit.strut, braced)
    draft.check(RAKER_COLUMN, axial, carries)
    return carries


def tube_capacity(draft: Draft, given: StrutTube, braced: Length) -> Quantity:
    """Steel by AISC 360 chapter E, aluminium by the flexural-buckling curve of its alloy, over the safety factor."""
    book = draft.book
    tube = Tube(q(float(given.outside.inches), "in"), q(float(given.wall.inches), "in"))
    slender = given.k * float(q(float(braced.inches), "in") / tube.gyration)
    draft.figure("slenderness KL/r of the strut", slender, "1")
    strength, stiffness = q(given.yield_psi, "psi"), q(given.e_psi, "psi")
    if given.material == "steel":
        capacity = steel_capacity(strength, stiffness, tube.area, slender, book.number("steel_omega"))
        method = book.rule("steel_omega")
    else:
        capacity = aluminium_stress(strength, stiffness, slender) * tube.area / book.number("strut_omega")
        method = book.rule("strut_omega")
    draft.loads.append(
        Figure(
            name="strength of the strut's " + given.material, value=given.yield_psi, unit="psi", source=given.source,
            grade=given.grade, note="as the stock file gives it",
        )
    )  # fmt: skip
    name = f"column capacity, {given.material} strut of the stock file, braced at {draft.text(braced)}"
    draft.figure(name, capacity, "lb", by=method.key)
    draft.check("slenderness of the strut", q(slender, "1"), q(book.number("slenderness_metal_most"), "1"), "1",
                by="slenderness_metal_most")  # fmt: skip
    return capacity


def too_long_with_extensions(draft: Draft, kit: Kit, length: Length) -> str | None:
    """With the pieces known: the longest strut with extensions against the table for those. Why it is not enough, or
    None; where the maker gives no such table that is said to be not checked."""
    if draft.axial is None or not any(one.family == "strut" for one in kit.rating):
        return None
    table = next((one for one in kit.rating if one.family == "strut" and one.extended), None)
    if table is None:
        draft.not_checked(BY_TABLE_EXTENDED, "NOT RATED, the stock file has no table for them")
        return None
    rated(draft, table, length, draft.axial, BY_TABLE_EXTENDED)
    if draft.refused is not None:
        return draft.refused.reason
    return not_enough(draft.failing[0], draft.work.writing) if draft.failing else None
