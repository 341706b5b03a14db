"""Speech from voices that a package manager brings, as 16 kHz float arrays.

A voice is named `engine:name`: `espeak:en-us+f3`, `flite:slt`, `festival:kal_diphone`, `piper:joe`, `hibari:heart`,
`kokoro:af_nova`, `kokoro:af_nova+am_echo` (their even mixture), `espeak1:en-sc` (espeak before espeak-ng),
`node:gnuspeech:male` (an npm package), `warp:0.84:hibari:heart` (pitch and formants times 0.84: a longer throat), or
`command:PROGRAM` (called as PROGRAM TEXT OUT.wav). docs/training.md says which packages hold them.
"""

import os
import random
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache, partial
from importlib.resources import files
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput, CalloutError

RATE = 16000
Samples = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Manner:
    """How a sentence is said: pace (1 usual, 1.3 quick), pitch (1 usual), and a seed for the rest."""

    pace: float = 1.0
    pitch: float = 1.0
    seed: int = 0

    @staticmethod
    def drawn(rng: random.Random) -> "Manner":
        """Draw a manner as wide as crews differ."""
        return Manner(rng.uniform(0.8, 1.3), rng.uniform(0.8, 1.25), rng.randrange(1 << 30))


def to_rate(x: npt.NDArray[Any], rate: int, wanted: int = RATE) -> Samples:
    """Resample with a proper low-pass."""
    from scipy.signal import resample_poly

    if rate != wanted:
        k = gcd(rate, wanted)
        x = resample_poly(x, wanted // k, rate // k)
    return np.asarray(x, np.float32)


def levelled(x: Samples, peak: float = 0.9, margin: int = 800) -> Samples:
    """Bring the peak to `peak` and put `margin` zeros on both sides."""
    m = float(np.abs(x).max()) if len(x) else 0.0
    if not m > 1e-3:
        raise CalloutError("a voice gave silence; check that its package is installed")
    pad = np.zeros(margin, np.float32)
    return np.concatenate([pad, (x / m * peak).astype(np.float32), pad])


def _program(args: list[str], stdin: str | None, out: Path) -> Samples:
    import soundfile

    try:
        subprocess.run(
            args,
            input=stdin.encode() if stdin is not None else None,
            check=True,
            timeout=60,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    except FileNotFoundError:
        raise BadInput(f"the program {args[0]!r} is missing; docs/training.md names its package") from None
    x, rate = soundfile.read(out, dtype="float32")
    return to_rate(x if x.ndim == 1 else x.mean(1), rate)


def _espeak(name: str, text: str, m: Manner, out: Path, program: str = "espeak-ng") -> Samples:
    pitch = int(np.clip(50 * m.pitch, 15, 90))
    return _program(
        [program, "-v", name, "-s", str(int(160 * m.pace)), "-p", str(pitch), "-w", str(out), text], None, out
    )


def _flite(name: str, text: str, m: Manner, out: Path) -> Samples:
    if name.startswith("kal"):
        tune = ["--setf", f"int_f0_target_mean={105 * m.pitch:.0f}"]
    else:
        tune = ["--setf", f"f0_shift={m.pitch:.2f}"]
    stretch = f"duration_stretch={1 / m.pace:.2f}"
    return _program(["flite", "-voice", name, "--setf", stretch, *tune, "-t", text, "-o", str(out)], None, out)


def _festival(name: str, text: str, m: Manner, out: Path) -> Samples:
    stretch = f"(Parameter.set 'Duration_Stretch {1 / m.pace:.2f})"
    return _program(["text2wave", "-eval", f"(voice_{name})", "-eval", stretch, "-o", str(out)], text, out)


def _node(name: str, text: str, m: Manner, out: Path) -> Samples:
    folder = os.environ.get("CALLOUT_NODE_VOICES")
    if not folder:
        raise BadInput("set CALLOUT_NODE_VOICES to the folder where npm put the voices (docs/training.md)")
    script = str(files("ears_training").joinpath("data/say.mjs"))
    engine, _, voice = name.partition(":")
    return _program(
        ["node", script, folder, engine, voice, f"{m.pace:.2f}", f"{m.pitch:.2f}", text, str(out)], None, out
    )


def _warp(name: str, text: str, m: Manner, out: Path) -> Samples:
    factor, _, inner = name.partition(":")
    engine, _, voice = inner.partition(":")
    x = _ENGINES[engine](voice, text, replace(m, pace=m.pace / float(factor)), out)
    return to_rate(x, round(RATE * float(factor)))


def _command(name: str, text: str, m: Manner, out: Path) -> Samples:
    return _program([*name.split(), text, str(out)], None, out)


@cache
def _hibari_voice() -> Any:
    import hibari

    return hibari.Hibari(threads=1)


def _hibari(name: str, text: str, m: Manner, out: Path) -> Samples:
    return to_rate(_hibari_voice()(text, speed=m.pace, seed=m.seed), 24000)


@cache
def _piper_voice(name: str) -> Any:
    import importlib

    import piper

    package = importlib.import_module(f"{name}_us_piper_voice")
    folder = Path(str(package.__file__)).parent
    return piper.PiperVoice.load(str(next(folder.rglob("*.onnx"))))


def _piper(name: str, text: str, m: Manner, out: Path) -> Samples:
    import piper

    rng = random.Random(m.seed)
    config = piper.SynthesisConfig(
        length_scale=1 / m.pace, noise_scale=rng.uniform(0.4, 0.9), noise_w_scale=rng.uniform(0.5, 1.1)
    )
    chunks = list(_piper_voice(name).synthesize(text, syn_config=config))
    return to_rate(np.concatenate([c.audio_float_array for c in chunks]), chunks[0].sample_rate)


def _kokoro(name: str, text: str, m: Manner, out: Path) -> Samples:
    from ears_training import kokoro

    return to_rate(kokoro.speaker().say(spoken_letters(text), name.split("+"), m.pace), kokoro.RATE)


def spoken_letters(text: str) -> str:
    """Return the phoneme letters that the neural voices read."""
    return " ".join(_hibari_voice().phonemize(text))


_ENGINES: dict[str, Callable[[str, str, Manner, Path], Samples]] = {
    "espeak": _espeak,
    "espeak1": partial(_espeak, program="espeak"),
    "node": _node,
    "warp": _warp,
    "flite": _flite,
    "festival": _festival,
    "command": _command,
    "hibari": _hibari,
    "piper": _piper,
    "kokoro": _kokoro,
}


@dataclass
class Speech:
    """Says texts in named voices; keeps one scratch file."""

    scratch: Path = field(default_factory=lambda: Path(tempfile.gettempdir()) / f"callout-voice-{os.getpid()}.wav")

    def say(self, voice: str, text: str, manner: Manner | None = None) -> Samples:
        """Return the text said by `voice` at 16 kHz, peak 0.9, with 50 ms of zeros around it."""
        engine, _, name = voice.partition(":")
        make = _ENGINES.get(engine)
        if make is None:
            raise BadInput(f"no voice engine is called {engine!r}; there are {', '.join(sorted(_ENGINES))}")
        return levelled(make(name, text, manner or Manner(), self.scratch))
