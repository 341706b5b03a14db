"""Asking for what is missing or in doubt: one part at a time, twice at most, then the console takes over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from callout.dialogue import speakable, wording
from callout.dialogue.acts import (
    Acts,
    Cause,
    aside,
    folded,
    heard,
    heard_half,
    looks_like_content,
    said,
    said_text,
    voids,
    waiting,
)
from callout.dialogue.records import WasAsked
from callout.dialogue.state import Conversation, Seat, state_name
from callout.language.outcome import Ambiguous, Guess, NotUnderstood
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


def half_waits(now: Conversation, cause: Cause, half: Callout) -> Acts:
    """Typed, the other half is asked for at once; heard, it may still be on the way, so the clock asks."""
    if cause.certain or now.seat(cause.role).asked is not None:
        return ask(now, cause, missing_parts(half)[0])
    return ()


def ask(now: Conversation, cause: Cause, part: str, guesses: Sequence[Guess] = ()) -> Acts:
    """Ask for one part, with what it was likeliest heard as, or hand over to the console when it was asked for often
    enough. The guess is no readback: only the part itself, said again, takes it."""
    seat = now.seat(cause.role)
    times = seat.times_asked + 1 if seat.asked == part else 1
    if times > now.settings.times_asked:
        return (*voids(now, cause), said(cause, "asking.console", "parked"))
    what, begins = WasAsked(asked=part, times=times), waiting(cause)
    guess = next((wording.guess(guess.value) for guess in guesses if guess.name == part), None)
    if guess is not None:
        asked = question(part)
        return (said(cause, "asking.guess", "asked", what=what, courtesies=begins, guess=guess, question=asked),)
    key, name = _QUESTIONS.get(part, "asking.other"), wording.part_of_callout(part)
    return (said(cause, key, "asked", what=what, courtesies=begins, part=name),)


def question(part: str) -> str:
    """The question for one part of a callout."""
    return wording.sentence(_QUESTIONS.get(part, "asking.other"), part=wording.part_of_callout(part))


def question_of_teaching(known: Mapping[str, str | None]) -> str:
    """What is asked for next of words that are to be taught."""
    key, holes = asked_of_teaching(known)
    return wording.sentence(key, **holes)


def asked_of_teaching(known: Mapping[str, str | None]) -> tuple[str, dict[str, str]]:
    """That question by the name of its sentence, and what goes into it."""
    command = known.get("command")
    return ("teaching.which", {}) if command is None else ("teaching.words", {"command": wording.command(command)})


_QUESTIONS = {
    "insertion": "asking.insertion", "angle_deg": "asking.angle_deg", "part": "asking.part", "rakers": "asking.rakers",
}  # fmt: skip


def doubtful(now: Conversation, cause: Cause, result: Ambiguous) -> Acts:
    """More than one meaning is within reach: keep what is sure of a callout and ask for the part in doubt alone."""
    seat = now.seat(cause.role)
    if result.words.count("insertion") > 1 and "correction" not in result.words:
        return (*voids(now, cause), said(cause, "asking.one_at_a_time", "asked"))
    if _unsure_affirmative(seat, result):
        return (said(cause, "confirming.guard", "refused"),)
    callouts = [c if isinstance(c, Callout) else c.patch for c in result.candidates]
    if not callouts or callouts[0] is None:
        return unclear(now, cause, "twin")
    before = Callout() if seat.half is None else Callout.model_validate(seat.half)
    if seat.pending is not None and seat.pending.request is not None:
        before = seat.pending.request
    new = isinstance(result.meaning, Callout) and callouts[0].insertion is not None  # and no correction
    fresh = new and before.insertion is not None and not _goes_on(seat)
    kept = callouts[0] if fresh else before.merged(callouts[0])
    unsure = {part.name for part in result.parts if part.agreement not in (None, "agreed")} & REQUIRED
    # "three metres sixty": with the height in doubt, whether the sixty was an angle is in doubt too.
    # So is every other part: it may belong to the reading that the answer rules out.
    names = Callout.model_fields.keys() - {"kind"}
    readings = [c.model_copy(update=dict.fromkeys(unsure)) for c in callouts if c is not None]
    unsure |= {name for name in names if len({getattr(c, name) for c in readings}) > 1}
    kept = kept.model_copy(update=dict.fromkeys(unsure | ({result.ask} & names)))
    half = heard_half(cause, kept, fresh=fresh, readings=readings if len(readings) > 1 else ())
    acts = (half, *voids(now, cause, half=False, move=False))
    # What the doubt was about counts when it is heard again: until the next wait for an answer, and through no restart.
    guesses = tuple(guess for guess in result.guesses if guess.name in REQUIRED & unsure)
    return (*acts, *ask(folded(now, acts), cause, result.ask, guesses), aside(cause, guesses=guesses))


def _goes_on(seat: Seat) -> bool:
    """Whether what is heard is about the same thing as before: a move, a change, a part after a bare "correction"."""
    about = seat.pending is not None and seat.pending.kind in ("relocate", "change")
    return about or seat.changes is not None or seat.patching


def _unsure_affirmative(seat: Seat, result: Ambiguous) -> bool:
    """One ear alone heard "affirm" while a readback waits: the longer form settles it."""
    meaning = result.meaning
    if len(result.candidates) != 1 or not isinstance(meaning, Command) or seat.pending is None:
        return False
    return meaning.command in AFFIRMATIVES


def may_change(result: NotUnderstood) -> bool:
    """Whether words without a meaning, said to a readback, are neither a callout of their own nor two people's."""
    return not looks_like_content(result) and not _of_two(result)


