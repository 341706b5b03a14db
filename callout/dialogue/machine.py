"""The conversation as a pure state machine: `step(conversation, event)` gives the next state and what to do.

No clock, no device, no database: time comes in with the event, and every effect is a value for the rim to carry out,
in order. A record comes before the words it holds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from callout.dialogue import answers, asking, builds, callouts, commands, readback, speakable, walking, wording
from callout.dialogue.acts import (
    Acts,
    Cause,
    aside,
    carry_out,
    folded,
    heard,
    heard_nothing,
    is_content,
    said,
    said_text,
    voids,
    waiting,
    written,
)
from callout.dialogue.events import (
    Effect,
    Fault,
    Input,
    Key,
    Listen,
    LookDue,
    Opened,
    Resumed,
    Say,
    Spoken,
    Tick,
    Uttered,
)
from callout.dialogue.evolve import evolve
from callout.dialogue.readback import answer_first, readback_again
from callout.dialogue.records import ROLES, Record, Role, WasSaid
from callout.dialogue.settings import Settings, load_settings
from callout.dialogue.state import Conversation, Utterance, changed, context
from callout.language import grammar
from callout.language.asides import goes_on
from callout.language.outcome import Ambiguous, Near, Nothing, NotPossible, NotUnderstood, Resolution, Understood
from callout.shoring.plan import Planner
from callout.shoring.stock import Stock
from callout.values import Callout, Command


def start(stock: Stock, planner: Planner, settings: Settings | None = None) -> Conversation:
    """A conversation that has not begun. Send `Opened` first, or `Resumed` after `restore`."""
    return Conversation(settings or load_settings(), planner, stock)


def restore(
    records: Iterable[Record], stock: Stock, planner: Planner, settings: Settings | None = None
) -> Conversation:
    """The conversation as it stood after `records`, in the order in which they were written.

    What was confirmed is confirmed, what waited still waits. Send `Resumed` next: it says where we were.
    """
    now = start(stock, planner, settings)
    for record in records:
        now = evolve(now, record)
    return now


def step(now: Conversation, event: Input) -> tuple[Conversation, tuple[Effect, ...]]:
    """The conversation after `event`, and the effects in the order in which they must happen."""
    before, now = now, _before(now, event)
    cause = replace(_cause(now, event), stood_by=_stood_by(before, event))
    now, effects = carry_out(now, _with_what_was_heard(cause, _decided(now, cause, event)))
    for role in _sides(now):  # once the readback of one caller is answered, that of the next is said
        now, more = carry_out(now, callouts.next_in_queue(now, cause, role))
        effects += more
    now = _unheard(now, effects) if now.settings.voiced else now
    return now, (*effects, *_listen(before, now))


def _before(now: Conversation, event: Input) -> Conversation:
    """What an event tells of clocks and of the voice, before anything is decided."""
    if isinstance(event, Spoken):
        return _spoken(now, event)
    if isinstance(event, Tick):
        return _set_back(now, event.time)
    if isinstance(event, Resumed):
        return _nothing_heard_yet(now)
    return _listening(now, event) if isinstance(event, Uttered) and not _two_at_once(now, event) else now


def _decided(now: Conversation, cause: Cause, event: Input) -> Acts:
    if isinstance(event, Uttered):
        return _answer(now, cause, event)
    if isinstance(event, Key):
        return commands.press(now, cause, event.kind)
    return _resumed(now, cause) if isinstance(event, Resumed) else _by_itself(now, cause, event)


def _with_what_was_heard(cause: Cause, acts: Acts) -> Acts:
    """It is written before everything that follows from it, once, even where nothing does."""
    if cause.resolution is None or any(act.event == "heard" for act in acts):
        return acts
    at = next((place for place, act in enumerate(acts) if act.event is not None), len(acts))
    return (*acts[:at], heard(cause), *acts[at:])


def _cause(now: Conversation, event: Input) -> Cause:
    one = now.settings.one_source
    if isinstance(event, Uttered):
        return Cause(
            event.role, event.time, one, name=event.name or _own_name(event.resolution), certain=event.certain,
            reads=event.certain, resolution=event.resolution, text=event.text, names_side=event.names_side,
        )  # fmt: skip
    if isinstance(event, Key):
        return Cause(event.role, event.time, one, reads=now.settings.shown_counts)
    return Cause("logistics", event.time, one)


def _by_itself(now: Conversation, cause: Cause, event: Input) -> Acts:
    """What is said that nobody asked for."""
    if isinstance(event, Opened):
        return (said(cause, "opening.one_source" if cause.one_source else "opening.two_sources", to="both"),)
    if isinstance(event, Tick):
        return _due(now, cause)
    if isinstance(event, Fault):
        broken = written(cause, "error", text=event.text)
        if not event.aloud or now.halted:
            return (broken,)
        return (broken, replace(said(cause, TROUBLE[event.aloud], to="both"), kind="warning"))
    if isinstance(event, LookDue) and not now.halted:
        return (said(cause, "standing.look_due", number=wording.count(event.number), why=event.why),)
    return ()


#: What people must hear of what broke at the rim, by its name in `Fault.aloud`.
TROUBLE = {
    "not_taught": "trouble.not_taught",
    "not_kept": "trouble.not_kept", "kept_again": "trouble.kept_again", "broken_journal": "trouble.broken_journal",
    "other_stock": "trouble.other_stock", "ear_lost": "trouble.ear_lost", "ears_lost": "trouble.ears_lost",
    "ears_back": "trouble.ears_back",
}  # fmt: skip


#: So many sentences that nobody heard are kept apart; what is older is kept only where somebody's answer hangs on it.
MOST_UNHEARD = 50


def _unheard(now: Conversation, effects: Iterable[Effect]) -> Conversation:
    """What the voice is asked to say was not heard yet; with each sentence the card that it is, if it is one, and which
    of its utterances."""
    unheard, card = dict(now.unheard), None
    said: Counter[tuple[int, int] | None] = Counter()
    for effect in effects:
        if isinstance(effect, Record):
            card = effect.what.at if isinstance(effect.what, WasSaid) else None
        elif isinstance(effect, Say):
            unheard.pop(effect.text, None)
            unheard[effect.text] = None if card is None else (*card, said[card])
            said.update([card])
    for text in list(unheard)[:-MOST_UNHEARD]:
        if not _must_be_heard(now, text, unheard[text]):
            del unheard[text]
    return replace(now, unheard=unheard)


def _must_be_heard(now: Conversation, text: str, card: tuple[int, int, int] | None) -> bool:
    """A readback that waits for its answer, and the card at which a walk stands."""
    waits = (seat.pending for seat in (now.measurer, now.logistics))
    at = ((build.build_id, build.card) for build in now.open.values())
    return any(one is not None and one.text == text for one in waits) or (card is not None and card[:2] in at)


def _listen(before: Conversation, now: Conversation) -> tuple[Listen, ...]:
    return tuple(Listen(role, context(now, role)) for role in ROLES if context(now, role) != context(before, role))


def _answer(now: Conversation, cause: Cause, event: Uttered) -> Acts:
    result = event.resolution
    if _two_at_once(now, event):
        return (heard_nothing(cause), *asking.unclear(now, cause, "two_at_once"))
    meaning = result.meaning if isinstance(result, Understood) else None
    if isinstance(meaning, Command):
        return commands.obey(now, cause, meaning)
    if meaning is not None:
        return _answer_to_callout(now, cause, meaning)
    if now.halted and event.certain and _carries_on(result):
        return commands.obey(now, cause, Command(command="go_ahead"))
    if now.halted:  # whoever types looks at the console; chatter on the air is answered by nothing
        return (commands.stay_silent(now, cause),) if event.certain and not isinstance(result, Nothing) else ()
    return _not_possible(now, cause, result) if isinstance(result, NotPossible) else _unclear(now, cause, event)


def _carries_on(result: Resolution) -> bool:
    """ "Carry on" after a stop word: the work goes on, and nothing of it is picked."""
    meaning = result.meaning if isinstance(result, NotPossible) else None
    return isinstance(meaning, Command) and meaning.command == "ready" and goes_on(result.words)


def _answer_to_callout(now: Conversation, cause: Cause, called: Callout) -> Acts:
    if now.halted and asking.missing_parts(called):
        return (commands.stay_silent(now, cause),)
    return commands.awake(now, cause, lambda now: callouts.heard_callout(now, cause, called))


def _unclear(now: Conversation, cause: Cause, event: Uttered) -> Acts:
    result, waits = event.resolution, now.seat(cause.role).pending
    if cause.certain and waits is not None and not isinstance(result, Nothing):
        if waits.kind == "near":  # whoever types something else does not answer the question
            ended = voids(now, cause)
            return (*ended, *_unclear(folded(now, ended), cause, event))
        if isinstance(result, NotUnderstood) and (answer := callouts.beside_a_readback(now, cause, waits, result)):
            return answer
    if isinstance(result, Ambiguous):
        return asking.doubtful(now, cause, result)
    if isinstance(result, Near) and not now.seat(cause.role).waits:
        return (readback.near(now, cause, result.likely, speakable.text(result.sentence)),)
    if isinstance(result, NotUnderstood):
        answer = asking.not_understood(now, cause, result)
        if event.over_speech and not any(act.to for act in answer):
            answer += (said(cause, "asking.say_again", "asked"),)  # it is never answered with silence
        return answer
    return ()  # a blank line, or no speech


def _stood_by(now: Conversation, event: Input) -> bool:
    return isinstance(event, Uttered) and now.seat(event.role).standing_by


def _listening(now: Conversation, event: Uttered) -> Conversation:
    """Whoever speaks stands by no longer; when two spoke at once is known by who spoke last."""
    result, seat = event.resolution, now.seat(event.role)
    if isinstance(result, (Understood, Ambiguous)) and seat.standing_by:
        seat = replace(seat, standing_by=False, since=event.time, spoken=False)
    if isinstance(result, Understood):
        seat = replace(seat, doubts=0)
    now = now.with_seat(now.seat_name(event.role), seat)
    utterance = _that_changes(now, event)
    return now if utterance is None else replace(now, utterance=utterance)


#: Answers and words of the walk that change what is built. (The rest of the walk goes on while the measurer speaks.)
_DECIDES = frozenset({"affirm", "affirm_insertion", "short", "substitute"})


def _that_changes(now: Conversation, event: Uttered) -> Utterance | None:
    """When it was spoken, of an utterance that would change something; None for any other, and where one source speaks
    for all."""
    result = event.resolution
    meaning = result.meaning if isinstance(result, Understood) else None
    changes = is_content(result) or (isinstance(meaning, Command) and meaning.command in _DECIDES)
    if event.until is None or now.settings.one_source or not changes:
        return None
    return Utterance(event.role, event.time, event.until)


def _two_at_once(now: Conversation, event: Uttered) -> bool:
    """Two sides spoke at the same time, and both would change something: an open microphone may have heard the other
    side, so the one who is understood last is asked to say it again, and nothing is taken from it."""
    said, before = _that_changes(now, event), now.utterance
    if said is None or before is None or before.role == said.role:
        return False
    return before.overlap(said) > now.settings.at_once


def _own_name(result: Resolution) -> str | None:
    """The name that a speaker gives: "this is team alpha" and "team alpha, insertion ..." name "team alpha". What is
    said after the name must be more than the name."""
    words, crew_at = result.words, grammar.load().crew_at
    if (own := crew_at(words)) and own < len(words):
        return " ".join(words[:own])
    for at in range(len(words) - 1):
        if words[at - 2 : at] == ("this", "is"):
            return " ".join(words[at : at + (crew_at(words, at) or 2)])
    return None


def _not_possible(now: Conversation, cause: Cause, result: NotPossible) -> Acts:
    """Heard, and not to be done: the reason is said. A callout that cannot be is new content all the same."""
    meaning, reason = result.meaning, speakable.whole(result.reason)
    if isinstance(meaning, Command) and (again := commands.carried_on(now, cause, meaning)):
        return again
    if isinstance(meaning, Command) and meaning.command == "correction":
        return callouts.corrected(now, cause, None, why=reason)
    if isinstance(meaning, Command) and meaning.command == "cancel" and now.seat(cause.role).pending is not None:
        return commands.obey(now, cause, meaning)  # what is read back has no number yet
    if isinstance(meaning, Command) and meaning.command in commands.LATER and (first := answer_first(now, cause)):
        return first
    if isinstance(meaning, Command) and meaning.command in commands.WALKING and now.walked is None and cause.in_yard:
        return walking.no_list(now, cause)
    void: Acts = ()
    if is_content(result):
        void = voids(now, cause, half=False, move=not isinstance(meaning, Callout), aloud=True)
    return (*void, said_text(cause, reason, "refused", meaning=meaning))


def _nothing_heard_yet(now: Conversation) -> Conversation:
    """Whether the card of the walk was said before the end, nobody knows."""
    if not now.settings.voiced or now.walked is None:
        return now
    parts = walking.card_parts(now.walked, now.walked.at)
    at = now.walked.build_id, now.walked.card
    return replace(now, unheard={text: (*at, part) for part, text in enumerate(parts)})


def _resumed(now: Conversation, cause: Cause) -> Acts:
    """Started again: say where we were; ask nothing again that was confirmed."""
    where = answers.where_we_were(now)
    if now.halted:
        acts: Acts = (written(cause, "resumed", text=wording.sentence("opening.resumed", where=where)),)
    else:
        acts = (said(cause, "opening.resumed", "resumed", to="both", where=where),)
    if now.confirmed is not None:
        acts += commands.confirmed(folded(now, acts), cause.by(now.confirmed.role), now.confirmed)
    if not folded(now, acts).halted:
        acts += walking.finish_moves(folded(now, acts), cause)
        acts += builds.after_a_count(folded(now, acts), cause)  # a count may have been kept, and nothing after it
    for role in _sides(now):
        mine, after = cause.by(role), folded(now, acts)
        acts += (aside(mine, **waiting(mine)),)
        if (waits := after.seat(role).pending) is not None and not after.halted:
            acts += (readback_again(mine, waits),)  # an affirmative must answer words that were heard today
    return acts


# What the passing of time does. Silence releases nothing: an unanswered readback is repeated once, then parked.


def _sides(now: Conversation) -> tuple[Role, ...]:
    """Who has a seat: with one source everyone speaks from the measurer's."""
    return ROLES[:1] if now.settings.one_source else ROLES


