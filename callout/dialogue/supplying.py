"""What goes to the wall first, load by load, and how a shore comes down again, stage by stage: said when asked."""

from __future__ import annotations

from collections.abc import Mapping

from callout.dialogue import speakable, wording
from callout.dialogue.acts import Act, Acts, Cause, said, said_text
from callout.dialogue.state import Conversation, OpenBuild
from callout.shoring.request import writing_of
from callout.shoring.supply import Back, CarryLoad, carry, take_down
from callout.values import Command


def loads(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """One load: what goes in it, where to, how heavy it is, how many carry it."""
    build = _build(now, cause, asked, first=now.open, then=now.standing)
    if build is None:
        return (_none(cause, asked),)
    every, at = carry(build.build), asked.item or 1
    if not 1 <= at <= len(every):
        return (said(cause, "supplying.no_load", "refused", count=wording.count(len(every))),)
    load, writing = every[at - 1], writing_of(build.build.request, build.build.site)
    words = wording.sentence(
        "supplying.load", **_which(build, at, len(every)), to=load.to, people=_people(load.people),
        weight=writing.weight(max(1, round(load.weight_lb))), pieces="; ".join(_piece(one) for one in load.pieces),
    )  # fmt: skip
    more = wording.sentence("supplying.next_load", load=wording.count(at + 1)) if at < len(every) else ""
    return (_said(cause, build, words, more),)


def stages(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """One stage of taking down, and what comes back from it."""
    build = _build(now, cause, asked, first=now.standing, then=now.open)
    if build is None:
        return (_none(cause, asked),)
    every, at = take_down(build.build), asked.item or 1
    if not 1 <= at <= len(every):
        return (said(cause, "supplying.no_stage", "refused", count=wording.count(len(every))),)
    stage = every[at - 1]
    words = wording.sentence("supplying.stage", **_which(build, at, len(every)), what=stage.say)
    back = "; ".join(_back(one) for one in stage.back)
    back = wording.sentence("supplying.back", pieces=back) if back else ""
    more = wording.sentence("supplying.next_stage", stage=wording.count(at + 1)) if at < len(every) else ""
    return (_said(cause, build, words, back, more),)


def _which(build: OpenBuild, at: int, every: int) -> dict[str, str]:
    """ "Build one, load two of three"."""
    return {"number": wording.count(build.number), "at": wording.count(at), "all": wording.count(every)}


def _said(cause: Cause, build: OpenBuild, *words: str) -> Act:
    text = speakable.whole(". ".join(one for one in words if one))
    return said_text(cause, text, build_id=build.build_id, courtesies={"supplied": build.build_id})


def _build(
    now: Conversation, cause: Cause, asked: Command, *, first: Mapping[int, OpenBuild], then: Mapping[int, OpenBuild]
) -> OpenBuild | None:
    """The build that was named; else, with the number of a load or stage, the one of the question before; else the one
    in the walk, or the last."""
    if asked.build is not None:
        named = [build for build in (*then.values(), *first.values()) if build.number == asked.build]
        return named[-1] if named else None
    before = now.seat(cause.role).supplied
    if asked.item is not None and before is not None:
        return first.get(before) or then.get(before)
    if first is now.open and now.walked is not None:
        return now.walked
    return next(reversed(list((first or then).values())), None)


def _none(cause: Cause, asked: Command) -> Act:
    if asked.build is not None:
        return said(cause, "walking.no_such_build", "refused", number=wording.count(asked.build))
    return said(cause, "walking.status_nothing", "refused")


def _people(number: int) -> str:
    return "one person" if number == 1 else f"{wording.count(number)} people"


def _piece(one: CarryLoad) -> str:
    return wording.some(one.name, one.quantity, one.length)


def _back(one: Back) -> str:
    return wording.some(one.name, one.quantity, one.length if "timber" in one.name else None)
