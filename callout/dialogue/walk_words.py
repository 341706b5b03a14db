"""What the words of the walk do: ready, back, skip, short, found and the like."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from callout.dialogue import readback, shortages, standing, undoing, walking
from callout.dialogue.acts import Acts, Cause, said
from callout.dialogue.readback import near
from callout.dialogue.state import Conversation, OpenBuild
from callout.values import Command


def _ready(now: Conversation, cause: Cause, build: OpenBuild, order: Command) -> Acts:
    """The crew has it. At the end of the checks it is asked whether the build stands: the key that ticked the last one
    never books that."""
    if _FOUND.intersection(cause.words) and _short_just_now(now, cause, build):
        return undoing.undo(now, cause)
    if not shortages.of_this_item(now, build, order):
        return (said(cause, "walking.not_this_item", "refused"), walking.repeated(cause, build))
    if build.at.kind != "end" or walking.unheard(now, cause, build):
        return walking.ready(now, cause, build)
    first = readback.answer_first(now, cause, *shortages.OF_THE_WALK)
    return first or standing.asked_whether_it_stands(cause, build, books=True)


#: "Found them": right after "short" they are what was short, and nothing else is booked.
_FOUND = frozenset({"found"})


def _short_just_now(now: Conversation, cause: Cause, build: OpenBuild) -> bool:
    """Whether the last act is a count of what this build lacks."""
    done = undoing.last_done(now, cause)
    return done is not None and done.kind == "counted" and done.build_id == build.build_id


def _found(now: Conversation, cause: Cause, build: OpenBuild, order: Command) -> Acts:
    """ "We found the rest": right after "short" it is asked whether to take that back; else, whether it is ready."""
    if _short_just_now(now, cause, build):
        return undoing.undo(now, cause)
    return (near(now, cause, Command(command="ready"), "ready"),)


def _skip(now: Conversation, cause: Cause, build: OpenBuild, order: Command) -> Acts:
    """On without booking."""
    if build.at.kind != "end":
        return walking.go_on(cause, build)
    if not build.open_lines:
        return (walking.repeated(cause, build),)
    first = readback.answer_first(now, cause, *shortages.OF_THE_WALK)
    return first or standing.asked_whether_it_stands(cause, build)


def _step_by_step(now: Conversation, cause: Cause, build: OpenBuild, order: Command) -> Acts:
    """To the first step; "next step" among the steps goes on, and never back to the first."""
    if "next" in cause.words and build.at.kind in ("mark", "step"):
        return walking.ready(now, cause, build)
    return walking.step_by_step(cause, build)


WALK_WORDS: Mapping[str, Callable[[Conversation, Cause, OpenBuild, Command], Acts]] = {
    "ready": _ready,
    "next": _ready,
    "back": lambda now, cause, build, order: walking.back(cause, build),
    "skip": _skip,
    "item": lambda now, cause, build, order: walking.to_item(cause, build, order.item),
    "short": shortages.short,
    "substitute": shortages.substitute,
    "found": _found,
    "after_this": lambda now, cause, build, order: walking.after_this(cause, build),
    "one_at_a_time": lambda now, cause, build, order: walking.one_at_a_time(cause, build),
    "step_by_step": _step_by_step,
}
