"""What may be heard next from each side: the name of its state (a key of `grammars/states.toml`) and the context."""

from __future__ import annotations

from callout.dialogue.inputs import Role
from callout.dialogue.state import Conversation
from callout.language.context import Context

ROLES: tuple[Role, ...] = ("measurer", "logistics")


def state_name(now: Conversation, role: Role) -> str:
    """The state in which `role` is heard. What waits for an answer goes before the walk, and leaves it its words: the
    crew is not held up by a readback that somebody else has to answer."""
    seat = now.seat(role)
    if now.halted:
        return "halted"
    walked = now.walked if role == "logistics" or now.settings.one_source else None
    if seat.pending is not None:
        return "confirm" if walked is None else "confirm_walk"
    if seat.half is not None:
        return "gather" if walked is None else "gather_walk"
    if walked is None:
        return "idle"
    return "assembly" if walked.at.kind in ("mark", "step", "check", "end") else "walk"


def context(now: Conversation, role: Role) -> Context:
    """The resolver's and the ears' view of the conversation. Practice and stock never narrow what is understood."""
    walked = now.walked
    return Context(
        state=state_name(now, role),
        asked=now.seat(role).asked,
        builds=tuple(sorted(build.number for build in now.open.values())),
        items=None if walked is None else len(walked.got),
    )
