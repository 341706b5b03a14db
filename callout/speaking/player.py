"""Sound to the loudspeaker or to the radio's line, with a stop that is heard within 50 ms.

Where there is no sound card the audio library opens a Null device without a word; that is found out here, and
`Player.open` then returns the reason instead of a player.
"""

from __future__ import annotations

import contextlib
import ctypes
import threading
import time
from collections.abc import Callable, Generator, Sequence
from typing import Any

import miniaudio

from callout.errors import BadInput
from callout.speaking.render import RATE, Samples

#: One period of the device in ms; three are buffered, so that a stop is heard after 45 ms at the latest.
PERIOD_MS = 15
PERIODS = 3


class Player:
    """One output device. `play` blocks until the sound is over or `stop` is called from another thread."""

    def __init__(self, device: Any) -> None:
        self._device = device
        self._stopped = threading.Event()
        self._over = threading.Event()
        self._lock = threading.Lock()
        #: When the last sample that is not silence was handed to the device (time.monotonic()).
        self.last_sound = 0.0

    def play(self, samples: Samples, cancelled: Callable[[], bool] = lambda: False) -> bool:
        """True when it was played to its end. `cancelled` is asked once the player can be stopped, so that a stop
        that came a moment too early is not lost. Raises MiniaudioError when the device is gone.
        """
        with self._lock:
            self._stopped.clear()
            self._over.clear()
            if cancelled():
                return False
            feed = self._feed(samples)
            next(feed)
            try:
                self._device.start(feed)
                self._over.wait(len(samples) / RATE + 2.0)
                if not self._stopped.is_set():
                    time.sleep(PERIOD_MS * PERIODS / 1000)  # what is still in the device's buffer
            finally:
                self._device.stop()
            return not self._stopped.is_set()

    def _feed(self, samples: Samples) -> Generator[bytes, int, None]:
        wanted = yield b""
        at = 0
        while at < len(samples) and not self._stopped.is_set():
            block = samples[at : at + wanted]
            at += len(block)
            self.last_sound = time.monotonic()
            wanted = yield block.tobytes()
        self._over.set()
        while True:
            yield b""

    def stop(self) -> None:
        self._stopped.set()
        self._over.set()

    def close(self) -> None:
        self.stop()
        with self._lock:
            self._device.close()


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
