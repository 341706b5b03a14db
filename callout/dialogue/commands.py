"""What each command of the grammar does: one table from its name to the act."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Literal

from callout.dialogue import (
    answers,
    asking,
    builds,
    callouts,
    confirming,
    handing_over,
    looking,
    moving,
    places,
    readback,
    relocating,
    shortages,
    sizing,
    standing,
    stock_lines,
    supplying,
    teaching,
    undoing,
    walking,
    wording,
)
from callout.dialogue.acts import (
    Act,
    Acts,
    Cause,
    aside,
    folded,
    quiet,
    said,
    said_once,
    said_text,
    voids,
    written,
)
from callout.dialogue.events import ChangeVoice, Pace, Unpair
from callout.dialogue.records import ROLES, WasHalted, WasParked, WasSaid
from callout.dialogue.state import Conversation, OpenBuild, Pending
from callout.dialogue.walk_words import WALK_WORDS
from callout.language.asides import goes_on
from callout.language.commands import commands, commands_that
from callout.values import Command

#: After a stop word the voice stays silent until one of these, or a whole callout, is heard.
WAKING = commands_that("wake")
STOP_WORDS = commands_that("alarm")


def obey(now: Conversation, cause: Cause, order: Command) -> Acts:
    """What one command does, whoever said it, in whatever state."""
    name = order.command
    ends = () if now.halted else _question_ends(now, cause, name)
    acts = (*_list_ends(now, cause), *ends)
    now = folded(now, ends)
    if name in STOP_WORDS:
        return (*acts, *_alarm(now, cause, name))
    if now.halted and name not in WAKING:
        return (*acts, stay_silent(now, cause))
    if not now.halted and teaching.asks_command(now, cause) and name not in teaching.THEMSELVES:
        return (*acts, *teaching.meant(now, cause, order))
    if name in WALK_WORDS:
        return (*acts, *_in_the_walk(now, cause, order))
    if name in _ANYWHERE:
        return (*acts, *awake(now, cause, lambda now: _ANYWHERE[name](now, cause, order)))
    return (*acts, *asking.unclear(now, cause, "chatter"))


def _list_ends(now: Conversation, cause: Cause) -> Acts:
    """A list that waits to be asked for more begins anew after any command. (Its own word says how far it was read.)"""
    return () if now.seat(cause.role).listed is None else (aside(cause, listed=None),)


def _question_ends(now: Conversation, cause: Cause, name: str) -> Acts:
    """ "Short two?" asks what was meant. Any command that answers it in its own way is the answer: a yes after that
    must not be one to the question."""
    waits = now.seat(cause.role).pending
    if waits is None or waits.kind != "near" or name in _LEAVES_A_QUESTION:
        return ()
    return voids(now, cause)


#: What is said to a question, or leaves it standing.
_LEAVES_A_QUESTION = commands_that("affirmative") | commands_that("alarm") | commands_that("stop") | {
    "negative", "disregard", "cancel", "undo", "roger", "wilco", "say_again", "read_back", "repeat", "stand_by", "hold",
    "go_ahead", "help", "closing", "teach",
}  # fmt: skip


def stay_silent(now: Conversation, cause: Cause) -> Act:
    """Not spoken: the console alone shows why nothing is said."""
    text = wording.sentence("plain.halted_still", word=now.halted.replace("_", " "))
    return written(cause, "refused", text=text)


def awake(now: Conversation, cause: Cause, decide: Callable[[Conversation], Acts]) -> Acts:
    """What is decided once the voice speaks again after a stop word; without one, at once."""
    if not now.halted:
        return decide(now)
    acts = _set_aside(now, cause)  # a crash may have come between the stop word and this
    acts += (said(cause, "plain.going_on", to="both", what=WasSaid(halted="")),)
    acts += builds.after_a_count(folded(now, acts), cause)
    return (*acts, *decide(folded(now, acts)))


def _alarm(now: Conversation, cause: Cause, word: str) -> Acts:
    """A stop word of the field: silent at once, in the log with its time, and never the alarm itself."""
    text = wording.sentence("plain.halted", word=word.replace("_", " "), who=wording.who(cause.speaker))
    alarm = written(cause, "alarm", WasHalted(halted=word), text, speaker=cause.speaker)
    return (quiet(cause), alarm, *_set_aside(now, cause))


def _set_aside(now: Conversation, cause: Cause) -> Acts:
    """What waits for an answer, on either side: only "read back" takes it up again."""
    acts: Acts = ()
    for role in ROLES:
        waits = now.seat(role).pending
        if waits is not None and now.seat_name(role) == role:
            acts += (written(cause, "parked", WasParked(seat=role), meaning=waits.request, build_id=waits.build_id),)
    return acts


def _in_the_walk(now: Conversation, cause: Cause, order: Command) -> Acts:
    if again := carried_on(now, cause, order):
        return again
    if not cause.walks and not (cause.in_yard and order.command in _ASKED and now.walked is not None):
        return (said_once(cause, "walking.yard_only", "refused"),)
    build, on = now.walked or walking.first_open(now), _no_pause(now, cause) if cause.walks else ()
    if build is None:
        return (said_once(cause, "walking.nothing_walked", "refused"),)
    if not build.begun:
        return (*on, *walking.opened(now, cause, build))
    if order.command in _GOES_ON and now.walked is build and (again := _since_the_stop(now, cause, build)):
        return (*on, *again)
    on += _undo_ends(now, cause, order)
    return (*on, *WALK_WORDS[order.command](folded(now, on), cause, build, order))


#: Words that move the walk: a readback of "undo" is of the item that was booked last, and ends with them.
_MOVES_ON = frozenset({"ready", "next", "back", "skip", "item", "step_by_step"})


def _undo_ends(now: Conversation, cause: Cause, order: Command) -> Acts:
    """Nothing moves on beneath a pick that is to be taken back: the yes would come to something long past."""
    waits = now.seat(cause.role).pending
    if waits is None or waits.shape.undoes != "picked" or order.command not in _MOVES_ON:
        return ()
    return voids(now, cause, aloud=True)


#: Questions about the walk, which change nothing: with one source the measurer may ask them, too.
_ASKED = commands_that("question")


def carried_on(now: Conversation, cause: Cause, order: Command) -> Acts:
    """ "Carry on", "continue" after "stop", "stand by" or "hold" of either side: the item at which the crew is, once
    more. Nobody said that it is picked. Nothing where it is not that."""
    build, paused = now.walked, any(now.seat(role).paused for role in ROLES)
    if not paused or order.command != "ready" or build is None or not build.begun or not goes_on(cause.words):
        return ()
    return (*_no_pause(now, cause), *(readback.say_again(now, cause) or (walking.repeated(cause, build),)))


def _no_pause(now: Conversation, cause: Cause) -> Acts:
    paused = (cause.by(role) for role in ROLES if now.seat_name(role) == role and now.seat(role).paused)
    return tuple(aside(side, paused=False) for side in paused)


#: Words of the walk that book an item, or go on from it.
_GOES_ON = frozenset({"ready", "next", "found", "skip"})


def _since_the_stop(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    """After a stop word nobody goes on from an item that was not said again; and "carry on" says that the work goes on,
    and not that its pieces are there."""
    stop = now.since_stop(build)
    if stop == "unsaid":
        return (walking.repeated(cause, build),)
    if stop == "said" and build.at.kind == "item" and goes_on(cause.words):
        return (walking.repeated(cause, build), said(cause, "walking.say_ready", to="yard", build_id=build.build_id))
    return ()


def _affirm(now: Conversation, cause: Cause, order: Command) -> Acts:
    return _and_done(now, cause, confirming.answered(now, cause, long=order.command == "affirm_insertion"))


def _and_done(now: Conversation, cause: Cause, answer: Acts) -> Acts:
    """The answer to an affirmative, and what it led to."""
    after = folded(now, answer)
    return answer if after.confirmed is None else (*answer, *confirmed(after, cause, after.confirmed))


def confirmed(now: Conversation, cause: Cause, what: Pending) -> Acts:
    """Do what was affirmed. A restart comes here too, when the last line on the disk is the affirmative."""
    return _CONFIRMED[what.kind](now, cause, what)


def _negative(now: Conversation, cause: Cause, order: Command) -> Acts:
    build = now.walked
    if build is None or not cause.walks or now.seat(cause.role).waits:
        return _undo_or(now, cause, confirming.negative)
    return walking.item_back(cause, build) or _undo_or(now, cause, confirming.negative)


def _undo_or(now: Conversation, cause: Cause, otherwise: Callable[[Conversation, Cause], Acts]) -> Acts:
    """ "No", "cancel that" right after an act mean that act: it is asked whether to take it back."""
    seat = now.seat(cause.role)
    if seat.waits or seat.parked is not None or undoing.last_done(now, cause) is None:
        return otherwise(now, cause)
    return undoing.undo(now, cause)


def _say_again(now: Conversation, cause: Cause, order: Command) -> Acts:
    build = now.walked
    if order.item is not None:
        return _items_again(now, cause, order.command, order.item)
    if order.part is not None:
        return readback.say_part_again(now, cause, order.command, order.part)
    if waits := readback.say_again(now, cause):
        return waits
    if build is not None and build.begun and cause.in_yard:
        return (walking.repeated(cause, build),)
    if last := now.seat(cause.role).last:
        return (said_text(cause, last),)
    return (said(cause, "plain.nothing_said", "refused"),)


def _items_again(now: Conversation, cause: Cause, command: str, item: int) -> Acts:
    if not cause.in_yard:
        return (said_once(cause, "walking.yard_only", "refused"),)
    if now.walked is None or not now.walked.begun:
        return (said_once(cause, "walking.nothing_walked", "refused"),)
    return walking.items_again(cause, now.walked, command, item)


def _go_ahead(now: Conversation, cause: Cause, order: Command) -> Acts:
    """After "hold" or a stop word: what waits, or where the walk stands, is said again."""
    return (*_no_pause(now, cause), *_on_where_it_was(now, cause))


def _on_where_it_was(now: Conversation, cause: Cause) -> Acts:
    if waits := readback.say_again(now, cause):
        return waits
    parked = now.seat(cause.role).parked is not None
    acts: Acts = (said(cause, "plain.set_aside"),) if parked else ()
    if now.walked is not None and cause.in_yard:
        return (*acts, walking.repeated(cause, now.walked))
    return acts or (said(cause, "plain.go_ahead"),)


def _stand_by(now: Conversation, cause: Cause, order: Command) -> Acts:
    """No time-out speaks until the next word from this side."""
    return (said(cause, "plain.standing_by", courtesies={"standing_by": True, "paused": True}),)


def _stop(now: Conversation, cause: Cause, order: Command) -> Acts:
    """Stop talking. Not one of the field's alarms: the work goes on."""
    return (quiet(cause, standing_by=True, paused=True),)


