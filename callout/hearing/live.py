"""The live ear: sound in, utterances out, each heard by the time it is over."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from callout.hearing.audio import RATE, Samples
from callout.hearing.ears import Glance, Heard, Recognizer
from callout.hearing.level import STEP
from callout.hearing.segmenter import LEAD, Ending, Segmenter, Sense
from callout.hearing.sources import SoundSource
from callout.language.context import Context

LOOK = 0.2  # seconds of sound between two glances


@runtime_checkable
class StreamingEars(Protocol):
    """Ears that listen while it is being said."""

    def begin(self, context: Context) -> None: ...

    def feed(self, samples: Samples) -> None: ...

    def glance(self) -> Glance: ...

    def finish(self, opened: float | None = None) -> Heard: ...


@dataclass(frozen=True)
class Segment:
    """One utterance: seconds from the start of the source, its sound, what ended it, and what was heard in it."""

    start: float
    end: float
    samples: Samples
    ending: Ending
    heard: Heard


def utterances(
    source: SoundSource,
    ears: Recognizer,
    context: Callable[[], Context],
    *,
    partial: Callable[[tuple[str, ...]], None] | None = None,
    level: Callable[[float, bool], None] | None = None,
    key: Callable[[], bool | None] | None = None,
) -> Iterator[Segment]:
    """Cut a source into utterances and hear each, until the source ends.

    `context` is asked at the start of each utterance. `partial` gets the words so far, for the screen; `level` gets
    each step's decibels and whether an utterance is open; `key` tells whether a push-to-talk key is down (None:
    there is no key, the level decides).
    """
    listener = _Listener(ears, context, partial)
    segmenter = listener.segmenter
    rest = np.zeros(0, np.float32)
    for block in source.blocks():
        rest = np.concatenate([rest, block])
        while len(rest) >= STEP:
            step, rest = rest[:STEP], rest[STEP:]
            down = key() if key else None
            yield from listener.key(down)
            yield from listener.step(step)
            if level:
                level(segmenter.level, segmenter.open)
    yield from listener.close("end")


class _Listener:
    """One pass over a source: keeps the lead, feeds the ears, looks now and then, closes."""

    def __init__(
        self, ears: Recognizer, context: Callable[[], Context], partial: Callable[[tuple[str, ...]], None] | None
    ) -> None:
        self.segmenter = Segmenter()
        self._ears, self._context, self._partial = ears, context, partial
        self._streaming = ears if isinstance(ears, StreamingEars) else None
        self._lead = np.zeros(0, np.float32)
        self._pieces: list[Samples] = []
        self._start = 0.0
        self._unseen = 0.0
        self._words: tuple[str, ...] = ()
        self._sense: Sense = "nothing"
        self._said: Context | None = None

    def key(self, down: bool | None) -> Iterator[Segment]:
        segmenter = self.segmenter
        segmenter.held = down is not None
        if down and not segmenter.open:
            segmenter.press()
            self._begin()
        elif down is False and segmenter.open:
            segmenter.release()
            yield self._finish("key")

    def step(self, step: Samples) -> Iterator[Segment]:
        segmenter = self.segmenter
        was_open = segmenter.open
        opened = segmenter.step(step)
        if was_open:
            self._take(step)
            self._look()
            ending = segmenter.ended(self._sense)
            if ending:
                yield self._finish(ending)
        else:
            self._lead = np.concatenate([self._lead, step])[-int(LEAD * RATE) :]
            if opened:
                self._begin()

    def close(self, ending: Ending) -> Iterator[Segment]:
        if self.segmenter.open:
            yield self._finish(ending)

    def _begin(self) -> None:
        self._said = self._context()
        self._pieces, self._words, self._sense, self._unseen = [], (), "nothing", 0.0
        self._start = max(0.0, self.segmenter.now - len(self._lead) / RATE)
        if self._streaming:
            self._streaming.begin(self._said)
        self._take(self._lead)
        self._lead = np.zeros(0, np.float32)

    def _take(self, samples: Samples) -> None:
        self._pieces.append(samples)
        if self._streaming:
            self._streaming.feed(samples)

    def _look(self) -> None:
        """Every 0.2 s for the screen; without a screen only in pauses, where it may be the end."""
        self._unseen += STEP / RATE
        if not self._streaming or self._unseen < LOOK or not (self._partial or self.segmenter.quiet > 0.1):
            return
        self._unseen = 0.0
        seen = self._streaming.glance()
        self._sense = seen.sense
        if self._partial and seen.words != self._words:
            self._partial(seen.words)
        self._words = seen.words

    def _finish(self, ending: Ending) -> Segment:
        samples = np.concatenate(self._pieces)
        channel = self.segmenter.channel
        opened = None if channel is None else channel - self._start
        heard = self._streaming.finish(opened) if self._streaming else self._ears.hear(samples, self._said or Context())
        self.segmenter.opened = None
        return Segment(self._start, self._start + len(samples) / RATE, samples, ending, heard)
