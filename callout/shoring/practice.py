"""From a request to a draft: the one place that knows which module works out which kind of shore."""

from __future__ import annotations

from dataclasses import replace

from callout.shoring.build import Refused
from callout.shoring.draft import Draft
from callout.shoring.kit import Kit
from callout.shoring.limits import refusal
from callout.shoring.needs import Need
from callout.shoring.others import cribbing, horizontal, opening
from callout.shoring.posts import OF_POSTS, section_for
from callout.shoring.request import RAKERS, Chosen, Post, Site, Work, settle, writing_of
from callout.shoring.rules import Book, Rules, packaged_rules
from callout.shoring.strut_raker import strut_raker
from callout.shoring.timber_raker import timber_raker
from callout.shoring.uprights import upright
from callout.values import Callout, Length
from callout.values.length import PER_INCH

EVERYDAY = Site()


def work_out(
    request: Callout, kit: Kit, site: Site = EVERYDAY, rules: Rules | None = None, post: Post | None = None
) -> Draft | Refused:
    """What the shore needs and says, before any piece is chosen; or why there is no such shore, with the nearest.

    `post`: the timber of a standing shore, where the stock decides it."""
    refused = why_not(request, site if post is None else site.model_copy(update={"post": post}), rules)
    return refused if refused is not None else _draft(request, kit, site, rules or packaged_rules(), post)


def why_not(request: Callout, site: Site = EVERYDAY, rules: Rules | None = None) -> Refused | None:
    """Why there is no such shore, all reasons in one, and the nearest callout that does exist; None if it does."""
    known = rules or packaged_rules()
    metric = writing_of(request, site).metric  # the nearest callout may be in whole feet: one answer, one writing
    site = site.model_copy(update={"units": "metres" if metric else "feet"})
    refused = _reason(request, site, known)
    if refused is None:
        return None
    reasons, nearest = [refused.reason], refused.nearest
    while nearest is not None and (more := _reason(nearest, site, known)) is not None:
        if more.reason in reasons:  # two rules pull against one another: nothing near exists
            nearest = None
            break
        reasons.append(more.reason)
        nearest = more.nearest
    return Refused(reason="; ".join(reasons), nearest=nearest)


def _reason(request: Callout, site: Site, rules: Rules) -> Refused | None:
    """The first reason, if any. Its books are not the build's: limits are no sources of the build's figures."""
    refused = refusal(request, site, rules.opened())
    if refused is not None or (request.kind == "raker" and request.sole is None):
        return refused
    draft = _draft(request, None, site, rules)
    most = rules.opened().number("slenderness_most")
    if draft.slenderness <= most:
        return None
    shorter = Length(int(draft.work.insertion.eightieths * most / draft.slenderness))
    whole = shorter - Length(shorter.eightieths % PER_INCH)
    reason = f"a {draft.title} of that length would have L/d {draft.slenderness:.0f}, over {most:g}"
    if request.kind == "raker" and draft.work.rakers == 1:  # a pair is tied at the middle
        return Refused(reason=f"{reason}, with no tie to hold it sideways", nearest=_with(request, rakers=2))
    return Refused(reason=reason, nearest=_with(request, insertion=whole))


def _with(request: Callout, **change: object) -> Callout:
    return request.model_copy(update=change)


def clear_zone(wall_height: Length, book: Book) -> Length:
    """How far out people are kept from a wall that stands free: its height and the rule's four feet."""
    return wall_height + book.length("clear_zone_beyond_height")


def needs_of(request: Callout, kit: Kit, site: Site = EVERYDAY, rules: Rules | None = None) -> tuple[Need, ...] | None:
    """The needs of a request, or None if there is no such shore (what-if questions of the remedies)."""
    draft = work_out(request, kit, site, rules)
    return None if isinstance(draft, Refused) else tuple(draft.needs)


def _draft(request: Callout, kit: Kit | None, site: Site, rules: Rules, post: Post | None = None) -> Draft:
    """The draft of a request that exists. Only struts need the kit."""
    book = rules.opened(writing_of(request, site).metric)
    work = _with_posts(settle(request, site, book), site, rules, post)
    draft = _of_kind(work, book, kit)
    if work.kind in RAKERS:
        _along_the_wall(draft)
        _clear_of_the_curb(draft, site)
    return draft


def _with_posts(work: Work, site: Site, rules: Rules, post: Post | None) -> Work:
    """The timber of a standing shore, by what is said of it. What was only tried is no source of the build."""
    if work.kind not in OF_POSTS or site.post is not None:
        return work
    section, why = section_for(work, rules.opened(work.writing.metric))
    if post is not None and post != section:
        section, why = post, f"the stock had no {section} that makes it whole"
    return replace(work, post=section, chosen=(*work.chosen, Chosen(part="post", value=section, why=why)))


def _clear_of_the_curb(draft: Draft, site: Site) -> None:
    """A heel near the edge may break it off, or slide off it."""
    if not site.curb or site.curb_at is None:
        return
    off = Length(abs((draft.pairs["base"].best - site.curb_at).eightieths))
    clear = draft.book.length("curb_edge_clear")
    if off < clear:
        near, far = draft.text(off), draft.text(clear)
        draft.checks.append(f"the heel is {near} from the edge of the curb: keep {far} clear, move it")


def _along_the_wall(draft: Draft) -> None:
    """Where the row begins, and how far people keep away, as far as the wall is known."""
    work, book = draft.work, draft.book
    times = book.number("collapse_zone_times_height")
    if work.wall_height is not None:
        draft.place("clear zone", "out from the wall, free of people", clear_zone(work.wall_height, book))
        zone = Length(round(work.wall_height.eightieths * times))
        draft.place("collapse zone", "out from the wall: only under the officer in charge", zone)
    else:
        draft.checks.append(f"wall height not said: the collapse zone reaches out {times:g} times that height")
    if work.wall_length is not None:
        left_over = work.wall_length - work.spacing * (work.rakers - 1)
        first = max(Length(0), Length(left_over.eightieths // 2))
        draft.place("first raker", "from the end of the wall, the others on centre from it", first)
        if first * 2 > work.spacing:
            draft.checks.append("the row leaves more than half a spacing of wall at its ends: add a raker")


def _of_kind(work: Work, book: Book, kit: Kit | None) -> Draft:
    if work.made_of == "struts":
        assert kit is not None, "a raker of struts needs the kit"
        return strut_raker(work, book, kit)
    if work.kind in RAKERS:
        return timber_raker(work, book)
    if work.kind == "cribbing":
        return cribbing(work, book)
    if work.kind == "horizontal":
        return horizontal(work, book)
    if work.kind in ("window", "door"):
        return opening(work, book)
    return upright(work, book)
