"""Where an utterance begins and ends in a stream of sound: by level, by key, by the radio's squelch, by meaning."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from callout.hearing.audio import RATE, Samples
from callout.hearing.level import STEP, step_levels

Ending = Literal["quiet", "meaning", "squelch", "key", "length", "end"]
Sense = Literal["complete", "half", "nothing"]

STEP_SECONDS = STEP / RATE
BEFORE = 0.5  # seconds kept before the level rises: the ears want a lead
OPEN_DB, CLOSE_DB = 6.0, 4.0  # above the floor
HUSH_DB = -62.0  # below this nothing opens, however quiet the room
OPEN_STEPS = 4  # loud steps among the last six
CARRIER_GONE_DB = -75.0  # a closed squelch is as silent as this
SQUELCH_STEPS = 6  # 0.12 s
TAIL_STEPS, TAIL_SPREAD_DB = 5, 6.0  # a carrier ends in a stretch of level noise; a voice fades
LEARN_STEPS = 10  # the floor of a new stream is not known before 0.2 s of it
LONGEST = 30.0
#: Seconds of quiet that end an utterance, by what has been heard: a complete callout sooner than half of one.
WAIT: dict[Sense, float] = {"complete": 0.6, "half": 1.2, "nothing": 0.9}


@dataclass
class Segmenter:
    """Fed with steps of 20 ms; tells when an utterance is open and when it has ended.

    `held`: a push-to-talk key decides alone (`press`, `release`). Otherwise the level does: it opens the utterance
    `OPEN_DB` above a floor that follows the quietest recent second, and closes it after `WAIT` of quiet, or at once
    when the carrier goes (level falls to silence from hiss).
    """

    held: bool = False
    floor: float = -120.0
    level: float = -120.0
    opened: float | None = None  # seconds from the start of the stream, lead included
    quiet: float = 0.0  # seconds since the last loud step
    now: float = 0.0
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=150))
    _loud: deque[bool] = field(default_factory=lambda: deque(maxlen=6))
    _levels: deque[float] = field(default_factory=lambda: deque(maxlen=TAIL_STEPS))
    _cut: bool = False  # the last fall into silence was a carrier's
    _gone: int = 0

    @property
    def open(self) -> bool:
        return self.opened is not None

    def step(self, samples: Samples) -> bool:
        """One step of 320 samples; True when it opened an utterance."""
        self.level = float(step_levels(samples)[0])
        self.now += STEP_SECONDS
        if not self.open:
            self._recent.append(self.level)
            self.floor = float(np.percentile(self._recent, 20))
        loud = self.level > max(self.floor + (CLOSE_DB if self.open else OPEN_DB), HUSH_DB)
        self._loud.append(loud)
        self.quiet = 0.0 if loud else self.quiet + STEP_SECONDS
        self._watch_carrier()
        learnt = self.now >= LEARN_STEPS * STEP_SECONDS
        if learnt and not self.open and not self.held and sum(self._loud) >= OPEN_STEPS:
            self._begin(BEFORE + OPEN_STEPS * STEP_SECONDS)
            return True
        return False

    def _watch_carrier(self) -> None:
        if self.level >= CARRIER_GONE_DB:
            self._gone, self._cut = 0, False
            self._levels.append(self.level)
            return
        if self._gone == 0:
            last = self._levels
            self._cut = len(last) == TAIL_STEPS and min(last) > HUSH_DB and max(last) - min(last) < TAIL_SPREAD_DB
            self._levels.clear()
        self._gone += 1

    def press(self) -> None:
        self._begin(BEFORE)

    def release(self) -> Ending:
        self._end()
        return "key"

    def ended(self, sense: Sense) -> Ending | None:
        """Whether the open utterance is over, and by what, given what has been understood of it."""
        if not self.open or self.held:
            return None
        why: Ending | None = None
        if self._cut and self._gone >= SQUELCH_STEPS:
            why = "squelch"
        elif self.quiet >= WAIT[sense]:
            why = "meaning" if sense == "complete" else "quiet"
        elif self.now - (self.opened or 0.0) > LONGEST:
            why = "length"
        if why:
            self._end()
        return why

    def _begin(self, lead: float) -> None:
        self.opened = max(0.0, self.now - lead)
        self.quiet = 0.0

    def _end(self) -> None:
        self.opened = None
        self._loud.clear()
        self._recent.clear()
