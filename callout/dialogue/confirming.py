"""Readback and what answers it. Nothing is built from a value that was not read back and affirmed.

Only an affirmative that answers the latest readback of exactly that request releases it; new content, "negative" and
"disregard" void it, "say again" repeats it, silence parks it.
"""

from __future__ import annotations

from typing import Any

from callout.dialogue import wording
from callout.dialogue.asking import ask_for_missing, missing_parts, question
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
        turn.give_up_waiting()
        turn.say("confirming.correction", "asked")
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
    read_back(
        turn, "confirming.change", "change", request, build_id=build.build_id, number=wording.count(build.number),
        callout=wording.callout(request, turn.stress),
    )  # fmt: skip


def last_released(turn: Turn) -> OpenBuild | None:
    """The build released last among those that whoever speaks may change."""
    mine = [b for b in turn.now.open.values() if turn.now.settings.one_source or b.role == turn.role]
    return max(mine, key=lambda b: b.build_id) if mine else None


def take(turn: Turn, request: Callout, *, changes: Pending | None = None, joins: bool = False) -> None:
    """Read `request` back, or ask for what it lacks; what waited before is void.

    `changes` is the readback that it alters, `joins` is true when it completes a half.
    """
    seat = turn.seat
    if missing_parts(request):
        turn.keep_half(request, fresh=not joins)
        if seat.pending or seat.parked:
            turn.give_up_waiting(half=False)
        ask_for_missing(turn, request)
        return
    if seat.pending is not None and seat.pending.kind == "callout" and seat.pending.request == request:
        read_back(turn, "confirming.same", "callout", request, callout=wording.callout(request))
        return
    turn.give_up_waiting(half=not joins)
    if changes is not None and changes.kind == "change":
        build = turn.now.open.get(changes.build_id or 0)
        if build is not None:
            propose_change(turn, build, request)
            return
    if (twin := twin_build(turn.now, request)) is not None:
        turn.say(
            "confirming.twin_build", "refused", number=wording.count(twin.number), meaning=request,
            build_id=twin.build_id,
        )  # fmt: skip
    elif (taken := at_position(turn.now, request.position)) is not None:
        turn.say(
            "confirming.position_taken", "refused", meaning=request, number=wording.count(taken.number),
            position=wording.count(taken.number),
        )  # fmt: skip
    else:
        _read_back_new(turn, request)


def _read_back_new(turn: Turn, request: Callout) -> None:
    """Read a whole callout back; practice speaks here already when no such shore exists."""
    words = wording.callout(request, turn.stress)
    refused = turn.now.planner.refusal(turn.now.next_id, request)
    if refused is None:
        read_back(turn, "confirming.readback", "callout", request, callout=words)
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


def read_back(
    turn: Turn, key: str, kind: str, request: Callout | None = None, *, shape: dict[str, Any] | None = None,
    build_id: int | None = None, **holes: str,
) -> None:  # fmt: skip
    """Read something back and let it wait for its affirmative in this seat."""
    pending = {
        "kind": kind, "role": turn.role, "name": turn.name, "build_id": build_id,
        "meaning": None if request is None else request.model_dump(mode="json"), **(shape or {}),
    }  # fmt: skip
    text = wording.sentence(key, **holes)
    turn.say_text(text, "readback", meaning=request, build_id=build_id, data={"pending": pending})
    turn.set_seat(since=turn.time, again=False, told=frozenset(), standing_by=False)


def repeat_readback(turn: Turn, waiting: Pending, *, again: bool = False) -> None:
    """Say a readback once more; it voids nothing, and an answer now answers this one."""
    text = waiting.text.removeprefix(wording.AGAIN)
    turn.say_text(
        wording.AGAIN + text, "readback", meaning=waiting.request, build_id=waiting.build_id,
        data={"pending": dict(waiting.shape)},
    )  # fmt: skip
    turn.set_seat(since=turn.time, again=again, told=frozenset(), standing_by=False)


def answered(turn: Turn, *, long: bool) -> Pending | None:
    """An affirmative (`long`: "affirm insertion"). Returns what it confirms, or None when it confirms nothing."""
    seat, waiting = turn.seat, turn.seat.pending
    if waiting is None:
        other = turn.now.logistics if turn.seat_name == "measurer" else turn.now.measurer
        if seat.parked is not None:
            turn.say_once("confirming.parked_affirm", "refused")
        elif other.pending is not None:
            turn.say_once("confirming.not_yours", "refused", role=other.pending.role)
        else:
            turn.say_once("confirming.nothing_to_affirm", "refused")
        return None
    if not turn.now.settings.one_source and turn.name and waiting.name and turn.name != waiting.name:
        turn.say("confirming.not_yours", "refused", role=waiting.name)
        return None
    if turn.time < seat.since:
        turn.say("confirming.too_early", "refused")
        repeat_readback(turn, waiting)
        return None
    if not _guarded(turn, long):
        both = turn.now.settings.guard == "agreed_and_long" and long
        turn.say("confirming.guard_both" if both else "confirming.guard", "refused")
        return None
    turn.write(
        "affirmed", turn.text, speaker=turn.speaker, meaning=waiting.request, build_id=waiting.build_id,
        seat=turn.seat_name,
    )  # fmt: skip
    return waiting


def _guarded(turn: Turn, long: bool) -> bool:
    """The second guard: noise alone can be heard as a bare "affirm". Typed words and keys are certain."""
    guard = turn.now.settings.guard
    if turn.certain:
        return True
    if guard == "agreed_or_long":
        return long or turn.ears_agree
    return long and (guard == "long" or turn.ears_agree)


def negative(turn: Turn) -> None:
    """"Negative" to a readback or a question voids it."""
    if turn.seat.waits:
        turn.give_up_waiting()
        turn.say("confirming.voided", "asked")
    else:
        turn.say_once("confirming.nothing_to_void", "refused")


def disregard(turn: Turn) -> None:
    if turn.seat.waits or turn.seat.parked:
        turn.give_up_waiting()
        turn.say("confirming.disregarded")
    else:
        turn.say_once("confirming.nothing_to_void", "refused")


def roger(turn: Turn) -> None:
    """Roger acknowledges; it is not a yes."""
    if turn.seat.pending is not None:
        turn.say_once("confirming.roger", "refused")


def say_again(turn: Turn) -> bool:
    """Repeat what waits for an answer here. False when nothing waits."""
    seat = turn.seat
    if seat.pending is not None:
        repeat_readback(turn, seat.pending)
        return True
    if seat.half is not None:
        part = seat.asked or missing_parts(Callout.model_validate(seat.half))[0]
        turn.say_text(question(part), "asked")
        return True
    return False


def read_back_again(turn: Turn) -> None:
    """"Read back": the pending readback, or the parked one taken up again, or the last released build."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if waiting is not None:
        repeat_readback(turn, waiting)
    elif (build := last_released(turn)) is not None:
        turn.say(
            "confirming.released", number=wording.count(build.number), callout=wording.callout(build.request),
            build_id=build.build_id,
        )  # fmt: skip
    else:
        turn.say("confirming.nothing_to_read_back", "refused")
