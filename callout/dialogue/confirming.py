"""The answers to a readback. Nothing is built from a value that was not read back and affirmed.

Only an affirmative that answers the latest readback of exactly that request releases it; "negative" and "disregard"
void it, "roger" is not a yes, and silence parks it (`machine`). What cannot be built is read back with
the reason and the nearest that can, and no affirmative releases it.
"""

from __future__ import annotations

from callout.dialogue import asking, wording
from callout.dialogue.acts import Acts, Cause, said, said_once, voids, written
from callout.dialogue.readback import readback_again
from callout.dialogue.records import WasAffirmed
from callout.dialogue.state import Conversation, Pending

#: An utterance as the ears hand it over begins so many seconds before its first word.
LEAD = 0.6


def answered(now: Conversation, cause: Cause, *, long: bool) -> Acts:
    """An affirmative (`long`: "affirm insertion"). What it confirms waits in `confirmed` then, to be carried out."""
    seat = now.seat(cause.role)
    waits = seat.pending
    if waits is None:
        return _answers_nothing(now, cause)
    if cause.name and waits.name and cause.name != waits.name:
        return (said(cause, "confirming.not_yours", "refused", who=wording.who(waits.name)),)
    if cause.time < seat.since or _unheard(now, cause, waits):
        return (said(cause, "confirming.too_early", "refused"), readback_again(cause, waits))
    if waits.shape.cannot:
        return (said(cause, "confirming.cannot", "refused"),)
    if cause.stood_by and waits.request is not None:  # to measure again, perhaps, or to ask somebody
        return (said(cause, "confirming.after_standing_by", "refused"), readback_again(cause, waits))
    if not _guarded(now, cause, long):
        both = now.settings.guard == "agreed_and_long" and long
        return (said(cause, "confirming.guard_both" if both else "confirming.guard", "refused"),)
    return _affirmed(cause, waits, keyed=False)


def _answers_nothing(now: Conversation, cause: Cause) -> Acts:
    seat, other = now.seat(cause.role), now.logistics if cause.seat == "measurer" else now.measurer
    if seat.half is not None:
        asked = asking.question(seat.asked or asking.next_part(seat.half))
        return (said(cause, "confirming.half_affirm", "refused", question=asked),)
    if seat.parked is not None:
        return (said_once(cause, "confirming.parked_affirm", "refused"),)
    if other.pending is not None:
        return (said_once(cause, "confirming.not_yours", "refused", who=wording.who(other.pending.role)),)
    return (said_once(cause, "confirming.nothing_to_affirm", "refused"),)


def keyed(now: Conversation, cause: Cause) -> Acts:
    """The key for the affirm: a person at the console affirms the latest readback for a measurer who is relayed, once
    its figures were said. The key means nothing else, whatever waits."""
    seat = now.seat(cause.role)
    waits = seat.pending
    if waits is None:
        key = "confirming.nothing_to_affirm" if seat.parked is None else "confirming.parked_affirm"
        return (said_once(cause, key, "refused"),)
    if waits.shape.cannot:
        return (said(cause, "confirming.cannot", "refused"),)
    if cause.time < seat.since or _unheard(now, cause, waits):
        return (said_once(cause, "confirming.too_early", "refused"),)
    return _affirmed(cause, waits, keyed=True)


def _unheard(now: Conversation, cause: Cause, waits: Pending) -> bool:
    """Whether the voice had not said yet the figures that a yes would answer, when it began. Who types, reads them."""
    if cause.reads:
        return False
    known = now.seat(cause.role).known
    early = not cause.certain and known is not None and cause.time + LEAD < known
    return early or waits.text in now.unheard


def _affirmed(cause: Cause, waits: Pending, *, keyed: bool) -> Acts:
    what = WasAffirmed(seat=cause.seat, keyed=keyed)
    return (
        written(
            cause, "affirmed", what, "keyed" if keyed else cause.text, speaker=cause.speaker, meaning=waits.request,
            build_id=waits.build_id,
        ),
    )  # fmt: skip


def _guarded(now: Conversation, cause: Cause, long: bool) -> bool:
    """The second guard: noise alone can be heard as a bare "affirm". Typed words and keys are certain."""
    guard = now.settings.guard
    if cause.certain:
        return True
    if guard == "agreed_or_long":
        return long or cause.ears_agree
    return long and (guard == "long" or cause.ears_agree)


def negative(now: Conversation, cause: Cause) -> Acts:
    """"Negative" to a readback or a question voids it."""
    seat = now.seat(cause.role)
    if not seat.waits:
        return (said_once(cause, "confirming.nothing_to_void", "refused"),)
    called = seat.pending.kind == "callout" if seat.pending is not None else seat.half is not None
    key = "confirming.voided" if called else "confirming.voided_other"
    return (*voids(now, cause), said(cause, key, "asked"))


def disregard(now: Conversation, cause: Cause) -> Acts:
    seat = now.seat(cause.role)
    if not (seat.waits or seat.parked):
        return (said_once(cause, "confirming.nothing_to_void", "refused"),)
    return (*voids(now, cause), said(cause, "confirming.disregarded"))


def roger(now: Conversation, cause: Cause) -> Acts:
    """Roger acknowledges; it is not a yes."""
    waits = now.seat(cause.role).pending
    if waits is None:
        return ()
    answer = wording.answers_to(waits.kind, cannot=waits.shape.cannot)
    return (said_once(cause, "confirming.roger", "refused", answer=answer),)
