"""Reading back: what was said, said again, and how it waits for its affirmative."""

from __future__ import annotations

from typing import Any

from callout.dialogue import wording
from callout.dialogue.asking import next_part, question
from callout.dialogue.events import ActKind, Proposal, WasReadBack
from callout.dialogue.state import OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.values import Callout
from callout.values.meaning import PART_ORDER


def act(turn: Turn, kind: ActKind, request: Callout | None = None, **more: Any) -> Proposal:
    """The act that is to be read back, proposed by who speaks. `more`: fields of `Proposal`."""
    meaning = None if request is None else request.model_dump(mode="json")
    return Proposal(kind=kind, role=turn.role, name=turn.name, meaning=meaning, **more)


def read_back(turn: Turn, key: str, proposal: Proposal, *, from_queue: bool = False, **holes: str) -> None:
    """Read an act back and let it wait for its affirmative in this seat."""
    waiting = Pending(proposal, wording.sentence(key, **holes))
    turn.say_text(
        waiting.text, "readback", meaning=waiting.request, build_id=waiting.build_id,
        what=WasReadBack(pending=proposal, from_queue=from_queue),
    )  # fmt: skip
    turn.wait_for_answer()


def busy(turn: Turn, *kinds: str) -> bool:
    """A word of the walk never voids what somebody else is to answer: that comes first. True after saying so. Readbacks
    of `kinds` are of the walk themselves, and give way."""
    waiting = turn.seat.pending
    if waiting is not None and waiting.kind not in kinds:
        turn.say("confirming.first", "refused")
    elif waiting is None and turn.seat.waits:
        turn.say("asking.first", "refused")
    else:
        return False
    return True


def repeat_readback(turn: Turn, waiting: Pending, *, again: bool = False) -> None:
    """Say a readback once more; it voids nothing, and an answer now answers this one."""
    text = waiting.text.removeprefix(wording.AGAIN)
    turn.say_text(
        wording.AGAIN + text, "readback", meaning=waiting.request, build_id=waiting.build_id,
        what=WasReadBack(pending=waiting.shape),
    )  # fmt: skip
    turn.wait_for_answer(again=again)


def say_again(turn: Turn) -> bool:
    """Repeat what waits for an answer here. False when nothing waits."""
    seat = turn.seat
    if seat.pending is not None:
        repeat_readback(turn, seat.pending)
        return True
    if seat.half is not None:
        part = seat.asked or next_part(seat.half)
        turn.say_text(question(part), "asked")
        return True
    return False


def say_part_again(turn: Turn, command: str, part: str) -> None:
    """ "Say again angle", "all before angle", "all after angle": that much of the callout in question and no more. It
    is not a readback: the whole one still waits for its answer."""
    waiting = turn.seat.pending
    request = _in_question(turn)
    if waiting is not None and waiting.request is None:
        repeat_readback(turn, waiting)
    elif request is None:
        turn.say("confirming.nothing_to_read_back", "refused")
    elif part not in request.said:
        turn.say("confirming.unsaid", "refused", part=wording.part_of_callout(part))
    else:
        names = [name for name in PART_ORDER if name in request.said]  # as they are read back
        at = names.index(part)
        before_after = {"say_again_all_before": names[:at], "say_again_all_after": names[at + 1 :]}
        wanted = before_after.get(command, [part])
        if wanted:
            some = Callout(**{name: request.said[name] for name in wanted})
            turn.say("confirming.part", callout=wording.callout(some))
        else:
            turn.say("confirming.nothing_before" if at == 0 else "confirming.nothing_after")


def _in_question(turn: Turn) -> Callout | None:
    """The callout that waits here, or its half, or that of the build released last."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if waiting is not None:
        return waiting.request
    if seat.half is not None:
        return Callout.model_validate(seat.half)
    build = last_released(turn)
    return None if build is None else build.request


def read_back_again(turn: Turn) -> None:
    """"Read back": the pending readback, or the parked one taken up again, or the last released build."""
    seat = turn.seat
    waiting = seat.pending or seat.parked
    if waiting is not None:
        repeat_readback(turn, waiting)
    elif (build := last_released(turn)) is not None:
        turn.say(
            "confirming.released", number=wording.count(build.number), callout=wording.callout(build.request),
            build_id=build.build_id,
        )  # fmt: skip
    else:
        turn.say("confirming.nothing_to_read_back", "refused")


def last_released(turn: Turn) -> OpenBuild | None:
    """The build released last among those that whoever speaks may change."""
    mine = [b for b in turn.now.open.values() if turn.now.settings.one_source or b.role == turn.role]
    return max(mine, key=lambda b: b.build_id) if mine else None
