"""Recordings of people that lie outside the project, as folders that can be scored. For evaluation only.

Nothing of them is kept in the project, trained on or tuned on. Each function returns the folder, or None with the
reason on standard error when the recordings are not here.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

SHARED = Path(__file__).resolve().parents[2] / "shared" / "audio"
POCKETSPHINX = Path("/usr/share/pocketsphinx/test/data")
RATE = 16_000

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

Recording = tuple[str, np.ndarray, dict[str, Any]]


def _missing(what: str, where: Path) -> None:
    print(f"left out: {what} (nothing in {where})", file=sys.stderr)


def _write(folder: Path, recordings: Iterator[Recording]) -> Path:
    folder.mkdir(parents=True)
    with (folder / "manifest.jsonl").open("w", encoding="utf-8") as manifest:
        for name, samples, line in recordings:
            soundfile.write(folder / name, samples, RATE, subtype="PCM_16")
            manifest.write(json.dumps({"file": name, **line}) + "\n")
    return folder


def human_digits(folder: Path) -> Path | None:
    """Single digits of four men, 8 kHz (Free Spoken Digit Dataset, CC BY-SA 4.0); scored with the digit grammar."""
    source = SHARED / "human_digits"
    if not source.is_dir():
        _missing("single digits of people", source)
        return None
    folder.mkdir(parents=True)
    with (folder / "manifest.jsonl").open("w", encoding="utf-8") as manifest:
        for path in sorted(source.glob("*.wav")):
            digit, speaker, _ = path.stem.split("_")
            word = DIGITS[int(digit)] if digit.isdecimal() else digit
            manifest.write(json.dumps({"file": str(path), "words": word, "speaker": speaker}) + "\n")
    return folder


def _learners() -> Iterator[tuple[str, np.ndarray]]:
    source = SHARED / "training" / "human_learners_dev"
    samples, rate = soundfile.read(source.with_suffix(".opus"), dtype="float32")
    assert rate == RATE
    start = 0
    for line in json.loads(source.with_suffix(".json").read_text(encoding="utf-8")):
        yield line["text"].lower(), np.clip(samples[start : start + line["n"]], -1, 1)
        start += line["n"]


def learners(folder: Path, digits: bool) -> Path | None:
    """24 learners of English: their digit strings, or their sentences, in which nothing must be understood."""
    source = SHARED / "training" / "human_learners_dev.opus"
    if not source.is_file():
        _missing("learners of English", source.parent)
        return None

    def chosen() -> Iterator[Recording]:
        for number, (text, samples) in enumerate(_learners()):
            if set(text.split()) <= set(DIGITS):
                if digits:
                    yield f"{number:03d}.wav", samples, {"words": text}
            elif not digits:
                yield f"{number:03d}.wav", samples, {"words": text, "meaning": None}

    return _write(folder, chosen())


def pocketsphinx(folder: Path, digits: bool) -> Path | None:
    """Debian's pocketsphinx-testdata (BSD-2): a digit string, or commands, cards and read sentences as chatter."""
    if not POCKETSPHINX.is_dir():
        _missing("read sentences (apt-get install pocketsphinx-testdata)", POCKETSPHINX)
        return None

    def raw(name: str) -> np.ndarray:
        return np.fromfile(POCKETSPHINX / name, dtype="<i2") / 32768.0

    def chosen() -> Iterator[Recording]:
        if digits:
            yield "digits.wav", raw("tidigits/dhd.2934z.raw"), {"words": "two nine three four zero"}
            return
        yield "goforward.wav", raw("goforward.raw"), {"words": "go forward ten meters", "meaning": None}
        for path in sorted((*POCKETSPHINX.glob("cards/*.wav"), *POCKETSPHINX.glob("librivox/*.wav"))):
            samples, rate = soundfile.read(path)
            assert rate == RATE
            yield path.name, samples, {"words": "read", "meaning": None, "channel": path.parent.name}

    return _write(folder, chosen())
