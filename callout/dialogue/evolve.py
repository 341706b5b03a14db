"""The fold: how each record changes a conversation. Live steps and a restart both go through here, so they agree.

`evolve` decides nothing and calls nothing; it must stay cheap, because a restart runs it over every line of the
journal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from callout.dialogue.events import Record
from callout.dialogue.state import Conversation, OpenBuild, Pending, Pieces, Seat, changed

#: A seat in which no half of a callout waits.
NO_HALF: Mapping[str, Any] = {
    "half": None, "asked": None, "times_asked": 0, "changes": None, "patching": False, "readings": (),
}  # fmt: skip


def evolve(now: Conversation, record: Record) -> Conversation:
    """The conversation after `record`. Lines of other programs (without `data`) change nothing they should not."""
    if now.confirmed is not None and record.event != "resumed":
        now = changed(now, confirmed=None)  # the line after an affirmative is what it led to
    handler = _HANDLERS.get(record.event)
    return handler(now, record, record.data) if handler is not None and record.data else now


def _heard(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    """New content voids what was read back by being written: a crash after this line must not leave it standing."""
    if "seat" not in data:  # nothing but the name of the kept sound: what was heard changed nothing
        return now
    changes: dict[str, Any] = {"pending": None}
    if "half" in data:
        seat = now.seat(data["seat"])
        changes |= {
            "half": data["half"], "patching": data.get("patching", False), "readings": tuple(data.get("readings", ())),
            "changes": None if data["fresh"] else seat.changes,
        }  # fmt: skip
        if data["fresh"]:
            changes |= {"asked": None, "times_asked": 0}
    return now.with_seat(data["seat"], changed(now.seat(data["seat"]), **changes))


def _readback(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    seat = now.seat(data["seat"])
    pending = Pending(data["pending"], record.text)
    kept = changed(
        seat, pending=pending, parked=None, **NO_HALF, relocates=None, last=record.text
    )
    return now.with_seat(data["seat"], kept)


def _asked(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    seat = now.seat(data["seat"])
    changes: dict[str, Any] = {"last": record.text}
    if "relocates" in data:
        changes["relocates"] = data["relocates"]
    if "asked" in data:
        changes |= {"asked": data["asked"], "times_asked": data["times"]}
    return now.with_seat(data["seat"], changed(seat, **changes))


def _said(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    now = _keep_last(now, record, data)
    if record.build is not None and (before := now.open.get(record.build_id or 0)) is not None:
        again = replace(
            before, plan=record.build, got=tuple(data["got"]), without=tuple(data["without"]), card=0, swept=False,
            stale=False,
        )  # fmt: skip
        now = changed(now, open={**now.open, again.build_id: again})
    if "at" in data:
        build_id, card = data["at"]
        build = now.open.get(build_id)
        if build is not None:
            walked = changed(build, card=card, swept=data.get("swept", build.swept), begun=True)
            now = changed(now, focus=build_id, open={**now.open, build_id: walked})
    if "halted" in data:
        now = changed(now, halted=data["halted"])
    return now


def _affirmed(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    """What is confirmed is kept until the next line shows that it was carried out."""
    seat = now.seat(data["seat"])
    cleared = now.with_seat(data["seat"], changed(seat, pending=None, parked=None))
    return changed(cleared, confirmed=seat.pending)


def _released(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    build_id, plan = record.build_id, record.build
    if build_id is None or plan is None or record.meaning is None:
        return now
    before = now.open.get(build_id)
    got = tuple(data.get("got") or (0,) * len(plan["parts"]))
    lent: Pieces = dict(data.get("reused", ())) or (before.lent if before else {})
    build = OpenBuild(
        build_id, data["number"], data["role"], data["name"], record.meaning, plan, got,
        held=before.held if before else lent, begun=before.begun if before else False,
        without=tuple(data.get("without", ())), relocates=data.get("relocates"), lent=lent,
    )  # fmt: skip
    return changed(
        now, open={**now.open, build_id: build}, next_id=max(now.next_id, build_id + 1), taken_back=None,
        standing=_stands_with(now, build, data.get("reused", ()), -1),
    )  # fmt: skip


def _stands_with(
    now: Conversation, build: OpenBuild, pieces: Iterable[tuple[str, int]], sign: int
) -> Mapping[int, OpenBuild]:
    """The standing shores, after `pieces` of the one that `build` relocates were booked back to it (or over)."""
    old = now.standing.get(build.relocates or 0)
    if old is None:
        return now.standing
    return {**now.standing, old.build_id: changed(old, held=add(old.held, pieces, sign))}


def _voided(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    if data.get("what") == "build" and record.build_id is not None:
        left = {key: value for key, value in now.open.items() if key != record.build_id}
        back = now.open.get(record.build_id)
        focus = None if now.focus == record.build_id else now.focus
        return changed(now, open=left, focus=focus, taken_back=back.number if back else now.taken_back)
    if "seat" not in data:
        return now
    now = _keep_last(now, record, data)
    seat = now.seat(data["seat"])
    changes: dict[str, Any] = {"pending": None, "parked": None, "relocates": None, "changes": None}
    if data.get("what") == "half":
        changes = dict(NO_HALF)
    elif not data.get("move", True):
        changes["relocates"] = data.get("relocates", seat.relocates)
        changes["changes"] = data.get("changes", seat.changes)
    return now.with_seat(data["seat"], changed(seat, **changes))


def _parked(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    seat = now.seat(data["seat"])
    kept: Seat = changed(seat, parked=seat.pending, pending=None, **NO_HALF)
    return _keep_last(now.with_seat(data["seat"], kept), record, data)


def add(pieces: Pieces, more: Iterable[tuple[str, int]], sign: int = 1) -> dict[str, int]:
    """`pieces` with `more` added (or taken off, with `sign` -1); lines that come to nothing are left out."""
    total = dict(pieces)
    for item, quantity in more:
        total[item] = total.get(item, 0) + sign * quantity
        if not total[item]:
            del total[item]
    return total


def _moved(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    """Pieces picked, or put back."""
    build = now.open.get(record.build_id or 0)
    if build is None:
        return _taken_down(now, record, data)
    picked = record.event == "picked"
    got, line = build.got, data.get("line")
    if line is not None:
        quantity = sum(count for _, count in data["pieces"])
        got = (*got[:line], max(0, got[line] + (quantity if picked else -quantity)), *got[line + 1 :])
    held, lent = add(build.held, data["pieces"], 1 if picked else -1), build.lent
    if data.get("stands"):
        lent = add(lent, data["pieces"], -1)
        now = changed(now, standing=_stands_with(now, build, data["pieces"], 1))
    return changed(now, open={**now.open, build.build_id: changed(build, got=got, held=held, lent=lent)})


def _taken_down(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    """Pieces that come back from a standing shore; it is gone when none is left."""
    shore = now.standing.get(record.build_id or 0)
    if shore is None:
        return now
    held = add(shore.held, data["pieces"], -1)
    standing = {key: value for key, value in now.standing.items() if key != shore.build_id}
    if held:
        standing[shore.build_id] = changed(shore, held=held)
    return changed(now, standing=standing)


def _placed(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    build_id = record.build_id
    if build_id is None or build_id not in now.open:
        return now
    left = {key: value for key, value in now.open.items() if key != build_id}
    build = changed(now.open[build_id], lent={})
    standing = {key: shore for key, shore in now.standing.items() if key != build.relocates or shore.held}
    standing[build_id] = build
    return changed(now, open=left, standing=standing, focus=None if now.focus == build_id else now.focus)


def _stock_changed(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    moves = [(change["item"], change["delta"]) for change in data.get("changes", ())]
    return changed(now, changes=add(now.changes, moves))


def _site_changed(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    now, facts = _keep_last(now, record, data), data["facts"]
    if record.build_id is None:
        return changed(now, site={**now.site, **facts} if facts else {})
    for builds in ("open", "standing"):
        of: Mapping[int, OpenBuild] = getattr(now, builds)
        build = of.get(record.build_id)
        if build is not None:
            plan = {**build.plan, "site": {**build.plan["site"], **facts}}
            told = replace(build, plan=plan, stale=builds == "open")
            now = changed(now, **{builds: {**of, build.build_id: told}})
    return now


def _alarm(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    return changed(now, halted=data.get("halted", ""))


def _keep_last(now: Conversation, record: Record, data: Mapping[str, Any]) -> Conversation:
    if "seat" not in data or not record.text:
        return now
    return now.with_seat(data["seat"], changed(now.seat(data["seat"]), last=record.text))


_HANDLERS: dict[str, Callable[[Conversation, Record, Mapping[str, Any]], Conversation]] = {
    "heard": _heard,
    "readback": _readback,
    "asked": _asked,
    "said": _said,
    "affirmed": _affirmed,
    "released": _released,
    "voided": _voided,
    "parked": _parked,
    "picked": _moved,
    "returned": _moved,
    "placed": _placed,
    "stock_changed": _stock_changed,
    "site_changed": _site_changed,
    "alarm": _alarm,
    "refused": _keep_last,
}
