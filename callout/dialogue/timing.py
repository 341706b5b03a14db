"""What the passing of time does. Silence releases nothing: an unanswered readback is repeated once, then parked."""

from __future__ import annotations

from callout.dialogue.asking import ask, next_part
from callout.dialogue.events import ROLES, Role, Spoken
from callout.dialogue.readback import repeat_readback
from callout.dialogue.state import Conversation, changed
from callout.dialogue.turn import Turn


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


def spoken(now: Conversation, event: Spoken) -> Conversation:
    """The voice is through with a sentence: whoever is to answer it has all their time from now on. What it has said
    the figures of was heard; what was cut before that was not, until it is said once more."""
    if event.how != "cut" and event.text in now.unheard:
        card = now.unheard[event.text]
        left = {text: at for text, at in now.unheard.items() if text != event.text and (at is None or at != card)}
        now = changed(now, unheard=left)
    for role in ROLES:
        seat = now.seat(role)
        if seat.spoken and seat.last == event.text and event.time >= seat.since:
            known = event.time if seat.known is None and event.how != "cut" else seat.known
            ended = seat.ended if event.how == "figures" else event.time
            now = now.with_seat(now.seat_name(role), changed(seat, known=known, ended=ended))
    return now


def _due(turn: Turn) -> None:
    seat, settings = turn.seat, turn.now.settings
    if turn.time < seat.since:  # the clock was set back: start the wait again
        turn.set_seat(since=turn.time, spoken=False, ended=None)
        return
    speaking = settings.seconds_a_word * (len(seat.last.split()) if seat.spoken else 0)
    waited = turn.time - (seat.since + speaking if seat.ended is None else seat.ended)
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
        ask(turn, seat.asked or next_part(seat.half))
