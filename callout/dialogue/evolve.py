"""The fold: how each record changes a conversation. Live steps and a restart both go through here, so they agree.

`evolve` decides nothing and calls nothing; it must stay cheap, because a restart runs it over every line of the
journal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from callout.dialogue.records import (
    Happened,
    LookNoted,
    PiecesMoved,
    Record,
    SiteChanged,
    SizeUpTaken,
    StockChanged,
    WasAffirmed,
    WasAsked,
    WasHalted,
    WasHeard,
    WasInspected,
    WasParked,
    WasReadBack,
    WasReleased,
    WasSaid,
    WasSeen,
    WasSizedUp,
    WasTaught,
    WasVoided,
)
from callout.dialogue.state import MOST_DONE, Conversation, Done, OpenBuild, Pending, Pieces, Seat, add, changed

#: A seat in which no half of a callout waits.
NO_HALF: Mapping[str, Any] = {
    "half": None, "asked": None, "times_asked": 0, "changes": None, "patching": False, "readings": (),
}  # fmt: skip


def evolve(now: Conversation, record: Record) -> Conversation:
    """The conversation after `record`. Lines that are words alone change nothing."""
    if now.confirmed is not None and record.event != "resumed":
        now = changed(now, confirmed=None)  # the line after an affirmative is what it led to
    what = record.what
    handler = _HANDLERS.get(type(what))
    return now if handler is None else handler(now, record, what)


def _heard(now: Conversation, record: Record, what: WasHeard) -> Conversation:
    """New content voids what was read back by being written: a crash after this line must not leave it standing."""
    if what.seat is None:  # nothing but the name of the kept sound: what was heard changed nothing
        return now
    seat = now.seat(what.seat)
    changes: dict[str, Any] = {"pending": None, "teaching": None}
    if what.half is not None:
        changes |= {
            "half": what.half, "patching": what.patching, "readings": what.readings,
            "changes": None if what.fresh else seat.changes,
        }  # fmt: skip
        if what.fresh:
            changes |= {"asked": None, "times_asked": 0}
    return now.with_seat(what.seat, changed(seat, **changes))


def _readback(now: Conversation, record: Record, what: WasReadBack) -> Conversation:
    if what.seat is None:
        return now
    pending = Pending(what.pending, record.text)
    seat = now.seat(what.seat)
    queue = seat.queue[1:] if what.from_queue else seat.queue
    kept = changed(
        seat, pending=pending, parked=None, **NO_HALF, relocates=None, teaching=None, last=record.text, queue=queue
    )
    if what.pending.site is not None:
        now = changed(now, site_said=what.pending.site)
    return now.with_seat(what.seat, kept)


def _asked(now: Conversation, record: Record, what: WasAsked) -> Conversation:
    if what.seat is None:
        return now
    changes: dict[str, Any] = {"last": record.text}
    if what.relocates is not None:
        changes["relocates"] = what.relocates
    if what.teaching is not None:
        changes["teaching"] = what.teaching
    if what.queued is not None:
        others = [waits for waits in now.seat(what.seat).queue if waits.name != what.queued.name]
        changes["queue"] = (*others, what.queued)
    if what.asked is not None:
        changes |= {"asked": what.asked, "times_asked": what.times}
    return now.with_seat(what.seat, changed(now.seat(what.seat), **changes))


def _said(now: Conversation, record: Record, what: WasSaid) -> Conversation:
    now = _keep_last(now, record, what)
    if record.build is not None and (before := now.open.get(record.build_id or 0)) is not None:
        again = replace(
            before, plan=record.build, got=what.got, without=what.without, card=0, swept=False, stale=False
        )
        now = changed(now, open={**now.open, again.build_id: again})
        for name in what.without:
            if name not in before.without:
                now = _with_done(now, Done("substituted", now.acts, before.build_id, item=name))
    if what.at is not None:
        build_id, card = what.at
        build = now.open.get(build_id)
        if build is not None:
            swept = build.swept if what.swept is None else what.swept
            walked = changed(build, card=card, swept=swept, begun=True)
            now = changed(now, focus=build_id, open={**now.open, build_id: walked})
            if now.stopped_at is not None:
                now = changed(now, stopped_at=(build_id, True) if now.stopped_at[0] == build_id else None)
    if what.halted is not None:
        now = changed(now, halted=what.halted)
    return now


def _affirmed(now: Conversation, record: Record, what: WasAffirmed) -> Conversation:
    """What is confirmed is kept until the next line shows that it was carried out."""
    if what.seat is None:
        return now
    seat = now.seat(what.seat)
    cleared = now.with_seat(what.seat, changed(seat, pending=None, parked=None))
    if seat.pending is None:
        return changed(cleared, confirmed=None)
    shape = seat.pending.shape
    if shape.kind == "move":
        moved = Done("moved", shape.role, shape.build_id, item=shape.item, quantity=shape.quantity, giver=shape.giver)
        cleared = _with_done(cleared, moved)
    return changed(cleared, confirmed=seat.pending, acts=shape.role)


def _with_done(now: Conversation, done: Done) -> Conversation:
    return changed(now, done=(*now.done, done)[-MOST_DONE:])


def _taken_back(now: Conversation, kind: str, build_id: int | None, line: int | None = None) -> Conversation:
    """Without the latest act of this kind."""
    for at in range(len(now.done) - 1, -1, -1):
        done = now.done[at]
        if (done.kind, done.build_id, done.line) == (kind, build_id, line):
            return changed(now, done=(*now.done[:at], *now.done[at + 1 :]))
    return now


def _forget(now: Conversation, build_id: int) -> Conversation:
    """The build is gone, and with it whatever could be taken back of it."""
    return changed(now, done=tuple(done for done in now.done if done.build_id != build_id))


def _released(now: Conversation, record: Record, what: WasReleased) -> Conversation:
    build_id, plan = record.build_id, record.build
    if build_id is None or plan is None or record.meaning is None:
        return now
    before = now.open.get(build_id)
    got = what.got or (0,) * len(plan["parts"])
    lent: Pieces = dict(what.reused) or (before.lent if before else {})
    build = OpenBuild(
        build_id, what.number, what.role, what.name, record.meaning, plan, got,
        held=before.held if before else lent, begun=before.begun if before else False,
        without=what.without, relocates=what.relocates, lent=lent,
    )  # fmt: skip
    if what.undoes:
        now = _taken_back(now, "changed", build_id)
    elif before is not None:
        now = _with_done(now, Done("changed", what.role, build_id, meaning=before.meaning))
    else:
        now = _with_done(now, Done("released", what.role, build_id))
    return changed(
        now, open={**now.open, build_id: build}, next_id=max(now.next_id, build_id + 1), taken_back=None,
        standing=_stands_with(now, build, what.reused, -1),
    )  # fmt: skip


def _stands_with(
    now: Conversation, build: OpenBuild, pieces: Iterable[tuple[str, int]], sign: int
) -> Mapping[int, OpenBuild]:
    """The standing shores, after `pieces` of the one that `build` relocates were booked back to it (or over)."""
    old = now.standing.get(build.relocates or 0)
    if old is None:
        return now.standing
    return {**now.standing, old.build_id: changed(old, held=add(old.held, pieces, sign))}


def _voided(now: Conversation, record: Record, what: WasVoided) -> Conversation:
    if what.what == "build" and record.build_id is not None:
        left = {key: value for key, value in now.open.items() if key != record.build_id}
        back = now.open.get(record.build_id)
        now = _forget(now, record.build_id)
        focus = None if now.focus == record.build_id else now.focus
        return changed(now, open=left, focus=focus, taken_back=back.number if back else now.taken_back)
    if what.what == "stands" and record.build_id is not None and record.build_id in now.standing:
        build = now.standing[record.build_id]
        rest = {key: value for key, value in now.standing.items() if key != record.build_id}
        now = _taken_back(now, "placed", record.build_id)
        now = changed(now, standing=rest, open={**now.open, record.build_id: build}, focus=record.build_id)
    if what.what in _ACTS:
        now = _taken_back(now, _ACTS[what.what], record.build_id)
    now = _keep_last(now, record, what)
    if what.seat is None or what.what == "stands" or what.what in _ACTS:
        return now
    seat = now.seat(what.seat)
    changes: dict[str, Any] = {"pending": None, "parked": None, "relocates": None, "changes": None, "teaching": None}
    if what.what == "half":
        changes = dict(NO_HALF)
    elif not what.move:
        changes["relocates"] = seat.relocates if what.relocates is None else what.relocates
        changes["changes"] = seat.changes if what.changes is None else what.changes
    return now.with_seat(what.seat, changed(seat, **changes))


#: What is void where an act is taken back whose pieces are told of by lines of their own -> the kind of that act.
_ACTS = {"substitute": "substituted", "move": "moved"}


def _parked(now: Conversation, record: Record, what: WasParked) -> Conversation:
    if what.seat is None:
        return now
    seat = now.seat(what.seat)
    kept: Seat = changed(seat, parked=seat.pending, pending=None, **NO_HALF)
    return _keep_last(now.with_seat(what.seat, kept), record, what)


def _moved(now: Conversation, record: Record, what: PiecesMoved) -> Conversation:
    """Pieces picked, placed at the wall, or put back."""
    if record.event == "placed":
        return _up_again(now, record, what) if what.again else _placed(now, record)
    build = now.open.get(record.build_id or 0)
    if build is None:
        return _taken_down(now, record, what)
    picked = record.event == "picked"
    got, line = build.got, what.line
    if line is not None:
        quantity = sum(count for _, count in what.pieces)
        got = (*got[:line], max(0, got[line] + (quantity if picked else -quantity)), *got[line + 1 :])
        if picked:
            now = _with_done(now, Done("picked", "logistics", build.build_id, line, what.pieces))
            now = changed(now, stopped_at=None)
        else:
            now = _taken_back(now, "picked", build.build_id, line)
    held, lent = add(build.held, what.pieces, 1 if picked else -1), build.lent
    held, now = add(held, what.gone, -1), _used_up(now, what)
    if what.stands:
        lent = add(lent, what.pieces, -1)
        now = changed(now, standing=_stands_with(now, build, what.pieces, 1))
    return changed(now, open={**now.open, build.build_id: changed(build, got=got, held=held, lent=lent)})


def _used_up(now: Conversation, what: PiecesMoved) -> Conversation:
    """Nails and sawn timber are off the stock for good."""
    return changed(now, changes=add(now.changes, what.gone, -1)) if what.gone else now


def _taken_down(now: Conversation, record: Record, what: PiecesMoved) -> Conversation:
    """Pieces that come back from a standing shore; it is gone when none is left."""
    shore = now.standing.get(record.build_id or 0)
    if shore is None:
        return now
    held, now = add(add(shore.held, what.pieces, -1), what.gone, -1), _used_up(now, what)
    standing = {key: value for key, value in now.standing.items() if key != shore.build_id}
    if held:
        standing[shore.build_id] = changed(shore, held=held)
    if any(build.relocates == shore.build_id for build in standing.values()):
        now = _forget(now, shore.build_id)  # another stands in its place
    else:
        now = _with_done(now, Done("taken_down", now.acts, shore.build_id, shore=shore))
    return changed(now, standing=standing)


def _up_again(now: Conversation, record: Record, what: PiecesMoved) -> Conversation:
    """A shore that was taken down stands: the word was taken back."""
    down = [d for d in now.done if d.kind == "taken_down" and d.build_id == record.build_id and d.shore is not None]
    if not down or down[-1].shore is None:
        return now
    shore = down[-1].shore
    now = changed(_taken_back(now, "taken_down", shore.build_id), changes=add(now.changes, what.gone))
    return changed(now, standing={**now.standing, shore.build_id: shore})


def _placed(now: Conversation, record: Record) -> Conversation:
    build_id = record.build_id
    if build_id is None or build_id not in now.open:
        return now
    left = {key: value for key, value in now.open.items() if key != build_id}
    build = changed(now.open[build_id], lent={})
    standing = {key: shore for key, shore in now.standing.items() if key != build.relocates or shore.held}
    standing[build_id] = build
    # the old shore of a move is down, and what it left over lies in its place again
    now = _with_done(now, Done("placed" if build.relocates is None else "other", "logistics", build_id))
    return changed(now, open=left, standing=standing, focus=None if now.focus == build_id else now.focus)


def _stock_changed(now: Conversation, record: Record, what: StockChanged) -> Conversation:
    if what.undoes:
        now = _taken_back(now, "counted", record.build_id)
    else:
        now = _with_done(now, Done("counted", what.seat or "logistics", record.build_id, changes=what.changes))
    return changed(now, changes=add(now.changes, [(change.item, change.delta) for change in what.changes]))


def _site_changed(now: Conversation, record: Record, what: SiteChanged) -> Conversation:
    now, facts = _keep_last(now, record, what), what.facts
    if record.build_id is None:
        before = {name: now.site.get(name) for name in facts or now.site}
        now = _fact_done(now, record, what, before)
        return changed(now, site={**now.site, **facts} if facts else {})
    for builds in ("open", "standing"):
        of: Mapping[int, OpenBuild] = getattr(now, builds)
        build = of.get(record.build_id)
        if build is not None:
            now = _fact_done(now, record, what, {name: build.plan["site"].get(name) for name in facts})
            plan = {**build.plan, "site": {**build.plan["site"], **facts}}
            told = replace(build, plan=plan, stale=builds == "open")
            now = changed(now, **{builds: {**of, build.build_id: told}})
    return now


def _fact_done(now: Conversation, record: Record, what: SiteChanged, before: Mapping[str, Any]) -> Conversation:
    if what.undoes:
        return _taken_back(now, "site", record.build_id)
    return _with_done(now, Done("site", now.acts, record.build_id, facts=before)) if before else now


def _alarm(now: Conversation, record: Record, what: WasHalted) -> Conversation:
    walked = now.walked
    return changed(now, halted=what.halted, stopped_at=None if walked is None else (walked.build_id, False))


def _seen(now: Conversation, record: Record, what: WasSeen) -> Conversation:
    """What is known of a wall; an estimate from before is of something else."""
    return changed(_keep_last(now, record, what), seen=what.seen, sized=None)


def _sized_up(now: Conversation, record: Record, what: WasSizedUp) -> Conversation:
    return changed(_keep_last(now, record, what), sized=what.result)


def _size_up_taken(now: Conversation, record: Record, what: SizeUpTaken) -> Conversation:
    now = changed(_keep_last(now, record, what), sized=None)
    if what.seat is None:
        return now
    seat = now.seat(what.seat)
    return now.with_seat(what.seat, changed(seat, queue=(*seat.queue, *what.queued)))


def _taught(now: Conversation, record: Record, what: WasTaught) -> Conversation:
    now = _keep_last(now, record, what)
    if what.undoes:
        return _taken_back(now, "taught", None)
    return _with_done(now, Done("taught", now.acts, item=what.command, words=what.phrase, line_of_grammar=what.line))


def _look_noted(now: Conversation, record: Record, what: LookNoted) -> Conversation:
    if record.build_id is None:
        return now
    return changed(_keep_last(now, record, what), looking={**now.looking, record.build_id: what.look})


def _inspected(now: Conversation, record: Record, what: WasInspected) -> Conversation:
    """One more look at a shore; what was noted of it before it was signed is in it."""
    if record.build_id is None:
        return now
    looks = (*now.looked.get(record.build_id, ()), what.look)
    rest = {key: look for key, look in now.looking.items() if key != record.build_id}
    return changed(_keep_last(now, record, what), looked={**now.looked, record.build_id: looks}, looking=rest)


def _keep_last(now: Conversation, record: Record, what: Happened) -> Conversation:
    if what.seat is None or not record.text:
        return now
    return now.with_seat(what.seat, changed(now.seat(what.seat), last=record.text))


_HANDLERS: Mapping[type[Any], Callable[[Conversation, Record, Any], Conversation]] = {
    WasHeard: _heard,
    WasReadBack: _readback,
    WasAsked: _asked,
    WasSaid: _said,
    WasAffirmed: _affirmed,
    WasReleased: _released,
    WasVoided: _voided,
    WasParked: _parked,
    PiecesMoved: _moved,
    StockChanged: _stock_changed,
    SiteChanged: _site_changed,
    WasHalted: _alarm,
    WasSeen: _seen,
    WasSizedUp: _sized_up,
    SizeUpTaken: _size_up_taken,
    LookNoted: _look_noted,
    WasTaught: _taught,
    WasInspected: _inspected,
}
