"""How far a long run is and how long it will still take, on standard error."""

from __future__ import annotations

import sys
import time
from typing import TextIO


class Progress:
    """One line that is rewritten on a terminal, and a new line every ten seconds elsewhere."""

    def __init__(self, what: str, total: int, done: int = 0, out: TextIO | None = None) -> None:
        self._what, self._total, self._done = what, total, done
        self._out = out or sys.stderr
        self._terminal = self._out.isatty()
        self._began = time.monotonic()  # of the first step: opening the ears says nothing about the speed
        self._at_start = done
        self._last = self._began if not self._terminal else 0.0

    def step(self) -> None:
        self._done += 1
        now = time.monotonic()
        if self._done == self._at_start + 1:
            self._began, self._at_start = now, self._done
        if now - self._last >= (0.2 if self._terminal else 10.0):
            self._last = now
            self._show(now)

    def close(self) -> None:
        """End the line that is being rewritten."""
        if self._terminal and self._last:
            self._show(time.monotonic())
            self._out.write("\n")
            self._out.flush()

    def _show(self, now: float) -> None:
        speed = (self._done - self._at_start) / max(now - self._began, 1e-3)
        left = (self._total - self._done) / speed if speed else 0.0
        text = f"{self._what}: {self._done} of {self._total}"
        if speed:
            text += f", {_duration(left)} left"
        self._out.write(f"\r{text:<70}" if self._terminal else text + "\n")
        self._out.flush()


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"
