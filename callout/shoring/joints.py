"""The joints of a timber raker: what its ends bear on, and the nails that keep it from sliding. NDS 3.10 and its nail
values; the published patterns lean on tests, so this is a check beside them and never proof of a rating.

At the top the raker presses square on the wall plate and up on the wall cleat, at the bottom down on the sole and out
on the sole cleat. Cleats and gussets share; of a gusset's two sides the smaller group of nails counts.
"""

from __future__ import annotations

import math

from callout.shoring.beams import at_an_angle, crushing, strength_class
from callout.shoring.draft import Draft
from callout.shoring.loads import Forces, inches, nail_strength
from callout.shoring.quantity import Quantity, q
from callout.shoring.rules import Book

TOP, BOTTOM = "wall cleat and top gussets", "sole cleat and bottom gussets"
_GUSSETS = 2  # one on either side


def _along(book: Book, section: str) -> Quantity:
    """Bearing along the grain, Fc*."""
    graded = strength_class(section)
    factor = book.number(f"size_factor_{graded}") * book.number("load_duration_column")
    return book.quantity(f"fc_{graded}") * factor


def _at(book: Book, section: str, degrees: float) -> Quantity:
    return at_an_angle(_along(book, section), book.quantity(f"fc_across_{strength_class(section)}"), degrees)


def _gussets(book: Book) -> Quantity:
    """Both gussets of one joint."""
    nails = min(book.count("nails_bottom_gusset"), book.count("nails_bottom_gusset_sole"))
    return nail_strength(book, _GUSSETS * nails, "nail_8d_gusset")


def top_joint(draft: Draft, forces: Forces, section: str, nails: int, top_cut: float) -> None:
    """The raker's top on the wall plate (`top_cut` degrees between them), and what keeps it from sliding up."""
    book = draft.book
    side, back = q(min(book.rule(f"dressed_{section}").value), "in"), inches(book.length("return_cut"))
    angle = math.radians(top_cut)
    face = side / max(math.cos(angle), 0.05) - back * math.tan(angle)
    across = f"fc_across_{strength_class(section)}"
    press = min(_at(book, section, top_cut), book.quantity(across), key=lambda one: one.value)
    draft.check("raker on the wall plate", forces.thrust, press * side * face, by=across)
    seat = _at(book, section, 90 - top_cut) * side * back
    cleat = nail_strength(book, nails)
    holds = min(seat, cleat, key=lambda one: one.value) + _gussets(book)
    what = "plausibility only, not proof of the rating"
    draft.figure(f"wall cleat, {nails} nails 16d", cleat, "lb", what, "nail_16d")
    draft.check(TOP, forces.uplift, holds, by="nail_16d", note=what)


def bottom_joint(draft: Draft, forces: Forces, section: str) -> None:
    """The heel on a solid sole, and the cleat and gussets that hold it in."""
    book, angle = draft.book, float(draft.work.angle)
    side, back = q(min(book.rule(f"dressed_{section}").value), "in"), inches(book.length("return_cut"))
    slope = math.radians(angle)
    face = side / math.sin(slope) - back / math.tan(slope)
    across = book.quantity(f"fc_across_{strength_class(section)}")
    press = min(_at(book, section, 90 - angle), across, key=lambda one: one.value)
    draft.check("raker on the sole", forces.uplift, press * side * face, by=f"fc_across_{strength_class(section)}")
    seat = _at(book, section, angle) * side * back
    cleat = nail_strength(book, book.count("nails_sole_cleat"))
    draft.check(
        BOTTOM, forces.thrust, min(seat, cleat, key=lambda one: one.value) + _gussets(book), by="nail_16d",
        note="plausibility only, not proof of the rating",
    )  # fmt: skip


def trough_seat(draft: Draft, forces: Forces, section: str) -> None:
    """A raker cut square on the planks of its trough, across their grain."""
    book = draft.book
    side = q(min(book.rule(f"dressed_{section}").value), "in")
    draft.check(
        "raker on the trough", forces.axial, crushing(book, "2x6", side, side, q(0, "in")), by="fc_across_4x4"
    )


def sole_anchor_and_plate(draft: Draft) -> None:
    """What nobody can reckon without knowing how the wall and the pickets share."""
    draft.not_checked("wall plate in bending", "how the wall presses on it is not known")
    draft.not_checked("sole anchor in bending", "how its pickets share is not known")
