"""What each command of the grammar does: one table from its name to the act."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from callout.dialogue import (
    acts,
    answers,
    asking,
    builds,
    callouts,
    confirming,
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
    undoing,
    walking,
    wording,
)
from callout.dialogue.acts import Acts, Cause
from callout.dialogue.events import ChangeVoice, Unpair, WasHalted, WasParked, WasSaid
from callout.dialogue.state import Conversation, OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.language.commands import commands, commands_that
from callout.values import Command

#: After a stop word the voice stays silent until one of these, or a whole callout, is heard.
WAKING = commands_that("wake")
STOP_WORDS = commands_that("alarm")


def obey(turn: Turn, said: Command) -> None:
    """Carry out one command, whoever said it, in whatever state."""
    name = said.command
    if turn.seat.listed is not None and name not in ("list", "parts_list"):
        turn.set_seat(listed=None)
    if name in STOP_WORDS:
        _alarm(turn, name)
    elif turn.now.halted and name not in WAKING:
        stay_silent(turn)
    elif name in _WALK:
        wake(turn)
        _in_the_walk(turn, said)
    elif name in _DECIDED:
        wake(turn)
        turn.do(*_DECIDED[name](turn.now, turn.cause, said))
    elif name in _ANYWHERE:
        wake(turn)
        _ANYWHERE[name](turn, said)
    else:
        turn.do(*asking.unclear(turn.now, turn.cause, "chatter"))


def stay_silent(turn: Turn) -> None:
    """Not spoken: the console alone shows why nothing is said."""
    turn.write("refused", wording.sentence("plain.halted_still", word=turn.now.halted.replace("_", " ")))


def wake(turn: Turn) -> None:
    """Speak again after a stop word."""
    if turn.now.halted:
        turn.say("plain.going_on", to="both", what=WasSaid(halted=""))
        builds.stock_moved(turn)


def _alarm(turn: Turn, word: str) -> None:
    """A stop word of the field: silent at once, in the log with its time, and never the alarm itself."""
    turn.silence()
    text = wording.sentence("plain.halted", word=word.replace("_", " "), who=wording.who(turn.speaker))
    turn.write("alarm", text, speaker=turn.speaker, what=WasHalted(halted=word))
    for role in ("measurer", "logistics"):
        seat = turn.now.seat(role)
        if seat.pending is not None and turn.now.seat_name(role) == role:
            parked = WasParked(seat=role)
            turn.write("parked", meaning=seat.pending.request, build_id=seat.pending.build_id, what=parked)


def _in_the_walk(turn: Turn, said: Command) -> None:
    if turn.role == "measurer" and not turn.now.settings.one_source:
        turn.say_once("walking.yard_only", "refused")
        return
    build = turn.now.walked or _next_to_walk(turn)
    if build is None:
        turn.say_once("walking.nothing_walked", "refused")
    elif not build.begun:
        walking.begin(turn, build)
    else:
        _WALK[said.command](turn, build, said)


def _next_to_walk(turn: Turn) -> OpenBuild | None:
    return min(turn.now.open.values(), key=lambda build: build.build_id, default=None)


def _affirm(turn: Turn, said: Command) -> None:
    turn.do(*confirming.answered(turn.now, turn.cause, long=said.command == "affirm_insertion"))
    do_confirmed(turn)


def do_confirmed(turn: Turn) -> None:
    """Do what was affirmed. A restart comes here too, when the last line on the disk is the affirmative."""
    confirmed = turn.now.confirmed
    if confirmed is None:
        return
    if confirmed.kind in _AFFIRMED:
        turn.do(*_AFFIRMED[confirmed.kind](turn.now, turn.cause, confirmed))
    else:
        _CONFIRMED[confirmed.kind](turn, confirmed)


def _negative(turn: Turn, said: Command) -> None:
    build = turn.now.walked
    yard = turn.role == "logistics" or turn.now.settings.one_source
    if turn.seat.waits:
        turn.do(*confirming.negative(turn.now, turn.cause))
    elif build is None or not yard or not walking.put_back_item(turn, build):
        _undo_or(turn, confirming.negative)


def _undo_or(turn: Turn, otherwise: Callable[[Conversation, Cause], Acts]) -> None:
    """ "No", "cancel that" right after an act mean that act: it is asked whether to take it back."""
    if turn.seat.waits or turn.seat.parked is not None or undoing.last_done(turn) is None:
        turn.do(*otherwise(turn.now, turn.cause))
    else:
        undoing.undo(turn)


def _say_again(turn: Turn, said: Command) -> None:
    build = turn.now.walked
    yard = turn.role == "logistics" or turn.now.settings.one_source
    if said.item is not None:
        _say_items_again(turn, build, said.command, said.item)
    elif said.part is not None:
        turn.do(*readback.say_part_again(turn.now, turn.cause, said.command, said.part))
    elif waits := readback.say_again(turn.now, turn.cause):
        turn.do(*waits)
    elif build is not None and build.begun and yard:
        walking.repeat(turn, build)
    elif turn.seat.last:
        turn.say_text(turn.seat.last)
    else:
        turn.say("plain.nothing_said", "refused")


def _say_items_again(turn: Turn, build: OpenBuild | None, command: str, item: int) -> None:
    if turn.role == "measurer" and not turn.now.settings.one_source:
        turn.say_once("walking.yard_only", "refused")
    elif build is None or not build.begun:
        turn.say_once("walking.nothing_walked", "refused")
    else:
        walking.repeat_items(turn, build, command, item)


def _go_ahead(turn: Turn, said: Command) -> None:
    """After "hold" or a stop word: what waits, or where the walk stands, is said again."""
    build = turn.now.walked
    waits = readback.say_again(turn.now, turn.cause)
    turn.do(*waits)
    if waits or turn.now.halted:
        return
    if turn.seat.parked is not None:
        turn.say("plain.set_aside")
    if build is not None and (turn.role == "logistics" or turn.now.settings.one_source):
        walking.repeat(turn, build)
    elif turn.seat.parked is None:
        turn.say("plain.go_ahead")


def _stand_by(turn: Turn, said: Command) -> None:
    """No time-out speaks until the next word from this side."""
    turn.say("plain.standing_by")
    turn.set_seat(standing_by=True)


def _stop(turn: Turn, said: Command) -> None:
    """Stop talking. Not one of the field's alarms: the work goes on."""
    turn.silence()
    turn.set_seat(standing_by=True)