def _of_two(result: NotUnderstood) -> bool:
    return any(TWO_AT_ONCE in reason for reason in result.reasons)


def not_understood(now: Conversation, cause: Cause, result: NotUnderstood) -> Acts:
    """Speech without a meaning. What looks like a callout is new content; chatter is not."""
    if _of_two(result):
        return unclear(now, cause, "two_at_once")
    lost = (aside(cause, lost=cause.text),) if cause.certain else ()  # "teach that as ready"
    return (*lost, *_not_understood(now, cause, result))


def _not_understood(now: Conversation, cause: Cause, result: NotUnderstood) -> Acts:
    if looks_like_content(result):
        return _like_a_callout(now, cause, result)
    if cause.certain and not now.seat(cause.role).waits:
        return _nearest(now, cause, result) or (said(cause, "asking.not_understood", "refused"),)
    return unclear(now, cause, "chatter")


def _like_a_callout(now: Conversation, cause: Cause, result: NotUnderstood) -> Acts:
    acts = (heard(cause), *voids(now, cause, half=_is_anew(now.seat(cause.role), result), move=False))
    if cause.certain and result.reasons:  # typed: what was wrong with it is known for sure
        acts += (said_text(cause, speakable.whole(result.reasons[0]), "refused"),)
    after = folded(now, acts)
    nearest = () if result.missing else _nearest(after, cause, result)
    return acts + (nearest or unclear(after, cause, "half"))


#: Words of a height: said while a height is known already, they begin another callout.
_OF_A_HEIGHT = frozenset({"insertion", "feet", "foot", "inches", "metres", "meters"})


def _is_anew(seat: Seat, result: NotUnderstood) -> bool:
    """Whether what was not understood was a callout of its own, and not the part that was asked for: then half of the
    one before is void with it, or its height would return in the next."""
    half = seat.half
    return half is not None and half.get("insertion") is not None and bool(_OF_A_HEIGHT & set(result.words))


def _nearest(now: Conversation, cause: Cause, result: NotUnderstood) -> Acts:
    """The nearest sentence to typed words, unless a question waits: then that comes first."""
    if not (cause.certain and result.nearest) or now.seat(cause.role).waits:
        return ()
    return (said(cause, "asking.nearest", "refused", nearest=speakable.text(result.nearest[0])),)


def _first_missing(half: Mapping[str, Any] | None) -> str:
    return "insertion" if half is None else next_part(half)


#: Kinds of utterances without a meaning, and the answer to each where nothing waits, half a callout, or a readback.
#: What is not here is answered by silence: on a busy channel nobody wants an answer to chatter.
Unclear = Literal["chatter", "half", "twin", "two_at_once"]
_NOTHING_WAITS: Mapping[Unclear, str] = {
    "half": "unclear.open.half", "twin": "unclear.open.twin", "two_at_once": "unclear.open.two_at_once",
}  # fmt: skip
_HALF_WAITS: Mapping[Unclear, str] = {
    "chatter": "unclear.gather.chatter", "half": "unclear.gather.half", "twin": "unclear.gather.twin",
    "two_at_once": "unclear.gather.two_at_once",
}  # fmt: skip
_READBACK_WAITS: Mapping[Unclear, str] = {
    "chatter": "unclear.confirm.chatter", "half": "unclear.confirm.half", "twin": "unclear.confirm.twin",
    "two_at_once": "unclear.confirm.two_at_once",
}  # fmt: skip

#: Words that were not heard surely are asked for once more.
_TEACHING: Mapping[Unclear, str] = {
    "chatter": "unclear.teach.chatter", "half": "unclear.teach.half", "twin": "unclear.teach.twin",
    "two_at_once": "unclear.teach.two_at_once",
}  # fmt: skip

#: By state.
UNCLEAR: Mapping[str, Mapping[Unclear, str]] = {
    "idle": _NOTHING_WAITS, "walk": _NOTHING_WAITS, "assembly": _NOTHING_WAITS,
    "gather": _HALF_WAITS, "gather_walk": _HALF_WAITS,
    "confirm": _READBACK_WAITS, "confirm_walk": _READBACK_WAITS,
    "teach": _TEACHING, "teach_words": _TEACHING, "halted": {},
}  # fmt: skip


def unclear(now: Conversation, cause: Cause, what: Unclear) -> Acts:
    """Answer an utterance without a meaning as the state has it."""
    key, seat = UNCLEAR[state_name(now, cause.role)].get(what), now.seat(cause.role)
    if key is None:
        return ()
    if seat.half is not None and seat.asked is not None:
        return ask(now, cause, seat.asked)
    if cause.certain or what == "two_at_once" or seat.doubts < now.settings.times_asked:
        part = wording.part_of_callout(seat.asked or _first_missing(seat.half))
        asked = WasAsked(unclear=what)
        waits = seat.pending
        answer = "" if waits is None else wording.answers_to(waits.kind, cannot=waits.shape.cannot)
        doubts = {"doubts": seat.doubts + 1}
        return (said(cause, key, "asked", what=asked, courtesies=doubts, part=part, answer=answer),)
    return ()
