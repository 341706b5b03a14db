"""Callouts as they come in: joined with their other half, told apart from their twin, corrected, read back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from callout.dialogue import places, relocating, wording
from callout.dialogue.asking import ask_for_missing, missing_parts
from callout.dialogue.builds import at_position, free_number, plan, refuse_taken, refuse_twin
from callout.dialogue.events import Proposal, WasAsked
from callout.dialogue.ports import Build
from callout.dialogue.readback import act, last_released, read_back
from callout.dialogue.state import OpenBuild, Pending, Seat
from callout.dialogue.turn import Turn
from callout.values import Callout, Command


def heard_callout(turn: Turn, said: Callout) -> None:
    """A callout, whole or in part: joined with its other half, told apart from its twin, read back."""
    seat = turn.seat
    waiting = seat.pending
    half = None if seat.half is None else Callout.model_validate(seat.half)
    goes_on = seat.patching or seat.changes is not None
    if waiting is not None and _of_another(turn, waiting):
        _queue(turn, said, act(turn, "callout", said, site=dict(turn.now.site)))
    elif waiting is not None and waiting.request is not None and said.insertion is None:
        take(turn, waiting.request.merged(said), changes=waiting)
    elif half is not None and (said.insertion is None or half.insertion is None or goes_on):
        take(turn, half.merged(_settled(seat, said)).merged(said), joins=True)
    else:
        take(turn, said)


def _of_another(turn: Turn, waiting: Pending) -> bool:
    """Whether what waits for an answer here is of another caller than the one who speaks."""
    return turn.name is not None and waiting.name is not None and turn.name != waiting.name


def _queue(turn: Turn, said: Callout, proposal: Proposal) -> None:
    """The readback of another caller comes first, and is not void by this; what is whole is read back after it."""
    waiting = turn.seat.pending
    turn.take_nothing()
    other = wording.who("" if waiting is None else waiting.name or waiting.role)
    if missing_parts(said):
        turn.say("confirming.other_first", "refused", who=wording.who(turn.speaker), other=other)
    else:
        turn.say(
            "confirming.queued", "asked", meaning=said, what=WasAsked(queued=proposal), who=wording.who(turn.speaker),
            other=other,
        )  # fmt: skip


def next_in_queue(turn: Turn) -> None:
    """Read back what waited behind the readback of another caller."""
    proposal = turn.seat.queue[0]
    request = Callout.model_validate(proposal.meaning)
    turn.name = proposal.name
    build = turn.now.open.get(proposal.build_id or 0)
    if build is not None:
        propose_change(turn, build, request, from_queue=True)
    else:
        _read_back_new(turn, request, from_queue=True)


def _settled(seat: Seat, said: Callout) -> Callout:
    """What the answer to a doubt brings along: the details of the reading that it agrees with, where one alone does."""
    readings = [Callout.model_validate(reading) for reading in seat.readings]
    fit = [r for r in readings if all(r.said.get(name) == value for name, value in said.said.items())]
    return fit[0] if len(fit) == 1 else Callout()


def corrected(turn: Turn, patch: Callout | None, why: str = "", number: int | None = None) -> None:
    """"Correction": by part, by whole, or alone. With nothing waiting it proposes to change the last released build;
    with the number of a build, that one, whatever waits."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if number is not None and patch is not None and patch.said:
        _correct_build(turn, number, patch)
    elif seat.pending is not None and _of_another(turn, seat.pending):
        _queue(turn, patch or Callout(), act(turn, "callout", patch))
    elif patch is None or not patch.said:
        _which_part(turn, why)
    elif waiting is not None and waiting.request is not None:
        take(turn, waiting.request.merged(patch), changes=waiting)
    elif seat.half is not None:
        take(turn, Callout.model_validate(seat.half).merged(patch), joins=True)
    elif waiting is None and (build := last_released(turn)) is not None:
        propose_change(turn, build, build.request.merged(patch))
    else:
        take(turn, patch)


def _correct_build(turn: Turn, number: int, patch: Callout) -> None:
    """ "Build one, correction twelve feet"."""
    build = at_position(turn.now, number)
    waiting = turn.seat.pending
    if build is None:
        turn.give_up_waiting(aloud=True)
        turn.say("walking.no_such_build", "refused", number=wording.count(number))
    elif waiting is not None and waiting.kind == "change" and waiting.build_id == build.build_id:
        take(turn, (waiting.request or build.request).merged(patch), changes=waiting)
    elif waiting is not None and _of_another(turn, waiting):
        request = build.request.merged(patch)
        _queue(turn, request, act(turn, "change", request, build_id=build.build_id))
    else:
        turn.give_up_waiting(aloud=True)
        propose_change(turn, build, build.request.merged(patch))


