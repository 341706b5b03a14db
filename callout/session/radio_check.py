"""A radio, or a loudspeaker and a microphone, tried out: a tone goes out, what comes in is measured, and what to turn
is said."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from callout.errors import CalloutError
from callout.hearing.audio import RATE, Samples
from callout.hearing.level import clipped, decibels
from callout.hearing.sources import Microphone, recorded
from callout.speaking.player import open_player
from callout.speaking.tones import beep

HERTZ, SECONDS = 1000.0, 3.0
QUIET = 1.0  # seconds of the channel alone, before the tone

#: Decibels below full scale. Common practice for a speech channel, no source: the tone at about -12, room above it.
SILENT, SOFT, LOUD = -60.0, -36.0, -4.0
#: A tone that is so little above what comes in without it is not there.
OVER_NOISE = 10.0


@dataclass(frozen=True)
class SignalLevel:
    """What came in: the tone and the channel without it in dB below full scale, and the share of clipped samples."""

    tone: float
    noise: float
    clipped: float

    @property
    def advice(self) -> str:
        """One sentence: what to turn, or that nothing needs turning."""
        if self.noise <= SILENT - 30 and self.tone <= SILENT:
            return "nothing at all comes in: the input is muted or is not the one; choose another with --in"
        if self.tone <= SILENT or self.tone - self.noise < OVER_NOISE:
            return "the tone does not come in: check cable and key, turn up the radio's volume, lengthen --vox-lead"
        if self.tone < SOFT:
            return "it comes in softly: turn up the radio's volume, or the input's level"
        if self.tone > LOUD or self.clipped > 0.001:
            return "it comes in too loud and is cut: turn down the radio's volume, or the input's level"
        if self.tone - self.noise < 2 * OVER_NOISE:
            return "good, though the channel is noisy: turn up the radio and turn down the input by as much"
        return "good: leave all as it is"


def measure(quiet: Samples, sound: Samples) -> SignalLevel:
    """The loudest tenth of a second of the tone in `sound`, and the channel alone in `quiet`; both at 16 kHz."""
    piece = RATE // 10
    at = 2 * np.pi * HERTZ * np.arange(piece) / RATE
    wave = np.exp(-1j * at) * np.hanning(piece)
    scale = 2 / np.hanning(piece).sum()
    cut = [sound[start : start + piece] for start in range(0, len(sound) - piece + 1, piece // 2)]
    tone = max((abs(np.dot(part, wave)) * scale for part in cut), default=0.0)
    noise = float(np.sqrt(np.mean(quiet**2))) if len(quiet) else 0.0
    return SignalLevel(round(decibels(tone), 1), round(decibels(noise * 2**0.5), 1), clipped(sound))


def try_radio(
    out: str | None = None, into: str | None = None, vox_lead: float = 0.5, shown: Callable[[float], None] | None = None
) -> SignalLevel:
    """Play the tone on `out` and measure what comes in at `into`; `shown` gets the level each tenth of a second.

    The tone begins once the channel alone has come in, however late that is: a sound system may need a second to start.
    Raises CalloutError where a device is missing, BadInput for a name that no device has.
    """
    player, why = open_player(out)
    if player is None:
        raise CalloutError(f"no tone can be played: {why}; plug in a loudspeaker or the radio's cable")
    microphone = Microphone(into)
    try:
        microphone.skip()
        quiet = recorded(microphone, QUIET, shown)
        tone = threading.Thread(target=player.play, args=[beep(HERTZ, vox_lead + SECONDS, 0.25)])
        tone.start()
        heard = recorded(microphone, vox_lead + SECONDS, shown)
        tone.join()
    finally:
        microphone.close()
        player.close()
    return measure(quiet, heard)