def _switch(now: Conversation, cause: Cause, order: Command) -> Acts:
    """ "Build two": the yard walks it; the measurer hears what it is. "The other build" is the next open one."""
    build = walking.other_open(now) if order.build is None else walking.by_number(now, order.build)
    if build is None and order.build is None:
        return (said(cause, "walking.no_other_build", "refused"),)
    if build is None:
        return (walking.not_open(cause, order.build),)
    if not cause.walks:
        return answers.repeat_the_build(now, cause, build.number)
    return (walking.come_back(cause, build),) if build.begun else walking.opened(now, cause, build)


def _cancel(now: Conversation, cause: Cause, order: Command) -> Acts:
    if order.build is None:
        return _undo_or(now, cause, confirming.disregard)
    if now.seat(cause.role).pending is not None and walking.by_number(now, order.build) is None:
        return confirming.negative(now, cause)  # the one that is read back has no number yet
    return undoing.cancel_build(now, cause, order.build)


def _speak_otherwise(now: Conversation, cause: Cause, order: Command) -> Acts:
    how, key = _PACES[order.command]
    return (replace(said(cause, key), first=ChangeVoice(how)),)


_PACES: Mapping[str, tuple[Pace, str]] = {
    "slower": ("slower", "plain.slower"), "faster": ("faster", "plain.faster"),
    "louder": ("louder", "plain.louder"), "softer": ("softer", "plain.softer"),
}  # fmt: skip


