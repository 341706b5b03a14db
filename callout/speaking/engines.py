"""The two ways to the speech library: pyttsx3, and the library itself; and a second voice. Used only inside the speech
process.

Neither needs a system package: the library and its data come with the espeakng-loader package, and pyttsx3 finds
the library already loaded under its own name. What pyttsx3 does wrong on Linux (returning before the sound is
written, files without frames, settings that arrive late) is caught here: wait for the event, look at the file,
try again.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import threading
import time
import wave
from pathlib import Path
from typing import Any, Protocol

import espeakng_loader

RATE = 22050
VOICE = "gmw/en-us"
#: No speech engine says a letter in less than this many seconds at the rates we use; less means a cut file.
SHORTEST_LETTER = 0.015
TRIES = 5


class Engine(Protocol):
    """Words in, 16-bit mono samples at `RATE` out. One thread only."""

    name: str
    retries: int

    def speak(self, text: str, rate: int) -> bytes:
        """Raises RuntimeError when no sound came out."""


def load_library() -> Any:
    """Load the speech library so that whoever asks for it by name finds this one."""
    os.environ["ESPEAK_DATA_PATH"] = os.path.dirname(espeakng_loader.get_data_path())
    return ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)


def long_enough(frames: int, text: str, rate: int) -> bool:
    """Whether `frames` can hold `text` spoken at `rate` words a minute."""
    return frames / RATE > SHORTEST_LETTER * len(text) * min(1.0, 160 / rate)


class PyttsxEngine:
    """pyttsx3, made to tell the truth."""

    name = "pyttsx3"

    def __init__(self, folder: Path) -> None:
        load_library()
        import pyttsx3

        self.retries = 0
        self._file = folder / "utterance.wav"
        self._done = threading.Event()
        self._engine = pyttsx3.init("espeak")
        self._engine.connect("finished-utterance", lambda **_: self._done.set())
        self._engine.setProperty("voice", VOICE)
        self._engine.runAndWait()  # settings before the first loop would wait for it
        self.speak("ready", 130)

    def speak(self, text: str, rate: int) -> bytes:
        for _ in range(TRIES):
            self._file.unlink(missing_ok=True)
            self._done.clear()
            self._set_rate(rate)
            self._engine.save_to_file(text, str(self._file))
            self._engine.runAndWait()
            self._done.wait(2 + len(text) / 100)
            sound = self._read(text, rate)
            if sound:
                return sound
            self.retries += 1
            time.sleep(0.05)
        raise RuntimeError(f"no sound for {text!r}")

    def _set_rate(self, rate: int) -> None:
        """The setting is taken over by the library's own thread; words sent before that come at the old rate."""
        self._engine.setProperty("rate", rate)
        until = time.monotonic() + 1.0
        while self._engine.getProperty("rate") != rate and time.monotonic() < until:
            time.sleep(0.001)

    def _read(self, text: str, rate: int) -> bytes:
        """The samples once the whole file is there; nothing when it stays short for 0.3 s."""
        until = time.monotonic() + 0.3
        while time.monotonic() < until:
            try:
                with wave.open(str(self._file)) as sound:
                    count = sound.getnframes()
                    if sound.getframerate() == RATE and long_enough(count, text, rate):
                        return bytes(sound.readframes(count))
            except (OSError, EOFError, wave.Error):
                pass
            time.sleep(0.01)
        return b""


class DirectEngine:
    """The speech library without pyttsx3, for the day on which pyttsx3 fails."""

    name = "direct"
    _SYNCHRONOUS, _RATE, _UTF8 = 2, 1, 1

    def __init__(self, folder: Path) -> None:
        self.retries = 0
        self._blocks: list[bytes] = []
        self._library = load_library()
        data = os.environ["ESPEAK_DATA_PATH"].encode()
        if self._library.espeak_Initialize(self._SYNCHRONOUS, 60, data, 0) != RATE:
            raise RuntimeError("the speech library does not start")
        kind = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
        self._callback = kind(self._take)  # kept, or the library calls into freed memory
        self._library.espeak_SetSynthCallback(self._callback)
        if self._library.espeak_SetVoiceByName(VOICE.encode()):
            raise RuntimeError(f"the voice {VOICE} is missing")

    def _take(self, samples: Any, count: int, _events: Any) -> int:
        if count > 0 and samples:
            self._blocks.append(ctypes.string_at(samples, count * 2))
        return 0

    def speak(self, text: str, rate: int) -> bytes:
        self._blocks.clear()
        self._library.espeak_SetParameter(self._RATE, rate, 0)
        words = text.encode() + b"\0"
        self._library.espeak_Synth(words, len(words), 0, 0, 0, self._UTF8, None, None)
        self._library.espeak_Synchronize()
        sound = b"".join(self._blocks)
        if not long_enough(len(sound) // 2, text, rate):
            raise RuntimeError(f"no sound for {text!r}")
        return sound


class HeartEngine:
    """A neural voice that some prefer, from the package hibari-tts where it is installed (`callout[heart]`). Only its
    voice "heart" is used: it lies in the package, and nothing is fetched."""

    name = "heart"
    #: Words a minute at its own speed: measured on the sentences of the dialogue.
    _PACE = 170

    def __init__(self, folder: Path) -> None:
        from hibari import Hibari

        self.retries = 0
        self._speak = Hibari(voice="heart")
        self.speak("ready", 130)

    def speak(self, text: str, rate: int) -> bytes:
        import numpy as np
        from scipy.signal import resample_poly

        speed = min(2.0, max(0.5, rate / self._PACE))
        sound = np.asarray(self._speak(text, speed=speed, seed=0), np.float32)
        sound = resample_poly(sound, 147, 160)  # 24 kHz to ours
        samples: bytes = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
        if not long_enough(len(samples) // 2, text, rate):
            raise RuntimeError(f"no sound for {text!r}")
        return samples


def heart_is_installed() -> bool:
    return importlib.util.find_spec("hibari") is not None


ENGINES: dict[str, type[PyttsxEngine] | type[DirectEngine] | type[HeartEngine]] = {
    "pyttsx3": PyttsxEngine, "direct": DirectEngine, "heart": HeartEngine,
}  # fmt: skip
