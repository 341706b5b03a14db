"""Callouts as they come in: joined with their other half, told apart from their twin, corrected, read back."""

from __future__ import annotations

from callout.dialogue import places, relocating, wording
from callout.dialogue.asking import ask_for_missing, missing_parts
from callout.dialogue.ports import Site, knowing
from callout.dialogue.readback import last_released, read_back
from callout.dialogue.state import Conversation, OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.values import Callout


def heard_callout(turn: Turn, said: Callout) -> None:
    """A callout, whole or in part: joined with its other half, told apart from its twin, read back."""
    seat = turn.seat
    waiting = seat.pending
    half = None if seat.half is None else Callout.model_validate(seat.half)
    if waiting is not None and waiting.request is not None and said.insertion is None:
        take(turn, waiting.request.merged(said), changes=waiting)
    elif half is not None and (said.insertion is None or half.insertion is None):
        take(turn, half.merged(said), joins=True)
    else:
        take(turn, said)


def corrected(turn: Turn, patch: Callout | None) -> None:
    """"Correction": by part, by whole, or alone. With nothing waiting it proposes to change the last released build."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if patch is None or not patch.said:
        void = (waiting is not None and waiting.kind == "callout") or seat.half is not None
        turn.give_up_waiting()
        turn.say("confirming.voided" if void else "confirming.correction", "asked")  # a void callout has no parts left
    elif waiting is not None and waiting.request is not None:
        take(turn, waiting.request.merged(patch), changes=waiting)
    elif seat.half is not None:
        take(turn, Callout.model_validate(seat.half).merged(patch), joins=True)
    elif waiting is None and (build := last_released(turn)) is not None:
        propose_change(turn, build, build.request.merged(patch))
    else:
        take(turn, patch)


def propose_change(turn: Turn, build: OpenBuild, request: Callout) -> None:
    """Read back another request for a build that is released already; the yard keeps the old one until then."""
    taken = at_position(turn.now, request.position)
    if taken is not None and taken is not build:
        _refuse_position(turn, request, taken)
        return
    read_back(
        turn, "confirming.change", "change", request, build_id=build.build_id, number=wording.count(build.number),
        callout=wording.callout(request, turn.stress),
    )  # fmt: skip


def take(turn: Turn, request: Callout, *, changes: Pending | None = None, joins: bool = False) -> None:
    """Read `request` back, or ask for what it lacks; what waited before is void.

    `changes` is the readback that it alters, `joins` is true when it completes a half.
    """
    seat = turn.seat
    relocates = seat.relocates
    if changes is not None and changes.kind == "relocate":
        relocates = changes.build_id
    if missing_parts(request):
        turn.keep_half(request, fresh=not joins)
        turn.give_up_waiting(half=False, move=False)
        ask_for_missing(turn, request)
        return
    if seat.pending is not None and seat.pending.kind == "callout" and seat.pending.request == request:
        _read_back_new(turn, request, "confirming.same")
        return
    turn.give_up_waiting(half=not joins, move=False)
    build = turn.now.open.get(changes.build_id or 0) if changes is not None and changes.kind == "change" else None
    if relocates is not None:
        relocating.propose(turn, request, relocates)
    elif build is not None:
        propose_change(turn, build, request)
    elif (twin := twin_build(turn.now, request)) is not None:
        turn.say(
            "confirming.twin_build", "refused", number=wording.count(twin.number), meaning=request,
            build_id=twin.build_id,
        )  # fmt: skip
    elif (taken := at_position(turn.now, request.position)) is not None:
        _refuse_position(turn, request, taken)
    else:
        _read_back_new(turn, request)


def _refuse_position(turn: Turn, request: Callout, taken: OpenBuild) -> None:
    number = wording.count(taken.number)
    turn.say("confirming.position_taken", "refused", meaning=request, number=number, position=number)


def _read_back_new(turn: Turn, request: Callout, key: str = "confirming.readback") -> None:
    """Read a whole callout back, with what is known of its place; practice speaks here already when no such shore
    exists."""
    words = places.called(turn, request)
    planner = knowing(turn.now.planner, turn.now.next_id, Site.model_validate(turn.now.site))
    refused = planner.refusal(turn.now.next_id, request)
    if refused is None:
        read_back(turn, key, "callout", request, shape={"site": dict(turn.now.site)}, callout=words)
        return
    reason = wording.text(refused.reason)
    if refused.nearest is None:
        read_back(turn, "confirming.readback_refused", "callout", request, callout=words, reason=reason)
        return
    read_back(
        turn, "confirming.readback_nearest", "callout", request, callout=words, reason=reason,
        nearest=wording.callout(refused.nearest),
    )  # fmt: skip


def twin_build(now: Conversation, request: Callout) -> OpenBuild | None:
    """The open build that this callout was for already, word for word."""
    return next((build for build in now.open.values() if build.request == request), None)


def at_position(now: Conversation, position: int | None) -> OpenBuild | None:
    return next((build for build in now.open.values() if build.number == position), None)