def _set_back(now: Conversation, time: float) -> Conversation:
    """Where the clock was set back, the wait for an answer starts again."""
    for role in _sides(now):
        seat = now.seat(role)
        if time < seat.since and not seat.standing_by:
            now = now.with_seat(role, changed(seat, since=time, spoken=False, ended=None))
    return now


def _due(now: Conversation, cause: Cause) -> Acts:
    """What is due on both sides. After a stop word nothing is, and nothing while somebody stands by."""
    acts: Acts = ()
    for role in _sides(now):
        if not now.halted and not now.seat(role).standing_by:
            acts += _due_here(now, cause.by(role))
    return acts


def _spoken(now: Conversation, event: Spoken) -> Conversation:
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


def _due_here(now: Conversation, cause: Cause) -> Acts:
    seat, settings = now.seat(cause.role), now.settings
    speaking = settings.seconds_a_word * (len(seat.last.split()) if seat.spoken else 0)
    waited = cause.time - (seat.since + speaking if seat.ended is None else seat.ended)
    waits = seat.pending
    if waits is not None:
        if not seat.again and waited >= settings.readback_again:
            return (readback_again(cause, waits, again=True),)
        if seat.again and waited >= settings.park_after:
            return (said(cause, "confirming.parked", "parked", meaning=waits.request, build_id=waits.build_id),)
    elif seat.teaching is not None and seat.half is None:
        if waited >= settings.readback_again + settings.park_after:
            return (*voids(now, cause), said(cause, "teaching.gave_up"))
    elif seat.relocates is not None and seat.half is None:
        if waited >= settings.readback_again + settings.park_after:
            return (*voids(now, cause), said(cause, "relocating.gave_up"))
    elif seat.half is not None and waited >= (settings.ask_again if seat.asked else settings.half_wait):
        return asking.ask(now, cause, seat.asked or asking.next_part(seat.half))
    return ()
