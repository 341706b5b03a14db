"""Reading back: what was said, said again, and how it waits for its affirmative."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from callout.dialogue import wording
from callout.dialogue.acts import Act, Acts, Cause, said, said_text, waiting
from callout.dialogue.asking import next_part, question, question_of_teaching
from callout.dialogue.records import ActKind, Proposal, WasReadBack
from callout.dialogue.state import Conversation, OpenBuild, Pending
from callout.values import Callout, Command
from callout.values.meaning import PART_ORDER


def proposed(cause: Cause, kind: ActKind, request: Callout | None = None, **more: Any) -> Proposal:
    """What is to be read back, proposed by who speaks. `more`: fields of `Proposal`."""
    meaning = None if request is None else request.model_dump(mode="json")
    return Proposal(kind=kind, role=cause.role, name=cause.name, meaning=meaning, **more)


def readback(cause: Cause, key: str, proposal: Proposal, *, from_queue: bool = False, **holes: str) -> Act:
    """Read a proposal back and let it wait for its affirmative in this seat."""
    act = said(
        cause, key, "readback", meaning=Pending(proposal, "").request, build_id=proposal.build_id,
        what=WasReadBack(pending=proposal, from_queue=from_queue), courtesies=waiting(cause),
    )  # fmt: skip
    return replace(act, holes=holes)


def readback_again(cause: Cause, waits: Pending, *, again: bool = False) -> Act:
    """Say a readback once more; it voids nothing, and an answer now answers this one."""
    return said_text(
        cause, wording.AGAIN + waits.text.removeprefix(wording.AGAIN), "readback", meaning=waits.request,
        build_id=waits.build_id, what=WasReadBack(pending=waits.shape), courtesies=waiting(cause, again=again),
    )  # fmt: skip


def answer_first(now: Conversation, cause: Cause, *kinds: str) -> Acts:
    """A word of the walk never voids what somebody else is to answer: that comes first. Nothing where nothing waits;
    readbacks of `kinds` are of the walk themselves, and give way."""
    seat = now.seat(cause.role)
    if seat.pending is not None and seat.pending.kind not in kinds:
        return (said(cause, "confirming.first", "refused"),)
    if seat.pending is None and seat.waits:
        return (said(cause, "asking.first", "refused"),)
    return ()


# What is asked to be said again.


def say_again(now: Conversation, cause: Cause) -> Acts:
    """What waits for an answer here, once more. Nothing when nothing waits."""
    seat = now.seat(cause.role)
    if seat.pending is not None:
        return (readback_again(cause, seat.pending),)
    if seat.half is not None:
        return (said_text(cause, question(seat.asked or next_part(seat.half)), "asked"),)
    if seat.teaching is not None:
        return (said_text(cause, question_of_teaching(seat.teaching), "asked"),)
    return ()


def say_part_again(now: Conversation, cause: Cause, command: str, part: str) -> Acts:
    """ "Say again angle", "all before angle", "all after angle": that much of the callout in question and no more. It
    is not a readback: the whole one still waits for its answer."""
    waits = now.seat(cause.role).pending
    request = _in_question(now, cause)
    if waits is not None and waits.request is None:
        return (readback_again(cause, waits),)
    if request is None:
        return (said(cause, "confirming.nothing_to_read_back", "refused"),)
    if part not in request.said:
        return (said(cause, "confirming.unsaid", "refused", part=wording.part_of_callout(part)),)
    names = [name for name in PART_ORDER if name in request.said]  # as they are read back
    at = names.index(part)
    before_after = {"say_again_all_before": names[:at], "say_again_all_after": names[at + 1 :]}
    wanted = before_after.get(command, [part])
    if not wanted:
        return (said(cause, "confirming.nothing_before" if at == 0 else "confirming.nothing_after"),)
    some = Callout(**{name: request.said[name] for name in wanted})
    if len(now.open) > 1 and (build := _build_in_question(now, cause)) is not None:
        number, words = wording.count(build.number), wording.callout(some)
        return (said(cause, "confirming.part_of", build_id=build.build_id, number=number, callout=words),)
    return (said(cause, "confirming.part", callout=wording.callout(some)),)


def _in_question(now: Conversation, cause: Cause) -> Callout | None:
    """The callout that waits here, or its half, or that of the build released last."""
    seat = now.seat(cause.role)
    waits = seat.pending or seat.parked
    if waits is not None:
        return waits.request
    if seat.half is not None:
        return Callout.model_validate(seat.half)
    build = _build_in_question(now, cause)
    return None if build is None else build.request


def _build_in_question(now: Conversation, cause: Cause) -> OpenBuild | None:
    """The build in the walk, for who walks it, else the one released last; none while a callout waits here."""
    seat = now.seat(cause.role)
    if seat.pending is not None or seat.parked is not None or seat.half is not None:
        return None
    return now.walked if cause.in_yard and now.walked is not None else last_released(now, cause)


def read_back_again(now: Conversation, cause: Cause) -> Acts:
    """"Read back": the pending readback, or the parked one taken up again, or the last released build."""
    seat = now.seat(cause.role)
    waits = seat.pending or seat.parked
    if waits is not None:
        return (readback_again(cause, waits),)
    build = last_released(now, cause)
    if build is None:
        return (said(cause, "confirming.nothing_to_read_back", "refused"),)
    number, words = wording.count(build.number), wording.callout(build.request)
    return (said(cause, "confirming.released", build_id=build.build_id, number=number, callout=words),)


def last_released(now: Conversation, cause: Cause) -> OpenBuild | None:
    """The build released last among those that whoever speaks may change."""
    mine = [b for b in now.open.values() if cause.one_source or b.role == cause.role]
    return max(mine, key=lambda b: b.build_id) if mine else None


def near(now: Conversation, cause: Cause, meant: Command, words: str) -> Act:
    """What was said is near to a command and is none: asked in one clause, with the piece that it is of, and a yes does
    it."""
    proposal, build = proposed(cause, "near", command=meant.model_dump(mode="json")), now.walked
    if meant.command in _OF_A_PIECE and meant.part is None and build is not None and build.at.kind == "item":
        piece = wording.lines(build.build.parts[build.at.index].name, 2)
        return readback(cause, "asking.near_piece", proposal, words=words, part=piece)
    return readback(cause, "asking.near", proposal, words=words)


#: Said without a piece, they are of the item at which the crew is.
_OF_A_PIECE = frozenset({"short", "stock_lost", "substitute"})
