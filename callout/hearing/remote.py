"""The ears in a process of their own: the console never waits for them, and a crash costs one "say again" at most."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np

from callout.hearing.agreement import DecisionSettings
from callout.hearing.audio import Samples
from callout.hearing.ears import WEIGHTS, Glance, Heard
from callout.hearing.helper import Helper, HelperDied, HelperFailed
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import NotUnderstood

PATIENCE = 10.0  # seconds; an answer takes a tenth of one


class EarsProcess:
    """`Ears` behind pipes, with the same methods. Where the process dies it is started again and given the utterance
    once more; where it dies again, the utterance is not understood and the reasons say so. `helper` is the process."""

    name = "ears"

    def __init__(self, weights: Path = WEIGHTS) -> None:
        self._decisions: DecisionSettings | None = None
        self.helper = Helper("callout.hearing.ears_worker", str(weights), started=self._as_before)
        self._context: Context = EVERYTHING
        self._pieces: list[Samples] = []
        self._whole = True  # one and the same process has had every piece of the utterance
        self._born = 0
        self.helper.start()

    def decide_by(self, decisions: DecisionSettings | None = None) -> None:
        """As `Ears.decide_by`; a process that is started anew decides by the same."""
        self._decisions = decisions
        self._post(("decide_by", decisions))

    def _as_before(self, helper: Helper) -> None:
        if self._decisions is not None:
            helper.post(("decide_by", self._decisions))

    def prepare(self, context: Context = EVERYTHING) -> None:
        self._post(("prepare", context))

    def ready(self) -> bool:
        """Wait until both ears answer, starting what has died; False where one cannot."""
        try:
            self.helper.post(("prepare", self._context))  # a fresh process has no state to be asked about
            return bool(self.helper.ask(("ready",), PATIENCE))
        except (HelperDied, HelperFailed):
            return False

    def hear(self, samples: Samples, context: Context = EVERYTHING, opened: float | None = 0.0) -> Heard:
        began = time.perf_counter()
        for _ in range(2):
            try:
                heard: Heard = self.helper.ask(("hear", samples, context, opened), PATIENCE)
                return heard
            except HelperDied:
                continue
            except HelperFailed as wrong:
                return _failed(began, str(wrong))
        return _failed(began, "the ears ended twice on this utterance")

    def begin(self, context: Context = EVERYTHING) -> None:
        self._context, self._pieces = context, []
        self._whole = self._post(("begin", context))
        self._born = self.helper.restarts

    def feed(self, samples: Samples) -> None:
        self._pieces.append(samples)
        self._whole = self._alive() and self._post(("feed", samples)) and self._alive()

    def glance(self) -> Glance:
        if self._alive():
            try:
                seen: Glance = self.helper.ask(("glance",), PATIENCE)
                return seen
            except (HelperDied, HelperFailed):
                self._whole = False
        return Glance((), "nothing")

    def finish(self, opened: float | None = None) -> Heard:
        if self._alive():
            try:
                heard: Heard = self.helper.ask(("finish", opened), PATIENCE)
                return heard
            except (HelperDied, HelperFailed):
                pass
        sound = np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.float32)
        return self.hear(sound, self._context, opened)

    def _alive(self) -> bool:
        """A fresh process knows nothing of the utterance that the old one was hearing."""
        return self._whole and self.helper.running and self.helper.restarts == self._born

    def _post(self, message: tuple[object, ...]) -> bool:
        try:
            self.helper.post(message)
        except HelperDied:
            return False
        return True

    def close(self) -> None:
        self.helper.close()


def _failed(began: float, why: str) -> Heard:
    reasons = (f"the ears failed and were started again ({why}); say again",)
    return Heard(NotUnderstood((), reasons=reasons), (), None, time.perf_counter() - began, "ears")
