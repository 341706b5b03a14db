"""Callouts as they come in: joined with their other half, told apart from their twin, corrected, read back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from callout.dialogue import asking, confirming, looking, places, relocating, sizing, speakable, walking, wording
from callout.dialogue.acts import (
    Acts,
    Cause,
    folded,
    heard_half,
    heard_nothing,
    said,
    said_text,
    voids,
    waiting,
)
from callout.dialogue.asking import half_waits, missing_parts
from callout.dialogue.builds import free_number, plan, taken, twin
from callout.dialogue.readback import last_released, proposed, readback, readback_again
from callout.dialogue.records import Proposal, Role, WasAsked
from callout.dialogue.state import Conversation, OpenBuild, Pending, Seat
from callout.language.asides import stance
from callout.language.outcome import NotUnderstood
from callout.shoring.build import Build
from callout.values import Callout, Command


def heard_callout(now: Conversation, cause: Cause, called: Callout) -> Acts:
    """A callout, whole or in part: joined with its other half, told apart from its twin, read back. A part alone may be
    of the wall that is sized up."""
    if piece := sizing.piece_of(now, cause, called) or looking.lean_of_a_shore(now, cause, called):
        return piece
    seat = now.seat(cause.role)
    waits = seat.pending
    half = None if seat.half is None else Callout.model_validate(seat.half)
    goes_on = seat.patching or seat.changes is not None
    if waits is not None and _of_another(cause, waits):
        return _queued(cause, waits, called, proposed(cause, "callout", called, site=dict(now.site)))
    if waits is not None and waits.request is not None and called.insertion is None:
        return taken_up(now, cause, waits.request.merged(called), changes=waits)
    if half is not None and (called.insertion is None or half.insertion is None or goes_on):
        return taken_up(now, cause, half.merged(_settled(seat, called)).merged(called), joins=True)
    return taken_up(now, cause, called)


def _of_another(cause: Cause, waits: Pending) -> bool:
    """Whether what waits for an answer here is of another caller than the one who speaks."""
    return cause.name is not None and waits.name is not None and cause.name != waits.name


def _queued(cause: Cause, waits: Pending, called: Callout, proposal: Proposal) -> Acts:
    """The readback of another caller comes first, and is not void by this; what is whole is read back after it."""
    who, other = wording.who(cause.speaker), wording.who(waits.name or waits.role)
    if missing_parts(called):
        answer = said(cause, "confirming.other_first", "refused", who=who, other=other)
    else:
        behind = WasAsked(queued=proposal)
        answer = said(cause, "confirming.queued", "asked", meaning=called, what=behind, who=who, other=other)
    return (heard_nothing(cause), answer)


def next_in_queue(now: Conversation, cause: Cause, role: Role) -> Acts:
    """Read back what waited on this side behind the readback of another caller, once that is answered."""
    seat = now.seat(role)
    if not seat.queue or seat.waits or now.halted:
        return ()
    proposal = seat.queue[0]
    cause = replace(cause, role=role, name=proposal.name)
    request = Callout.model_validate(proposal.meaning)
    build = now.open.get(proposal.build_id or 0)
    if build is not None:
        return proposed_change(now, cause, build, request, from_queue=True)
    return _readback_of_new(now, cause, request, from_queue=True, facts=proposal.facts)


def _settled(seat: Seat, called: Callout) -> Callout:
    """What the answer to a doubt brings along: the details of the reading that it agrees with, where one alone does."""
    readings = [Callout.model_validate(reading) for reading in seat.readings]
    fit = [r for r in readings if all(r.said.get(name) == value for name, value in called.said.items())]
    return fit[0] if len(fit) == 1 else Callout()


def corrected(
    now: Conversation, cause: Cause, patch: Callout | None, why: str = "", number: int | None = None
) -> Acts:
    """"Correction": by part, by whole, or alone. With nothing waiting it proposes to change the last released build;
    with the number of a build, that one, whatever waits."""
    seat = now.seat(cause.role)
    waits = seat.pending or seat.parked
    if number is not None and patch is not None and patch.said:
        return _corrected_build(now, cause, number, patch)
    if seat.pending is not None and _of_another(cause, seat.pending):
        return _queued(cause, seat.pending, patch or Callout(), proposed(cause, "callout", patch))
    if patch is None or not patch.said:
        return _which_part(now, cause, why)
    if waits is not None and waits.request is not None:
        return taken_up(now, cause, waits.request.merged(patch), changes=waits)
    if seat.half is not None:
        return taken_up(now, cause, Callout.model_validate(seat.half).merged(patch), joins=True)
    if waits is None and (build := last_released(now, cause)) is not None:
        return proposed_change(now, cause, build, build.request.merged(patch))
    return taken_up(now, cause, patch)


def _corrected_build(now: Conversation, cause: Cause, number: int, patch: Callout) -> Acts:
    """ "Build one, correction twelve feet"."""
    build, waits = walking.by_number(now, number), now.seat(cause.role).pending
    if build is None:
        return (*voids(now, cause, aloud=True), walking.not_open(cause, number))
    if waits is not None and waits.kind == "change" and waits.build_id == build.build_id:
        return taken_up(now, cause, (waits.request or build.request).merged(patch), changes=waits)
    request = build.request.merged(patch)
    if waits is not None and _of_another(cause, waits):
        return _queued(cause, waits, request, proposed(cause, "change", request, build_id=build.build_id))
    return (*voids(now, cause, aloud=True), *proposed_change(now, cause, build, request))


def beside_a_readback(now: Conversation, cause: Cause, waits: Pending, result: NotUnderstood) -> Acts:
    """What is typed while `waits` is to be answered, and is not understood, may well change it: a yes that comes later
    must not be to words of before. A refusal is a bare "correction", which loses nothing, or drops it; what may change
    it has it read back once more. Nothing for what only approves, and for a callout of its own."""
    content, told = not asking.may_change(result), stance(result.words)
    if told in ("refuses", "drops") and "insertion" not in result.words:
        why = speakable.whole(result.reasons[0]) if content and result.reasons else ""
        drops = waits.request is None or (told == "drops" and not content)
        return confirming.negative(now, cause) if drops else _which_part(now, cause, why)
    if content or told == "approves":
        return ()
    seat = now.seat(cause.role)
    if seat.doubts >= now.settings.times_asked:  # twice at most: then it waits for "read back"
        return (said(cause, "confirming.put_aside", "parked", meaning=waits.request, build_id=waits.build_id),)
    again = readback_again(cause, waits)
    counted = replace(again, courtesies={**again.courtesies, "doubts": seat.doubts + 1})
    return (said(cause, "confirming.not_taken", "refused"), counted)


def _which_part(now: Conversation, cause: Cause, why: str) -> Acts:
    """ "Correction" alone: what waits cannot be affirmed any more, and the part that follows takes its place in it."""
    seat = now.seat(cause.role)
    waits = seat.pending or seat.parked
    kept = Callout.model_validate(seat.half) if seat.half is not None else None
    if waits is not None and waits.request is not None:
        kept = waits.request
    if kept is None:
        text = f"{why} {wording.sentence('confirming.correction')}".strip()
        return (*voids(now, cause), said_text(cause, text, "asked"))
    text = wording.sentence("confirming.which_part" if waits is None else "confirming.void_which_part")
    return (
        heard_half(cause, kept, fresh=seat.half is None, patching=True),
        *voids(now, cause, half=False, move=False),
        said_text(
            cause, f"{why} {text}".strip(), "asked", what=WasAsked(asked="part", times=1), courtesies=waiting(cause)
        ),
    )


def same_again(now: Conversation, cause: Cause, wanted: Command) -> Acts:
    """ "Same again", "same as build one": that callout once more, at the next free position."""
    every = {**now.open, **now.standing}
    like = [build for _, build in sorted(every.items()) if wanted.build in (None, build.number)]
    if not like:
        nothing = said(cause, "confirming.nothing_to_read_back", "refused")
        return (nothing if wanted.build is None else walking.not_open(cause, wanted.build),)
    position = free_number(now, now.next_id)
    return taken_up(now, cause, like[-1].request.model_copy(update={"position": position}))


def proposed_change(
    now: Conversation, cause: Cause, build: OpenBuild, request: Callout, undoes: str | None = None, *,
    from_queue: bool = False,
) -> Acts:  # fmt: skip
    """Read back another request for a build that is released already; the yard keeps the old one until then."""
    if refused := taken(now, cause, request, apart_from=build):
        return refused
    stands_for = feasible(plan(now, build.build_id, request, build.without))
    proposal = proposed(
        cause, "change", request, build_id=build.build_id, cannot=stands_for.cannot, undoes=undoes
    )
    return (
        readback(
            cause, stands_for.change, proposal, from_queue=from_queue, number=wording.count(build.number),
            callout=wording.callout(request, cause.stress), **stands_for.holes,
        ),
    )  # fmt: skip


@dataclass(frozen=True)
class Feasible:
    """Whether what is read back can be built: the sentences for a readback and for a change, and their holes."""

    readback: str
    change: str
    holes: Mapping[str, str]
    cannot: bool = False


def feasible(build: Build) -> Feasible:
    """What is wrong is said before anybody says yes, in one clause: what is refused and never released, or what the
    stock is short of; and the nearest that works."""
    if build.refused is not None:
        reason, refused = speakable.text(build.refused.reason), build.refused
        nearest = speakable.text(refused.instead) if refused.instead else ""
        if not nearest and refused.nearest is not None:
            nearest = wording.callout(refused.nearest)
        if nearest:
            holes = {"reason": reason, "nearest": nearest}
            return Feasible("confirming.readback_nearest", "confirming.change_nearest", holes, True)
        return Feasible("confirming.readback_refused", "confirming.change_refused", {"reason": reason}, True)
    if build.missing:
        holes = {"missing": wording.missing(build.missing, MOST_NAMED)}
        if build.remedies:
            holes["remedy"] = wording.remedy(build.remedies[0], holes["missing"])
            return Feasible("confirming.readback_short_works", "confirming.change_short_works", holes)
        return Feasible("confirming.readback_short", "confirming.change_short", holes)
    return Feasible("confirming.readback", "confirming.change", {})


#: Kinds of missing pieces that one clause names, each with all that lacks of it; the whole list is in the build.
MOST_NAMED = 2


def taken_up(
    now: Conversation, cause: Cause, request: Callout, *, changes: Pending | None = None, joins: bool = False
) -> Acts:
    """Read `request` back, or ask for what it lacks; what waited before is void.

    `changes` is the readback that it alters, `joins` is true when it completes a half.
    """
    seat = now.seat(cause.role)
    waits = changes or seat.pending
    relocates, change_of = seat.relocates, seat.changes if joins else None
    if waits is not None and waits.kind == "relocate":  # whatever is said of a place now is said of the new one
        relocates = waits.build_id
    if changes is not None and changes.kind == "change":
        change_of = changes.build_id
    # A readback of something else is void by this, which the new readback or question does not show.
    dropped = waits is not None and waits is not changes and waits.kind not in ("callout", "relocate")
    # "Several rakers": another part than their number counts none.
    uncounted = joins and seat.asked == "rakers" and request.rakers is None
    if missing_parts(request) or uncounted:
        half = heard_half(cause, request, fresh=not joins)
        acts = (half, *voids(now, cause, half=False, move=dropped, aloud=dropped))
        if uncounted:
            return (*acts, *asking.ask(folded(now, acts), cause, "rakers"))
        return (*acts, *half_waits(folded(now, acts), cause, request))
    if seat.pending is not None and seat.pending.kind == "callout" and seat.pending.request == request:
        return _readback_of_new(now, cause, request, same=True)
    acts = voids(now, cause, half=not joins, move=dropped, aloud=dropped)
    build = now.open.get(change_of or 0)
    if relocates is not None:
        return (*acts, *relocating.proposal(folded(now, acts), cause, request, relocates))
    if build is not None:
        return (*acts, *proposed_change(now, cause, build, request))
    refused = twin(now, cause, request) or taken(now, cause, request)
    return (*acts, *(refused or _readback_of_new(now, cause, request)))


def _readback_of_new(
    now: Conversation, cause: Cause, request: Callout, *, same: bool = False, from_queue: bool = False,
    facts: Mapping[str, Any] | None = None,
) -> Acts:  # fmt: skip
    """Read a whole callout back, with what is new of its place; the plan is worked out for it, and says here already
    what cannot be built and what the stock is short of. `facts` are of its place alone."""
    site = {**now.site, **(facts or {})}
    stands_for = feasible(plan(now, now.next_id, request, site=site))
    words = places.called(now, cause, request, site)
    proposal = proposed(cause, "callout", request, site=site, cannot=stands_for.cannot)
    whole = same and stands_for.readback == "confirming.readback"
    key = "confirming.same" if whole else stands_for.readback
    return (readback(cause, key, proposal, from_queue=from_queue, callout=words, **stands_for.holes),)