def _switch(turn: Turn, said: Command) -> None:
    """ "Build two": the yard walks it; the measurer hears what it is."""
    build = walking.by_number(turn.now, said.build)
    if build is None:
        turn.say("walking.no_such_build", "refused", number=wording.count(said.build or 0))
    elif turn.role == "measurer" and not turn.now.settings.one_source:
        answers.repeat_the_build(turn, said.build)
    elif build.begun:
        walking.come_back(turn, build)
    else:
        walking.begin(turn, build)


def _cancel(turn: Turn, said: Command) -> None:
    if said.build is None:
        _undo_or(turn, confirming.disregard)
    else:
        undoing.cancel_build(turn, said.build)


def _ready(turn: Turn, build: OpenBuild, said: Command) -> None:
    """The crew has it. At the end of the checks it is asked whether the build stands: the key that ticked the last one
    never books that."""
    if build.at.kind != "end" or walking.unheard(turn, build):
        walking.ready(turn, build)
    elif not readback.busy(turn, *shortages.OF_THE_WALK):
        standing.ask_stands(turn, build, books=True)


def _skip(turn: Turn, build: OpenBuild, said: Command) -> None:
    if build.at.kind != "end" or not build.open_lines:
        walking.skip(turn, build)
    elif not readback.busy(turn, *shortages.OF_THE_WALK):
        standing.ask_stands(turn, build)


def _speak_otherwise(turn: Turn, said: Command) -> None:
    turn.effects.append(ChangeVoice(_HOW[said.command]))
    turn.say(_OTHERWISE[said.command])


def _unpair(turn: Turn, said: Command) -> None:
    turn.effects.append(Unpair())
    turn.say("plain.unpaired", to="both")


_HOW: dict[str, Literal["slower", "faster", "louder", "softer"]] = {
    "slower": "slower", "faster": "faster", "louder": "louder", "softer": "softer",
}  # fmt: skip
_OTHERWISE = {
    "slower": "plain.slower", "faster": "plain.faster", "louder": "plain.louder", "softer": "plain.softer",
}  # fmt: skip


def near(cause: Cause, meant: Command, words: str) -> Acts:
    """What was said is near to a command and is none: asked in one clause, and a yes does it."""
    proposal = readback.proposed(cause, "near", command=meant.model_dump(mode="json"))
    return (readback.readback(cause, "asking.near", proposal, words=words),)


def _meant(turn: Turn, confirmed: Pending) -> None:
    """The yes to "short two?"."""
    obey(turn, Command.model_validate(confirmed.shape.command))


def press(turn: Turn, kind: Literal["ready", "say_again", "affirm"]) -> None:
    """A key. That for the affirm has one meaning and no other."""
    if kind != "affirm":
        obey(turn, Command(command=kind))
    elif turn.now.halted:
        stay_silent(turn)
    else:
        turn.do(*confirming.keyed(turn.now, turn.cause))
        do_confirmed(turn)


