"""From a request to a draft: the one place that knows which module works out which kind of shore."""

from __future__ import annotations

from callout.shoring.build import Refused
from callout.shoring.draft import Draft
from callout.shoring.kit import Kit
from callout.shoring.limits import refusal
from callout.shoring.needs import Need
from callout.shoring.others import cribbing, horizontal, opening
from callout.shoring.request import RAKERS, Site, Work, settle
from callout.shoring.rules import Book, Rules, packaged_rules
from callout.shoring.strut_raker import strut_raker
from callout.shoring.timber_raker import timber_raker
from callout.shoring.uprights import upright
from callout.values import Callout, Length

EVERYDAY = Site()


def work_out(request: Callout, kit: Kit, site: Site = EVERYDAY, rules: Rules | None = None) -> Draft | Refused:
    """What the shore needs and says, before any piece is chosen; or why there is no such shore, with the nearest."""
    known = rules or packaged_rules()
    refused = refusal(request, site, known.opened())  # its book is not the build's: limits are no sources of figures
    if refused is not None:
        return refused
    book = known.opened()
    draft = _draft(settle(request, site, book), book, kit)
    most = known.opened().number("slenderness_most")
    if draft.slenderness > most:
        shorter = Length(int(request.insertion.eightieths * most / draft.slenderness)) if request.insertion else None
        whole = -(-shorter).round_up(Length.imperial(inches=1)) if shorter is not None else None
        reason = f"its {draft.title} would have L/d {draft.slenderness:.0f}, over {most:g}"
        return Refused(reason=reason, nearest=request.model_copy(update={"insertion": whole}))
    if draft.work.wall_height is not None and draft.work.kind in RAKERS:
        draft.place("clear zone", "out from the wall, free of people", clear_zone(draft.work.wall_height, book))
    return draft


def clear_zone(wall_height: Length, book: Book) -> Length:
    """How far out people are kept from a wall that stands free: its height and the rule's four feet."""
    return wall_height + book.length("clear_zone_beyond_height")


def needs_of(request: Callout, kit: Kit, site: Site = EVERYDAY, rules: Rules | None = None) -> tuple[Need, ...] | None:
    """The needs of a request, or None if there is no such shore (what-if questions of the remedies)."""
    draft = work_out(request, kit, site, rules)
    return None if isinstance(draft, Refused) else tuple(draft.needs)


def _draft(work: Work, book: Book, kit: Kit) -> Draft:
    if work.kind in RAKERS:
        return strut_raker(work, book, kit) if work.made_of == "struts" else timber_raker(work, book)
    if work.kind == "cribbing":
        return cribbing(work, book)
    if work.kind == "horizontal":
        return horizontal(work, book)
    if work.kind in ("window", "door"):
        return opening(work, book)
    return upright(work, book)
