"""Where an utterance begins and ends in a stream of sound: by level, by key, by the radio's squelch, by meaning."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from callout.hearing.audio import RATE, Samples
from callout.hearing.level import STEP, step_levels

Ending = Literal["quiet", "meaning", "squelch", "key", "length", "end"]
#: "whole": sure, and nothing longer begins so. "again": sure, and asks for the voice's own words once more: it may be
#: answered though more may follow, which is then heard together with it.
Sense = Literal["whole", "again", "complete", "half", "nothing"]

STEP_SECONDS = STEP / RATE
OPEN_DB, CLOSE_DB = 6.0, 4.0  # above the floor
HUSH_DB = -62.0  # below this nothing opens, however quiet the room
OPEN_STEPS = 4  # loud steps among the last six
LEAD = 0.5 + OPEN_STEPS * STEP_SECONDS  # seconds kept from before an utterance opens: the ears want half a second
CARRIER_GONE_DB = -75.0  # a closed squelch is as silent as this
SQUELCH_STEPS = 6  # 0.12 s
TAIL_STEPS, TAIL_SPREAD_DB = 5, 6.0  # a carrier ends in a stretch of level noise; a voice fades
LEARN_STEPS = 10  # the floor of a new stream is not known before 0.2 s of it
KEYED = 0.25  # seconds from the press of a key within which a channel that it opens is there
LONGEST = 30.0
#: Seconds of quiet that end an utterance, by what has been heard: the likelier it is that more comes, the longer.
WAIT: dict[Sense, float] = {"whole": 0.25, "again": 0.25, "complete": 0.56, "half": 1.2, "nothing": 0.9}


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
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=150))  # while nothing was open
    _lately: deque[float] = field(default_factory=lambda: deque(maxlen=150))
    _loud: deque[bool] = field(default_factory=lambda: deque(maxlen=6))
    _levels: deque[float] = field(default_factory=lambda: deque(maxlen=TAIL_STEPS + 1))
    _cut: bool = False  # the last fall into silence was a carrier's
    _faded: bool = False  # it was a voice's, or there was too little before it to tell
    _gone: int = 0  # steps of silence
    _came: float = 0.0  # when the sound last came out of silence; a stream begins with it
    _channel: float | None = None
    _pressed: float | None = None  # a key went down in silence, and nothing has come yet

    @property
    def open(self) -> bool:
        return self.opened is not None

    @property
    def channel(self) -> float | None:
        """When the channel opened in which the utterance is said, or the last one was: the stream began, a squelch
        opened (also by the far side's VOX), or a key was pressed. What was said before is lost, so speech that is under
        way then lacks its beginning. In seconds from the start of the stream; None where the sound was there all along.

        A carrier is there from then to the end and goes at once. A voice in perfect silence comes out of it as
        suddenly, but it has gaps, and fades.
        """
        return None if self._gone and self._faded else self._channel

    def step(self, samples: Samples) -> bool:
        """One step of 320 samples; True when it opened an utterance."""
        self.level = float(step_levels(samples)[0])
        self.now += STEP_SECONDS
        self._lately.append(self.level)
        if not self.open:
            self._recent.append(self.level)
            self.floor = float(np.percentile(self._recent, 20))
        loud = self.level > max(self.floor + (CLOSE_DB if self.open else OPEN_DB), HUSH_DB)
        self._loud.append(loud)
        self.quiet = 0.0 if loud else self.quiet + STEP_SECONDS
        self._watch_carrier()
        learnt = self.now >= LEARN_STEPS * STEP_SECONDS
        if learnt and not self.open and not self.held and sum(self._loud) >= OPEN_STEPS:
            self._begin()
            return True
        return False

    def _watch_carrier(self) -> None:
        if self.level >= CARRIER_GONE_DB:
            if self._gone:
                self._come(self.now - STEP_SECONDS)
            self._gone, self._cut, self._faded = 0, False, False
            self._levels.append(self.level)
            return
        if self._gone == 0:
            last = list(self._levels)[:-1]  # the carrier went somewhere in the last step
            self._faded = len(last) < TAIL_STEPS or min(last) <= HUSH_DB
            self._cut = not self._faded and max(last) - min(last) < TAIL_SPREAD_DB
            self._levels.clear()
        self._gone += 1

    def _come(self, when: float) -> None:
        """Sound out of silence. Within an utterance it shows that no carrier holds it, unless a key has just opened
        the channel."""
        self._came = when
        if self.open:
            keyed = self._pressed is not None and when - self._pressed < KEYED
            self._channel, self._pressed = when if keyed else None, None

    def press(self) -> None:
        self._begin()
        if self._gone:
            self._channel, self._pressed = None, self.now
        elif self._channel is None:  # the microphone was open before, as far as the lead reaches
            self._channel = self.opened

    def again(self) -> None:
        """Open once more at once: somebody was in the middle of a sentence. What was there beside the sentence is the
        floor from now on, so that it is over when the sentence is."""
        self.floor = float(np.percentile(self._lately, 20))
        self._begin()

    def go_on(self, opened: float, channel: float | None) -> None:
        """What has just opened belongs to the utterance that was over a moment ago, and began and came as that did."""
        self.opened, self._channel = opened, channel

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
            why = "meaning" if sense in ("whole", "again", "complete") else "quiet"
        elif self.now - (self.opened or 0.0) > LONGEST:
            why = "length"
        if why:
            self._end()
        return why

    def _begin(self) -> None:
        self.opened = max(0.0, self.now - LEAD)
        self._channel, self._pressed = self._came if self._came >= self.opened else None, None
        self.quiet = 0.0

    def _end(self) -> None:
        self.opened = None
        self._loud.clear()
        self._recent.clear()
