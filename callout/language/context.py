"""What the conversation knows when it listens: the resolver's third argument, the ears' grammar selector."""

from __future__ import annotations

from dataclasses import dataclass

from callout.language.outcome import Guess
from callout.values import Callout, Length


@dataclass(frozen=True)
class Context:
    """What may be said now. The default allows every word of every state and every value.

    `state` names a state of the conversation (a key of the state table in `grammars/`), or None for all.
    `angles`, `reach` narrow what the stock and practice can do: a value outside is heard, and reported.
    `asked` is the part the tool asked for last ("insertion", "angle_deg"): a bare value then answers it.
    `waiting` is the callout whose readback waits for its answer: a correction without a unit or a name is of it.
    `caller` is the callsign of who called it: a yes with another callsign before it is none.
    `guesses` are parts of the callout that waits which were heard and not taken: heard again, they count.
    `builds` are the numbers of the builds that are open or stand; `items` how many lines the parts list has.
    """

    state: str | None = None
    angles: frozenset[int] | None = None
    reach: tuple[Length, Length] | None = None
    asked: str | None = None
    waiting: Callout | None = None
    caller: str | None = None
    builds: tuple[int, ...] = ()
    items: int | None = None
    guesses: tuple[Guess, ...] = ()


EVERYTHING = Context()
