"""Hearing while the voice speaks: its own sound is taken out, and what is heard then is told from its own words.

Three things are known: what went to the loudspeaker (so its echo can be found and taken out), which sentences were
being said (so its own words can be told from others), and how well the echo could be taken out so far.
"""

from __future__ import annotations

import re
import time
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from callout.frame_clock import FrameClock
from callout.hearing.audio import RATE, Samples
from callout.hearing.sources import SoundSource
from callout.speaking.echo import BLOCK, TAIL, EchoCanceller

STEP = BLOCK / RATE
REMEMBERED = 60.0  # seconds of powers
#: So long a voice must have been heard before it is known how it sounds in a microphone.
SETTLED = 2.5
#: Where a time line has moved, or may have, the own words may come back so many seconds later than an echo does: nobody
#: knows what was played when.
ADRIFT = 1.5
#: So many seconds before an utterance tell how well the voice is taken out just now.
LATELY = 6.0
#: A microphone that hears no more than so many times the quiet of the room while the voice speaks does not hear it.
AUDIBLE = 2.0
#: Taken out so far (10 dB), what is left is somebody else.
TAKEN_OUT = 0.1
#: An utterance of which so little is left, and the rest was echo, is no person's (-15 dB).
RESIDUE = 0.03
#: So many times as powerful as the voice (8 dB) in the microphone is somebody who speaks into it.
LOUDER = 6.0
#: While less than this share of an utterance was played, its words are not the voice's, whatever they are.
COVERED = 0.15
#: Words of which this share was being said are the voice's own.
OWN_WORDS = 0.6
#: So alike (correlation of their samples) what is left in a stretch of `STRETCH` seconds is what was played. Two people
#: who speak at once reach 0.1.
ALIKE, STRETCH = 0.3, 0.8
#: Where that holds for this share of an utterance, by power, it is the own voice.
OWN_SHARE = 0.5


class Speaker(Protocol):
    """What is asked of a voice."""

    def played(self, since: float, count: int) -> Samples | None: ...

    @property
    def moves(self) -> int: ...

    @property
    def wavers(self) -> bool: ...

    def said(self, since: float, until: float) -> list[str]: ...


@dataclass(frozen=True)
class Powers:
    """Of one step of 20 ms: as heard, the part that is echo, and what is left."""

    heard: float
    echo: float
    left: float


