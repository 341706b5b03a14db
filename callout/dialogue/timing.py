"""What the passing of time does. Silence releases nothing: an unanswered readback is repeated once, then parked."""

from __future__ import annotations

from callout.dialogue.asking import ask, missing_parts
from callout.dialogue.inputs import Role
from callout.dialogue.readback import repeat_readback
from callout.dialogue.state import Conversation
from callout.dialogue.turn import Turn
from callout.values import Callout


def ticked(now: Conversation, time: float) -> Turn:
    """Let the clock say what is due in both seats. After a stop word it says nothing."""
    turn = Turn(now, "measurer", time)
    if now.halted:
        return turn
    seats: tuple[Role, ...] = ("measurer",) if now.settings.one_source else ("measurer", "logistics")
    for role in seats:
        turn.act_as(role)
        if not turn.seat.standing_by:
            _due(turn)
    return turn


def _due(turn: Turn) -> None:
    seat, settings = turn.seat, turn.now.settings
    if turn.time < seat.since:  # the clock was set back: start the wait again
        turn.set_seat(since=turn.time, spoken=False)
        return
    waited = turn.time - seat.since - settings.seconds_a_word * (len(seat.last.split()) if seat.spoken else 0)
    if seat.pending is not None:
        if not seat.again and waited >= settings.readback_again:
            repeat_readback(turn, seat.pending, again=True)
        elif seat.again and waited >= settings.park_after:
            turn.say("confirming.parked", "parked", meaning=seat.pending.request, build_id=seat.pending.build_id)
    elif seat.relocates is not None and seat.half is None:
        if waited >= settings.readback_again + settings.park_after:
            turn.give_up_waiting()
            turn.say("relocating.gave_up")
    elif seat.half is not None and waited >= (settings.ask_again if seat.asked else settings.half_wait):
        ask(turn, seat.asked or missing_parts(Callout.model_validate(seat.half))[0])
