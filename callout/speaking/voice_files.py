"""The files that a voice writes: one WAV file a sentence, numbered, with its first words in the name.

They lie in the folder that was asked for. Where none was and there is no sound card, they lie in a temporary one, and
of those only the last are kept.
"""

from __future__ import annotations

import re
import tempfile
import threading
import wave
from collections import deque
from pathlib import Path

from callout.errors import BadInput, CalloutError
from callout.files import private, try_folder
from callout.speaking.render import RATE, Samples

#: How many files are kept in a folder that nobody asked for, on a machine without a sound card: an hour or so of talk.
KEPT_FILES = 500


class VoiceFiles:
    """`folder`: where they lie; None until the first is named, where nobody asked for one. A name is told before its
    file is written; `unwritten` are those that could not be."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.unwritten: list[Path] = []
        self._lock = threading.Lock()
        self._count = 0
        self._unasked: deque[Path] | None = None  # the files in a folder of our own making

    def next_path(self, text: str) -> Path:
        """The name of the file of the next sentence."""
        with self._lock:
            if self.folder is None:
                self.folder, self._unasked = Path(tempfile.mkdtemp(prefix="callout-voice-")), deque()
            self._count += 1
            words = "-".join(re.findall(r"[a-z]+", text.lower())[:6])[:48]
            return self.folder / f"{self._count:04d}-{words}.wav"

    def write(self, path: Path | None, samples: Samples) -> None:
        """Nothing where a sentence has no file. Raises `CalloutError` where it cannot be written."""
        if path is None:
            return
        try:
            write_wav(path, samples)
        except OSError as failed:
            raise CalloutError(f"cannot write {path}: {failed.strerror}; choose another folder") from failed
        if self._unasked is not None:
            self._unasked.append(path)
            if len(self._unasked) > KEPT_FILES:
                self._unasked.popleft().unlink(missing_ok=True)

    def not_written(self, path: Path | None) -> None:
        """Note the file of a sentence that failed, unless it is there all the same."""
        if path is not None and not path.exists():
            self.unwritten.append(path)


def write_wav(path: Path, samples: Samples) -> None:
    """Written beside and moved into place, so that a half-written file is never seen."""
    part = path.with_suffix(".part")
    with open(part, "wb", opener=private) as file, wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE)
        sound.writeframes(samples.astype("<i2").tobytes())
    part.replace(path)


def check_folder(folder: Path) -> None:
    """Raises `BadInput` for a folder that cannot be written."""
    try:
        try_folder(folder)
    except OSError as failed:
        raise BadInput(f"cannot write voice files into {folder} ({failed.strerror}); name another folder") from failed
