"""From a request to a draft that is safe to build, or to the reason why there is none and the nearest that can be.

A draft whose checks are not all passed gets what the trade would add (a mid brace with its tie, a doubled pad, more
nails or anchors, a larger section); where nothing helps it is refused, never handed on with a remark.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from callout.shoring.allocation import Need
from callout.shoring.build import Check, Refused, not_enough
from callout.shoring.changes import instead_of, lower, other_angles, other_shores, other_sole
from callout.shoring.draft import Draft
from callout.shoring.joints import ANCHORS, PAD_BENDS, TOP
from callout.shoring.kinds import draft_of
from callout.shoring.kit import Kit
from callout.shoring.loads import RAKER_COLUMN
from callout.shoring.refusals import clear_zone, refusal
from callout.shoring.request import RAKERS, Chosen, Post, Site, Stronger, Work, settle, writing_of
from callout.shoring.rules import Book, Rules, packaged_rules
from callout.shoring.strengths import OF_POSTS, carried, timbers_for
from callout.shoring.uprights import WITH_LOAD
from callout.values import Callout, Length
from callout.values.length import PER_INCH

EVERYDAY = Site()
#: Rounds of adding something to a draft: each of the cures below, some of them more than once.
MOST_CURES = 30
MORE_NAILS, MORE_ANCHORS = 16, 12  # at most, beyond the usual
_HUNDRED_POUNDS = 100
#: Rakers are moved closer together by so much at a time: in feet, or in metres.
_CLOSER = {False: Length.imperial(feet=1), True: Length.mm(250)}


@dataclass(frozen=True)
class _Asked:
    """One question put to practice: the request at its place, with what is known of the kit."""

    request: Callout
    site: Site
    rules: Rules
    kit: Kit | None
    post: Post | None

    @property
    def metric(self) -> bool:
        return writing_of(self.request, self.site).metric

    @property
    def book(self) -> Book:
        return self.rules.opened(self.metric)


@dataclass(frozen=True)
class Worked:
    """What came of a request. `draft`: what the shore needs and says, also where it is not strong enough; None where
    there is no such shore. `refused`: why it must not be built, None where it may."""

    draft: Draft | None = None
    refused: Refused | None = None


def worked(
    request: Callout, kit: Kit | None, site: Site = EVERYDAY, rules: Rules | None = None, post: Post | None = None
) -> Worked:
    """The draft of the shore, before any piece is chosen, and why it must not be built, with the nearest that can be.

    `post`: the timber of a standing shore, where the stock decides it."""
    asked = _Asked(request, site, rules or packaged_rules(), kit, post)
    first = _attempt(asked)
    if first.refused is None:
        return first
    # The nearest callout may be in whole feet: one answer, one writing.
    written = site.model_copy(update={"units": "metres" if writing_of(request, site).metric else "feet"})
    return replace(first, refused=_with_nearest(replace(asked, site=written), first))


def work_out(
    request: Callout, kit: Kit | None, site: Site = EVERYDAY, rules: Rules | None = None, post: Post | None = None
) -> Draft | Refused:
    """The draft of a shore that may be built, or why it must not be: see `worked`."""
    found = worked(request, kit, site, rules, post)
    if found.refused is not None:
        return found.refused
    assert found.draft is not None
    return found.draft


def why_not(
    request: Callout, site: Site = EVERYDAY, rules: Rules | None = None, kit: Kit | None = None
) -> Refused | None:
    """Why the shore must not be built, all reasons in one, and the nearest callout that can be; None if it can.

    Without the kit a raker of struts is looked at as far as its geometry goes."""
    return worked(request, kit, site, rules).refused


def needs_of(request: Callout, kit: Kit, site: Site = EVERYDAY, rules: Rules | None = None) -> tuple[Need, ...] | None:
    """The needs of a request, or None if it must not be built (what-if questions of the remedies)."""
    found = _attempt(_Asked(request, site, rules or packaged_rules(), kit, None))
    return None if found.refused is not None or found.draft is None else tuple(found.draft.needs)


def _attempt(asked: _Asked) -> Worked:
    """The draft, strengthened where it must be, and the first reason against it (its nearest is the first step only).
    A raker of struts without its kit is looked at as far as its geometry goes."""
    refused = refusal(asked.request, asked.site, asked.book, asked.kit)
    if refused is not None:
        return Worked(None, refused)
    if asked.kit is None and asked.request.kind == "raker" and asked.request.sole is None:
        return Worked()
    draft = strengthened(asked.request, asked.site, asked.rules, asked.kit, asked.post)
    return Worked(draft, _too_slender(asked, draft) or draft.refused or _too_weak(draft))


def _with_nearest(asked: _Asked, found: Worked) -> Refused:
    """All reasons in one, beginning with the one that was found, and the nearest that can be built."""
    reasons: list[str] = []
    at = asked
    while (refused := found.refused) is not None:
        if refused.reason in reasons:  # two rules pull against one another: nothing near exists
            return Refused(reason="; ".join(reasons))
        reasons.append(refused.reason)
        if refused.nearest is None and refused.nearest_site is None:
            near = None if found.draft is None else _search(at, found.draft)
            if near is None:
                return Refused(reason="; ".join(reasons))
            return _answer(asked, reasons, near[0], near[1])
        at = replace(at, request=refused.nearest or at.request, site=refused.nearest_site or at.site)
        found = _attempt(at)
    return _answer(asked, reasons, at.request, at.site)


def _answer(asked: _Asked, reasons: list[str], request: Callout, site: Site) -> Refused:
    moved = site != asked.site
    return Refused(
        reason="; ".join(reasons), nearest=request if request != asked.request or not moved else None,
        nearest_site=site if moved else None, instead=instead_of(asked.request, request, asked.site, site),
    )  # fmt: skip


def _search(asked: _Asked, draft: Draft) -> tuple[Callout, Site] | None:
    """The nearest change of a shore that is not strong enough under which it is. `draft`: as it was asked for."""
    return next((near for near in _near(asked, draft) if _works(asked, *near)), None)


def _works(asked: _Asked, request: Callout, site: Site) -> bool:
    return _attempt(replace(asked, request=request, site=site)).refused is None


def _near(asked: _Asked, draft: Draft) -> Iterator[tuple[Callout, Site]]:
    request, site = asked.request, asked.site
    if request.kind in RAKERS:
        if request.kind == "raker" and request.rakers == 1:
            yield request.model_copy(update={"rakers": 2}), site
        yield from _closer(asked, request)
        kept = _with_its_spacing(asked)
        soles = list(other_sole(kept, asked.kit is not None))
        others = [*soles, *other_angles(kept), *other_shores(kept)]
        yield from ((one, site) for one in others)
        yield from ((one, site) for one in _lower(asked, draft))
        for other in (*others, *(turned for one in soles for turned in other_angles(one))):
            yield from _closer(asked, other)
        yield from _less_force(asked)
        return
    yield from ((one, site) for one in other_shores(request))
    if site.load_lb is None:
        yield from ((one, site) for one in _lower(asked, draft))
        return
    work = _timbered(settle(request, site, asked.book, asked.kit), site, asked.rules, asked.post)
    most = int(carried(work, asked.book).least.load.to("lb") // _HUNDRED_POUNDS) * _HUNDRED_POUNDS
    if most:
        yield request, site.model_copy(update={"load_lb": float(most)})


def _lower(asked: _Asked, draft: Draft) -> Sequence[Callout]:
    """Farther down; not where a first step down makes the weakest part no better, as under too great a force."""
    downs = list(lower(asked.request, writing_of(asked.request, asked.site), far=True))
    step = _attempt(replace(asked, request=downs[0])).draft if downs and draft.failing else None
    return () if step is not None and step.failing and not _weaker(draft, step) else downs


def _weaker(one: Draft, other: Draft) -> bool:
    """Whether the weakest part of `one` lacks more."""
    return (one.failing[0].share or 0) > (other.failing[0].share or 0)


def _closer(asked: _Asked, request: Callout) -> Sequence[tuple[Callout, Site]]:
    """The rakers closer together, where the wall's own size gives what each of them holds. Of a force that was given
    for one of them each then gets its share. None of them where the closest is not enough either: each holds less than
    the one before."""
    site, book = asked.site, asked.book
    if site.force_lb is None and (request.wall_height is None or request.wall_thickness is None):
        return ()
    work, step = settle(request, site, book, asked.kit), _CLOSER[asked.metric]
    wide = work.spacing.eightieths
    least, most = -(-book.length("spacing_least").eightieths // step.eightieths), (wide - 1) // step.eightieths
    found = [_at_spacing(request, site, work, step * steps) for steps in range(most, least - 1, -1)]
    return found if found and _works(asked, *found[-1]) else ()


def _with_its_spacing(asked: _Asked) -> Callout:
    """A force that was given is of one raker at the spacing that this shore has: another kind would have its own."""
    if asked.site.force_lb is None:
        return asked.request
    spacing = settle(asked.request, asked.site, asked.book, asked.kit).spacing
    return asked.request.model_copy(update={"spacing": spacing})


def _at_spacing(request: Callout, site: Site, work: Work, at: Length) -> tuple[Callout, Site]:
    """`work` is what was settled before. A row whose number was said, or was taken as the least, holds as much wall as
    before; a force that was given for one raker is shared, a specialist's own, too."""
    closer = request.model_copy(update={"spacing": at})
    if request.rakers is not None or (site.force_lb is not None and site.wall_length is None):
        closer = closer.model_copy(update={"rakers": -(-work.rakers * work.spacing.eightieths // at.eightieths)})
    if site.force_lb is None:
        return closer, site
    share = math.ceil(site.force_lb * at.eightieths / work.spacing.eightieths)
    return closer, site.model_copy(update={"force_lb": float(share)})


def _less_force(asked: _Asked) -> Iterator[tuple[Callout, Site]]:
    """The same shore with as much force on a raker as it holds, in whole hundreds: what a specialist has to know."""
    if asked.site.force_lb is None:
        return
    holds, over = 0, math.ceil(asked.site.force_lb / _HUNDRED_POUNDS)
    while over - holds > 1:
        half = (holds + over) // 2
        if _works(asked, asked.request, _forced(asked.site, half)):
            holds = half
        else:
            over = half
    if holds:
        yield asked.request, _forced(asked.site, holds)


def _forced(site: Site, hundreds: int) -> Site:
    return site.model_copy(update={"force_lb": float(hundreds * _HUNDRED_POUNDS)})


def strengthened(
    request: Callout, site: Site, rules: Rules, kit: Kit | None = None, post: Post | None = None
) -> Draft:
    """The draft with whatever the trade adds until every check is passed, or until nothing more helps."""
    written = rules.opened(writing_of(request, site).metric)
    work = _timbered(settle(request, site, written, kit), site, rules, post)
    draft = _drafted(work, rules, kit, site)
    for _ in range(MOST_CURES):
        cured = _cured(draft)
        if cured is None:
            break
        work = replace(work, stronger=cured)
        draft = _drafted(work, rules, kit, site)
    if work.stronger != Stronger() and not draft.failing:
        chosen = tuple(Chosen(part=part, value=value, why=why) for part, value, why in _added(work.stronger))
        draft.work = replace(draft.work, chosen=(*draft.work.chosen, *chosen))
    return draft


def _cured(draft: Draft) -> Stronger | None:
    """What to add for the weakest part that is not enough; None where all is enough or nothing is known to help."""
    now, work = draft.work.stronger, draft.work
    for check in draft.failing:
        cure = _cure(check, now, work)
        if cure is not None and cure != now:
            return cure
    return None


def _cure(check: Check, now: Stronger, work: Work) -> Stronger | None:
    if check.name == ANCHORS:
        return replace(now, anchors=now.anchors + 1) if now.anchors < MORE_ANCHORS else None
    if work.made_of != "timber":
        return None
    if check.name == PAD_BENDS and now.pad_layers == 2:
        return replace(now, pad_layers=4)
    if check.name == RAKER_COLUMN:
        if not now.mid_brace and work.kind == "raker" and work.rakers > 1:
            return replace(now, mid_brace=True)
        return replace(now, six_by_six=True)
    if check.name == TOP and now.cleat_nails < MORE_NAILS:
        return replace(now, cleat_nails=now.cleat_nails + 2)
    return replace(now, six_by_six=True)


def _added(stronger: Stronger) -> Iterator[tuple[str, int | str | bool, str]]:
    """What was added, in the words of the sheet."""
    if stronger.mid_brace:
        yield "mid_brace", True, "with a middle tie: without them the raker is too slender for its load"
    if stronger.six_by_six:
        yield "section", "6x6", "4x4 is not enough for the load"
    if stronger.pad_layers > 2:
        yield "pad_layers", stronger.pad_layers, "the planks of the usual pad would bend too far"
    if stronger.cleat_nails:
        yield "cleat_nails", stronger.cleat_nails, "more than usual in each wall cleat, which is longer for them"
    if stronger.anchors:
        yield "anchors", stronger.anchors, "more than usual in each wall plate, for the uplift"


def _drafted(work: Work, rules: Rules, kit: Kit | None, site: Site) -> Draft:
    book = rules.opened(work.writing.metric)
    draft = draft_of(work, book, kit)
    if work.kind in RAKERS:
        _along_the_wall(draft)
        _clear_of_the_curb(draft, site)
    return draft


def _timbered(work: Work, site: Site, rules: Rules, post: Post | None) -> Work:
    """The timber of a shore under a load, by what is said of it. What was only tried is no source of the build."""
    if work.kind not in WITH_LOAD:
        return work
    metric = work.writing.metric
    fixed = site.post or post
    if work.kind in ("window", "door"):
        from callout.shoring.cribs_and_openings import usual_header

        work = replace(work, header=usual_header(work, rules.opened(metric)))
    if fixed is not None:
        work = replace(work, post=fixed)
    chosen, why = timbers_for(work, rules.opened(metric), fixed)
    said = list(work.chosen)
    if work.kind in OF_POSTS and site.post is None:
        of_stock = ""
        if post is not None:
            usual, _ = timbers_for(replace(work, post="4x4"), rules.opened(metric), None)
            if usual.post != post:
                of_stock = f"the stock had no {usual.post} that makes it whole"
        said.append(Chosen(part="post", value=chosen.post, why=of_stock or why))
    if chosen.header and chosen.header != work.header:
        said.append(Chosen(part="header", value=chosen.header, why=why))
    if chosen.more_posts:
        said.append(Chosen(part="more_posts", value=chosen.more_posts, why=why))
    return replace(chosen, chosen=tuple(said))


def _too_slender(asked: _Asked, draft: Draft) -> Refused | None:
    request = asked.request
    most = asked.book.number("slenderness_most")
    if draft.slenderness <= most:
        return None
    shorter = Length(int(draft.work.insertion.eightieths * most / draft.slenderness))
    whole = shorter - Length(shorter.eightieths % PER_INCH)
    reason = f"a {draft.title} of that length would have L/d {draft.slenderness:.0f}, over {most:g}"
    if request.kind == "raker" and draft.work.rakers == 1:  # a pair is tied at the middle
        reason = f"{reason}, with no tie to hold it sideways"
        return Refused(reason=reason, nearest=request.model_copy(update={"rakers": 2}))
    return Refused(reason=reason, nearest=request.model_copy(update={"insertion": whole}))


def _too_weak(draft: Draft) -> Refused | None:
    """The weakest part that is not enough, and nothing that mends it is known."""
    if not draft.failing:
        return None
    return Refused(reason=not_enough(draft.failing[0], draft.work.writing))


def _clear_of_the_curb(draft: Draft, site: Site) -> None:
    """A heel near the edge may break it off, or slide off it."""
    if not site.curb or site.curb_at is None:
        return
    off = Length(abs((draft.pairs["base"].best - site.curb_at).eightieths))
    clear = draft.book.length("curb_edge_clear")
    if off < clear:
        near, far = draft.text(off), draft.text(clear)
        draft.before_load.append(f"the heel is {near} from the edge of the curb: keep {far} clear, move it")


def _along_the_wall(draft: Draft) -> None:
    """Where the row begins, and how far people keep away, as far as the wall is known."""
    work, book = draft.work, draft.book
    times = book.number("zone_times_height")
    if work.wall_height is not None:
        draft.place("clear zone", "out from the wall, free of people", clear_zone(work.wall_height, book))
        zone = Length(round(work.wall_height.eightieths * times))
        draft.place("collapse zone", "out from the wall: only under the officer in charge", zone)
    else:
        draft.before_load.append(f"wall height not said: the collapse zone reaches out {times:g} times that height")
    if work.wall_length is not None:
        left_over = work.wall_length - work.spacing * (work.rakers - 1)
        first = max(Length(0), Length(left_over.eightieths // 2))
        draft.place("first raker", "from the end of the wall, the others on centre from it", first)
        if first * 2 > work.spacing:
            draft.before_load.append("the row leaves more than half a spacing of wall at its ends: add a raker")