def _unpair(now: Conversation, cause: Cause, order: Command) -> Acts:
    return (replace(said(cause, "plain.unpaired", to="both"), first=Unpair()),)




def _meant(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """The yes to "short two?"."""
    return obey(now, cause, Command.model_validate(confirmed.shape.command))


def press(now: Conversation, cause: Cause, kind: Literal["ready", "say_again", "affirm"]) -> Acts:
    """A key. That for the affirm has one meaning and no other."""
    if kind != "affirm":
        return obey(now, cause, Command(command=kind))
    if now.halted:
        return (stay_silent(now, cause),)
    return _and_done(now, cause, confirming.keyed(now, cause))


Decides = Callable[[Conversation, Cause, Command], Acts]


def _anew(decide: Decides) -> Decides:
    """What waits for an answer is void by this, and that is said; then what comes instead."""
    return lambda now, cause, order: (*voids(now, cause, aloud=True), *decide(now, cause, order))


_ANYWHERE: Mapping[str, Decides] = {
    "affirm": _affirm,
    "affirm_insertion": _affirm,
    "negative": _negative,
    "correction": lambda now, cause, order: callouts.corrected(now, cause, order.patch, number=order.build),
    "disregard": lambda now, cause, order: confirming.disregard(now, cause),
    "cancel": _cancel,
    "undo": lambda now, cause, order: undoing.undo(now, cause),
    "roger": lambda now, cause, order: confirming.roger(now, cause),
    "wilco": lambda now, cause, order: confirming.roger(now, cause),
    "closing": lambda now, cause, order: (),
    "say_again": _say_again,
    "say_again_all_before": _say_again,
    "say_again_all_after": _say_again,
    "repeat": _say_again,
    "read_back": lambda now, cause, order: readback.read_back_again(now, cause),
    "stand_by": _stand_by,
    "hold": _stand_by,
    "stop": _stop,
    "unpair": _unpair,
    "go_ahead": _go_ahead,
    "help": lambda now, cause, order: answers.help_(now, cause),
    "radio_check": lambda now, cause, order: (said(cause, "plain.radio_check"),),
    "status": lambda now, cause, order: answers.status(now, cause),
    "list": lambda now, cause, order: answers.parts_list(now, cause),
    "parts_list": lambda now, cause, order: answers.parts_list(now, cause),
    "how_many": answers.how_many,
    "what_picked": answers.what_picked,
    "rearrange": lambda now, cause, order: answers.not_rearranged(now, cause),
    "how_many_left": lambda now, cause, order: answers.how_many_left(now, cause),
    "cautions": lambda now, cause, order: answers.cautions(now, cause),
    "where": answers.where,
    "what_size": answers.what_size,
    "how_heavy": answers.how_heavy,
    "set_length": answers.set_length,
    "handover": lambda now, cause, order: handing_over.handover(now, cause),
    "what_changed": lambda now, cause, order: handing_over.what_changed(now, cause),
    "build": _switch,
    "repeat_the_build": lambda now, cause, order: answers.repeat_the_build(now, cause, order.build),
    "relocate": relocating.asked_for,
    "stock_set": _anew(stock_lines.heard_stock),
    "stock_add": _anew(stock_lines.heard_more),
    "stock_out": _anew(stock_lines.heard_stock),
    "stock_lost": _anew(shortages.lost),
    "stands": _anew(standing.heard_stands),
    "take_down": _anew(standing.heard_take_down),
    "same_again": callouts.same_again,
    "move": _anew(moving.asked_for),
    "size_up": sizing.heard_piece,
    "size_up_new": lambda now, cause, order: sizing.another(cause),
    "work_out": lambda now, cause, order: sizing.worked_out(now, cause),
    "take_it": lambda now, cause, order: sizing.taken(now, cause),
    "look": looking.heard_look,
    "look_at": lambda now, cause, order: looking.what_to_look_at(now, cause),
    "happened": looking.happened,
    "carry": supplying.loads,
    "come_down": supplying.stages,
    "teach": teaching.asked_for,
    **dict.fromkeys(places.COMMANDS, _anew(places.heard_fact)),
    **dict.fromkeys(commands_that("pace"), _speak_otherwise),
}

_CONFIRMED: Mapping[str, Callable[[Conversation, Cause, Pending], Acts]] = {
    "callout": builds.released,
    "change": builds.changed,
    "undo": undoing.affirmed,
    "stock": stock_lines.affirmed,
    "short": shortages.affirmed_short,
    "substitute": shortages.affirmed_substitute,
    "relocate": relocating.affirmed,
    "site": places.affirmed,
    "move": moving.affirmed,
    "lost": shortages.affirmed_lost,
    "stands": standing.affirmed_stands,
    "all_picked": standing.affirmed_all_picked,
    "take_down": standing.affirmed_take_down,
    "near": _meant,
    "teach": teaching.affirmed,
}

#: Words of the walk: said while no build is walked, they are answered with why there is none.
WALKING = frozenset({*WALK_WORDS, "parts_list"})

#: Said while an answer is waited for, they are told that it comes first.
LATER = frozenset({"size_up", "size_up_new", "work_out", "take_it", "look", "look_at", "carry", "come_down"})

#: Every command that may be said in a conversation.
KNOWN = frozenset(commands()) - commands_that("inner")
