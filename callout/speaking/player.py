"""Sound to the loudspeaker or to the radio's line, with a stop that is heard within 60 ms.

Where there is no sound card the audio library opens a Null device without a word; that is found out here, and
`Player.open` then returns the reason instead of a player.
"""

from __future__ import annotations

import contextlib
import ctypes
import threading
import time
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

import miniaudio
import numpy as np
from numpy.typing import NDArray

from callout.errors import BadInput
from callout.frame_clock import FrameClock
from callout.speaking.render import RATE, Samples

Mark: TypeAlias = "tuple[int, Callable[[], None]]"

#: One period of the device in ms; three are buffered, so that a stop is heard after 60 ms at the latest, and a machine
#: that is busy for a moment does not make the voice stutter.
PERIOD_MS = 20
PERIODS = 3
BUFFERED = PERIOD_MS * PERIODS / 1000
#: A device that asks for no sound for so many seconds is gone: pulled out, or its sound system ended.
GONE_AFTER = 2.0
#: For how many seconds what was played is remembered, for finding it again in a microphone.
REMEMBERED = 40.0
EAR_RATE = 16_000


@dataclass
class _Played:
    """A sound on the device's time line, in frames counted from the first that it asked for. `ear` is the same sound
    at the rate of the ears."""

    start: int
    samples: Samples
    end: int  # later than what was handed out while it is playing

    @cached_property
    def ear(self) -> NDArray[np.float32]:
        return to_ear_rate(self.samples)


class Player:
    """One output device. It runs from the first sound to `close`, playing silence in between, so that its delay stays
    the same (an echo can then be found in a microphone). `play` blocks until the sound is over or `stop` is called
    from another thread."""

    def __init__(self, device: Any) -> None:
        self._device = device
        self._stopped = threading.Event()
        self._over = threading.Event()
        self._lock = threading.Lock()
        self._now: _Played | None = None
        self._history: tuple[_Played, ...] = ()  # never changed in place: the ears look at it from their thread
        self._count = 0  # frames handed to the device
        self.clock = FrameClock(RATE)
        self._asked = 0.0  # when it asked last
        #: When the last sample that is not silence was handed to the device (time.monotonic()).
        self.last_sound = 0.0

    def play(
        self, samples: Samples, cancelled: Callable[[], bool] = lambda: False, marks: Sequence[Mark] = ()
    ) -> bool:
        """True when it was played to its end. `cancelled` is asked once the player can be stopped, so that a stop
        that came a moment too early is not lost. `marks`: (sample, what to call when it has been heard), in order.
        Raises MiniaudioError when the device is gone.
        """
        with self._lock:
            self._stopped.clear()
            self._over.clear()
            if cancelled():
                return False
            self.start()
            sound = _Played(self._count, samples, self._count + len(samples))
            self._history = (*self._history[-100:], sound)
            self._now = sound
            try:
                self._follow(sound, list(marks))
            finally:
                if self._now is sound:
                    self._now = None
                    sound.end = min(sound.end, self._count)
            return not self._stopped.is_set()

    def start(self) -> None:
        """Let the device run, silent, so that the first sound does not wait for it."""
        if self._asked:
            return
        feed = self._feed()
        next(feed)
        self._asked = time.monotonic()
        try:
            self._device.start(feed)
        except miniaudio.MiniaudioError:
            self._asked = 0.0
            raise

    @property
    def gone(self) -> bool:
        """Whether the device has stopped asking for sound."""
        return bool(self._asked) and time.monotonic() - self._asked > GONE_AFTER

    def _follow(self, sound: _Played, marks: list[Mark]) -> None:
        """Wait for the end of a sound, telling of its marks as they are heard."""
        while not self._over.wait(0.01 if marks else 0.1):
            self._reached(marks, self._count - sound.start - round(BUFFERED * RATE))
            if self.gone:
                raise miniaudio.MiniaudioError("the audio device asks for no sound any more")
        until = time.monotonic() + BUFFERED  # what is still in the device's buffer
        while not self._stopped.is_set() and time.monotonic() < until:
            time.sleep(0.005)
        if not self._stopped.is_set():
            self._reached(marks, len(sound.samples))

    def _reached(self, marks: list[Mark], at: int) -> None:
        while marks and marks[0][0] <= at and not self._stopped.is_set():
            marks.pop(0)[1]()

    def _feed(self) -> Generator[bytes, int, None]:
        wanted = yield b""
        while True:
            self._asked = time.monotonic()
            self.clock.tell(self._asked, self._count)
            block = self._next(wanted)
            self._count += wanted
            wanted = yield block

    def _next(self, wanted: int) -> bytes:
        sound = self._now
        if sound is None:
            return b"\0\0" * wanted
        if self._stopped.is_set():
            sound.end, self._now = min(sound.end, self._count), None
            self._over.set()
            return b"\0\0" * wanted
        at = self._count - sound.start
        block = sound.samples[at : at + wanted]
        self.last_sound = time.monotonic()
        if at + wanted >= len(sound.samples):
            self._now = None
            self._over.set()
        return block.tobytes() + b"\0\0" * (wanted - len(block))

    def heard(self, since: float, count: int) -> NDArray[np.float32] | None:
        """`count` samples at the ears' rate of what was handed to the device from `since` on (time.monotonic());
        None where all of it was silence."""
        if not self._count:
            return None
        first = round((since - self.clock.began) * EAR_RATE)
        found: NDArray[np.float32] | None = None
        for sound in reversed(self._history):
            start = round(sound.start * EAR_RATE / RATE)
            end = min(round(sound.end * EAR_RATE / RATE), start + len(sound.ear))
            low, high = max(first, start), min(first + count, end)
            if low < high:
                found = np.zeros(count, np.float32) if found is None else found
                found[low - first : high - first] = sound.ear[low - start : high - start]
            if end < first - round(REMEMBERED * EAR_RATE):
                break
        return found

    def stop(self) -> None:
        self._stopped.set()
        self._over.set()

    def close(self) -> None:
        self.stop()
        with self._lock:
            self._device.close()


