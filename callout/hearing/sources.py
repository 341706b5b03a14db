"""Where sound comes from: a file as if live, a microphone or line input, samples in memory. All give 16 kHz mono.

Nothing is kept on disk.
"""

from __future__ import annotations

import contextlib
import os
import queue
import time
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from callout.errors import CalloutError
from callout.frame_clock import FrameClock
from callout.hearing.audio import RATE, Samples, open_stream
from callout.hearing.level import decibels

BLOCK = 0.02  # seconds


class SoundSource(Protocol):
    """Blocks of sound, each of any length. `live`: time passes by itself, and sound waits for nobody."""

    live: bool

    def blocks(self) -> Iterator[Samples]: ...

    def close(self) -> None: ...


class FileSource:
    """A recording of any length, read piece by piece; `real_time` at the pace of the clock."""

    def __init__(self, path: str | Path, real_time: bool = False) -> None:
        self._path = path
        self.live = real_time

    def blocks(self) -> Iterator[Samples]:
        """Raises BadInput for a file that cannot be read."""
        began, given = time.monotonic(), 0.0
        for block in open_stream(self._path, 0.1):
            given += len(block) / RATE
            if self.live:
                time.sleep(max(0.0, began + given - time.monotonic()))
            yield block

    def close(self) -> None:
        pass


class MemorySource:
    """Samples that are at hand, in blocks of `block` seconds."""

    live = False

    def __init__(self, samples: Samples, block: float = 0.1) -> None:
        self._samples, self._step = samples, max(1, int(block * RATE))

    def blocks(self) -> Iterator[Samples]:
        for start in range(0, len(self._samples), self._step):
            yield self._samples[start : start + self._step]

    def close(self) -> None:
        pass


class Microphone:
    """A microphone or line input, by miniaudio. `name` is part of the device's name; None is the system's choice.

    Raises CalloutError, saying what to do, where there is no sound input. `skip` forgets what was recorded and not
    yet taken: what came in before anybody was ready for it.
    """

    live = True

    def __init__(self, name: str | None = None) -> None:
        import miniaudio

        self._queue: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        #: When its samples came, and how many of them were forgotten by `skip`.
        self.clock, self.skipped, self._came = FrameClock(RATE), 0, 0
        try:
            with _quiet_stderr():
                device = _device(miniaudio, name)
                self._capture: Any = miniaudio.CaptureDevice(
                    input_format=miniaudio.SampleFormat.SIGNED16, nchannels=1, sample_rate=RATE,
                    buffersize_msec=int(BLOCK * 1000), device_id=device,
                )  # fmt: skip
        except miniaudio.MiniaudioError as wrong:
            raise CalloutError(
                f"no sound input can be opened ({wrong.args[0] if wrong.args else wrong}); plug one in, "
                "or work on a recording with: callout listen --from FILE.wav"
            ) from None
        if "null" in str(self._capture.backend).lower():  # it gives zeros for ever, and says nothing
            self._capture.close()
            raise CalloutError(
                "no sound system is installed, so nothing can be heard; on Debian or Ubuntu: "
                "sudo apt-get install libasound2"
            )
        taker = self._take()
        next(taker)
        self._capture.start(taker)

    def _take(self) -> Generator[None, bytes, None]:
        while True:
            data = yield
            self._came += len(data) // 2
            self.clock.tell(time.monotonic(), self._came)
            self._queue.put(bytes(data))

    def blocks(self) -> Iterator[Samples]:
        while True:
            data = self._queue.get()
            if data is None:
                return
            yield np.frombuffer(data, "<i2").astype(np.float32) / np.float32(32768)

    def skip(self) -> None:
        with contextlib.suppress(queue.Empty):
            while (data := self._queue.get_nowait()) is not None:
                self.skipped += len(data) // 2

    def close(self) -> None:
        self._capture.close()
        self._queue.put(None)


def recorded(source: SoundSource, seconds: float, shown: Callable[[float], object] | None = None) -> Samples:
    """So many seconds of a source; `shown` gets the loudest sample of each tenth of a second, in dB."""
    pieces: list[Samples] = []
    told = total = 0
    for block in source.blocks():
        pieces.append(block)
        total += len(block)
        if shown is not None and total - told >= RATE // 10:
            shown(decibels(float(np.abs(np.concatenate(pieces)[told:]).max())))
            told = total
        if total >= seconds * RATE:
            break
    return np.concatenate(pieces) if pieces else np.zeros(0, np.float32)


def _device(miniaudio: Any, name: str | None) -> Any:
    if name is None:
        return None
    found = [device for device in miniaudio.Devices().get_captures() if "Discard all" not in device["name"]]
    for device in found:
        if name.lower() in device["name"].lower():
            return device["id"]
    raise CalloutError(f"no sound input is called {name!r}; there are: {', '.join(d['name'] for d in found) or 'none'}")


def input_names() -> list[str]:
    """The names of the devices that can be heard, without the Null one; empty where there is no sound system."""
    import miniaudio

    with _quiet_stderr():
        try:
            found = [str(device["name"]) for device in miniaudio.Devices().get_captures()]
        except miniaudio.MiniaudioError:
            return []
    return [name for name in found if not name.startswith(("NULL", "Discard all samples"))]


@contextlib.contextmanager
def _quiet_stderr() -> Iterator[None]:
    """The system's sound library complains on its own; the one line that matters is ours."""
    kept = os.dup(2)
    with open(os.devnull, "wb") as nothing:
        os.dup2(nothing.fileno(), 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
