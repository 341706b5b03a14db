"""Recordings of people: taken from a source of sound, checked (is one loud enough, clean and whole?), and kept.

Nothing that is there is ever written over.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from callout.channel.level import Samples, active_level, speech_start
from callout.errors import BadInput, CalloutError
from callout.files import private, private_folder
from callout.hearing.level import STEP
from callout.hearing.segmenter import Segmenter
from callout.hearing.sources import SoundSource
from callout.scoring.manifest import NAMES, read_manifest

#: What is not ended after this many seconds is ended: somebody walked away.
LONGEST_S = 60.0
RATE = 16_000


def record_until(source: SoundSource, ended: Callable[[], object]) -> Samples:
    """Everything that `source` gives until `ended` returns (it blocks: a key, a pedal), at most a minute.

    A source that runs dry ends it too, after `ended` returned.
    """
    kept: list[Samples] = []
    stop = threading.Event()

    def take() -> None:
        count = 0
        for block in source.blocks():
            if stop.is_set() or count > LONGEST_S * RATE:
                return
            kept.append(np.asarray(block, dtype=np.float32))
            count += len(block)

    taker = threading.Thread(target=take, name="recording", daemon=True)
    taker.start()
    try:
        ended()
    finally:
        if source.live:
            stop.set()
            source.close()
        taker.join(2)
    return np.concatenate(kept) if kept else np.zeros(0, np.float32)


def record_utterance(source: SoundSource, wait_s: float = 20.0) -> tuple[Samples, float]:
    """(one utterance with the quiet around it, seconds from the beginning until it began): no key is needed.

    Ends after a second of quiet, when the source ends, or when nobody spoke for `wait_s`; empty then.
    """
    segmenter = Segmenter()
    kept: list[Samples] = []
    rest = np.zeros(0, np.float32)
    began = 0.0
    try:
        for block in source.blocks():
            rest = np.concatenate([rest, np.asarray(block, dtype=np.float32)])
            while len(rest) >= STEP:
                step, rest = rest[:STEP], rest[STEP:]
                kept.append(step)
                if segmenter.step(step) and segmenter.opened is not None:
                    began = segmenter.opened
                if segmenter.ended("nothing"):
                    return np.concatenate(kept)[int(began * RATE) :], began
            if not segmenter.open and segmenter.now > wait_s:
                return np.zeros(0, np.float32), segmenter.now
    finally:
        source.close()
    if not segmenter.open:
        return np.zeros(0, np.float32), segmenter.now
    return np.concatenate(kept)[int(began * RATE) :], began


# Limits of a usable recording (common practice, no source): decibels of full scale, and seconds.
_SOFT_DB, _LOUD_DB = -45.0, -9.0
_CLIPPED_SHARE = 0.001
_NOISE_MARGIN_DB = 12.0
_LEAD_S, _TAIL_S = 0.15, 0.15


@dataclass(frozen=True)
class LevelCheck:
    """`level_db` of the active speech and `floor_db` of the quietest tenth, of full scale; `advice` empty when good."""

    seconds: float
    level_db: float
    floor_db: float
    clipped: float
    advice: tuple[str, ...]

    @property
    def good(self) -> bool:
        return not self.advice


def check_level(samples: Samples) -> LevelCheck:
    """Measure 16 kHz mono floats, and say in plain words what to do better."""
    seconds = len(samples) / RATE
    square, _ = active_level(samples, RATE)
    level = 10 * np.log10(square + 1e-12)
    size = RATE // 50
    blocks = np.asarray(samples[: len(samples) // size * size], dtype=np.float64).reshape(-1, size)
    power = (blocks**2).mean(axis=1) if len(blocks) else np.zeros(1)
    floor = 10 * np.log10(np.percentile(power, 10) + 1e-12)
    clipped = float(np.mean(np.abs(samples) > 0.99)) if len(samples) else 0.0
    if square == 0 or level < -60:
        return LevelCheck(seconds, float(level), float(floor), clipped, ("nothing was heard; is the microphone on?",))
    advice = []
    if clipped > _CLIPPED_SHARE or level > _LOUD_DB:
        advice.append("too loud; hold the microphone further away")
    elif level < _SOFT_DB:
        advice.append("too soft; come closer to the microphone")
    if level - floor < _NOISE_MARGIN_DB:
        advice.append("hardly louder than the noise; come closer, or say in --noise what it is")
    start = speech_start(samples, RATE) / RATE
    if start < _LEAD_S:
        advice.append("the beginning may be lost; press the key, wait half a second, then speak")
    if speech_start(samples[::-1], RATE) / RATE < _TAIL_S:
        advice.append("the end may be lost; wait half a second before letting go")
    return LevelCheck(seconds, float(level), float(floor), clipped, tuple(advice))


class Recordings:
    """A folder with a manifest to which recordings are added; nothing that is there is ever written over."""

    def __init__(self, folder: Path) -> None:
        """Raises BadInput for a folder that cannot be used, or whose manifest cannot be read."""
        self.folder = folder
        self.manifest = folder / NAMES[0]
        if (folder / NAMES[1]).exists():
            raise BadInput(f"{folder / NAMES[1]} is a table, and recordings are added to {NAMES[0]}; use a new folder")
        try:
            private_folder(folder)
        except OSError as failed:
            raise BadInput(f"cannot write into {folder} ({failed.strerror}); name another folder") from failed
        self.kept = 0
        if self.manifest.exists() and self.manifest.stat().st_size:
            self.kept = sum(1 for _ in read_manifest(self.manifest))

    def keep(self, samples: Samples, words: str, meaning: dict[str, Any] | None, about: dict[str, Any]) -> Path:
        """Write one recording as FLAC and its line of the manifest; `about` holds speaker, licence and the like.

        Raises CalloutError when the disk refuses; then neither file nor line is there.
        """
        path = self._new_path(words, str(about.get("speaker", "")))
        line = {"file": path.name, "words": words, "meaning": meaning, **about}
        try:
            with open(path, "xb", opener=private) as file:
                _write_flac(file, samples)
            with open(self.manifest, "a", encoding="utf-8", opener=private) as manifest:
                manifest.write(json.dumps(line, ensure_ascii=False) + "\n")
        except OSError as failed:
            path.unlink(missing_ok=True)
            raise CalloutError(f"cannot write {path} ({failed.strerror}); free some space and go on") from failed
        self.kept += 1
        return path

    def _new_path(self, words: str, speaker: str) -> Path:
        name = "-".join(re.findall(r"[a-z0-9]+", f"{speaker} {words}".lower())[:8])[:60] or "recording"
        number = self.kept + 1
        while True:
            path = self.folder / f"{number:04d}-{name}.flac"
            if not path.exists():
                return path
            number += 1


def _write_flac(file: Any, samples: Samples) -> None:
    import soundfile

    whole = np.round(np.clip(samples, -1, 1) * 32767).astype(np.int16)
    soundfile.write(file, whole, RATE, format="FLAC", subtype="PCM_16")
