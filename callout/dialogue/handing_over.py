"""What the next shift must know, and what was changed last: said in a few short sentences, and changing nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from callout.dialogue import answers, places, wording
from callout.dialogue.acts import Acts, Cause, said
from callout.dialogue.state import Conversation, Done
from callout.values import Callout, Length

#: So many changes are said.
MOST_CHANGES = 3


def handover(now: Conversation, cause: Cause) -> Acts:
    """Every build and where it is, what it is short of, looks that nobody signed, and what waits for an answer."""
    lines = answers.status_lines(now)
    for shore in now.standing.values():
        if shore.build_id in now.looking:
            lines.append(wording.sentence("handing_over.looking", number=wording.count(shore.number)))
    for seat in (now.measurer, now.logistics):
        if seat.pending is not None:
            lines.append(wording.sentence("opening.resumed_pending"))
        if seat.parked is not None:
            lines.append(wording.sentence("opening.resumed_parked"))
    if facts := places.spoken(now.site):
        lines.append(wording.sentence("opening.resumed_place", facts=facts))
    lines = lines or [wording.sentence("handing_over.nothing")]
    return (said(cause, "handing_over.handover", lines=". ".join(lines)),)


def what_changed(now: Conversation, cause: Cause) -> Acts:
    """The last changes of builds and counts, the newest first. What was only picked is no change."""
    lines = [line for done in reversed(now.done) if done.kind in _SAID and (line := _SAID[done.kind](now, done))]
    lines = lines[:MOST_CHANGES]
    if now.measurer.pending is not None or now.logistics.pending is not None:
        lines.append(wording.sentence("handing_over.waits"))
    if not lines:
        return (said(cause, "handing_over.nothing_changed"),)
    return (said(cause, "handing_over.changed", lines=". ".join(lines)),)


def _number(now: Conversation, build_id: int | None) -> str:
    build = now.build(build_id)
    return "" if build is None else wording.count(build.number)


def _counted(now: Conversation, done: Done) -> str:
    lines = wording.pieces_on_hand([(change.item, change.quantity) for change in done.changes])
    return wording.sentence("handing_over.counted", lines=lines)


def _other_callout(now: Conversation, done: Done) -> str:
    build = now.build(done.build_id)
    if build is None or done.meaning is None:
        return ""
    since = now.done[now.done.index(done) + 1 :]
    later = [d.meaning for d in since if (d.kind, d.build_id) == ("changed", done.build_id)]
    before = Callout.model_validate(done.meaning)
    after = Callout.model_validate(later[0]) if later and later[0] is not None else build.request
    parts = [name for name in Callout.model_fields if getattr(before, name) != getattr(after, name)]
    return wording.sentence(
        "handing_over.other_callout", number=wording.count(build.number), before=_told(before, parts),
        after=_told(after, parts),
    )  # fmt: skip


def _told(called: Callout, parts: list[str]) -> str:
    """The parts that were changed, as they are read back, once each."""
    said = []
    for name in parts:
        value = getattr(called, name)
        alone = Callout.model_validate({"kind": called.kind, name: value})
        said.append(wording.guess(value) if isinstance(value, Length) else wording.callout(alone))
    return ", ".join(filter(None, said)) or wording.sentence("handing_over.unsaid")


def _released(now: Conversation, done: Done) -> str:
    build = now.build(done.build_id)
    if build is None:
        return ""
    number = wording.count(build.number)
    return wording.sentence("handing_over.released", number=number, callout=wording.brief(build.request))


def _without(now: Conversation, done: Done) -> str:
    number = _number(now, done.build_id)
    part = wording.lines(done.item or "", 2)
    return wording.sentence("handing_over.without", number=number, part=part) if number else ""


def _moved(now: Conversation, done: Done) -> str:
    giver, receiver = _number(now, done.giver), _number(now, done.build_id)
    if not (giver and receiver and done.item):
        return ""
    pieces = wording.pieces([(done.item, done.quantity or 0)])
    return wording.sentence("handing_over.moved", pieces=pieces, giver=giver, receiver=receiver)


def _site(now: Conversation, done: Done) -> str:
    if done.build_id is None:
        return wording.sentence("handing_over.site")
    number = _number(now, done.build_id)
    return wording.sentence("handing_over.site_build", number=number) if number else ""


def _placed(now: Conversation, done: Done) -> str:
    number = _number(now, done.build_id)
    return wording.sentence("handing_over.placed", number=number) if number else ""


def _taken_down(now: Conversation, done: Done) -> str:
    if done.shore is None:
        return ""
    return wording.sentence("handing_over.taken_down", number=wording.count(done.shore.number))


_SAID: Mapping[str, Callable[[Conversation, Done], str]] = {
    "counted": _counted,
    "changed": _other_callout,
    "released": _released,
    "placed": _placed,
    "substituted": _without,
    "moved": _moved,
    "site": _site,
    "taken_down": _taken_down,
}
