"""Short sounds of our own: what comes is known before its first word, also from ten metres and over a saw.

A readback is announced by two notes that rise, "not heard" by one low note, a warning by three quick high ones. All lie
in the band of a voice radio (300 to 3,400 Hz, ITU-T G.712); notes, lengths and loudness are our own choice, no source.
Each kind can be switched off.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from callout.speaking.priorities import Sentence

RATE = 22050
Samples = NDArray[np.int16]

Tone = Literal["readback", "not-heard", "warning"]
TONES: tuple[Tone, ...] = get_args(Tone)

#: (hertz, seconds) one after the other; 0 Hz is a pause.
_NOTES: dict[Tone, tuple[tuple[float, float], ...]] = {
    "readback": ((660.0, 0.07), (880.0, 0.09)),
    "not-heard": ((330.0, 0.16),),
    "warning": ((1320.0, 0.08), (0.0, 0.04), (1320.0, 0.08), (0.0, 0.04), (1320.0, 0.08)),
}
_AFTER = 0.06  # seconds of silence before the first word
_LEVEL = 0.2  # of full scale, -14 dB; the voice peaks higher
#: How a sentence begins that says: this was not heard.
NOT_HEARD = ("say again", "not understood", "stand by for the console")


def beep(hertz: float, seconds: float, level: float = _LEVEL) -> Samples:
    """One note, faded at both ends so that it does not click."""
    count = round(seconds * RATE)
    at = np.arange(count)
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / (0.01 * RATE))
    return (level * 32767 * np.sin(2 * np.pi * hertz * at / RATE) * fade).astype(np.int16)


def announcement(sentence: Sentence) -> Tone | None:
    """The tone that goes before a sentence; None for most."""
    if sentence.kind == "answer":
        return "not-heard" if sentence.text.startswith(NOT_HEARD) else None
    return {"warning": "warning", "readback": "readback"}.get(sentence.kind)  # type: ignore[return-value]


def tone(name: Tone) -> Samples:
    """The sound that goes before a sentence of this kind, with the silence after it."""
    notes = [beep(hertz, seconds) for hertz, seconds in _NOTES[name]]
    return np.concatenate([*notes, np.zeros(round(_AFTER * RATE), np.int16)])


def lead_tone(seconds: float, hertz: float = 1000.0) -> Samples:
    """A tone that opens a voice-operated radio before the first word. Level -12 dB."""
    return beep(hertz, seconds, 0.25)
