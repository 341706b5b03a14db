"""The strut's own tube, steel or aluminium, where a stock file gives it: what it carries as a column; no approval."""

from __future__ import annotations

from callout.shoring.build import Figure
from callout.shoring.columns import Tube, aluminium_stress, steel_capacity
from callout.shoring.draft import Draft
from callout.shoring.kit import StrutTube
from callout.shoring.quantity import Quantity, q
from callout.values import Length


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
    too_slender(draft, slender)
    return capacity


def too_slender(draft: Draft, slender: float) -> None:
    """A metal member over the usual KL/r is said to be."""
    if slender > (most := draft.book.number("slenderness_metal_most")):
        draft.before_load.append(f"the strut's KL/r is {slender:.0f}, over {most:g}: brace it closer")
