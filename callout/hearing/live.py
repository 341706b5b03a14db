"""The live ear: sound in, utterances out, each heard by the time it is over.

In every pause what was said so far is heard as if that were all; mostly it is, and the answer need not wait for the
ears. Where somebody speaks on, the ears get it once more from its beginning. So they do where what was answered early
("say again") goes on, and where a long noise was cut off in the middle of a sentence.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol, runtime_checkable

import numpy as np

from callout.hearing.audio import RATE, Samples
from callout.hearing.ears import Glance, Heard, Recognizer
from callout.hearing.level import STEP
from callout.hearing.segmenter import LEAD, OPEN_STEPS, STEP_SECONDS, WAIT, Ending, Segmenter
from callout.hearing.sources import SoundSource
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Ambiguous, NotUnderstood, Understood

LOOK = 0.2  # seconds of sound between two glances
REST = 3  # times as long as a glance took: a machine that is slow looks less often, and is free when somebody ends
EARLY = 0.14  # seconds of quiet after which it is heard as if it were over
LATER = 0.5  # what was not understood by then is heard once more, with the longer end
SENTENCE = 8.0  # seconds of sound that hold what was being said when an utterance became too long
GOES_ON = 0.6  # seconds of sound after the last word within which a sentence may go on


@runtime_checkable
class StreamingEars(Protocol):
    """Ears that listen while it is being said."""

    def begin(self, context: Context) -> None: ...

    def feed(self, samples: Samples) -> None: ...

    def glance(self) -> Glance: ...

    def finish(self, opened: float | None = None) -> Heard: ...


@dataclass(frozen=True)
class Segment:
    """One utterance: seconds from the start of the source, its sound, what ended it, what was heard in it, and the
    seconds of quiet at its end."""

    start: float
    end: float
    samples: Samples
    ending: Ending
    heard: Heard
    quiet: float = 0.0


def utterances(
    source: SoundSource,
    ears: Recognizer,
    context: Callable[[], Context],
    *,
    partial: Callable[[tuple[str, ...]], None] | None = None,
    pause: Callable[[Segment], None] | None = None,
    level: Callable[[float, bool], None] | None = None,
    key: Callable[[], bool | None] | None = None,
) -> Iterator[Segment]:
    """Cut a source into utterances and hear each, until the source ends.

    `context` is asked at the start of each utterance. `partial` gets the words so far, for the screen; `pause` gets,
    in a pause of the speaker, the utterance as if it were over; `level` gets each step's decibels and whether an
    utterance is open; `key` tells whether a push-to-talk key is down (None: there is no key, the level decides).
    """
    listener = _Listener(ears, context, partial, pause)
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
        self, ears: Recognizer, context: Callable[[], Context], partial: Callable[[tuple[str, ...]], None] | None,
        pause: Callable[[Segment], None] | None = None,
    ) -> None:  # fmt: skip
        self.segmenter = Segmenter()
        self._ears, self._context, self._partial, self._pause = ears, context, partial, pause
        self._streaming = ears if isinstance(ears, StreamingEars) else None
        self._lead = np.zeros(0, np.float32)
        self._pieces: list[Samples] = []
        self._start = 0.0
        self._unseen, self._next_look = 0.0, LOOK
        self._words: tuple[str, ...] = ()
        self._early: _Early | None = None
        self._before: _Before | None = None
        self._said: Context = EVERYTHING

    def key(self, down: bool | None) -> Iterator[Segment]:
        segmenter = self.segmenter
        segmenter.held = down is not None
        if down and not segmenter.open:
            segmenter.press()
            self._begin()
        elif down is False and segmenter.open:
            quiet = segmenter.quiet
            segmenter.release()
            yield self._finish("key", quiet)

    def step(self, step: Samples) -> Iterator[Segment]:
        segmenter = self.segmenter
        was_open = segmenter.open
        opened = segmenter.step(step)
        if was_open:
            if self._early and not segmenter.quiet:
                self._once_more()
            self._take(step)
            self._look()
            ending = segmenter.ended(self._early.heard.sense if self._early else "nothing")
            if ending:
                segment = self._finish(ending, segmenter.quiet)
                yield segment
                if _in_mid_sentence(segment):
                    segmenter.again()
                    self._begin()
        else:
            self._lead = np.concatenate([self._lead, step])[-int(LEAD * RATE) :]
            if opened:
                self._begin()

    def close(self, ending: Ending) -> Iterator[Segment]:
        if self.segmenter.open:
            yield self._finish(ending, self.segmenter.quiet)

    def _begin(self) -> None:
        self._said = self._context()
        self._pieces, self._words, self._early, self._unseen = [], (), None, 0.0
        self._start = max(0.0, self.segmenter.now - len(self._lead) / RATE)
        if self._streaming:
            self._streaming.begin(self._said)
        self._with_what_was_before()
        self._take(self._lead)
        self._lead = np.zeros(0, np.float32)

    def _with_what_was_before(self) -> None:
        """What goes on within the wait that others get: one utterance with what follows."""
        before, self._before = self._before, None
        if before is not None and self.segmenter.now - OPEN_STEPS * STEP_SECONDS <= before.until:
            self._start = before.start  # the lead holds all that came since
            self.segmenter.go_on(self._start, before.channel)
            self._take(before.samples)

    def _take(self, samples: Samples) -> None:
        self._pieces.append(samples)
        if self._streaming and not self._early:
            self._streaming.feed(samples)

    def _look(self) -> None:
        """While somebody speaks, a glance every 0.2 s for the screen; in a pause, what it comes to."""
        self._unseen += STEP / RATE
        quiet, early = self.segmenter.quiet, self._early
        if not self._streaming:
            return
        if quiet >= EARLY:
            if early is None or (early.heard.sense == "nothing" and early.quiet < LATER <= quiet):
                self._hear_early(quiet)
        elif self._partial and self._unseen >= self._next_look and not quiet:
            began = time.monotonic()
            self._show(self._streaming.glance().words)
            self._unseen, self._next_look = 0.0, max(LOOK, REST * (time.monotonic() - began))

    def _hear_early(self, quiet: float) -> None:
        opened = self._opened
        self._early = _Early(self._heard(opened), opened, quiet)
        if self._pause:
            self._pause(self._segment("quiet", self._early.heard, quiet))

    def _show(self, words: tuple[str, ...]) -> None:
        if self._partial and words != self._words:
            self._partial(words)
        self._words = words

    def _once_more(self) -> None:
        """The ears have said what they heard: to go on they must have it from its beginning."""
        assert self._streaming
        self._early = None
        self._streaming.begin(self._said)
        self._streaming.feed(np.concatenate(self._pieces))

    @property
    def _opened(self) -> float | None:
        """When the channel opened, in seconds from the beginning of the utterance."""
        channel = self.segmenter.channel
        return None if channel is None else channel - self._start

    def _heard(self, opened: float | None) -> Heard:
        if not self._streaming:
            return self._ears.hear(np.concatenate(self._pieces), self._said)
        if self._early:
            self._once_more()
        heard = self._streaming.finish(opened)
        if heard.readings:
            self._show(heard.readings[0])
        return heard

    def _finish(self, ending: Ending, quiet: float) -> Segment:
        opened, early = self._opened, self._early
        heard = early.heard if early and early.opened == opened else self._heard(opened)
        channel = self.segmenter.channel
        self._early, self.segmenter.opened = None, None
        segment = self._segment(ending, heard, quiet)
        if _in_mid_sentence(segment):
            told = NotUnderstood((), reasons=("it became too long in the middle of a sentence, which goes on",))
            segment = replace(segment, heard=replace(heard, resolution=told, readings=(), confidence=None))
        self._before = _before_more(segment, channel)
        return segment

    def _segment(self, ending: Ending, heard: Heard, quiet: float) -> Segment:
        samples = np.concatenate(self._pieces)
        return Segment(self._start, self._start + len(samples) / RATE, samples, ending, heard, quiet)


@dataclass(frozen=True)
class _Early:
    """What was heard in a pause: with which opening of the channel, and after how much quiet."""

    heard: Heard
    opened: float | None
    quiet: float


@dataclass(frozen=True)
class _Before:
    """The sound that belongs to the next utterance, where that begins by `until`; when it began, and when its channel
    opened."""

    samples: Samples
    start: float
    channel: float | None
    until: float


def _in_mid_sentence(segment: Segment) -> bool:
    """Whether it became too long where somebody was speaking."""
    return segment.ending == "length" and segment.heard.rest is not None and segment.heard.rest < GOES_ON


def _before_more(segment: Segment, channel: float | None) -> _Before | None:
    """All that was answered although it may go on. Of what became too long the end, in which a sentence may have begun;
    or no sound, where it was taken for something: then what follows lacks its beginning, and the ears must know it."""
    until = segment.end - segment.quiet + WAIT["complete"]
    if (segment.ending, segment.heard.sense) == ("meaning", "again"):
        return _Before(segment.samples, segment.start, channel, until)
    if segment.ending != "length":
        return None
    taken = isinstance(segment.heard.resolution, (Understood, Ambiguous))
    sound = segment.samples[len(segment.samples) if taken else -int(SENTENCE * RATE) :]
    start = segment.end - len(sound) / RATE
    return _Before(sound, start, start, until)
