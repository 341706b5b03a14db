"""The conversation as a pure state machine: `step(conversation, event)` gives the next state and what to do.

No clock, no device, no database: time comes in with the event, and every effect is a value for the rim to carry out,
in order. A record comes before the words it holds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from callout.dialogue import acts, answers, asking, builds, callouts, commands, timing, walking, wording
from callout.dialogue.acts import Acts, Cause, is_content, said, written
from callout.dialogue.events import (
    ROLES,
    Effect,
    Fault,
    Input,
    Key,
    Listen,
    LookDue,
    Opened,
    Record,
    Resumed,
    Say,
    Spoken,
    Tick,
    Uttered,
    WasSaid,
)
from callout.dialogue.evolve import evolve
from callout.dialogue.ports import Planner, Stock
from callout.dialogue.readback import answer_first, readback_again
from callout.dialogue.settings import Settings, load_settings
from callout.dialogue.state import Conversation, Utterance, context
from callout.dialogue.turn import Turn
from callout.language.outcome import Ambiguous, Near, Nothing, NotPossible, NotUnderstood, Resolution, Understood
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
    before, now = now, replace(now, time=event.time)
    if isinstance(event, Spoken):
        now = timing.spoken(now, event)
    elif isinstance(event, Tick):
        now = timing.set_back(now, event.time)
    elif isinstance(event, Resumed):
        now = _nothing_heard_yet(now)
    turn = Turn(now, _cause(now, event))
    if isinstance(event, Uttered):
        _heard(turn, event)
    elif isinstance(event, Key):
        commands.press(turn, event.kind)
    elif isinstance(event, Resumed):
        _resumed(turn)
    else:
        turn.do(*_by_itself(turn.now, turn.cause, event))
    turn.write_heard()
    for role in timing.sides(turn.now):
        turn.do(*callouts.next_in_queue(turn.now, turn.cause, role))
    now = _unheard(turn.now, turn.effects) if turn.now.settings.voiced else turn.now
    return now, (*turn.effects, *_listen(before, now))


def _cause(now: Conversation, event: Input) -> Cause:
    one = now.settings.one_source
    if isinstance(event, Uttered):
        return Cause(
            event.role, event.time, one, event.name or _own_name(event.resolution), event.certain, event.certain,
            event.resolution, event.text,
        )  # fmt: skip
    if isinstance(event, Key):
        return Cause(event.role, event.time, one, reads=now.settings.shown_counts)
    return Cause("logistics", event.time, one)


def _by_itself(now: Conversation, cause: Cause, event: Input) -> Acts:
    """What is said that nobody asked for."""
    if isinstance(event, Opened):
        return (said(cause, "opening.one_source" if cause.one_source else "opening.two_sources", to="both"),)
    if isinstance(event, Tick):
        return timing.due(now, cause)
    if isinstance(event, Fault):
        broken = written(cause, "error", text=event.text)
        if not event.aloud or now.halted:
            return (broken,)
        return (broken, replace(said(cause, TROUBLE[event.aloud], to="both"), kind="warning"))
    if isinstance(event, LookDue) and not now.halted:
        return (said(cause, "standing.look_due", to="yard", number=wording.count(event.number), why=event.why),)
    return ()


#: What people must hear of what broke at the rim, by its name in `Fault.aloud`.
TROUBLE = {
    "not_kept": "trouble.not_kept", "kept_again": "trouble.kept_again", "broken_journal": "trouble.broken_journal",
    "other_stock": "trouble.other_stock", "ear_lost": "trouble.ear_lost", "ears_lost": "trouble.ears_lost",
    "ears_back": "trouble.ears_back",
}  # fmt: skip


#: So many sentences that nobody heard are kept apart; what is older is of no more use.
MOST_UNHEARD = 50


def _unheard(now: Conversation, effects: Iterable[Effect]) -> Conversation:
    """What the voice is asked to say was not heard yet; with each sentence the card that it is, if it is one."""
    unheard, card = dict(now.unheard), None
    for effect in effects:
        if isinstance(effect, Record):
            card = effect.what.at if isinstance(effect.what, WasSaid) else None
        elif isinstance(effect, Say):
            unheard.pop(effect.text, None)
            unheard[effect.text] = card
    return replace(now, unheard=dict(list(unheard.items())[-MOST_UNHEARD:]))


def _listen(before: Conversation, now: Conversation) -> tuple[Listen, ...]:
    return tuple(Listen(role, context(now, role)) for role in ROLES if context(now, role) != context(before, role))


def _heard(turn: Turn, event: Uttered) -> None:
    result, cause = event.resolution, turn.cause
    if _two_at_once(turn.now, event):
        turn.do(acts.heard_nothing(cause), *asking.unclear(turn.now, cause, "two_at_once"))
        return
    turn.now = _listening(turn.now, event)
    meaning = result.meaning if isinstance(result, Understood) else None
    if isinstance(meaning, Command):
        commands.obey(turn, meaning)
    elif meaning is not None:
        _heard_callout(turn, meaning)
    elif turn.now.halted:
        if event.certain and not isinstance(result, Nothing):
            commands.stay_silent(turn)  # whoever types looks at the console; chatter on the air is answered by nothing
    elif isinstance(result, NotPossible):
        turn.do(*_not_possible(turn.now, cause, result))
    else:
        turn.do(*_without_meaning(turn.now, cause, event))


def _heard_callout(turn: Turn, called: Callout) -> None:
    if turn.now.halted and asking.missing_parts(called):
        commands.stay_silent(turn)
        return
    commands.wake(turn)
    turn.do(*callouts.heard_callout(turn.now, turn.cause, called))


def _without_meaning(now: Conversation, cause: Cause, event: Uttered) -> Acts:
    result = event.resolution
    if isinstance(result, Ambiguous):
        return asking.doubtful(now, cause, result)
    if isinstance(result, Near) and not now.seat(cause.role).waits:
        return commands.near(cause, result.likely, wording.text(result.sentence))
    if isinstance(result, NotUnderstood):
        answer = asking.not_understood(now, cause, result)
        if event.over_speech and not any(act.to for act in answer):
            answer += (said(cause, "asking.say_again", "asked"),)  # it is never answered with silence
        return answer
    return asking.unclear(now, cause, "nothing") if isinstance(result, Nothing) else ()


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


#: Kinds of crew, the first words of a callsign.
_KINDS_OF_TWO = frozenset({("task", "force"), ("strike", "team")})
_KINDS_OF_ONE = frozenset({"team", "squad", "crew", "engine", "truck", "rescue", "ladder", "unit", "section"})


def _own_name(result: Resolution) -> str | None:
    """The name that a speaker gives: "this is team alpha" and "team alpha, insertion ..." name "team alpha"."""
    caller = next((part.value for part in result.parts if part.name == "caller"), None)
    if isinstance(caller, str):
        return caller
    words = result.words
    if len(words) > 3 and words[:2] in _KINDS_OF_TWO:
        return " ".join(words[:3])
    if len(words) > 2 and words[0] in _KINDS_OF_ONE:
        return " ".join(words[:2])
    for at in range(len(words) - 3):
        if words[at : at + 2] == ("this", "is"):
            length = 3 if words[at + 2 : at + 4] in _KINDS_OF_TWO else 2
            return " ".join(words[at + 2 : at + 2 + length])
    return None


def _not_possible(now: Conversation, cause: Cause, result: NotPossible) -> Acts:
    """Heard, and not to be done: the reason is said. A callout that cannot be is new content all the same."""
    meaning, reason = result.meaning, wording.whole(result.reason)
    yard = cause.role == "logistics" or cause.one_source
    if isinstance(meaning, Command) and meaning.command == "correction":
        return callouts.corrected(now, cause, None, why=reason)
    if isinstance(meaning, Command) and meaning.command in commands.LATER and (first := answer_first(now, cause)):
        return first
    if isinstance(meaning, Command) and meaning.command in commands.WALKING and now.walked is None and yard:
        return walking.no_list(now, cause)
    void: Acts = ()
    if is_content(result):
        void = acts.voids(now, cause, half=False, move=not isinstance(meaning, Callout), aloud=True)
    return (*void, acts.said_text(cause, reason, "refused", meaning=meaning))


def _nothing_heard_yet(now: Conversation) -> Conversation:
    """Whether the card of the walk was said before the end, nobody knows."""
    if not now.settings.voiced or now.walked is None:
        return now
    card = walking.card_text(now.walked, now.walked.at)
    return replace(now, unheard={card: (now.walked.build_id, now.walked.card)})


def _resumed(turn: Turn) -> None:
    """Started again: say where we were; ask nothing again that was confirmed."""
    now = turn.now
    if now.halted:
        where = wording.sentence("opening.resumed", where=answers.where_we_were(now))
        turn.do(written(turn.cause, "resumed", text=where))
    else:
        turn.do(said(turn.cause, "opening.resumed", "resumed", to="both", where=answers.where_we_were(now)))
    if now.confirmed is not None:
        turn.act_as(now.confirmed.role)
        commands.do_confirmed(turn)
    if not turn.now.halted:
        walking.finish_moves(turn)
        builds.stock_moved(turn)  # a count may have reached the disk without what follows from it
    for role in timing.sides(turn.now):
        turn.act_as(role)
        turn.wait_for_answer()
        if (waits := turn.seat.pending) is not None and not turn.now.halted:
            turn.do(readback_again(turn.cause, waits))  # an affirmative must answer words that were heard today
