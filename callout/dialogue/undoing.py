"""Taking back: one step back from the last act, said, and read back where it moves anything.

"Undo" never reaches farther than the last act, and never another build unasked. What was released with nothing picked
for it goes at once; all else waits for a yes. A whole build goes by its number ("cancel build two").
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from callout.dialogue import builds, callouts, moving, places, shortages, standing, walking, wording
from callout.dialogue.events import CountChange, StockChanged, WasVoided
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import Done, OpenBuild, Pending, on_hand
from callout.dialogue.turn import Turn
from callout.values import Callout


def undo(turn: Turn) -> None:
    """Take the last act back; while something waits for an answer here, that. The readback of a caller who gave a name
    goes by that name alone: who does not give it is asked whose words to take back."""
    waiting = turn.seat.pending
    if waiting is not None and waiting.name is not None and turn.name != waiting.name:
        turn.take_nothing()
        turn.say("confirming.undo_whose", "refused", who=wording.who(waiting.name))
        return
    if turn.seat.waits:
        turn.give_up_waiting()
        turn.say("confirming.disregarded")
        return
    done = last_done(turn)
    if done is None:
        turn.say_once("walking.nothing_to_undo", "refused")
    else:
        _UNDO[done.kind](turn, done)


def last_done(turn: Turn) -> Done | None:
    """The last act of this side, or of anybody where one source speaks for all, among those whose build is there."""
    now = turn.now
    for done in reversed(now.done):
        there = done.build_id is None or done.build_id in now.open or done.build_id in now.standing
        if (there or done.kind == "taken_down") and (now.settings.one_source or done.by == turn.role):
            return done
    return None


def cancel_build(turn: Turn, number: int) -> None:
    """Take a whole build back, by its number."""
    build = walking.by_number(turn.now, number)
    if build is None:
        turn.say_once("walking.nothing_to_undo", "refused")
    elif not turn.now.settings.one_source and build.role != turn.role:
        turn.say("walking.undo_not_yours", "refused", who=wording.who(build.name or build.role))
    else:
        _undo_build(turn, build, asked=False)


def _undo_release(turn: Turn, done: Done) -> None:
    build = turn.now.open.get(done.build_id or 0)
    if build is None:
        turn.say_once("walking.nothing_to_undo", "refused")
    else:
        walked = turn.now.walked
        _undo_build(turn, build, asked=walked is not None and walked is not build)


def _undo_build(turn: Turn, build: OpenBuild, *, asked: bool) -> None:
    """At once while nothing is picked for it and it was surely heard; with `asked`, never at once."""
    if turn.sure and not build.lent and not build.fetched and not asked:
        _take_back(turn, build)
        return
    turn.give_up_waiting(aloud=True)
    proposal = act(turn, "undo", build_id=build.build_id)
    number = wording.count(build.number)
    if build.fetched:
        pieces = wording.counted(sum(build.fetched.values()), "piece")
        read_back(turn, "confirming.undo_picked", proposal, number=number, pieces=pieces)
    else:
        read_back(turn, "confirming.undo", proposal, number=number, callout=wording.callout(build.request))


def _undo_pick(turn: Turn, done: Done) -> None:
    build, line = turn.now.open.get(done.build_id or 0), done.line or 0
    if build is None:
        turn.say_once("walking.nothing_to_undo", "refused")
        return
    proposal = act(turn, "undo", build_id=build.build_id, undoes="picked", line=line)
    pieces = wording.pieces(done.pieces)
    if turn.now.walked is build:
        read_back(turn, "confirming.undo_pick", proposal, item=wording.count(line + 1), pieces=pieces)
    else:
        number = wording.count(build.number)
        read_back(
            turn, "confirming.undo_pick_of", proposal, item=wording.count(line + 1), pieces=pieces, number=number
        )


def _undo_count(turn: Turn, done: Done) -> None:
    proposal = act(turn, "undo", build_id=done.build_id, undoes="counted")
    read_back(turn, "confirming.undo_count", proposal, lines=wording.pieces_on_hand(_counts_before(turn, done)))


def _counts_before(turn: Turn, done: Done) -> list[tuple[str, int]]:
    """What is on hand when the counts of an act are taken back; never less than nothing."""
    lying = on_hand(turn.now)
    return [(change.item, max(0, lying.get(change.item, 0) - change.delta)) for change in done.changes]


def _undo_placed(turn: Turn, done: Done) -> None:
    shore = turn.now.standing.get(done.build_id or 0)
    moved = any(build.relocates == done.build_id for build in turn.now.open.values())
    if shore is None or moved:
        _no_way_back(turn, done)
        return
    proposal = act(turn, "undo", build_id=shore.build_id, undoes="placed")
    read_back(turn, "confirming.undo_placed", proposal, number=wording.count(shore.number))


def _undo_change(turn: Turn, done: Done) -> None:
    """A change order goes back the way it came: as another, read back and affirmed like it."""
    build = turn.now.open.get(done.build_id or 0)
    if build is None or done.meaning is None:
        turn.say_once("walking.nothing_to_undo", "refused")
    else:
        callouts.propose_change(turn, build, Callout.model_validate(done.meaning), undoes="changed")


def _no_way_back(turn: Turn, done: Done) -> None:
    turn.say("walking.no_way_back", "refused")


_UNDO: Mapping[str, Callable[[Turn, Done], None]] = {
    "picked": _undo_pick,
    "counted": _undo_count,
    "placed": _undo_placed,
    "released": _undo_release,
    "changed": _undo_change,
    "substituted": shortages.undo_substitute,
    "moved": moving.undo,
    "site": places.undo,
    "taken_down": standing.undo_take_down,
    "other": _no_way_back,
}

#: What an undo does once it is affirmed. A change goes another way: it is another change.
_UNDONE: Mapping[str, Callable[[Turn, Done], None]] = {
    "picked": lambda turn, done: _put_back(turn, turn.now.open[done.build_id or 0], done),
    "counted": lambda turn, done: _count_back(turn, done),
    "placed": lambda turn, done: _does_not_stand(turn, turn.now.standing[done.build_id or 0]),
    "substituted": shortages.not_substituted,
    "moved": moving.not_moved,
    "site": places.not_known,
    "taken_down": standing.not_taken_down,
}


def affirmed(turn: Turn, confirmed: Pending) -> None:
    """Take back what was read back, if it is still there to be taken back."""
    build_id, undoes, line = confirmed.build_id, confirmed.shape.undoes, confirmed.shape.line
    if undoes is None:
        build = turn.now.open.get(build_id or 0)
        if build is None:
            turn.say_once("walking.nothing_to_undo", "refused")
        else:
            _take_back(turn, build)
        return
    same = [d for d in turn.now.done if (d.kind, d.build_id) == (undoes, build_id) and line in (None, d.line)]
    if same:
        _UNDONE[undoes](turn, same[-1])
    else:
        turn.say_once("walking.nothing_to_undo", "refused")


def _put_back(turn: Turn, build: OpenBuild, done: Done) -> None:
    line = done.line or 0
    walking.put_back_line(turn, build, line)
    build = turn.now.open[build.build_id]
    if turn.now.walked is build:
        walking.speak(turn, build, line)


def _count_back(turn: Turn, done: Done) -> None:
    """The counts of before, and the build whose piece was short is worked out again with them."""
    lying = on_hand(turn.now)
    changes = tuple(
        CountChange(item=name, delta=count - lying.get(name, 0), quantity=count)
        for name, count in _counts_before(turn, done)
    )
    turn.say(
        "stock.done", "stock_changed", build_id=done.build_id, what=StockChanged(changes=changes, undoes=True),
        lines=wording.pieces_on_hand([(change.item, change.quantity) for change in changes]),
    )  # fmt: skip
    build = turn.now.open.get(done.build_id or 0)
    changed = build is not None and builds.replan(turn, build)
    builds.stock_moved(turn)
    if changed and build is not None and turn.now.focus == build.build_id:
        walking.speak_next(turn, turn.now.open[build.build_id])


def _does_not_stand(turn: Turn, build: OpenBuild) -> None:
    """ "Build one stands" was said too early."""
    turn.say(
        "walking.stands_not", "voided", to="both", build_id=build.build_id, what=WasVoided(what="stands"),
        number=wording.count(build.number),
    )  # fmt: skip
    walking.repeat(turn, turn.now.open[build.build_id])


def _take_back(turn: Turn, build: OpenBuild) -> None:
    builds.put_back(turn, build, list(build.held.items()), "walking.stays_up")
    key = "walking.undone" if build.relocates is None else "walking.move_undone"
    turn.say(
        key, "voided", to="both", build_id=build.build_id, meaning=build.request, what=WasVoided(what="build"),
        number=wording.count(build.number),
    )  # fmt: skip
    turn.void_about(build.build_id)
    walking.name_the_next(turn)
