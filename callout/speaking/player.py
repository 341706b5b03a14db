"""Sound to the loudspeaker or to the radio's line, with a stop that is heard within 60 ms.

Where there is no sound card the audio library opens a Null device without a word; that is found out here, and
`Player.open` then returns the reason instead of a player.
"""

from __future__ import annotations

import contextlib
import ctypes
import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterable, Sequence
from functools import cached_property
from typing import Any, TypeAlias

import miniaudio
import numpy as np
from numpy.typing import NDArray

from callout.errors import BadInput
from callout.frame_clock import FrameClock
from callout.speaking.render import RATE, Samples

#: A piece of a sound, and what to call when it has been heard.
Piece: TypeAlias = "tuple[Samples, Callable[[], None] | None]"

#: One period of the device in ms; three are buffered, so that a stop is heard after 60 ms at the latest, and a machine
#: that is busy for a moment does not make the voice stutter.
PERIOD_MS = 20
PERIODS = 3
BUFFERED = PERIOD_MS * PERIODS / 1000
#: A device that asks for no sound for so many seconds is gone: pulled out, or its sound system ended.
GONE_AFTER = 2.0
EAR_RATE = 16_000


class _Played:
    """A piece on the device's time line, in frames counted from the first that it asked for."""

    def __init__(self, samples: Samples, told: Callable[[], None] | None) -> None:
        self.samples = samples
        self.told = told
        self.start: int | None = None  # known when its first sample is handed out
        self.end = 0  # how far it was handed out
        self.whole = False  # to its end

    @cached_property
    def ear(self) -> NDArray[np.float32]:
        """The same sound at the rate of the ears."""
        return to_ear_rate(self.samples)


class Player:
    """One output device. It runs from the first sound to `close`, playing silence in between, so that its delay stays
    the same (an echo can then be found in a microphone). `play` blocks until the sound is over or `stop` is called
    from another thread."""

    def __init__(self, device: Any) -> None:
        self._device = device
        self._stopped = threading.Event()
        self._lock = threading.Lock()
        self._line: deque[_Played] = deque()  # handed out from the left, by the device's thread
        self._history: tuple[_Played, ...] = ()  # never changed in place: the ears look at it from their thread
        self._count = 0  # frames handed to the device
        self.clock = FrameClock(RATE)
        self._asked = 0.0  # when it asked last
        #: When the last sample that is not silence was handed to the device (time.monotonic()).
        self.last_sound = 0.0

    def play(self, sound: Samples | Iterable[Piece], cancelled: Callable[[], bool] = lambda: False) -> bool:
        """True when it was played to its end. A sound that is not whole yet is played as its pieces come. `cancelled`
        is asked once the player can be stopped, so that a stop that came a moment too early is not lost. Raises
        MiniaudioError when the device is gone, and what making a piece raises.
        """
        with self._lock:
            self._stopped.clear()
            if cancelled():
                return False
            self.start()
            untold: deque[_Played] = deque()
            try:
                for samples, told in [(sound, None)] if isinstance(sound, np.ndarray) else sound:
                    if self._stopped.is_set():
                        break
                    if len(samples):
                        piece = _Played(samples, told)
                        self._history = (*self._history[-300:], piece)
                        untold.append(piece)
                        self._line.append(piece)
                    self._tell(untold)
                self._follow(untold)
            finally:
                self._line.clear()
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

    def _follow(self, untold: deque[_Played]) -> None:
        """Wait for the end of a sound, telling of its pieces as they are heard."""
        while untold and not self._stopped.wait(0.01):
            self._tell(untold)
            if self.gone:
                raise miniaudio.MiniaudioError("the audio device asks for no sound any more")

    def _tell(self, untold: deque[_Played]) -> None:
        """Of the pieces that have left the loudspeaker: handed out, and through the device's buffer."""
        heard = self._count - round(BUFFERED * RATE)
        while untold and untold[0].whole and untold[0].end <= heard and not self._stopped.is_set():
            piece = untold.popleft()
            if piece.told is not None:
                piece.told()

    def _feed(self) -> Generator[bytes, int, None]:
        wanted = yield b""
        while True:
            self._asked = time.monotonic()
            self.clock.tell(self._asked, self._count)
            block = self._next(wanted)
            self._count += wanted
            wanted = yield block

    def _next(self, wanted: int) -> bytes:
        out, filled = np.zeros(wanted, np.int16), 0
        while filled < wanted and not self._stopped.is_set():
            try:
                piece = self._line[0]
            except IndexError:
                break
            now = self._count + filled
            if piece.start is None:
                piece.start = now
            at = now - piece.start
            block = piece.samples[at : at + wanted - filled]
            out[filled : filled + len(block)] = block
            filled += len(block)
            piece.end = now + len(block)
            if at + len(block) >= len(piece.samples):
                piece.whole = True
                with contextlib.suppress(IndexError):
                    self._line.popleft()
        if filled:
            self.last_sound = time.monotonic()
        return out.tobytes()

    def heard(self, since: float, count: int) -> NDArray[np.float32] | None:
        """`count` samples at the ears' rate of what was handed to the device from `since` on (time.monotonic());
        None where all of it was silence."""
        if not self._count:
            return None
        first = round((since - self.clock.began) * EAR_RATE)
        found: NDArray[np.float32] | None = None
        for sound in reversed(self._history):
            if sound.start is None:
                continue
            start = round(sound.start * EAR_RATE / RATE)
            end = min(round(sound.end * EAR_RATE / RATE), start + len(sound.ear))
            low, high = max(first, start), min(first + count, end)
            if low < high:
                found = np.zeros(count, np.float32) if found is None else found
                found[low - first : high - first] = sound.ear[low - start : high - start]
            if end <= first:
                break  # pieces do not overlap: those before it ended sooner
        return found

    def stop(self) -> None:
        self._stopped.set()

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
