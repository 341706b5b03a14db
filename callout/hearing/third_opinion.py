"""The near side of the third opinion: asked only where the two ears are not sure, and never waited for long.

The network lives in a process of its own (`opinion_worker`), which starts when the ears do. Where it is missing, dies
or does not answer in time, the two ears go on without it, and whoever asks is told why (`absent`).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from callout.hearing.audio import Samples
from callout.hearing.evidence import Asked
from callout.hearing.helper import Helper, HelperDied, HelperFailed
from callout.hearing.search import SearchReading

PATIENCE = 5.0  # seconds; an answer takes a quarter of one
TRIES = 3  # deaths after which it is not started again


class ThirdOpinion:
    """`absent` is empty while it can be asked, and else says why it cannot. `helper` is the process."""

    def __init__(self, folder: Path) -> None:
        self.helper = Helper("callout.hearing.opinion_worker", str(folder))
        self._failures = 0
        self.absent = ""
        if (folder / "ask.onnx").is_file() and (folder / "listen.onnx").is_file():
            self.helper.start()
        else:
            self.absent = "the third opinion is missing from this installation; install callout again"

    def ready(self) -> bool:
        """Wait until it is loaded; False where it cannot be asked."""
        if self.absent:
            return False
        try:
            return bool(self.helper.ask(("ready",), PATIENCE))
        except (HelperDied, HelperFailed):
            self._failed()
            return False

    def ask(self, samples: Samples, readings: Sequence[SearchReading]) -> tuple[Asked, ...]:
        """The readings that it knows all words of, each with how likely it finds it; empty where it did not answer."""
        if self.absent or not readings:
            return ()
        try:
            answers = self.helper.ask(("ask", samples, [reading.words for reading in readings]), PATIENCE)
        except (HelperDied, HelperFailed):
            self._failed()
            return ()
        self._failures = 0
        return tuple(Asked(r, *found) for r, found in zip(readings, answers, strict=True) if found is not None)

    def _failed(self) -> None:
        self._failures += 1
        if self._failures >= TRIES:
            self.absent = "the third opinion ended several times and is left alone; the two ears decide"

    def close(self) -> None:
        self.helper.close()
