"""What each command of the grammar does: one table from its name to the act."""

from __future__ import annotations

from collections.abc import Callable

from callout.dialogue import (
    answers,
    asking,
    builds,
    callouts,
    confirming,
    moving,
    places,
    readback,
    relocating,
    shortages,
    stock_lines,
    walking,
    wording,
)
from callout.dialogue.events import WasHalted, WasParked, WasSaid
from callout.dialogue.state import OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.language.commands import commands, commands_that
from callout.values import Command

#: After a stop word the voice stays silent until one of these, or a whole callout, is heard.
WAKING = frozenset({"go_ahead", "radio_check", "status"})
STOP_WORDS = frozenset({"evacuate", "cease_operations"})


def obey(turn: Turn, said: Command) -> None:
    """Carry out one command, whoever said it, in whatever state."""
    name = said.command
    if name in STOP_WORDS:
        _alarm(turn, name)
    elif turn.now.halted and name not in WAKING:
        stay_silent(turn)
    elif name in _WALK:
        wake(turn)
        _in_the_walk(turn, said)
    elif name in _ANYWHERE:
        wake(turn)
        _ANYWHERE[name](turn, said)
    else:
        asking.unclear(turn, "chatter")


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
    confirmed = confirming.answered(turn, long=said.command == "affirm_insertion")
    if confirmed is not None:
        carry_out(turn, confirmed)


def carry_out(turn: Turn, confirmed: Pending) -> None:
    """Do what was affirmed. A restart comes here too, when the last line on the disk is the affirmative."""
    _CONFIRMED[confirmed.kind](turn, confirmed)


def _negative(turn: Turn, said: Command) -> None:
    build = turn.now.walked
    yard = turn.role == "logistics" or turn.now.settings.one_source
    if turn.seat.waits or build is None or not yard or not walking.put_back_item(turn, build):
        confirming.negative(turn)


def _say_again(turn: Turn, said: Command) -> None:
    build = turn.now.walked
    yard = turn.role == "logistics" or turn.now.settings.one_source
    if said.item is not None:
        _say_items_again(turn, build, said.command, said.item)
    elif said.part is not None:
        readback.say_part_again(turn, said.command, said.part)
    elif readback.say_again(turn):
        pass
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
    if readback.say_again(turn) or turn.now.halted:
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
        confirming.disregard(turn)
    else:
        builds.undo(turn, said.build)


def _ignore(turn: Turn, said: Command) -> None:
    """Closings and acknowledgements: heard, and nothing else."""


_ANYWHERE: dict[str, Callable[[Turn, Command], None]] = {
    "affirm": _affirm,
    "affirm_insertion": _affirm,
    "negative": _negative,
    "correction": lambda turn, said: callouts.corrected(turn, said.patch),
    "disregard": lambda turn, said: confirming.disregard(turn),
    "cancel": _cancel,
    "undo": lambda turn, said: builds.undo(turn),
    "roger": lambda turn, said: confirming.roger(turn),
    "wilco": lambda turn, said: confirming.roger(turn),
    "closing": _ignore,
    "say_again": _say_again,
    "say_again_all_before": _say_again,
    "say_again_all_after": _say_again,
    "repeat": _say_again,
    "read_back": lambda turn, said: readback.read_back_again(turn),
    "stand_by": _stand_by,
    "hold": _stand_by,
    "stop": _stop,
    "go_ahead": _go_ahead,
    "help": lambda turn, said: answers.help_(turn),
    "radio_check": lambda turn, said: turn.say("plain.radio_check"),
    "status": lambda turn, said: answers.status(turn),
    "list": lambda turn, said: answers.parts_list(turn),
    "parts_list": lambda turn, said: answers.parts_list(turn),
    "how_many": answers.how_many,
    "how_many_left": lambda turn, said: answers.how_many_left(turn),
    "where": answers.where,
    "build": _switch,
    "repeat_the_build": lambda turn, said: answers.repeat_the_build(turn, said.build),
    "relocate": relocating.asked_for,
    "stock_set": stock_lines.heard_stock,
    "stock_add": stock_lines.heard_stock,
    "stock_out": stock_lines.heard_stock,
    "move": moving.asked_for,
    **dict.fromkeys(places.COMMANDS, places.heard_fact),
}

_WALK: dict[str, Callable[[Turn, OpenBuild, Command], None]] = {
    "ready": lambda turn, build, said: walking.ready(turn, build),
    "next": lambda turn, build, said: walking.ready(turn, build),
    "back": lambda turn, build, said: walking.back(turn, build),
    "skip": lambda turn, build, said: walking.skip(turn, build),
    "item": lambda turn, build, said: walking.to_item(turn, build, said.item),
    "short": shortages.short,
    "substitute": shortages.substitute,
    "step_by_step": lambda turn, build, said: walking.step_by_step(turn, build),
}

_CONFIRMED: dict[str, Callable[[Turn, Pending], None]] = {
    "callout": builds.release,
    "change": builds.change,
    "undo": builds.take_back,
    "stock": stock_lines.apply,
    "short": shortages.affirmed_short,
    "substitute": shortages.affirmed_substitute,
    "relocate": relocating.affirmed,
    "site": places.apply,
    "move": moving.affirmed,
}

#: Words of the walk: said while no build is walked, they are answered with why there is none.
WALKING = frozenset({*_WALK, "parts_list"})

#: Every command that may be said in a conversation.
KNOWN = frozenset(commands()) - commands_that("inner")
