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
    floor: float = -60.0
    level: float = -120.0
    opened: float | None = None  # seconds from the start of the stream, lead included
    quiet: float = 0.0  # seconds since the last loud step
    now: float = 0.0
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=150))
    _loud: deque[bool] = field(default_factory=lambda: deque(maxlen=6))
    _carrier: bool = False
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
            if len(self._recent) >= 10:
                self.floor = float(np.percentile(self._recent, 20))
        loud = self.level > max(self.floor + (CLOSE_DB if self.open else OPEN_DB), HUSH_DB)
        self._loud.append(loud)
        self.quiet = 0.0 if loud else self.quiet + STEP_SECONDS
        self._carrier = self._carrier or (self.open and self.level > HUSH_DB)
        self._gone = self._gone + 1 if self.level < CARRIER_GONE_DB else 0
        if not self.open and not self.held and sum(self._loud) >= OPEN_STEPS:
            self._begin(BEFORE + OPEN_STEPS * STEP_SECONDS)
            return True
        return False

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
        if self._carrier and self._gone >= SQUELCH_STEPS and self.floor < CARRIER_GONE_DB and sense != "half":
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
        self.quiet, self._carrier, self._gone = 0.0, False, 0

    def _end(self) -> None:
        self.opened = None
        self._loud.clear()
        self._recent.clear()
