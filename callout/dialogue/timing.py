"""What the passing of time does. Silence releases nothing: an unanswered readback is repeated once, then parked."""

from __future__ import annotations

from callout.dialogue.acts import Acts, Cause, said, voids
from callout.dialogue.asking import ask, next_part
from callout.dialogue.events import ROLES, Role, Spoken
from callout.dialogue.readback import readback_again
from callout.dialogue.state import Conversation, changed


def sides(now: Conversation) -> tuple[Role, ...]:
    """Who has a seat: with one source everyone speaks from the measurer's."""
    return ROLES[:1] if now.settings.one_source else ROLES


def set_back(now: Conversation, time: float) -> Conversation:
    """Where the clock was set back, the wait for an answer starts again."""
    for role in sides(now):
        seat = now.seat(role)
        if time < seat.since and not seat.standing_by:
            now = now.with_seat(role, changed(seat, since=time, spoken=False, ended=None))
    return now


def due(now: Conversation, cause: Cause) -> Acts:
    """What is due on both sides. After a stop word nothing is, and nothing while somebody stands by."""
    acts: Acts = ()
    for role in sides(now):
        if not now.halted and not now.seat(role).standing_by:
            acts += _due(now, cause.by(role))
    return acts


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


def _due(now: Conversation, cause: Cause) -> Acts:
    seat, settings = now.seat(cause.role), now.settings
    speaking = settings.seconds_a_word * (len(seat.last.split()) if seat.spoken else 0)
    waited = cause.time - (seat.since + speaking if seat.ended is None else seat.ended)
    waits = seat.pending
    if waits is not None:
        if not seat.again and waited >= settings.readback_again:
            return (readback_again(cause, waits, again=True),)
        if seat.again and waited >= settings.park_after:
            return (said(cause, "confirming.parked", "parked", meaning=waits.request, build_id=waits.build_id),)
    elif seat.relocates is not None and seat.half is None:
        if waited >= settings.readback_again + settings.park_after:
            return (*voids(now, cause), said(cause, "relocating.gave_up"))
    elif seat.half is not None and waited >= (settings.ask_again if seat.asked else settings.half_wait):
        return ask(now, cause, seat.asked or next_part(seat.half))
    return ()
