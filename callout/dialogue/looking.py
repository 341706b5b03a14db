"""Looks at shores that stand: what was read, who signed, what has moved too far, and what makes a look due at once.

A look is said whole or in pieces; it is booked once somebody signs it. A reading over its limit is a warning to both
sides at once, whoever looks and whether or not it is signed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from typing import Any

from callout.dialogue import speakable, wording
from callout.dialogue.acts import Act, Acts, Cause, heard_nothing, said, said_text
from callout.dialogue.records import LookCalled, LookNoted, WasInspected
from callout.dialogue.state import Conversation, OpenBuild
from callout.language.speak import speak_length
from callout.shoring.aftercare import LOOK_AT, Inspection, Movement, movements
from callout.values import Callout, Command
from callout.values.sights import Looked

#: So many shores are named one by one.
MOST_NAMED = 3


def heard_look(now: Conversation, cause: Cause, heard: Command) -> Acts:
    """One look, whole or in pieces, at the shore that was named, or at the one that is being looked at."""
    shores = _asked_for(now, heard.build)
    if not now.standing:
        return (said(cause, "relocating.none", "refused"),)
    if not shores:
        return (said(cause, "walking.not_standing", "refused", number=wording.count(heard.build or 0)),)
    if heard.build is None and len(shores) > 1:
        return (said(cause, "looking.which", "asked"),)
    shore, piece = shores[-1], heard.look or Looked()
    look = _joined(Looked.model_validate(now.looking.get(shore.build_id, {})), piece)
    if look.signed and look.tight is None and (lacks := _lacks(now, shore, look)):
        return (said(cause, lacks, "refused", number=wording.count(shore.number)),)
    moved = _movements(now.looked.get(shore.build_id, ()), look)
    return (_booked(cause, shore, look, moved), *_warnings(cause, shore, piece, moved))


def lean_of_a_shore(now: Conversation, cause: Cause, called: Callout) -> Acts:
    """ "Leaning two inches", typed while shores stand and no callout is under way: a look, perhaps, and no half of a
    callout at once. How each is said is told; nothing is kept."""
    seat = now.seat(cause.role)
    alone = set(called.said) == {"lean"} and called.lean is not None
    if not (alone and now.standing and cause.certain) or seat.waits or seat.parked is not None:
        return ()
    numbers = [wording.count(shore.number) for shore in now.standing.values()]
    length = speak_length(called.lean)[0] if called.lean is not None else ""
    build = f"build {numbers[0]}" if len(numbers) == 1 else "the build"
    return (heard_nothing(cause), said(cause, "looking.or_a_callout", "asked", build=build, length=length))


def _asked_for(now: Conversation, number: int | None) -> list[OpenBuild]:
    """The standing shores that can be meant; without a number the one that is being looked at, else any."""
    if number is not None:
        return [shore for shore in now.standing.values() if shore.number == number]
    begun = [shore for key, shore in now.standing.items() if key in now.looking]
    return begun or list(now.standing.values())


def _booked(cause: Cause, shore: OpenBuild, look: Looked, moved: Sequence[Movement]) -> Act:
    """Signed, a look is booked, and never as fine where it is not; else it is noted."""
    number, found = wording.count(shore.number), _found(look)
    json = look.model_dump(mode="json", exclude_defaults=True)
    if not look.signed:
        words = wording.sentence("looking.noted", number=number, found=found)
        if not found:
            words = wording.sentence("looking.begin", number=number)
        what = LookNoted(number=shore.number, look=json)
        return said_text(cause, speakable.whole(words), "look_noted", build_id=shore.build_id, what=what)
    words = wording.sentence("looking.booked", number=number, who=look.signed, found=found)
    if look.tight is False or look.sounds or any(one.level != "steady" for one in moved):
        words = wording.sentence("looking.not_fine", number=number, who=look.signed, found=found)
    signed = WasInspected(number=shore.number, look=json)
    return said_text(cause, speakable.whole(words), "inspected", build_id=shore.build_id, what=signed)


def _lacks(now: Conversation, shore: OpenBuild, look: Looked) -> str:
    """Why a signature books nothing: nothing was read, or the shore was not tight the last time that it was said."""
    if not _found(look):
        return "looking.nothing_seen"
    said_of_it = [one["tight"] for one in now.looked.get(shore.build_id, ()) if one.get("tight") is not None]
    return "looking.still_loose" if said_of_it and not said_of_it[-1] else ""


def _joined(before: Looked, more: Looked) -> Looked:
    """What was said of one look so far. A mark that is read again takes the place of its reading."""
    readings = {(one.kind, one.mark): one for one in (*before.readings, *more.readings)}
    return Looked(
        readings=tuple(readings.values()),
        tight=before.tight if more.tight is None else more.tight,
        sounds=before.sounds or more.sounds,
        signed=more.signed or before.signed,
    )


def _found(look: Looked) -> str:
    said = []
    for one in look.readings:
        mark = "" if one.mark == one.kind else f"mark {one.mark} "
        over = f" over {speak_length(one.over)[0]}" if one.over is not None else ""
        said.append(f"{mark}{one.kind} {speak_length(one.value)[0]}{over}")
    if look.tight is not None:
        said.append("all tight" if look.tight else "not tight")
    if look.sounds:
        said.append("a sound was heard")
    return "; ".join(said)


def _movements(before: Sequence[Mapping[str, Any]], look: Looked) -> tuple[Movement, ...]:
    """What the marks did since their first reading. The conversation has no clock: the order of the looks is enough."""
    looks = [
        Inspection.model_validate({**{name: one[name] for name in Looked.model_fields if name in one}, "at": at})
        for at, one in zip(map(_at, range(len(before))), before, strict=True)
    ]
    return movements([*looks, Inspection(at=_at(len(looks)), **dict(look))])


def _at(hours: int) -> datetime:
    return _BEGIN + timedelta(hours=hours)


_BEGIN = datetime(2000, 1, 1, tzinfo=timezone.utc)


def _warnings(cause: Cause, shore: OpenBuild, piece: Looked, moved: Sequence[Movement]) -> Acts:
    """To both sides, what of the piece just said is over its limit."""
    marks = {one.mark for one in piece.readings} | ({"sound"} if piece.sounds else set())
    number = wording.count(shore.number)
    words = [
        wording.sentence("looking.warning", number=number, what=speakable.text(one.say))
        for one in moved
        if one.level != "steady" and one.mark in marks
    ]
    if piece.tight is False:
        words.append(wording.sentence("looking.loose", number=number))
    spoken = (said_text(cause, speakable.whole(one), to="both", build_id=shore.build_id) for one in words)
    return tuple(replace(act, kind="warning") for act in spoken)


def what_to_look_at(now: Conversation, cause: Cause) -> Acts:
    return (said_text(cause, speakable.whole(". ".join(LOOK_AT))),)


#: After what a look is due, as it is said.
_AFTER = {"aftershock": "looking.after_aftershock", "wind": "looking.after_wind", "change": "looking.after_change"}


def happened(now: Conversation, cause: Cause, heard: Command) -> Acts:
    """After this every standing shore is due at once."""
    reason = heard.part if heard.part in _AFTER else "change"
    what, why = LookCalled(reason=reason), wording.sentence(_AFTER[reason])
    shores = list(now.standing.values())
    if not shores:
        return (said(cause, "looking.none_stand", "look_called", to="both", what=what, why=why),)
    names = "; ".join(f"build {wording.count(shore.number)}" for shore in shores)
    if len(shores) > MOST_NAMED:
        names = wording.counted(len(shores), "shore")
    return (said(cause, "looking.now", "look_called", to="both", what=what, why=why, builds=names),)
