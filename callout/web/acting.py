"""What a paired board may do at the desk. Each act names the build, the card and the line of the journal that it was
pressed for: what is late, or pressed twice, does nothing and says so."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.dialogue.board import Followed
from callout.dialogue.events import Input, Key, Uttered
from callout.language.outcome import Understood
from callout.session.desk import Desk
from callout.values import Command

Action = Literal["ready", "say_again", "back", "short", "silence"]


class Act(BaseModel):
    """What comes from a button. `card` and `walk` are those of the build as it was shown; `silence` needs neither."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    action: Action
    build: int = 0
    card: str = Field(default="", max_length=40)
    walk: int = 0
    sure: bool = False  # "short" was asked once more, and answered


@dataclass(frozen=True)
class TapOutcome:
    """`done`, or why nothing was done."""

    done: bool
    why: str = ""


def act(desk: Desk, wanted: Act) -> TapOutcome:
    """Do what a board's button asks for, if what it was pressed for still is so."""
    if not desk.writes:
        return TapOutcome(False, "this callout only reads; press it there where the conversation is held")
    if wanted.action == "silence":
        desk.hush()
        return TapOutcome(True)
    if wanted.action == "short" and not wanted.sure:
        return TapOutcome(False, "short is asked once more first")

    def why_not(followed: Followed) -> str:
        return _too_late(followed, wanted)

    if reason := why_not(desk.followed):
        return TapOutcome(False, reason)
    desk.give_way("logistics")
    reason = desk.feed_if(why_not, _input(wanted))
    return TapOutcome(not reason, reason)


def _input(wanted: Act) -> Input:
    now = time.monotonic()
    if wanted.action in ("ready", "say_again"):
        return Key(wanted.action, "logistics", now)
    command = Command(command=wanted.action)
    return Uttered(Understood(command, (wanted.action,)), wanted.action, "logistics", now, certain=True)


def _too_late(followed: Followed, wanted: Act) -> str:
    """Why an act is not about what is so now; "" where it is."""
    now = followed.now
    if now.halted:
        return f"silent since {now.halted.replace('_', ' ')}; go on by voice"
    build = now.walked or min(now.open.values(), key=lambda one: one.build_id, default=None)
    if build is None:
        return "no build is in the walk"
    board = followed.board()
    shown = next(one for one in board.open if one.build_id == build.build_id)
    if (shown.build_id, shown.card, shown.walk) != (wanted.build, wanted.card, wanted.walk):
        return f"too late: build {shown.number} is at {shown.card or 'its beginning'}"
    if wanted.action in ("back", "short") and not build.begun:
        return "the walk has not begun"
    return ""
