"""Asking for what is missing or in doubt: one part at a time, twice at most, then the console takes over."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from callout.dialogue import wording
from callout.dialogue.events import WasAsked
from callout.dialogue.phrases import phrase
from callout.dialogue.state import state_name
from callout.dialogue.turn import Turn, looks_like_content
from callout.language.outcome import Ambiguous, NotUnderstood
from callout.values import Callout, Command

#: Shores without an angle: posts and frames stand or lie square.
SQUARE = frozenset(
    {"t", "double_t", "laced_post", "cribbing", "vertical_post", "horizontal", "window", "door"}
)


#: Parts that are asked for when they are missing: in doubt, they are dropped and asked for. A detail in doubt stays in
#: the readback, where the measurer hears it; dropped, its absence could be missed.
REQUIRED = frozenset({"insertion", "angle_deg"})
AFFIRMATIVES = frozenset({"affirm", "affirm_insertion"})

#: How the ears say that two people spoke at the same time.
TWO_AT_ONCE = "two at once"


def missing_parts(request: Callout) -> tuple[str, ...]:
    """What must still be said. Only the insertion and the angle are ever asked for."""
    return tuple(p for p in request.missing if not (p == "angle_deg" and request.kind in SQUARE))


def next_part(half: Mapping[str, Any]) -> str:
    """What is asked for next of a half: what it lacks; after a bare "correction" the part that is to be corrected."""
    missing = missing_parts(Callout.model_validate(half))
    return missing[0] if missing else "part"


def ask_for_missing(turn: Turn, half: Callout) -> None:
    """Typed, the other half is asked for at once; heard, it may still be on the way, so the clock asks."""
    turn.wait_for_answer(spoken=False)
    if turn.certain or turn.seat.asked is not None:
        ask(turn, missing_parts(half)[0])


def ask(turn: Turn, part: str) -> None:
    """Ask for one part, or hand over to the console when it was asked for often enough."""
    seat = turn.seat
    times = seat.times_asked + 1 if seat.asked == part else 1
    if times > turn.now.settings.times_asked:
        turn.give_up_waiting()
        turn.say("asking.console", "parked")
        return
    turn.say_text(question(part), "asked", what=WasAsked(asked=part, times=times))
    turn.wait_for_answer()


def question(part: str) -> str:
    """The question for one part of a callout."""
    return phrase(_QUESTIONS.get(part, "asking.other"), part=wording.part_of_callout(part))


_QUESTIONS = {"insertion": "asking.insertion", "angle_deg": "asking.angle_deg", "part": "asking.part"}


def ask_doubtful(turn: Turn, result: Ambiguous) -> None:
    """More than one meaning is within reach: keep what is sure of a callout and ask for the part in doubt alone."""
    if result.words.count("insertion") > 1 and "correction" not in result.words:
        turn.give_up_waiting()
        turn.say("asking.one_at_a_time", "asked")
        return
    if _unsure_affirmative(turn, result):
        turn.say("confirming.guard", "refused")
        return
    callouts = [c if isinstance(c, Callout) else c.patch for c in result.candidates]
    if not callouts or callouts[0] is None:
        unclear(turn, "twin")
        return
    seat = turn.seat
    before = Callout() if seat.half is None else Callout.model_validate(seat.half)
    if seat.pending is not None and seat.pending.request is not None:
        before = seat.pending.request
    fresh = callouts[0].insertion is not None and before.insertion is not None and not _goes_on(turn)
    kept = callouts[0] if fresh else before.merged(callouts[0])
    unsure = {part.name for part in result.parts if part.agreement not in (None, "agreed")} & REQUIRED
    # "three metres sixty": with the height in doubt, whether the sixty was an angle is in doubt too.
    # So is every other part: it may belong to the reading that the answer rules out.
    names = Callout.model_fields.keys() - {"kind"}
    readings = [c.model_copy(update=dict.fromkeys(unsure)) for c in callouts if c is not None]
    unsure |= {name for name in names if len({getattr(c, name) for c in readings}) > 1}
    kept = kept.model_copy(update=dict.fromkeys(unsure | ({result.ask} & names)))
    turn.keep_half(kept, fresh=fresh, readings=readings if len(readings) > 1 else ())
    turn.give_up_waiting(half=False, move=False)
    turn.wait_for_answer(spoken=False)
    ask(turn, result.ask)


def _goes_on(turn: Turn) -> bool:
    """Whether what is heard is about the same thing as before: a move, a change, a part after a bare "correction"."""
    seat = turn.seat
    about = seat.pending is not None and seat.pending.kind in ("relocate", "change")
    return about or seat.changes is not None or seat.patching


def _unsure_affirmative(turn: Turn, result: Ambiguous) -> bool:
    """One ear alone heard "affirm" while a readback waits: the longer form settles it."""
    meaning = result.meaning
    if len(result.candidates) != 1 or not isinstance(meaning, Command) or turn.seat.pending is None:
        return False
    return meaning.command in AFFIRMATIVES


def not_understood(turn: Turn, result: NotUnderstood) -> None:
    """Speech without a meaning. What looks like a callout is new content; chatter is not."""
    if any(TWO_AT_ONCE in reason for reason in result.reasons):
        unclear(turn, "two_at_once")
    elif looks_like_content(result):
        turn.give_up_waiting(half=_is_anew(turn, result), move=False)
        if turn.certain and result.reasons:  # typed: what was wrong with it is known for sure
            turn.say_text(wording.whole(result.reasons[0]), "refused")
        if result.missing or not _nearest(turn, result):
            unclear(turn, "half")
    elif turn.certain and not turn.seat.waits:
        if not _nearest(turn, result):
            turn.say("asking.not_understood", "refused")
    else:
        unclear(turn, "chatter")


#: Words of a height: said while a height is known already, they begin another callout.
_OF_A_HEIGHT = frozenset({"insertion", "feet", "foot", "inches", "metres", "meters"})


def _is_anew(turn: Turn, result: NotUnderstood) -> bool:
    """Whether what was not understood was a callout of its own, and not the part that was asked for: then half of the
    one before is void with it, or its height would return in the next."""
    half = turn.seat.half
    return half is not None and half.get("insertion") is not None and bool(_OF_A_HEIGHT & set(result.words))


def _nearest(turn: Turn, result: NotUnderstood) -> bool:
    """Say the nearest sentence to typed words, unless a question waits: then that comes first."""
    if not (turn.certain and result.nearest) or turn.seat.waits:
        return False
    turn.say("asking.nearest", "refused", nearest=wording.text(result.nearest[0]))
    return True


def _first_missing(half: Mapping[str, Any] | None) -> str:
    return "insertion" if half is None else next_part(half)


def unclear(turn: Turn, what: str) -> None:
    """Answer an utterance without a meaning as the table in `phrases.toml` says for this state."""
    key = f"unclear.{state_name(turn.now, turn.role)}.{what}"
    seat = turn.seat
    part = wording.part_of_callout(seat.asked or _first_missing(seat.half))
    if phrase(key, part=part):
        if seat.half is not None and seat.asked is not None:
            ask(turn, seat.asked)
        elif turn.certain or what == "two_at_once" or seat.doubts < turn.now.settings.times_asked:
            turn.say(key, "asked", what=WasAsked(unclear=what), part=part)
            turn.set_seat(doubts=seat.doubts + 1)
