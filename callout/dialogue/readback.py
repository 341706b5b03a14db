"""Reading back: what was said, said again, and how it waits for its affirmative."""

from __future__ import annotations

from typing import Any

from callout.dialogue import wording
from callout.dialogue.asking import missing_parts, question
from callout.dialogue.state import OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.values import Callout, Command


def read_back(
    turn: Turn, key: str, kind: str, request: Callout | None = None, *, shape: dict[str, Any] | None = None,
    build_id: int | None = None, **holes: str,
) -> None:  # fmt: skip
    """Read something back and let it wait for its affirmative in this seat."""
    pending = {
        "kind": kind, "role": turn.role, "name": turn.name, "build_id": build_id,
        "meaning": None if request is None else request.model_dump(mode="json"), **(shape or {}),
    }  # fmt: skip
    text = wording.sentence(key, **holes)
    turn.say_text(text, "readback", meaning=request, build_id=build_id, data={"pending": pending})
    turn.wait_for_answer()


def repeat_readback(turn: Turn, waiting: Pending, *, again: bool = False) -> None:
    """Say a readback once more; it voids nothing, and an answer now answers this one."""
    text = waiting.text.removeprefix(wording.AGAIN)
    turn.say_text(
        wording.AGAIN + text, "readback", meaning=waiting.request, build_id=waiting.build_id,
        data={"pending": dict(waiting.shape)},
    )  # fmt: skip
    turn.wait_for_answer(again=again)


def say_again(turn: Turn, said: Command | None = None) -> bool:
    """Repeat what waits for an answer here, or the part of it that was asked for. False when nothing waits."""
    seat = turn.seat
    if seat.pending is not None:
        some = _some_of(seat.pending.request, said)
        if some is None:
            repeat_readback(turn, seat.pending)
        else:  # not a readback: it is the whole one that waits for its answer
            turn.say("confirming.part", callout=wording.callout(some))
        return True
    if seat.half is not None:
        part = seat.asked or missing_parts(Callout.model_validate(seat.half))[0]
        turn.say_text(question(part), "asked")
        return True
    return False


def _some_of(request: Callout | None, said: Command | None) -> Callout | None:
    """The parts of a callout that "say again angle", "all before" and "all after" name; None for all of it."""
    if request is None or said is None or said.part not in request.said:
        return None
    names = list(request.said)
    at = names.index(said.part)
    wanted = {"say_again_all_before": names[:at], "say_again_all_after": names[at + 1 :]}.get(said.command, [said.part])
    return Callout(**{name: request.said[name] for name in wanted}) if wanted else None


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