def _ignore(turn: Turn, said: Command) -> None:
    """Closings and acknowledgements: heard, and nothing else."""


#: What is decided as a whole.
_DECIDED: dict[str, Callable[[Conversation, Cause, Command], Acts]] = {
    "correction": lambda now, cause, said: callouts.corrected(now, cause, said.patch, number=said.build),
    "disregard": lambda now, cause, said: confirming.disregard(now, cause),
    "roger": lambda now, cause, said: confirming.roger(now, cause),
    "wilco": lambda now, cause, said: confirming.roger(now, cause),
    "read_back": lambda now, cause, said: readback.read_back_again(now, cause),
    "radio_check": lambda now, cause, said: (acts.said(cause, "plain.radio_check"),),
    "relocate": relocating.asked_for,
    "same_again": callouts.same_again,
    "size_up": sizing.heard_piece,
    "size_up_new": lambda now, cause, said: sizing.another(now, cause),
    "work_out": lambda now, cause, said: sizing.worked_out(now, cause),
    "take_it": lambda now, cause, said: sizing.taken(now, cause),
    "look": looking.heard_look,
    "look_at": lambda now, cause, said: looking.what_to_look_at(now, cause),
    "happened": looking.happened,
    "carry": supplying.loads,
    "come_down": supplying.stages,
}

_ANYWHERE: dict[str, Callable[[Turn, Command], None]] = {
    "affirm": _affirm,
    "affirm_insertion": _affirm,
    "negative": _negative,
    "cancel": _cancel,
    "undo": lambda turn, said: undoing.undo(turn),
    "closing": _ignore,
    "say_again": _say_again,
    "say_again_all_before": _say_again,
    "say_again_all_after": _say_again,
    "repeat": _say_again,
    "stand_by": _stand_by,
    "hold": _stand_by,
    "stop": _stop,
    "unpair": _unpair,
    "go_ahead": _go_ahead,
    "help": lambda turn, said: answers.help_(turn),
    "status": lambda turn, said: answers.status(turn),
    "list": lambda turn, said: answers.parts_list(turn),
    "parts_list": lambda turn, said: answers.parts_list(turn),
    "how_many": answers.how_many,
    "how_many_left": lambda turn, said: answers.how_many_left(turn),
    "cautions": lambda turn, said: answers.cautions(turn),
    "where": answers.where,
    "what_size": answers.what_size,
    "how_heavy": answers.how_heavy,
    "build": _switch,
    "repeat_the_build": lambda turn, said: answers.repeat_the_build(turn, said.build),
    "stock_set": stock_lines.heard_stock,
    "stock_add": stock_lines.heard_stock,
    "stock_out": stock_lines.heard_stock,
    "stock_lost": shortages.lost,
    "stands": standing.heard_stands,
    "take_down": standing.heard_take_down,
    "move": moving.asked_for,
    **dict.fromkeys(places.COMMANDS, places.heard_fact),
    **dict.fromkeys(commands_that("pace"), _speak_otherwise),
}

_WALK: dict[str, Callable[[Turn, OpenBuild, Command], None]] = {
    "ready": _ready,
    "next": _ready,
    "back": lambda turn, build, said: walking.back(turn, build),
    "skip": _skip,
    "item": lambda turn, build, said: walking.to_item(turn, build, said.item),
    "short": shortages.short,
    "substitute": shortages.substitute,
    "step_by_step": lambda turn, build, said: walking.step_by_step(turn, build),
}

_AFFIRMED: dict[str, Callable[[Conversation, Cause, Pending], Acts]] = {
    "callout": builds.released,
    "change": builds.changed,
    "relocate": relocating.affirmed,
}

_CONFIRMED: dict[str, Callable[[Turn, Pending], None]] = {
    "undo": undoing.affirmed,
    "stock": stock_lines.apply,
    "short": shortages.affirmed_short,
    "substitute": shortages.affirmed_substitute,
    "site": places.apply,
    "move": moving.affirmed,
    "lost": shortages.affirmed_lost,
    "stands": standing.affirmed_stands,
    "all_picked": standing.affirmed_all_picked,
    "take_down": standing.affirmed_take_down,
    "near": _meant,
}

#: Words of the walk: said while no build is walked, they are answered with why there is none.
WALKING = frozenset({*_WALK, "parts_list"})

#: Said while an answer is waited for, they are told that it comes first.
LATER = frozenset({"size_up", "size_up_new", "work_out", "take_it", "look", "look_at", "carry", "come_down"})

#: Every command that may be said in a conversation.
KNOWN = frozenset(commands()) - commands_that("inner")