class OwnVoiceTakenOut:
    """A source without the echo of some voices. Its seconds count from its first sample; `began` is when that was on
    time.monotonic()."""

    def __init__(self, source: SoundSource, speakers: Sequence[Speaker]) -> None:
        self.live = source.live
        self._source = source
        self._speakers = [(speaker, EchoCanceller()) for speaker in speakers]
        self._count = 0
        self._active = 0.0
        clock: FrameClock | None = getattr(source, "clock", None)  # a microphone knows when its samples came
        self._timed = clock is not None
        self._clock = clock or FrameClock(RATE)
        self._moves, self._moved = -1, 0.0  # how often a time line had moved, and when it last did
        self._powers: deque[Powers] = deque(maxlen=round(REMEMBERED / STEP))
        self._sounds: deque[tuple[Samples, Samples | None]] = deque(maxlen=round(REMEMBERED / STEP))  # left, played

    @property
    def began(self) -> float:
        """On time.monotonic()."""
        return self._clock.began + getattr(self._source, "skipped", 0) / RATE

    def blocks(self) -> Iterator[Samples]:
        rest = np.zeros(0, np.float32)
        for block in self._source.blocks():
            rest = np.concatenate([rest, block])
            if not self._timed:
                self._clock.tell(time.monotonic(), self._count + len(rest))
            found = []
            while len(rest) >= BLOCK:
                found.append(self._step(rest[:BLOCK]))
                rest = rest[BLOCK:]
            if found:
                yield np.concatenate(found)

    def _step(self, block: Samples) -> Samples:
        since = self.began + self._count / RATE
        self._count += BLOCK
        left, all_played, echo = block, None, 0.0
        moves = self._clock.moves + sum(speaker.moves for speaker, _ in self._speakers)
        if moves != self._moves:
            self._moves, self._moved = moves, self._count / RATE
            for _, canceller in self._speakers:
                canceller.moved()
        elif self._clock.wavers or any(speaker.wavers for speaker, _ in self._speakers):
            self._moved = self._count / RATE
        for speaker, canceller in self._speakers:
            played = speaker.played(since, BLOCK)
            left = canceller.step(left, played)
            echo += canceller.echo_power
            if played is not None:
                all_played = played if all_played is None else all_played + played
        self._active += STEP if all_played is not None else 0.0
        self._powers.append(Powers(float(block @ block), echo, float(left @ left)))
        self._sounds.append((left, all_played))
        return left

    def close(self) -> None:
        self._source.close()

    def _between(self, start: float, end: float) -> slice:
        """Which of the remembered steps lie between two times of this source."""
        first = self._count // BLOCK - len(self._powers)
        low, high = (max(0, round(at / STEP) - first) for at in (start, end))
        return slice(low, high)

    def is_own(self, words: Sequence[str], start: float, end: float) -> bool:
        """Whether an utterance is the own voice, or cannot be told from it. `words` are what was heard in it."""
        adrift = start - self._moved < SETTLED
        since, until = self.began + start - TAIL - (ADRIFT if adrift else 0.0), self.began + end
        said = [text for speaker, _ in self._speakers for text in speaker.said(since, until)]
        if not said:
            return False
        covered = self._covered(start, end)
        if covered and (self._residue(start, end) or self._own_share(start, end) > OWN_SHARE):
            return True
        unknown = adrift or (covered > COVERED and not self._settled(start, end))
        return unknown and same_words(words, said) and not self._louder(start, end)

    def _covered(self, start: float, end: float) -> float:
        """The share of an utterance during which something was played."""
        where = self._between(start - TAIL, end)
        pieces = list(self._sounds)[where]
        return sum(played is not None for _, played in pieces) / max(1, len(pieces))

    def _residue(self, start: float, end: float) -> bool:
        """Whether nearly all of an utterance was echo that has been taken out: what is left is its rest."""
        powers = list(self._powers)[self._between(start, end)]
        heard, echo, left = (sum(getattr(step, name) for step in powers) for name in ("heard", "echo", "left"))
        return bool(echo > 0.5 * heard and left < RESIDUE * heard)

    def _settled(self, start: float, end: float) -> bool:
        """Whether it is known how the voice sounds here: not at all, or so well that of what was just said little is
        left. (What was known a minute ago is of no use where the machine has lost some sound since.)"""
        if self._active < SETTLED:
            return False
        voice = self._while_played(start - LATELY, start) or self._while_played(0.0, end)
        heard, left = (float(np.mean([getattr(step, name) for step in voice])) for name in ("heard", "left"))
        room = float(np.percentile([step.heard for step in self._powers], 10))
        return heard < AUDIBLE * room or left < TAKEN_OUT * heard

    def _louder(self, start: float, end: float) -> bool:
        """Whether an utterance is far louder than the voice has been in this microphone: then somebody speaks into it.
        Where people spoke over the voice that counts as its own loudness, which errs to the safe side."""
        here = [step.heard for step in list(self._powers)[self._between(start, end)]]
        voice = [step.heard for step in self._while_played(0.0, end)]
        if not here or not voice:
            return False
        return bool(np.percentile(here, 75) > LOUDER * np.percentile(voice, 75))

    def _while_played(self, start: float, end: float) -> list[Powers]:
        """The steps between two times during which something was played."""
        where = self._between(start, end)
        both = zip(list(self._powers)[where], list(self._sounds)[where], strict=True)
        return [powers for powers, (_, played) in both if played is not None]

    def _own_share(self, start: float, end: float) -> float:
        """The share by power of what is left in an utterance that is like what was played shortly before."""
        sounds = list(self._sounds)
        where = self._between(start, end)
        steps, before = round(STRETCH / STEP), round(TAIL / STEP)
        own = total = 0.0
        for at in range(where.start, min(where.stop, len(sounds)), steps):
            left = np.concatenate([piece for piece, _ in sounds[at : at + steps]])
            power = float(left @ left)
            total += power
            earlier = sounds[max(0, at - before) : at + steps]
            if all(piece is None for _, piece in earlier):
                continue
            silence = np.zeros(BLOCK, np.float32)
            played = np.concatenate([silence if piece is None else piece for _, piece in earlier])
            if alike(left, played) > ALIKE:
                own += power
        return own / total if total else 0.0


def alike(left: Samples, played: Samples) -> float:
    """The highest correlation of `left` with any stretch of `played` of its length, 0 to 1."""
    count = len(played) - len(left)
    if count < 0:
        return 0.0
    size = 1 << (len(played) - 1).bit_length()
    crossed = np.fft.irfft(np.fft.rfft(played, size) * np.conj(np.fft.rfft(left, size)), size)[: count + 1]
    sums = np.concatenate([[0.0], np.cumsum(played.astype(np.float64) ** 2)])
    powers = sums[len(left) :] - sums[: count + 1]
    scale = np.sqrt(np.maximum(powers, 1e-9) * max(float(left @ left), 1e-9))
    return float(np.max(np.abs(crossed) / scale))


def same_words(words: Sequence[str], said: Sequence[str]) -> bool:
    """Whether most of the words were in the sentences."""
    spoken = set(re.findall(r"[a-z']+", " ".join(said).lower()))
    return not words or sum(word in spoken for word in words) >= OWN_WORDS * len(words)
