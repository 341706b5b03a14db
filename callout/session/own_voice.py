"""Hearing while the voice speaks: its own sound is taken out, and what is heard then is told from its own words.

Three things are known: what went to the loudspeaker (so its echo can be found and taken out), which sentences were
being said (so its own words can be told from others), and how well the echo could be taken out so far.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from callout.hearing.audio import RATE, Samples
from callout.hearing.sources import Source
from callout.speaking.echo import BLOCK, EchoCanceller
from callout.speaking.player import FrameClock

STEP = BLOCK / RATE
REMEMBERED = 60.0  # seconds of powers
#: So long a voice must have been heard before it is known how it sounds in a microphone.
SETTLED = 2.5
#: An echo of less than this share of what was heard is none.
NO_ECHO = 0.05
#: Taken out so far (10 dB), what is left is somebody else.
TAKEN_OUT = 0.1
#: Words of which this share was being said are the voice's own.
OWN_WORDS = 0.6
#: So alike in their loudness, step by step, what was heard is what was played.
SAME_SHAPE = 0.75
_LAGS = 25  # steps of 20 ms within which an echo comes


class Speaker(Protocol):
    """What is asked of a voice."""

    def played(self, since: float, count: int) -> Samples | None: ...

    def said(self, since: float, until: float) -> list[str]: ...


@dataclass(frozen=True)
class Powers:
    """Of one step of 20 ms: as heard, the part that is echo, what is left, and what was played."""

    heard: float
    echo: float
    left: float
    played: float


class OwnVoiceTakenOut:
    """A source without the echo of some voices. Its seconds count from its first sample; `began` is when that was on
    time.monotonic()."""

    def __init__(self, source: Source, speakers: Sequence[Speaker]) -> None:
        self.live = source.live
        self._source = source
        self._speakers = [(speaker, EchoCanceller()) for speaker in speakers]
        self._count = 0
        self._active = 0.0
        self._clock = FrameClock(RATE)
        self._powers: deque[Powers] = deque(maxlen=round(REMEMBERED / STEP))

    @property
    def began(self) -> float:
        return self._clock.began

    def blocks(self) -> Iterator[Samples]:
        rest = np.zeros(0, np.float32)
        for block in self._source.blocks():
            rest = np.concatenate([rest, block])
            self._clock.tell(time.monotonic(), self._count + len(rest))
            found = []
            while len(rest) >= BLOCK:
                found.append(self._step(rest[:BLOCK]))
                rest = rest[BLOCK:]
            if found:
                yield np.concatenate(found)

    def _step(self, block: Samples) -> Samples:
        since = self._clock.began + self._count / RATE
        self._count += BLOCK
        left, loud, echo, active = block, 0.0, 0.0, False
        for speaker, canceller in self._speakers:
            played = speaker.played(since, BLOCK)
            left = canceller.step(left, played)
            echo += canceller.echo_power
            active = active or canceller.active
            loud += 0.0 if played is None else float(played @ played)
        self._active += STEP if loud else 0.0
        self._powers.append(Powers(float(block @ block), echo, float(left @ left), loud))
        return left

    def close(self) -> None:
        self._source.close()

    def between(self, start: float, end: float) -> list[Powers]:
        """The powers of the steps between two times of this source, as far as they are remembered."""
        first = self._count // BLOCK - len(self._powers)
        low, high = (max(0, round(at / STEP) - first) for at in (start, end))
        return list(self._powers)[low:high]

    def is_own(self, words: Sequence[str], start: float, end: float) -> bool:
        """Whether an utterance is the own voice, or cannot be told from it. `words` are what was heard in it."""
        since, until = self.began + start - REMEMBERED / 100, self.began + end
        said = [text for speaker, _ in self._speakers for text in speaker.said(since - 0.5, until)]
        powers = self.between(start, end)
        if not said or not any(step.played for step in powers):
            return False
        if self._settled(powers):
            return False
        return same_words(words, said) or same_shape(powers)

    def _settled(self, powers: list[Powers]) -> bool:
        """Whether it is known how the voice sounds here: not at all, or so well that nothing of it is left."""
        if self._active < SETTLED:
            return False
        heard, echo = sum(step.heard for step in powers), sum(step.echo for step in powers)
        if echo < NO_ECHO * heard:
            return True
        mostly_echo = [step for step in self._powers if step.echo > 0.5 * step.heard > 0.0]
        taken = sum(step.left for step in mostly_echo) / max(1e-12, sum(step.heard for step in mostly_echo))
        return bool(mostly_echo) and taken < TAKEN_OUT


def same_words(words: Sequence[str], said: Sequence[str]) -> bool:
    """Whether most of the words were in the sentences."""
    spoken = set(" ".join(said).lower().replace(",", " ").replace(".", " ").replace(";", " ").split())
    return not words or sum(word in spoken for word in words) >= OWN_WORDS * len(words)


def same_shape(powers: Sequence[Powers]) -> bool:
    """Whether what was heard goes up and down with what was played, a little later."""
    heard = np.log10(np.array([step.heard for step in powers]) + 1e-6)
    played = np.log10(np.array([step.played for step in powers]) + 1e-6)
    best = 0.0
    for lag in range(min(_LAGS, len(powers) - 10)):
        ours, theirs = played[: len(played) - lag], heard[lag:]
        if np.ptp(ours) > 0 and np.ptp(theirs) > 0:
            best = max(best, float(np.corrcoef(ours, theirs)[0, 1]))
    return best > SAME_SHAPE