def to_ear_rate(samples: Samples) -> NDArray[np.float32]:
    """Samples of the voice as the ears would get them: 16 kHz, within -1 to 1."""
    from scipy.signal import resample_poly

    if not len(samples):
        return np.zeros(0, np.float32)
    ear: NDArray[np.float32] = resample_poly(samples.astype(np.float32) / 32768, 320, 441).astype(np.float32)
    return ear


def open_player(name: str | None = None, backends: Sequence[miniaudio.Backend] = ()) -> tuple[Player | None, str]:
    """-> (player, "") or (None, why there is none). `name` is a device's name or a part of it, None the default.

    `backends` narrows the sound systems that are tried; naming the Null one (tests) accepts it as a device.
    Raises `BadInput` for a name that no device has.
    """
    _quiet_alsa()
    chosen = None
    if name is not None:
        outputs = output_devices(backends)
        found = [device for device in outputs if name.lower() in device["name"].lower()]
        if not found:
            known = ", ".join(repr(device["name"]) for device in outputs)
            hint = f"name one of these: {known}" if known else "none is connected at all, plug one in"
            raise BadInput(f"no sound output is called {name!r}; {hint}")
        chosen = found[0]["id"]
    try:
        device = miniaudio.PlaybackDevice(
            nchannels=1,
            sample_rate=RATE,
            buffersize_msec=PERIOD_MS,
            callback_periods=PERIODS,
            device_id=chosen,
            backends=list(backends) or None,
            app_name="callout",
        )
    except miniaudio.MiniaudioError:
        return None, "no sound card was found"
    if device.backend == "Null" and miniaudio.Backend.NULL not in backends:
        device.close()
        return None, "no sound system was found"
    return Player(device), ""


def output_devices(backends: Sequence[miniaudio.Backend] = ()) -> list[dict[str, Any]]:
    """The devices that can play, without the Null one; each with its "name"."""
    _quiet_alsa()
    try:
        devices = miniaudio.Devices(list(backends) or None)
        return [
            device
            for device in devices.get_playbacks()
            if miniaudio.Backend.NULL in backends or not device["name"].startswith(("NULL", "Discard all samples"))
        ]
    except miniaudio.MiniaudioError:
        return []


_HANDLER = ctypes.CFUNCTYPE(None)(lambda: None)


def _quiet_alsa() -> None:
    """Without this the sound library prints a page about missing cards on standard error."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL("libasound.so.2").snd_lib_error_set_handler(_HANDLER)
