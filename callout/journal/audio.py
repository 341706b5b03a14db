"""The sound of what was heard, kept beside the journal: one FLAC file an utterance, named by its content.

Switched off unless asked for. What is older than `DAYS` goes, and the oldest when there is more than `MEGABYTES`; the
journal itself keeps its words for ever.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from callout.files import private, private_folder

MEGABYTES = 500
DAYS = 30.0
_DAY = 86400.0


def audio_folder(journal: Path) -> Path:
    """Where the sound of a journal lies. Looking there changes nothing, while an `AudioStore` drops what is old."""
    return journal.with_name(journal.name + ".audio")


def audio_file(folder: Path, name: str) -> Path:
    """The file of a kept sound, by the name that `AudioStore.keep` gave it."""
    return folder / name[:2] / f"{name}.flac"


class AudioStore:
    """Files under `folder`. A disk that fails costs the recording and one line to `report`, never the conversation."""

    def __init__(
        self, folder: Path, report: Callable[[str], None], megabytes: float = MEGABYTES, days: float = DAYS
    ) -> None:
        self.folder = folder
        self._report = report
        self._limit = megabytes * 1e6
        self._days = days
        self._told = False
        self._size = sum(file.stat().st_size for file in self._files())
        self.prune()

    @classmethod
    def beside(cls, journal: Path, report: Callable[[str], None], **limits: float) -> AudioStore:
        """The store of a journal: the folder with its name and ".audio" behind it."""
        return cls(audio_folder(journal), report, **limits)

    def keep(self, samples: NDArray[Any], rate: int = 16000) -> str | None:
        """Keep one utterance (mono, 16-bit integers or floats from -1 to 1). -> the name to find it by, or None when
        the disk refused. The same sound is kept once; its name is the SHA-256 of its 16-bit samples and the rate.
        """
        if samples.dtype.kind == "f":
            samples = np.clip(np.rint(samples * 32768.0), -32768, 32767)
        samples = samples.astype("<i2")
        name = hashlib.sha256(f"{rate}:".encode() + samples.tobytes()).hexdigest()
        path = self.path(name)
        if path.exists():
            return name
        sound = io.BytesIO()
        soundfile.write(sound, samples, rate, format="FLAC", subtype="PCM_16")
        part = path.with_suffix(".part")
        try:
            private_folder(self.folder)
            private_folder(path.parent)
            with open(part, "wb", opener=private) as file:
                file.write(sound.getvalue())
            part.replace(path)
        except OSError as failed:
            with contextlib.suppress(OSError):
                part.unlink()
            if not self._told:
                self._report(f"the sound is not kept in {self.folder} ({failed.strerror}); the words are")
            self._told = True
            return None
        self._told = False
        self._size += len(sound.getvalue())
        if self._size > self._limit:
            self.prune()
        return name

    def path(self, name: str) -> Path:
        return audio_file(self.folder, name)

    def prune(self) -> int:
        """Drop what is too old or too much, oldest first. -> how many files went."""
        files = sorted((file.stat().st_mtime, file.stat().st_size, file) for file in self._files())
        total, oldest, dropped = sum(size for _, size, _ in files), time.time() - self._days * _DAY, 0
        for written, size, file in files:
            if written >= oldest and total <= self._limit:
                break
            file.unlink(missing_ok=True)
            total -= size
            dropped += 1
        self._size = total
        return dropped

    def _files(self) -> list[Path]:
        return list(self.folder.glob("??/*.flac"))
