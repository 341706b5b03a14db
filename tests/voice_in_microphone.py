"""A microphone that hears the tool's own voice: a source of sound and the loudspeaker that played it, in one."""

from collections.abc import Iterator, Sequence

from callout.frame_clock import FrameClock
from callout.hearing.audio import RATE, Samples

BLOCK = 320  # samples given at a time


class VoiceInMicrophone:
    """`heard` is the microphone's sound, `voice` what was played meanwhile, both from the same moment on; `times`: from
    when to when in seconds each sentence was said."""

    live = True
    skipped = 0
    moves = 0
    wavers = False

    def __init__(self, heard: Samples, voice: Samples, times: Sequence[tuple[float, float, str]]) -> None:
        self.clock = FrameClock(RATE)
        self.heard, self.voice, self.times = heard, voice, times

    def blocks(self) -> Iterator[Samples]:
        for at in range(0, len(self.heard) - BLOCK + 1, BLOCK):
            yield self.heard[at : at + BLOCK]

    def played(self, since: float, count: int) -> Samples | None:
        at = round(since * RATE)
        piece = self.voice[at : at + count]
        return piece if len(piece) == count and piece.any() else None

    def said(self, since: float, until: float) -> list[str]:
        return [text for begun, ended, text in self.times if begun < until and ended > since]

    def close(self) -> None:
        """Nothing is open."""
