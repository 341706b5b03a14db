"""Relocation: a shore that stands is measured again at a new place."""

from __future__ import annotations

from callout.dialogue import wording
from callout.dialogue.state import OpenBuild, Pending
from callout.dialogue.turn import Turn
from callout.values import Callout, Command


def asked_for(turn: Turn, said: Command) -> None:
    """"Relocate", or "relocate build two": which standing shore; its new callout is asked for."""
    standing = [b for b in turn.now.standing.values() if said.build in (None, b.number)]
    if not standing:
        turn.say("relocating.none", "refused")
        return
    build = standing[-1]
    turn.give_up_waiting()
    turn.say(
        "relocating.ask", "asked", build_id=build.build_id, data={"relocates": build.build_id},
        number=wording.count(build.number),
    )  # fmt: skip
    turn.set_seat(since=turn.time)


def propose(turn: Turn, request: Callout, build: OpenBuild) -> None:
    """Read back the new place."""
    raise NotImplementedError


def affirmed(turn: Turn, confirmed: Pending) -> None:
    raise NotImplementedError
