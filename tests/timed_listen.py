"""`callout` as it is, telling on standard error when each stage of an answer was reached: for `tests.bench_answer`.

Each line is JSON: the stage, and the time of time.monotonic(), which is one clock for all processes of a machine.
"""

from __future__ import annotations

import functools
import json
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from callout.cli import main
from callout.hearing import live
from callout.hearing.recognizer import Heard
from callout.hearing.remote import EarsProcess
from callout.session import live_ears
from callout.session.desk import Desk
from callout.speaking import voice
from callout.speaking.player import Player

STDERR = sys.stderr


def tell(stage: str, **more: Any) -> None:
    STDERR.write(json.dumps({"stage": stage, "at": time.monotonic(), **more}) + "\n")
    STDERR.flush()


def around(owner: Any, name: str, stage: str) -> None:
    """Tell when a function is called and how long it took."""
    made = getattr(owner, name)

    @functools.wraps(made)
    def told(*arguments: Any, **named: Any) -> Any:
        began, more = time.monotonic(), {}
        try:
            result = made(*arguments, **named)
            if isinstance(result, Heard):
                words = " ".join(result.readings[0]) if result.readings else ""
                more = {"words": words, "outcome": type(result.resolution).__name__, "sense": result.sense}
            return result
        finally:
            tell(stage, took=time.monotonic() - began, **more)

    setattr(owner, name, told)


def over(*arguments: Any, **named: Any) -> Iterator[live.Segment]:
    for segment in cut(*arguments, **named):
        tell("over", quiet=segment.quiet)
        yield segment


def first_sound(make: Callable[..., Any]) -> Callable[..., Any]:
    """Of a sentence: when its first piece that is not silence was made."""

    def pieces(*arguments: Any, **named: Any) -> Iterator[Any]:
        told = False
        for samples, known in make(*arguments, **named):
            if not told and np.abs(samples.astype(int)).max(initial=0) > 300:
                tell("rendered")
                told = True
            yield samples, known

    return pieces


def handed(self: Player, wanted: int) -> bytes:
    block = hand(self, wanted)
    loud = bool(np.abs(np.frombuffer(block, np.int16).astype(int)).max(initial=0) > 300)
    if loud and not getattr(self, "was_loud", False):
        tell("handed")
    self.was_loud = loud  # type: ignore[attr-defined]
    return block


if __name__ == "__main__":
    cut, hand = live.utterances, Player._next
    live_ears.utterances = over  # type: ignore[assignment]
    voice.pieces = first_sound(voice.pieces)  # type: ignore[assignment]
    Player._next = handed  # type: ignore[method-assign]
    around(EarsProcess, "finish", "finish")
    around(Desk, "heard", "desk")
    around(voice.Voice, "say", "say")
    around(voice.Voice, "_speak", "speak")
    around(Player, "stop", "stop")
    main()
