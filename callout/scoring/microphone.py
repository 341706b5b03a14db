"""A recording between two signals: from the moment it is begun until it is ended, from any source of sound."""

from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np

from callout.channel.level import Samples
from callout.hearing.level import STEP
from callout.hearing.segmenter import Segmenter
from callout.hearing.sources import SoundSource

#: What is not ended after this many seconds is ended: somebody walked away.
LONGEST_S = 60.0
RATE = 16_000


def record_until(source: SoundSource, ended: Callable[[], object]) -> Samples:
    """Everything that `source` gives until `ended` returns (it blocks: a key, a pedal), at most a minute.

    A source that runs dry ends it too, after `ended` returned.
    """
    kept: list[Samples] = []
    stop = threading.Event()

    def take() -> None:
        count = 0
        for block in source.blocks():
            if stop.is_set() or count > LONGEST_S * RATE:
                return
            kept.append(np.asarray(block, dtype=np.float32))
            count += len(block)

    taker = threading.Thread(target=take, name="recording", daemon=True)
    taker.start()
    try:
        ended()
    finally:
        if source.live:
            stop.set()
            source.close()
        taker.join(2)
    return np.concatenate(kept) if kept else np.zeros(0, np.float32)


def record_utterance(source: SoundSource, wait_s: float = 20.0) -> tuple[Samples, float]:
    """(one utterance with the quiet around it, seconds from the beginning until it began): no key is needed.

    Ends after a second of quiet, when the source ends, or when nobody spoke for `wait_s`; empty then.
    """
    segmenter = Segmenter()
    kept: list[Samples] = []
    rest = np.zeros(0, np.float32)
    began = 0.0
    try:
        for block in source.blocks():
            rest = np.concatenate([rest, np.asarray(block, dtype=np.float32)])
            while len(rest) >= STEP:
                step, rest = rest[:STEP], rest[STEP:]
                kept.append(step)
                if segmenter.step(step) and segmenter.opened is not None:
                    began = segmenter.opened
                if segmenter.ended("nothing"):
                    return np.concatenate(kept)[int(began * RATE) :], began
            if not segmenter.open and segmenter.now > wait_s:
                return np.zeros(0, np.float32), segmenter.now
    finally:
        source.close()
    if not segmenter.open:
        return np.zeros(0, np.float32), segmenter.now
    return np.concatenate(kept)[int(began * RATE) :], began
