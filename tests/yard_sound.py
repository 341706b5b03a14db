"""The sound of a yard without an end, for `tests/proof_yard.py`: talk that is not meant for callout, machines, the
radio's hiss and squelch, tones, knocks, silence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from audio_fixtures.voices import speak
from callout.channel import NOISES, simulate
from callout.files import data_folder, read_toml
from callout.hearing.audio import RATE, Samples, read_audio
from callout.scoring.conditions import babble_voices

#: Of what the yard is made, and how much of each: somebody speaks for a good third of the day.
KINDS = {"talk": 0.2, "radio": 0.15, "machine": 0.2, "tone": 0.05, "knock": 0.1, "silence": 0.3}
#: Who says the sentences of `tests/data/people/other_talk.toml`; the recordings of `audio_fixtures` have voices of
#: their own. One of two talks is of either kind.
VOICES = ("espeak:en-us", "espeak:en-us+f2", "espeak:en-gb+m3", "espeak:en-gb-scotland")


class Piece(NamedTuple):
    """Seconds of the sound from which one kind lasts, and what it is, to look for it when it was mistaken."""

    start: float
    end: float
    what: str


class Yard:
    """Endless sound of a yard, the same for the same number; `pieces` tells what the last one was made of."""

    def __init__(self) -> None:
        folder = data_folder("audio_fixtures") / "balanced"
        lines = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
        chatter = [line for line in lines if line["group"] == "chatter"]
        self._recorded = [
            (f'"{line["words"]}" ({line["file"].removesuffix(".flac")})', read_audio(folder / line["file"]))
            for line in chatter
        ]
        self._sentences = other_talk()
        self._crowd = babble_voices()
        self.pieces: list[Piece] = []

    def sound(self, seconds: float, number: int) -> Samples:
        """At most 12 s at a time of one kind, one after the other."""
        self._rng = np.random.default_rng([24, number])
        made: list[NDArray[np.float64]] = []
        self.pieces = []
        total = 0
        while total < seconds * RATE:
            samples, what = self._piece()
            made.append(samples)
            self.pieces.append(Piece(total / RATE, (total + len(samples)) / RATE, what))
            total += len(samples)
        return np.concatenate(made)[: round(seconds * RATE)].astype(np.float32)

    def around(self, start: float, end: float) -> list[str]:
        """What was to be heard in these seconds of the last sound."""
        return [piece.what for piece in self.pieces if piece.start < end and piece.end > start]

    def said(self, words: str, start: float, end: float) -> bool:
        """Whether somebody said these words, one after the other, in these seconds of the last sound."""
        talk = " ".join(line.split('"')[1] if '"' in line else "," for line in self.around(start, end))
        return f" {words} " in f" {talk} "

    def _piece(self) -> tuple[NDArray[np.float64], str]:
        kind = str(self._rng.choice(list(KINDS), p=list(KINDS.values())))
        length = self._rng.uniform(1.5, 12.0)
        floor = (10 ** self._rng.uniform(-4, -2.2)) * self._rng.standard_normal(round(length * RATE))
        loud = float(10 ** self._rng.uniform(-1.2, 0.0))
        if kind in ("talk", "radio"):
            return self._spoken(kind, floor, loud)
        if kind == "machine":
            return self._machine(floor, loud)
        at = np.arange(len(floor)) / RATE
        if kind == "tone":
            return np.clip(floor + 0.3 * loud * np.sin(2 * np.pi * self._rng.uniform(200, 3000) * at), -1, 1), kind
        if kind == "knock":
            for when in self._rng.uniform(0, length, self._rng.integers(1, 12)):
                knock = loud * np.exp(-40 * np.abs(at - when)) * (at >= when) * self._rng.standard_normal(len(at))
                floor = floor + knock
        return np.clip(floor, -1, 1), kind

    def _spoken(self, kind: str, floor: NDArray[np.float64], loud: float) -> tuple[NDArray[np.float64], str]:
        name, said = self._talk()
        speech, what = np.pad(said, (RATE // 2, RATE)), f"{kind}: {name}"
        if kind == "radio":
            noise = str(self._rng.choice([name for name in NOISES if name != "babble"]))
            snr = float(self._rng.uniform(0, 25))
            speech = simulate(speech, RATE, snr, noise, seed=self._seed())
            what = f"{what}, {noise} at {snr:.0f} dB"
        out = np.zeros(max(len(floor), len(speech)))
        out[: len(floor)] += floor
        out[: len(speech)] += loud * speech
        return np.clip(out, -1, 1), what

    def _talk(self) -> tuple[str, Samples]:
        if self._rng.random() < 0.5:
            return self._recorded[self._rng.integers(len(self._recorded))]
        words, voice = str(self._rng.choice(self._sentences)), str(self._rng.choice(VOICES))
        return f'"{words}" ({voice})', np.asarray(speak(voice, words), np.float32)

    def _machine(self, floor: NDArray[np.float64], loud: float) -> tuple[NDArray[np.float64], str]:
        name = str(self._rng.choice(list(NOISES)))
        quiet = 1e-4 * self._rng.standard_normal(len(floor))
        voices = self._crowd if name == "babble" else None
        noise = simulate(quiet, RATE, -30.0, name, seed=self._seed(), voices=voices)
        return np.clip(noise[: len(floor)] * loud + floor, -1, 1), f"machine: {name}"

    def _seed(self) -> int:
        return int(self._rng.integers(2**31))


def other_talk() -> list[str]:
    """Sentences of people who do not talk to callout."""
    rows: list[str] = read_toml(Path(__file__).parent / "data" / "people" / "other_talk.toml")["rows"]
    return rows
