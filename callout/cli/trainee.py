"""Where a trainee's answers come from: the keyboard, the microphone alone, or the microphone with a key."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from callout.language.outcome import Resolution

if TYPE_CHECKING:
    from callout.hearing.sources import SoundSource


@dataclass(frozen=True)
class TraineeAnswer:
    """What the trainee gave: words, what they mean, seconds until it was given.

    `key`: seconds from key down to speech and from speech to key up, where there was a key. `confidence`: the ears'.
    """

    words: tuple[str, ...]
    result: Resolution
    seconds: float
    key: tuple[float, float] | None = None
    confidence: float | None = None


#: Gives the next answer, or None when there are no more.
Answers = Callable[[], "TraineeAnswer | None"]


def typed_answer() -> TraineeAnswer | None:
    """A line of standard input."""
    began = time.monotonic()
    line = sys.stdin.readline()
    return understand_text(line, time.monotonic() - began) if line else None


def understand_text(line: str, seconds: float) -> TraineeAnswer:
    """A typed answer; a read-back may leave out its lead-in."""
    from callout.language.resolve import resolve_text

    result = resolve_text(line)
    if result.outcome != "understood":
        with_lead = resolve_text(f"insertion {line}")
        if with_lead.outcome == "understood":
            return TraineeAnswer(tuple(line.lower().split()), with_lead, seconds)
    return TraineeAnswer(tuple(result.words or line.lower().split()), result, seconds)


@contextlib.contextmanager
def spoken_answers(
    open_source: Callable[[], SoundSource], keyed: bool, ask: Callable[[str], object] | None = None
) -> Iterator[Answers]:
    """Answers through the ears. `keyed`: Enter is the key, pressed and let go; otherwise speech begins and ends itself.

    Raises CalloutError, before the first task, where there is no microphone.
    """
    from callout.hearing.ears import open_ears
    from callout.hearing.level import measure
    from callout.language.context import Context
    from callout.scoring.microphone import record_until, record_utterance

    wait_for_key = ask or _wait_for_enter
    open_source().close()
    with contextlib.closing(open_ears()) as ears:

        def answer() -> TraineeAnswer | None:
            began = time.monotonic()
            if keyed:
                wait_for_key("   Enter: key down ")
                samples = record_until(open_source(), lambda: wait_for_key("   Enter: key up "))
            else:
                samples, _ = record_utterance(open_source())
            if not len(samples):
                return None
            seconds = time.monotonic() - began
            level = measure(samples)
            heard = ears.hear(samples, Context())
            words = heard.readings[0] if heard.readings else heard.resolution.words
            key = (level.lead, level.tail) if keyed else None
            return TraineeAnswer(tuple(words), heard.resolution, seconds, key, heard.confidence)

        yield answer


def _wait_for_enter(text: str) -> None:
    click.prompt(text, default="", show_default=False, prompt_suffix="", err=True)
