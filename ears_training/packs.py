"""Packs: many utterances in one long audio file, and beside it a list of what is where.

`X.opus` (or .flac, .wav; 16 kHz mono) holds the utterances end to end; `X.json` lists them in that order, each with
`n` (samples), `text`, `lab` (phone labels from 1), `voice`.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from callout.errors import BadInput
from ears_training.voices import RATE, Samples

Pcm = npt.NDArray[np.int16]
_AUDIO = (".opus", ".flac", ".wav")


@dataclass(frozen=True)
class Spoken:
    """One utterance with its transcript: samples in +-1, words, phone labels from 1, who said it."""

    samples: Samples
    text: str
    labels: tuple[int, ...]
    voice: str


def write_pack(path: Path, spoken: Iterable[Spoken]) -> float:
    """Write `path`.opus and `path`.json (give `path` without an ending); return the hours written."""
    import soundfile

    rows, total = [], 0
    path.parent.mkdir(parents=True, exist_ok=True)
    with soundfile.SoundFile(
        f"{path}.opus", "w", RATE, 1, format="OGG", subtype="OPUS", compression_level=0.95
    ) as audio:
        for s in spoken:
            audio.write(np.clip(s.samples, -1, 1))
            rows.append({"n": len(s.samples), "text": s.text, "lab": list(s.labels), "voice": s.voice})
            total += len(s.samples)
    Path(f"{path}.json").write_text(json.dumps(rows), encoding="utf-8")
    return total / RATE / 3600


def pack_files(folder: Path) -> list[tuple[Path, Path]]:
    """Return (list, audio) for every pack in a folder, in order of name."""
    out = []
    for listing in sorted(folder.glob("*.json")):
        for ending in _AUDIO:
            audio = listing.with_suffix(ending)
            if audio.is_file():
                out.append((listing, audio))
                break
    if not out:
        raise BadInput(f"{folder} holds no pack (X.json beside X.opus); docs/training.md shows how to make one")
    return out


def read_audio(path: Path) -> Pcm:
    """Read a pack's audio as 16-bit samples; peaks above 1 are clipped, never wrapped."""
    import soundfile

    x, rate = soundfile.read(path, dtype="float32")
    if rate != RATE or x.ndim != 1:
        raise BadInput(f"{path} is not 16 kHz mono; convert it before training")
    return (np.clip(x, -1, 1) * 32767).astype(np.int16)
