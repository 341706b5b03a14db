"""The anchors that keep a wall plate from sliding up: what each would have to hold, and the check where that is known.

No print was found that gives what an anchor holds in a damaged wall; it depends on the anchor and on the wall. So the
value must come from a team, out of the anchor's own data. Without one nothing is assumed and nothing is called checked.
"""

from __future__ import annotations

from callout.shoring.draft import Draft
from callout.shoring.quantity import Quantity
from callout.values import Length

ANCHORS = "wall-plate anchors"
_APART = Length.imperial(feet=1)  # nearer than this, two anchors do not keep a plate from twisting


def place_anchors(draft: Draft, seat: Length, each_raker: int, where: str) -> None:
    """One anchor low, one higher, on a plate that carries the raker at `seat` up from its foot; more between them."""
    low = draft.book.length("anchor_low")
    high = seat - draft.book.length("anchor_high_below_insertion")
    if high - low < _APART:  # a short plate: a quarter of it from either end
        low, high = Length(seat.eightieths // 4), Length(seat.eightieths * 3 // 4)
    draft.place("lower anchor", where, low)
    draft.place("upper anchor", where, high)
    if each_raker > 2:
        draft.place("further anchors", f"{each_raker - 2} between them, one at least in every piece of the wall plate")


def plate_anchors(draft: Draft, uplift: Quantity, each_raker: int) -> None:
    """Put the anchors of all wall plates on the list, and set the uplift against what a team says that one holds.

    The anchors are taken to share the whole uplift alike (statics); friction, cleats and gussets are left out."""
    book, work = draft.book, draft.work
    kind = str(book.rule("anchor_by_wall").value[work.wall])
    draft.piece("wall plates", "anchor", each_raker * work.rakers, variant=kind)
    draft.say(anchors=str(each_raker))
    each = uplift / each_raker
    draft.figure(f"uplift on one wall-plate anchor, {each_raker} a raker", each, "lb", "as if the anchors took it all")
    key = f"anchor_allowable_{kind}"
    if not book.has(key):
        why = f"{work.writing.force(each)} of uplift each; your rules file may give what one holds"
        draft.not_checked(ANCHORS, why)
        return
    draft.quote(f"allowable load of a {kind} anchor, as your rules file gives it", key)
    draft.check(ANCHORS, each, book.quantity(key), by=key)
