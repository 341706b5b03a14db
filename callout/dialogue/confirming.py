"""The answers to a readback. Nothing is built from a value that was not read back and affirmed.

Only an affirmative that answers the latest readback of exactly that request releases it; "negative" and "disregard"
void it, "roger" is not a yes, and silence parks it (`callout.dialogue.timing`). What cannot be built is read back with
the reason and the nearest that can, and no affirmative releases it.
"""

from __future__ import annotations

from callout.dialogue import wording
from callout.dialogue.events import WasAffirmed
from callout.dialogue.readback import repeat_readback
from callout.dialogue.state import Pending
from callout.dialogue.turn import Turn

#: An utterance as the ears hand it over begins so many seconds before its first word.
LEAD = 0.6


def answered(turn: Turn, *, long: bool) -> Pending | None:
    """An affirmative (`long`: "affirm insertion"). Returns what it confirms, or None when it confirms nothing."""
    seat, waiting = turn.seat, turn.seat.pending
    if waiting is None:
        other = turn.now.logistics if turn.seat_name == "measurer" else turn.now.measurer
        if seat.parked is not None:
            turn.say_once("confirming.parked_affirm", "refused")
        elif other.pending is not None:
            turn.say_once("confirming.not_yours", "refused", who=wording.who(other.pending.role))
        else:
            turn.say_once("confirming.nothing_to_affirm", "refused")
        return None
    if turn.name and waiting.name and turn.name != waiting.name:
        turn.say("confirming.not_yours", "refused", who=wording.who(waiting.name))
        return None
    if turn.time < seat.since or _unheard(turn, waiting):
        turn.say("confirming.too_early", "refused")
        repeat_readback(turn, waiting)
        return None
    if waiting.shape.cannot:
        turn.say("confirming.cannot", "refused")
        return None
    if not _guarded(turn, long):
        both = turn.now.settings.guard == "agreed_and_long" and long
        turn.say("confirming.guard_both" if both else "confirming.guard", "refused")
        return None
    return _affirmed(turn, waiting, keyed=False)


def keyed(turn: Turn) -> Pending | None:
    """The key for the affirm: a person at the console affirms the latest readback for a measurer who is relayed, once
    its figures were said. The key means nothing else, whatever waits."""
    waiting = turn.seat.pending
    if waiting is None:
        key = "confirming.nothing_to_affirm" if turn.seat.parked is None else "confirming.parked_affirm"
        turn.say_once(key, "refused")
    elif waiting.shape.cannot:
        turn.say("confirming.cannot", "refused")
    elif turn.time < turn.seat.since or _unheard(turn, waiting):
        turn.say_once("confirming.too_early", "refused")
    else:
        return _affirmed(turn, waiting, keyed=True)
    return None


def _unheard(turn: Turn, waiting: Pending) -> bool:
    """Whether the voice had not said yet the figures that a yes would answer, when it began. Who types, reads them."""
    if turn.reads:
        return False
    known = turn.seat.known
    early = not turn.certain and known is not None and turn.time + LEAD < known
    return early or waiting.text in turn.now.unheard


def _affirmed(turn: Turn, waiting: Pending, *, keyed: bool) -> Pending:
    turn.write(
        "affirmed", "keyed" if keyed else turn.text, speaker=turn.speaker, meaning=waiting.request,
        build_id=waiting.build_id, what=WasAffirmed(seat=turn.seat_name, keyed=keyed),
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
        waiting = turn.seat.pending
        called = waiting.kind == "callout" if waiting is not None else turn.seat.half is not None
        turn.give_up_waiting()
        turn.say("confirming.voided" if called else "confirming.voided_other", "asked")
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
