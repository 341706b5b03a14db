"""Taking back: one step back from the last act, said, and read back where it moves anything.

"Undo" never reaches farther than the last act, and never another build unasked. What was released with nothing picked
for it goes at once; all else waits for a yes. A whole build goes by its number ("cancel build two").
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from callout.dialogue import builds, callouts, moving, places, shortages, standing, teaching, walking, wording
from callout.dialogue.acts import Acts, Cause, folded, heard_nothing, said, said_once, voids, voids_about
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import CountChange, StockChanged, WasVoided
from callout.dialogue.state import Conversation, Done, OpenBuild, Pending, on_hand
from callout.values import Callout


def undo(now: Conversation, cause: Cause) -> Acts:
    """Take the last act back; while something waits for an answer here, that. The readback of a caller who gave a name
    goes by that name alone: who does not give it is asked whose words to take back."""
    seat = now.seat(cause.role)
    waits = seat.pending
    if waits is not None and waits.name is not None and cause.name != waits.name:
        return (
            heard_nothing(cause), said(cause, "confirming.undo_whose", "refused", who=wording.who(waits.name)),
        )  # fmt: skip
    if seat.waits:
        return (*voids(now, cause), said(cause, "confirming.disregarded"))
    done = last_done(now, cause)
    return _nothing_to_undo(cause) if done is None else _UNDO[done.kind](now, cause, done)


def _nothing_to_undo(cause: Cause) -> Acts:
    return (said_once(cause, "walking.nothing_to_undo", "refused"),)


def last_done(now: Conversation, cause: Cause) -> Done | None:
    """The last act of this side, or of anybody where one source speaks for all, among those whose build is there."""
    for done in reversed(now.done):
        there = done.build_id is None or done.build_id in now.open or done.build_id in now.standing
        if done.kind == "picked" and _line_now(now, done) is None:
            continue
        if (there or done.kind == "taken_down") and (cause.one_source or done.by == cause.role):
            return done
    return None


def _line_now(now: Conversation, done: Done) -> int | None:
    """Where the pieces of a pick stand in the list of their build now. A list that was made anew since has them at
    another place, or not at all; None, too, where they have gone back already."""
    build, names = now.open.get(done.build_id or 0), {name for name, _ in done.pieces}
    if build is None:
        return None
    booked = [line for line, part in enumerate(build.build.parts) if part.name in names and build.got[line]]
    return done.line if done.line in booked else next(iter(booked), None)


def cancel_build(now: Conversation, cause: Cause, number: int) -> Acts:
    """Take a whole build back, by its number."""
    build = walking.by_number(now, number)
    if build is None:
        return _nothing_to_undo(cause)
    if not cause.one_source and build.role != cause.role:
        return (said(cause, "walking.undo_not_yours", "refused", who=wording.who(build.name or build.role)),)
    return _undo_build(now, cause, build, asked=False)


def _undo_release(now: Conversation, cause: Cause, done: Done) -> Acts:
    build = now.open.get(done.build_id or 0)
    if build is None:
        return _nothing_to_undo(cause)
    return _undo_build(now, cause, build, asked=now.walked is not None and now.walked is not build)


def _undo_build(now: Conversation, cause: Cause, build: OpenBuild, *, asked: bool) -> Acts:
    """At once while nothing is picked for it and it was surely heard; with `asked`, never at once."""
    if cause.sure and not build.lent and not build.fetched and not asked:
        return _take_back(now, cause, build)
    proposal, number = proposed(cause, "undo", build_id=build.build_id), wording.count(build.number)
    if build.fetched:
        pieces = wording.counted(sum(build.fetched.values()), "piece")
        way = readback(cause, "confirming.undo_picked", proposal, number=number, pieces=pieces)
    else:
        way = readback(cause, "confirming.undo", proposal, number=number, callout=wording.callout(build.request))
    return (*voids(now, cause, aloud=True), way)


def _undo_pick(now: Conversation, cause: Cause, done: Done) -> Acts:
    build, line = now.open.get(done.build_id or 0), _line_now(now, done)
    if build is None or line is None:
        return _nothing_to_undo(cause)
    proposal = proposed(cause, "undo", build_id=build.build_id, undoes="picked", line=done.line)
    item, pieces = wording.count(line + 1), wording.pieces(done.pieces)
    if now.walked is build:
        return (readback(cause, "confirming.undo_pick", proposal, item=item, pieces=pieces),)
    number = wording.count(build.number)
    return (readback(cause, "confirming.undo_pick_of", proposal, item=item, pieces=pieces, number=number),)


def _undo_count(now: Conversation, cause: Cause, done: Done) -> Acts:
    proposal = proposed(cause, "undo", build_id=done.build_id, undoes="counted")
    lines = wording.pieces_on_hand(_counts_before(now, done))
    return (readback(cause, "confirming.undo_count", proposal, lines=lines),)


def _counts_before(now: Conversation, done: Done) -> list[tuple[str, int]]:
    """What is on hand when the counts of an act are taken back; never less than nothing."""
    lying = on_hand(now)
    return [(change.item, max(0, lying.get(change.item, 0) - change.delta)) for change in done.changes]


def _undo_placed(now: Conversation, cause: Cause, done: Done) -> Acts:
    shore = now.standing.get(done.build_id or 0)
    moved = any(build.relocates == done.build_id for build in now.open.values())
    if shore is None or moved:
        return _no_way_back(now, cause, done)
    proposal = proposed(cause, "undo", build_id=shore.build_id, undoes="placed")
    return (readback(cause, "confirming.undo_placed", proposal, number=wording.count(shore.number)),)


def _undo_change(now: Conversation, cause: Cause, done: Done) -> Acts:
    """A change order goes back the way it came: as another, read back and affirmed like it."""
    build = now.open.get(done.build_id or 0)
    if build is None or done.meaning is None:
        return _nothing_to_undo(cause)
    return callouts.proposed_change(now, cause, build, Callout.model_validate(done.meaning), undoes="changed")


def _no_way_back(now: Conversation, cause: Cause, done: Done) -> Acts:
    return (said(cause, "walking.no_way_back", "refused"),)


_UNDO: Mapping[str, Callable[[Conversation, Cause, Done], Acts]] = {
    "picked": _undo_pick,
    "counted": _undo_count,
    "placed": _undo_placed,
    "released": _undo_release,
    "changed": _undo_change,
    "substituted": shortages.undo_substitute,
    "moved": moving.undo,
    "site": places.undo,
    "taken_down": standing.undo_take_down,
    "taught": teaching.undo,
    "other": _no_way_back,
}


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """Take back what was read back, if it is still there to be taken back."""
    build_id, undoes, line = confirmed.build_id, confirmed.shape.undoes, confirmed.shape.line
    if undoes is None:
        build = now.open.get(build_id or 0)
        return _nothing_to_undo(cause) if build is None else _take_back(now, cause, build)
    same = [d for d in now.done if (d.kind, d.build_id) == (undoes, build_id) and line in (None, d.line)]
    return _UNDONE[undoes](now, cause, same[-1]) if same else _nothing_to_undo(cause)


def _put_back(now: Conversation, cause: Cause, done: Done) -> Acts:
    build, line = now.open[done.build_id or 0], _line_now(now, done)
    if line is None:
        return _nothing_to_undo(cause)
    acts = walking.line_back(cause, build, line)
    walked = folded(now, acts).walked
    if walked is not None and walked.build_id == build.build_id:
        acts += (walking.card_said(cause, walked, line),)
    return acts


def _count_back(now: Conversation, cause: Cause, done: Done) -> Acts:
    """The counts of before, and the build whose piece was short is worked out again with them."""
    lying = on_hand(now)
    changes = tuple(
        CountChange(item=name, delta=count - lying.get(name, 0), quantity=count)
        for name, count in _counts_before(now, done)
    )
    acts: Acts = (
        said(
            cause, "stock.done", "stock_changed", build_id=done.build_id,
            what=StockChanged(changes=changes, undoes=True),
            lines=wording.pieces_on_hand([(change.item, change.quantity) for change in changes]),
        ),
    )  # fmt: skip
    build = now.open.get(done.build_id or 0)
    again = () if build is None else _plan_back(folded(now, acts), cause, build)
    acts += again
    acts += builds.after_a_count(folded(now, acts), cause)
    walked = folded(now, acts).walked
    if again and walked is not None and walked.build_id == done.build_id:
        acts += (walking.next_card(cause, walked),)
    return acts


def _plan_back(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    """The plan from before the count, too, unless something was picked since that only the new one has."""
    if build.relocates is not None:
        return builds.planned_again(now, cause, build)
    before, only_new = builds.anew(now, build)
    if only_new:
        number, pieces = wording.count(build.number), wording.pieces(only_new)
        return (said(cause, "walking.mix_stays", to="yard", build_id=build.build_id, number=number, pieces=pieces),)
    if before.refused is not None or (before.parts == build.build.parts and before.missing == build.build.missing):
        return ()
    return builds.instead(now, cause, build, before, build.without)


def _does_not_stand(now: Conversation, cause: Cause, done: Done) -> Acts:
    """ "Build one stands" was said too early."""
    build = now.standing[done.build_id or 0]
    not_yet = said(
        cause, "walking.stands_not", "voided", to="both", build_id=build.build_id, what=WasVoided(what="stands"),
        number=wording.count(build.number),
    )  # fmt: skip
    return (not_yet, walking.repeated(cause, folded(now, (not_yet,)).open[build.build_id]))


#: What an undo does once it is affirmed. A change goes another way: it is another change.
_UNDONE: Mapping[str, Callable[[Conversation, Cause, Done], Acts]] = {
    "picked": _put_back,
    "counted": _count_back,
    "placed": _does_not_stand,
    "substituted": shortages.not_substituted,
    "moved": moving.not_moved,
    "site": places.not_known,
    "taken_down": standing.not_taken_down,
    "taught": teaching.forgotten,
}


def _take_back(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    acts = builds.goes_back(now, cause, build, list(build.held.items()), "walking.stays_up")
    key = "walking.undone" if build.relocates is None else "walking.move_undone"
    acts += (
        said(
            cause, key, "voided", to="both", build_id=build.build_id, meaning=build.request,
            what=WasVoided(what="build"), number=wording.count(build.number),
        ),
    )  # fmt: skip
    acts += voids_about(folded(now, acts), cause, build.build_id)
    return (*acts, *walking.the_next(folded(now, acts), cause))
