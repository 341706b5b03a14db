"""Ears that answer from a script, for tests of what is done with the answers.

A scripted recording is a WAV whose samples all have one value: that value is the number of the answer.
"""

from __future__ import annotations

import functools
import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from callout.errors import BadInput
from callout.language.context import Context
from callout.language.outcome import (
    Ambiguous,
    Nothing,
    NotPossible,
    NotUnderstood,
    Resolution,
    Understood,
)
from callout.scoring.run import Booth
from callout.values import Callout, Command, Length, Meaning

STEP = 64 / 32768


def callout(feet: int, angle: int) -> Callout:
    return Callout(insertion=Length.imperial(feet), angle_deg=angle)


def words_of(meaning: Meaning) -> tuple[str, ...]:
    if isinstance(meaning, Command):
        return tuple(meaning.command.split("_"))
    numbers = {6: "six", 11: "eleven", 12: "twelve", 45: "forty five", 60: "sixty"}
    return tuple(
        f"insertion {numbers[meaning.insertion.eightieths // 24384]} feet {numbers[meaning.angle_deg]}".split()
    )


ELEVEN, TWELVE, SIX = callout(11, 60), callout(12, 60), callout(6, 45)

#: The answers, by number. 5 is the one on which the process dies.
SCRIPT: dict[int, Resolution] = {
    0: Nothing(),
    1: Understood(ELEVEN, words_of(ELEVEN)),
    2: Understood(TWELVE, words_of(TWELVE)),
    3: Ambiguous((ELEVEN, TWELVE), "insertion", words_of(ELEVEN)),
    4: NotUnderstood(("sixty",)),
    6: NotPossible(SIX, words_of(SIX), "out of reach"),
    7: Understood(Command(command="affirm"), ("affirm",)),
}
DEADLY = 5


@dataclass(frozen=True)
class ScriptedHeard:
    resolution: Resolution
    readings: tuple[tuple[str, ...], ...]
    confidence: float | None = 0.5


def listen(samples: np.ndarray, context: Context) -> ScriptedHeard:
    number = round(float(np.median(samples)) / STEP) if len(samples) else 0
    if number == DEADLY:
        os._exit(134)
    result = SCRIPT.get(number, Nothing())
    return ScriptedHeard(result, (result.words,) if result.words else ())


def read(path: Path) -> np.ndarray:
    try:
        return soundfile.read(path, dtype="float32")[0]
    except soundfile.LibsndfileError:
        raise BadInput(f"{path}: not a recording") from None


def resolve(text: str) -> Resolution:
    words = tuple(text.split())
    meaning = {words_of(m): m for m in (ELEVEN, TWELVE, SIX, Command(command="affirm"))}.get(words)
    return Understood(meaning, words) if meaning else NotUnderstood(words)


def open_scripted(folder: Path) -> Booth:
    return Booth(listen, folder, Context(), read, resolve)


def booth_for(folder: Path) -> functools.partial[Booth]:
    return functools.partial(open_scripted, folder)


def write_set(folder: Path, lines: list[tuple[int | None, dict]]) -> None:
    """A folder of recordings: (number of the answer, manifest line). None: a file that is no recording."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "manifest.jsonl").open("w") as out:
        for number, (answer, line) in enumerate(lines):
            name = line.get("file", f"{number:03d}.wav")
            out.write(json.dumps({"file": name, **line}) + "\n")
            if answer is None:
                (folder / name).write_bytes(b"this is no sound")
            else:
                seconds = line.get("seconds", 1)
                soundfile.write(folder / name, np.full(int(16000 * seconds), answer * STEP), 16000)
