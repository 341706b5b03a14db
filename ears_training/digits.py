"""A kit of digits for choosing thresholds: strings and single digits, cut tight, of people and of voices.

    python -m ears_training.digits DEVELOPMENT_KIT LEARNERS OUT

LEARNERS is the pack of people kept for choosing (`human_learners_dev`, without its ending). A single digit is cut out
of a string only where the person paused on both sides of it; a digit cut out of flowing speech is another sound. The
voices of the kit that can still speak say each digit alone. Chatter of the kit stands beside them: in a state that
takes digits only, it must be taken for none.
"""

import json
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from callout.hearing.audio import read_audio
from callout.hearing.ears import WEIGHTS
from callout.hearing.encoder import EncoderEar
from ears_training.kit import write_wav
from ears_training.splice import DIGITS, cut_words, trimmed
from ears_training.voices import RATE, Manner, Samples, Speech

PAUSE, SOFT = 0.03, 0.15  # seconds of quiet on both sides of a digit that may be cut out; quiet, as part of its peak
VOICES = ("flite:awb", "flite:rms")
SEED = 4

Row = tuple[str, str, str, Samples]  # words, kind, voice, sound


def paused(x: Samples) -> bool:
    """Whether a piece cut between two words has quiet at both of its ends."""
    margin, floor = int(PAUSE * RATE), SOFT * float(np.abs(x).max())
    return len(x) > 3 * margin and all(float(np.abs(end).max()) < floor for end in (x[:margin], x[-margin:]))


def people(pack: Path, ear: EncoderEar) -> Iterator[Row]:
    """Digit strings of people, as recorded and cut tight, and the single digits with pauses around them."""
    import soundfile

    sound, _ = soundfile.read(pack.with_suffix(".opus"), dtype="float32")
    at = 0
    for line in json.loads(pack.with_suffix(".json").read_text(encoding="utf-8")):
        words, x = line["text"].split(), sound[at : at + line["n"]].clip(-1, 1)
        at += line["n"]
        if len(words) < 2 or not set(words) <= set(DIGITS):
            continue
        yield line["text"], "string", line["voice"], x
        yield line["text"], "string", line["voice"], trimmed(x)
        wide = np.pad(x, (RATE // 2, RATE // 2))
        for word, piece in cut_words(wide, words, ear.scores(wide), trim=False):
            if paused(piece):
                yield word, "digit", line["voice"], trimmed(piece)


def voices(rng: random.Random, each: int = 3) -> Iterator[Row]:
    """Single digits of synthetic voices, cut tight."""
    speech = Speech()
    for voice in VOICES:
        for word in DIGITS * each:
            manner = Manner(rng.uniform(0.9, 1.15), 1.0, rng.randrange(1 << 30))
            yield word, "digit", voice, trimmed(speech.say(voice, word, manner))


def chatter(kit: Path, rng: random.Random, count: int = 60) -> Iterator[Row]:
    """Speech that is no string of digits."""
    lines = [json.loads(line) for line in (kit / "manifest.jsonl").read_text(encoding="utf-8").splitlines()]
    for line in rng.sample([line for line in lines if not set(line["words"].split()) <= set(DIGITS)], count):
        yield line["words"], "chatter", line["voice"], read_audio(kit / line["file"])


def build(kit: Path, pack: Path, out: Path) -> int:
    """Write the kit; returns how many recordings it has."""
    rng = random.Random(SEED)
    (out / "audio").mkdir(parents=True, exist_ok=True)
    rows: list[dict[str, Any]] = []
    for make in (people(pack, EncoderEar(WEIGHTS / "encoder.onnx")), voices(rng), chatter(kit, rng)):
        for words, kind, voice, x in make:
            file = f"audio/{len(rows):03d}.wav"
            write_wav(out / file, x)
            rows.append({"file": file, "words": words, "kind": kind, "voice": voice, "state": "digits"})
    (out / "manifest.jsonl").write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    return len(rows)


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    print(f"{build(*map(Path, sys.argv[1:]))} recordings in {sys.argv[3]}")
