"""The own voice taken out of a microphone: what went to the loudspeaker is known, so its echo can be found.

A partitioned frequency-domain Kalman filter: it learns how each loudspeaker sounds in each microphone, and goes on
learning little while a person speaks over it, because its step follows how sure it is of itself. Source: G. Enzner and
P. Vary, "Frequency-domain adaptive Kalman filter for acoustic echo control in hands-free telephones", Signal Processing
86 (2006); the partitions after F. Kuech et al., ICASSP 2014. The constants were chosen on the tests of
`tests/test_session_own_voice.py`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

RATE = 16_000
BLOCK = 320  # 20 ms
#: How long an echo may come after its sound was handed to the loudspeaker: buffers of both sides, and the yard's walls.
TAIL = 0.42
_PARTS = round(TAIL * RATE / BLOCK)

_KEPT = 0.9995  # how much of the path is the same after a block
_SMOOTH = 0.9  # of the estimate of what is not echo
_UNSURE = 0.1  # how far off the path may be at first
_MOVED = 0.01  # and after a time line has moved
_MISMATCH = 0.004  # of an echo's power that no path of this length explains: -24 dB

Block = NDArray[np.float32]


class EchoCanceller:
    """One loudspeaker in one microphone. Fed with blocks of 320 samples."""

    def __init__(self) -> None:
        bins = BLOCK + 1
        self._path = np.zeros((_PARTS, bins), np.complex128)
        self._doubt = np.full((_PARTS, bins), _UNSURE)
        self._spectra = np.zeros((_PARTS, bins), np.complex128)  # of what was played, newest first
        self._last = np.zeros(BLOCK)
        self._rest = np.full(bins, 1e-4)
        self._gain = 1.0  # of what is left: little where it can be the rest of an echo
        self._room = 0.0  # the power of a block of the room alone
        self.echo_power = self.left_power = 0.0  # of the last block: what was taken out, and what is left of it
        self._quiet = _PARTS + 1  # blocks since something was played

    @property
    def active(self) -> bool:
        """Whether an echo can still be in the microphone."""
        return self._quiet <= _PARTS

    def moved(self) -> None:
        """The time line of the microphone or of the loudspeaker has moved: what was learnt may be a little off."""
        self._doubt = np.maximum(self._doubt, _MOVED)

    def step(self, heard: Block, played: Block | None) -> Block:
        """What is heard without the echo of what was played."""
        self._quiet = 0 if played is not None else self._quiet + 1
        if not self.active:
            power = float(heard @ heard)
            self._room = min(power, self._room * 1.01) if self._room else power  # the quietest of late
            self.echo_power, self.left_power = 0.0, power
            return heard
        new = np.zeros(BLOCK) if played is None else played.astype(np.float64)
        self._spectra = np.roll(self._spectra, 1, axis=0)
        self._spectra[0] = np.fft.rfft(np.concatenate([self._last, new]))
        self._last = new
        echo = np.fft.irfft((self._spectra * self._path).sum(axis=0))[BLOCK:]
        left = heard - echo
        remains = self._learn(left, echo)
        if float(left @ left) > float(heard @ heard):
            left = heard.astype(np.float64)  # what is not understood yet is no reason to add to it
        power = max(float(left @ left), 1e-12)
        # Never quieter than the room is: a silence that ends would pass for somebody who begins to speak.
        gain = float(np.sqrt(max(1.0 - 2.0 * remains / power, min(1.0, self._room / power))))
        self.echo_power, self.left_power = float(echo @ echo), power * gain**2
        ramp = np.linspace(self._gain, gain, BLOCK)
        self._gain = gain
        return (left * ramp).astype(np.float32)

    def _learn(self, left: NDArray[np.float64], echo: NDArray[np.float64]) -> float:
        """One step of the filter; returns the power of the echo that is expected to remain."""
        error = np.fft.rfft(np.concatenate([np.zeros(BLOCK), left]))
        power = np.abs(self._spectra) ** 2
        self._rest = _SMOOTH * self._rest + (1 - _SMOOTH) * np.abs(error) ** 2
        leak = 0.5 * (power * self._doubt).sum(axis=0)
        gain = self._doubt / (leak + self._rest + 1e-9)
        change = np.fft.irfft(gain * np.conj(self._spectra) * error, axis=1)
        change[:, BLOCK:] = 0.0
        self._path = _KEPT * self._path + np.fft.rfft(change, axis=1)
        self._doubt = (1 - 0.5 * gain * power) * self._doubt
        self._doubt = _KEPT**2 * self._doubt + (1 - _KEPT**2) * np.abs(self._path) ** 2 + 1e-7
        return float(leak.sum() / BLOCK) * 0.5 + _MISMATCH * float(echo @ echo)
