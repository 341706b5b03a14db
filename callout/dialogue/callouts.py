"""Callouts as they come in: joined with their other half, told apart from their twin, corrected, read back."""

from __future__ import annotations

from callout.dialogue import places, relocating, wording
from callout.dialogue.asking import ask_for_missing, missing_parts
from callout.dialogue.builds import refuse_taken, refuse_twin
from callout.dialogue.events import WasAsked
from callout.dialogue.ports import Refused, Site, knowing
from callout.dialogue.readback import act, last_released, read_back
from callout.dialogue.state import OpenBuild, Pending, Seat
from callout.dialogue.turn import Turn
from callout.values import Callout


def heard_callout(turn: Turn, said: Callout) -> None:
    """A callout, whole or in part: joined with its other half, told apart from its twin, read back."""
    seat = turn.seat
    waiting = seat.pending
    half = None if seat.half is None else Callout.model_validate(seat.half)
    goes_on = seat.patching or seat.changes is not None
    if waiting is not None and waiting.request is not None and said.insertion is None:
        take(turn, waiting.request.merged(said), changes=waiting)
    elif half is not None and (said.insertion is None or half.insertion is None or goes_on):
        take(turn, half.merged(_settled(seat, said)).merged(said), joins=True)
    else:
        take(turn, said)


def _settled(seat: Seat, said: Callout) -> Callout:
    """What the answer to a doubt brings along: the details of the reading that it agrees with, where one alone does."""
    readings = [Callout.model_validate(reading) for reading in seat.readings]
    fit = [r for r in readings if all(r.said.get(name) == value for name, value in said.said.items())]
    return fit[0] if len(fit) == 1 else Callout()


def corrected(turn: Turn, patch: Callout | None, why: str = "") -> None:
    """"Correction": by part, by whole, or alone. With nothing waiting it proposes to change the last released build."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if patch is None or not patch.said:
        _which_part(turn, why)
    elif waiting is not None and waiting.request is not None:
        take(turn, waiting.request.merged(patch), changes=waiting)
    elif seat.half is not None:
        take(turn, Callout.model_validate(seat.half).merged(patch), joins=True)
    elif waiting is None and (build := last_released(turn)) is not None:
        propose_change(turn, build, build.request.merged(patch))
    else:
        take(turn, patch)


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


def propose_change(turn: Turn, build: OpenBuild, request: Callout) -> None:
    """Read back another request for a build that is released already; the yard keeps the old one until then."""
    if refuse_taken(turn, request, apart_from=build):
        return
    known = knowing(turn.now.planner, build.build_id, build.build.site)
    key, reason, nearest = _practice(known.refusal(build.build_id, request, turn.now.stock), "change")
    read_back(
        turn, key, act(turn, "change", request, build_id=build.build_id, cannot=bool(reason)),
        number=wording.count(build.number), callout=wording.callout(request, turn.stress), reason=reason,
        nearest=nearest,
    )  # fmt: skip


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
        _read_back_new(turn, request, "same")
        return
    turn.give_up_waiting(half=not joins, move=dropped, aloud=dropped)
    build = turn.now.open.get(change_of or 0)
    if relocates is not None:
        relocating.propose(turn, request, relocates)
    elif build is not None:
        propose_change(turn, build, request)
    elif not (refuse_twin(turn, request) or refuse_taken(turn, request)):
        _read_back_new(turn, request)


def _read_back_new(turn: Turn, request: Callout, said: str = "readback") -> None:
    """Read a whole callout back, with what is known of its place; practice speaks here already when no such shore
    exists."""
    known = knowing(turn.now.planner, turn.now.next_id, Site.model_validate(turn.now.site))
    key, reason, nearest = _practice(known.refusal(turn.now.next_id, request, turn.now.stock), said)
    proposal = act(turn, "callout", request, site=dict(turn.now.site), cannot=bool(reason))
    read_back(turn, key, proposal, callout=places.called(turn, request), reason=reason, nearest=nearest)


def _practice(refused: Refused | None, said: str) -> tuple[str, str, str]:
    """The sentence for a readback; why no such shore can be built, and the nearest that can, or nothing."""
    if refused is None:
        return f"confirming.{said}", "", ""
    said, reason = said if said == "change" else "readback", wording.text(refused.reason)
    if refused.nearest is None:
        return f"confirming.{said}_refused", reason, ""
    return f"confirming.{said}_nearest", reason, wording.callout(refused.nearest)
