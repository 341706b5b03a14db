"""The corpus in memory: one long 16-bit array, a list of utterances, and reading between samples of it.

Positions in the long array are integers. A float32 keeps whole numbers only to 16.7 million (17 minutes at 16 kHz):
beyond, neighbouring samples fall together and speech becomes stairs. So only the offset within one utterance is
ever a float.
"""

import math
import random
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from callout.errors import BadInput
from ears_training.packs import Pcm, pack_files, read_audio
from ears_training.voices import RATE

CHOOSING = (
    "af_nova", "am_echo", "bm_daniel", "fl:awb", "fl:rms", "flite:awb", "flite:rms", "hdev",
    "espeak:en-us+announcer", "espeak:en-gb+Mr", "espeak:en-029+croak", "espeak:en-gb-x-rp+whisper",
)  # fmt: skip
"""Voices for choosing among runs and settings: never trained on, also where they lie in the corpus."""

HELD = (
    "af_heart", "am_fenrir", "bf_lily", "bm_george", "af_sky", "hibari", "ked", "gbcwmd", "+Andy", "+Annie", "+steph",
    "+belinda", "espeak1:", "mespeak", "gnuspeech",
)  # fmt: skip
"""Marks of voices kept for testing: a corpus that holds one is refused. (steph2 and steph3 are other voices.)"""


SIZES = (32000, 40960, 51200, 64000, 81920, 102400, 128000, 163840, 204800, 230400)
"""Buffer lengths in samples: products of small primes for the transforms, whole 40 ms for the frames."""

SLOWEST = 0.84
"""The slowest pace that the channel gives to speech."""


@dataclass(frozen=True)
class Utterance:
    """Where an utterance lies and what it says.

    `start` is its first sample in the long array; `on` and `off` bound the speech, counted from `start`; `active`
    is the share of 10 ms pieces that hold sound.
    """

    start: int
    on: int
    off: int
    active: float
    labels: tuple[int, ...]
    voice: str
    text: str

    @property
    def seconds(self) -> float:
        """Length of the speech."""
        return (self.off - self.on) / RATE


@dataclass(frozen=True)
class Corpus:
    """All utterances of some packs."""

    samples: Pcm
    utterances: tuple[Utterance, ...]

    def training(self, shortest: float = 0.25, longest: float = 11.0) -> list[Utterance]:
        """Utterances to train on."""
        return [u for u in self.utterances if u.voice not in CHOOSING and shortest < u.seconds < longest]

    def choosing(self, people: bool) -> list[Utterance]:
        """Utterances to choose by: people's, or voices'."""
        found = [u for u in self.utterances if u.voice in CHOOSING and (u.voice == "hdev") == people]
        return [u for u in found if u.seconds < 11.0]


def is_held(voice: str) -> bool:
    """Tell whether a voice is kept for testing."""
    return any(m in voice for m in HELD if m != "+steph") or voice.endswith("+steph")


def load(folders: Sequence[Path]) -> Corpus:
    """Read every pack of the folders. Raises BadInput when a voice kept for testing is among them."""
    import json

    files = [pair for folder in folders for pair in pack_files(folder)]
    with ThreadPoolExecutor(16) as pool:
        audio = list(pool.map(lambda pair: read_audio(pair[1]), files))
    utterances, base = [], 0
    for (listing, _), x in zip(files, audio, strict=True):
        at = 0
        for row in json.loads(listing.read_text(encoding="utf-8")):
            if is_held(row["voice"]):
                raise BadInput(f"{listing} holds {row['voice']!r}, a voice kept for testing; take it out")
            found = speech_bounds(x[at : at + row["n"]])
            if found is not None:
                on, off, active = found
                utterances.append(
                    Utterance(base + at, on, off, active, tuple(row["lab"]), row["voice"], row.get("text", ""))
                )
            at += row["n"]
        base += len(x)
    return Corpus(np.concatenate(audio), tuple(utterances))


def speech_bounds(x: Pcm, floor: float = 0.04) -> tuple[int, int, float] | None:
    """Return (first, last + 1, share) of the 10 ms pieces whose level is above `floor` of the loudest."""
    pieces = x[: len(x) // 160 * 160].astype(np.float32).reshape(-1, 160)
    if not len(pieces):
        return None
    level = np.sqrt((pieces**2).mean(1))
    loud = np.flatnonzero(level > floor * level.max())
    if not len(loud) or level.max() < 10:
        return None
    return int(loud[0]) * 160, int(loud[-1] + 1) * 160, len(loud) / len(level)


def read_between(samples: Any, starts: Any, offsets: Any) -> Any:
    """Read `samples` at integer `starts` plus fractional `offsets`, linearly between neighbours, as floats.

    Works on numpy arrays and torch tensors alike. `starts` (integer) and `offsets` (float, from 0, small) broadcast
    together; a position outside reads something inside, so mask what lies beyond the speech.
    """
    whole = offsets // 1
    part = offsets - whole
    if isinstance(samples, np.ndarray):
        at = np.clip(starts.astype(np.int64) + whole.astype(np.int64), 0, len(samples) - 2)
        return samples[at].astype(np.float32) * (1 - part) + samples[at + 1].astype(np.float32) * part
    at = (starts.long() + whole.long()).clamp(0, len(samples) - 2)
    return samples[at].float() * (1 - part) + samples[at + 1].float() * part


@dataclass(frozen=True)
class Batch:
    """Utterances to be laid into buffers of `size` samples; `tight` cuts the buffers close around the speech."""

    utterances: tuple[Utterance, ...]
    size: int
    tight: bool


def buffer_size(seconds: float, tight: bool) -> int:
    """Return the buffer for speech of this length: room for the slowest pace and a second of tail, or the nearest."""
    if tight:
        return min(SIZES, key=lambda n: abs(math.log(seconds * RATE / n)))
    need = (seconds / SLOWEST + 1.0) * RATE
    return next((n for n in SIZES if n >= need), SIZES[-1])


def batches(
    utterances: Iterable[Utterance], seconds: float, rng: random.Random, tight: bool = False, fill: bool = True
) -> list[Batch]:
    """Group utterances into batches of about `seconds` of buffers, in random order.

    Buffers have few sizes and batches of one size have equally many rows, so that the GPU meets few shapes: a new
    shape costs it as much as twenty steps. `fill` makes up short batches by repeating utterances.
    """
    by_size: dict[int, list[Utterance]] = {}
    for u in utterances:
        by_size.setdefault(buffer_size(u.seconds, tight), []).append(u)
    out = []
    for size, group in sorted(by_size.items()):
        rows = max(1, int(seconds * RATE / size))
        rng.shuffle(group)
        for k in range(0, len(group), rows):
            some = group[k : k + rows]
            if fill and len(some) < rows:
                some = some + rng.choices(group, k=rows - len(some))
            out.append(Batch(tuple(some), size, tight))
    rng.shuffle(out)
    return out
