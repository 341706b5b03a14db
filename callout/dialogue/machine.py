"""The conversation as a pure state machine: `step(conversation, event)` gives the next state and what to do.

No clock, no device, no database: time comes in with the event, and every effect is a value for the rim to carry out,
in order. A record comes before the words it holds.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from callout.dialogue import answers, asking, builds, callouts, commands, timing, walking, wording
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
    Role,
    Say,
    Spoken,
    Tick,
    Uttered,
    WasSaid,
)
from callout.dialogue.evolve import evolve
from callout.dialogue.ports import Planner, Stock
from callout.dialogue.readback import repeat_readback
from callout.dialogue.settings import Settings, load_settings
from callout.dialogue.state import Conversation, Utterance, context
from callout.dialogue.turn import Turn, is_content
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
    before = now
    now = replace(now, time=event.time)
    if isinstance(event, Uttered):
        turn = _heard(now, event)
    elif isinstance(event, Key):
        turn = Turn(now, event.role, event.time, reads=now.settings.shown_counts)
        commands.press(turn, event.kind)
    elif isinstance(event, Tick):
        turn = timing.ticked(now, event.time)
    elif isinstance(event, Spoken):
        turn = Turn(timing.spoken(now, event), "logistics", event.time)
    elif isinstance(event, Fault):
        turn = Turn(now, "logistics", event.time)
        turn.write("error", event.text)
        if event.aloud and not now.halted:
            turn.say(f"trouble.{event.aloud}", to="both")
            turn.effects = [replace(it, kind="warning") if isinstance(it, Say) else it for it in turn.effects]
    elif isinstance(event, LookDue):
        turn = Turn(now, "logistics", event.time)
        if not now.halted:
            turn.say("standing.look_due", to="yard", number=wording.count(event.number), why=event.why)
    elif isinstance(event, Opened):
        turn = Turn(now, "logistics", event.time)
        turn.say("opening.one_source" if now.settings.one_source else "opening.two_sources", to="both")
    else:
        turn = _resumed(now, event)
    turn.write_heard()
    _next_in_queue(turn)
    now = _unheard(turn.now, turn.effects) if turn.now.settings.voiced else turn.now
    return now, (*turn.effects, *_listen(before, now))


def _next_in_queue(turn: Turn) -> None:
    """Once the readback of one caller is answered, that of the next is said."""
    seats: tuple[Role, ...] = ("measurer",) if turn.now.settings.one_source else ROLES
    for role in seats:
        seat = turn.now.seat(role)
        if seat.queue and not seat.waits and not turn.now.halted:
            turn.act_as(role)
            callouts.next_in_queue(turn)


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


def _heard(now: Conversation, event: Uttered) -> Turn:
    result = event.resolution
    turn = Turn(
        now, event.role, event.time, name=event.name or _own_name(result), certain=event.certain,
        resolution=result, text=event.text,
    )  # fmt: skip
    if _two_at_once(turn, event):
        return turn
    if isinstance(result, (Understood, Ambiguous)) and turn.seat.standing_by:
        turn.set_seat(standing_by=False, since=event.time, spoken=False)
    if isinstance(result, Understood):
        turn.set_seat(doubts=0)
        if isinstance(result.meaning, Command):
            commands.obey(turn, result.meaning)
        elif now.halted and asking.missing_parts(result.meaning):
            commands.stay_silent(turn)
        else:
            commands.wake(turn)
            callouts.heard_callout(turn, result.meaning)
    elif now.halted:
        if event.certain and not isinstance(result, Nothing):
            commands.stay_silent(turn)  # whoever types looks at the console; chatter on the air is answered by nothing
    elif isinstance(result, Ambiguous):
        asking.ask_doubtful(turn, result)
    elif isinstance(result, NotPossible):
        _not_possible(turn, result)
    elif isinstance(result, Near) and not turn.seat.waits:
        commands.ask_near(turn, result.likely, wording.text(result.sentence))
    elif isinstance(result, NotUnderstood):
        asking.not_understood(turn, result)
        if event.over_speech and not any(isinstance(effect, Say) for effect in turn.effects):
            turn.say("asking.say_again", "asked")  # what could not be taken is never answered with silence
    elif isinstance(result, Nothing):
        asking.unclear(turn, "nothing")
    return turn


#: Answers and words of the walk that change what is built. (The rest of the walk goes on while the measurer speaks.)
_DECIDES = frozenset({"affirm", "affirm_insertion", "short", "substitute"})


def _two_at_once(turn: Turn, event: Uttered) -> bool:
    """Two sides spoke at the same time, and both would change something: an open microphone may have heard the other
    side, so the one who is understood last is asked to say it again, and nothing is taken from it."""
    result, before = event.resolution, turn.now.utterance
    meaning = result.meaning if isinstance(result, Understood) else None
    changes = is_content(result) or (isinstance(meaning, Command) and meaning.command in _DECIDES)
    if event.until is None or turn.now.settings.one_source or not changes:
        return False
    said = Utterance(event.role, event.time, event.until)
    if before is not None and before.role != said.role and before.overlap(said) > turn.now.settings.at_once:
        turn.take_nothing()
        asking.unclear(turn, "two_at_once")
        return True
    turn.now = replace(turn.now, utterance=said)
    return False


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


def _not_possible(turn: Turn, result: NotPossible) -> None:
    """Heard, and not to be done: the reason is said. A callout that cannot be is new content all the same."""
    meaning, reason = result.meaning, wording.whole(result.reason)
    yard = turn.role == "logistics" or turn.now.settings.one_source
    if isinstance(meaning, Command) and meaning.command == "correction":
        callouts.corrected(turn, None, why=reason)
    elif isinstance(meaning, Command) and meaning.command in commands.WALKING and turn.now.walked is None and yard:
        walking.no_walk(turn)
    else:
        if is_content(result):
            turn.give_up_waiting(half=False, move=not isinstance(meaning, Callout), aloud=True)
        turn.say_text(reason, "refused", meaning=meaning)


def _resumed(now: Conversation, event: Resumed) -> Turn:
    """Started again: say where we were; ask nothing again that was confirmed."""
    turn = Turn(now, "logistics", event.time)
    if now.settings.voiced and now.walked is not None:  # whether it was said before the end, nobody knows
        card = walking.card_text(now.walked, now.walked.at)
        turn.now = replace(now, unheard={card: (now.walked.build_id, now.walked.card)})
    where = wording.sentence("opening.resumed", where=answers.where_we_were(now))
    if now.halted:
        turn.write("resumed", where)
    else:
        turn.say_text(where, "resumed", to="both")
    if now.confirmed is not None:
        turn.act_as(now.confirmed.role)
        commands.carry_out(turn, now.confirmed)
    if not turn.now.halted:
        walking.finish_moves(turn)
        builds.stock_moved(turn)  # a count may have reached the disk without what follows from it
    seats: tuple[Role, ...] = ("measurer",) if now.settings.one_source else ROLES
    for role in seats:
        turn.act_as(role)
        turn.wait_for_answer()
        if (waiting := turn.seat.pending) is not None and not turn.now.halted:
            repeat_readback(turn, waiting)  # an affirmative must answer words that were heard today
    return turn