def _which_part(turn: Turn, why: str) -> None:
    """ "Correction" alone: what waits cannot be affirmed any more, and the part that follows takes its place in it."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    kept = Callout.model_validate(seat.half) if seat.half is not None else None
    if waiting is not None and waiting.request is not None:
        kept = waiting.request
    if kept is None:
        turn.give_up_waiting()
        turn.say_text(f"{why} {wording.sentence('confirming.correction')}".strip(), "asked")
        return
    turn.keep_half(kept, fresh=seat.half is None, patching=True)
    turn.give_up_waiting(half=False, move=False)
    text = wording.sentence("confirming.which_part" if waiting is None else "confirming.void_which_part")
    turn.say_text(f"{why} {text}".strip(), "asked", what=WasAsked(asked="part", times=1))
    turn.wait_for_answer()


def same_again(turn: Turn, said: Command) -> None:
    """ "Same again", "same as build one": that callout once more, at the next free position."""
    every = {**turn.now.open, **turn.now.standing}
    like = [build for _, build in sorted(every.items()) if said.build in (None, build.number)]
    if not like:
        key = "confirming.nothing_to_read_back" if said.build is None else "walking.no_such_build"
        turn.say(key, "refused", number=wording.count(said.build or 0))
        return
    position = free_number(turn.now, turn.now.next_id)
    take(turn, like[-1].request.model_copy(update={"position": position}))


def propose_change(
    turn: Turn, build: OpenBuild, request: Callout, undoes: str | None = None, *, from_queue: bool = False
) -> None:
    """Read back another request for a build that is released already; the yard keeps the old one until then."""
    if refuse_taken(turn, request, apart_from=build):
        return
    stands_for = feasible(turn, plan(turn.now, build.build_id, request, build.without))
    proposal = act(
        turn, "change", request, build_id=build.build_id, cannot=stands_for.cannot, undoes=undoes
    )
    read_back(
        turn, stands_for.change, proposal, from_queue=from_queue, number=wording.count(build.number),
        callout=wording.callout(request, turn.stress), **stands_for.holes,
    )  # fmt: skip


@dataclass(frozen=True)
class Feasible:
    """Whether what is read back can be built: the sentences for a readback and for a change, and their holes."""

    readback: str
    change: str
    holes: Mapping[str, str]
    cannot: bool = False


def feasible(turn: Turn, build: Build) -> Feasible:
    """What is wrong is said before anybody says yes, in one clause: what is refused and never released, or what the
    stock is short of; and the nearest that works."""
    if build.refused is not None:
        reason, refused = wording.text(build.refused.reason), build.refused
        nearest = wording.text(refused.instead) if refused.instead else ""
        if not nearest and refused.nearest is not None:
            nearest = wording.callout(refused.nearest)
        if nearest:
            holes = {"reason": reason, "nearest": nearest}
            return Feasible("confirming.readback_nearest", "confirming.change_nearest", holes, True)
        return Feasible("confirming.readback_refused", "confirming.change_refused", {"reason": reason}, True)
    if build.missing:
        holes = {"missing": wording.missing(build.missing[:MOST_NAMED])}
        if build.remedies:
            holes["remedy"] = wording.text(build.remedies[0].text)
            return Feasible("confirming.readback_short_works", "confirming.change_short_works", holes)
        return Feasible("confirming.readback_short", "confirming.change_short", holes)
    return Feasible("confirming.readback", "confirming.change", {})


#: Kinds of missing pieces that one clause names; the whole list is in the build.
MOST_NAMED = 2


def take(turn: Turn, request: Callout, *, changes: Pending | None = None, joins: bool = False) -> None:
    """Read `request` back, or ask for what it lacks; what waited before is void.

    `changes` is the readback that it alters, `joins` is true when it completes a half.
    """
    seat = turn.seat
    waiting = changes or seat.pending
    relocates, change_of = seat.relocates, seat.changes if joins else None
    if waiting is not None and waiting.kind == "relocate":  # whatever is said of a place now is said of the new one
        relocates = waiting.build_id
    if changes is not None and changes.kind == "change":
        change_of = changes.build_id
    # A readback of something else is void by this, which the new readback or question does not show.
    dropped = waiting is not None and waiting is not changes and waiting.kind not in ("callout", "relocate")
    if missing_parts(request):
        turn.keep_half(request, fresh=not joins)
        turn.give_up_waiting(half=False, move=dropped, aloud=dropped)
        ask_for_missing(turn, request)
        return
    if seat.pending is not None and seat.pending.kind == "callout" and seat.pending.request == request:
        _read_back_new(turn, request, same=True)
        return
    turn.give_up_waiting(half=not joins, move=dropped, aloud=dropped)
    build = turn.now.open.get(change_of or 0)
    if relocates is not None:
        relocating.propose(turn, request, relocates)
    elif build is not None:
        propose_change(turn, build, request)
    elif not (refuse_twin(turn, request) or refuse_taken(turn, request)):
        _read_back_new(turn, request)


def _read_back_new(turn: Turn, request: Callout, *, same: bool = False, from_queue: bool = False) -> None:
    """Read a whole callout back, with what is new of its place; the plan is worked out for it, and says here already
    what cannot be built and what the stock is short of."""
    stands_for = feasible(turn, plan(turn.now, turn.now.next_id, request))
    words = places.called(turn, request)
    proposal = act(turn, "callout", request, site=dict(turn.now.site), cannot=stands_for.cannot)
    whole = same and stands_for.readback == "confirming.readback"
    key = "confirming.same" if whole else stands_for.readback
    read_back(turn, key, proposal, from_queue=from_queue, callout=words, **stands_for.holes)
