"""The voice: one utterance after the other, to the loudspeaker or, without a sound card, to WAV files."""

from __future__ import annotations

import contextlib
import queue
import re
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Union

import miniaudio
import numpy as np

from callout.errors import BadInput, CalloutError
from callout.speaking.pacing import Pace, check_words
from callout.speaking.player import Player, open_player
from callout.speaking.process import SpeechProcess
from callout.speaking.render import Rendered, Samples, Source, lead_tone, render, write_wav
from callout.whole_file import try_folder

#: Told when an utterance is over, on the clock of time.monotonic().
OnEnd = Callable[[float], None]
#: How many files are kept in a folder that nobody asked for, on a machine without a sound card: an hour or so of talk.
KEPT_FILES = 500
_Job = Union[tuple[str, "Path | None", int, "OnEnd | None"], None]


class Voice:
    """Speaks in the order in which it is asked. `silent` tells why nothing is heard ("" when it is).

    `say` never waits unless asked to; `stop` ends what is being said and forgets what was to be said.
    Everything that goes wrong after `say` has returned is told to `on_trouble` in one line.
    """

    def __init__(
        self,
        process: Source,
        player: Player | None,
        pace: Pace,
        folder: Path | None,
        lead: float = 0.0,
        silent: str = "",
        on_trouble: Callable[[str], None] | None = None,
        owns: bool = False,
    ) -> None:
        self.silent = silent
        self.folder = folder
        self._process = process
        self._owns = owns
        self._player = player
        self._pace = pace
        self._lead = lead
        self._on_trouble = on_trouble or (lambda line: None)
        self._count = 0
        self._unasked: deque[Path] | None = None  # the files in a folder of our own making
        self._round = 0
        self._lock = threading.Lock()
        self._jobs: queue.SimpleQueue[_Job] = queue.SimpleQueue()
        self._waiting = 0
        self._idle = threading.Condition(self._lock)
        self._thread = threading.Thread(target=self._work, name="voice", daemon=True)
        self._thread.start()

    def render(self, text: str) -> Rendered:
        """The utterance as sound, now; in a WAV file too where the voice has a folder.

        Raises `NotSpeakable` for anything but words, `CalloutError` when no speech engine works.
        """
        return self._render(text, self._next_path(text))

    def say(self, text: str, wait: bool = False, on_end: OnEnd | None = None) -> Path | None:
        """Speak after what was asked for before. -> the WAV file it will be in, or None when it is only played.

        `on_end` is called once, from the voice's thread, with the time at which these words were over: the last of
        them left the loudspeaker, or they were silenced or could not be spoken. Where nothing is played that is when
        their file is written. Raises `NotSpeakable` at once for anything but words; `on_end` is not called then.
        """
        check_words(text)
        path = self._next_path(text)
        with self._lock:
            self._waiting += 1
            self._jobs.put((text, path, self._round, on_end))
        if wait:
            self.wait()
        return path

    @property
    def speaking(self) -> bool:
        """Whether something is being said or waits to be said: the ears stay closed meanwhile."""
        return self._waiting > 0

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until all is said; False when `seconds` went by first."""
        with self._idle:
            return self._idle.wait_for(lambda: self._waiting == 0, seconds)

    def stop(self) -> None:
        """Silence within 50 ms. What was waiting to be said is forgotten; files are written all the same."""
        with self._lock:
            self._round += 1
        if self._player is not None:
            self._player.stop()

    def close(self) -> None:
        """Be silent and end the speech process. Call `wait` first to let it finish."""
        self.stop()
        self._jobs.put(None)
        self._thread.join(10)
        if self._player is not None:
            self._player.close()
        if self._owns and isinstance(self._process, SpeechProcess):
            self._process.close()

    def __enter__(self) -> Voice:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _work(self) -> None:
        if isinstance(self._process, SpeechProcess):
            with contextlib.suppress(CalloutError):  # the first words will tell
                self._process.start()
        while (job := self._jobs.get()) is not None:
            text, path, asked_in, on_end = job
            try:
                self._speak(text, path, asked_in)
            except Exception as failed:  # whatever it is, the next words must find this thread alive
                self._on_trouble(f"not spoken: {text[:60]!r} ({failed})")
            try:
                if on_end is not None:
                    on_end(time.monotonic())
            finally:
                with self._idle:
                    self._waiting -= 1
                    self._idle.notify_all()

    def _speak(self, text: str, path: Path | None, asked_in: int) -> None:
        if path is None and self._stopped_since(asked_in):
            return  # a file whose name was told is written all the same
        sound = self._render(text, path)
        if self._player is None:
            return
        try:
            self._player.play(sound.samples, partial(self._stopped_since, asked_in))
        except miniaudio.MiniaudioError:
            self._player = None
            self.silent = "the sound card stopped working"
            if path is None:
                path = self._next_path(text)
                self._write(path, sound.samples)
            self._on_trouble(f"{self.silent}: the voice goes to WAV files from now on ({path})")

    def _stopped_since(self, asked_in: int) -> bool:
        return asked_in != self._round

    def _render(self, text: str, path: Path | None) -> Rendered:
        sound = render(text, self._process, self._pace)
        samples = sound.samples
        if self._lead:
            samples = np.concatenate([lead_tone(self._lead), samples])
        self._write(path, samples)
        return Rendered(sound.text, samples, path)

    def _write(self, path: Path | None, samples: Samples) -> None:
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

    def _next_path(self, text: str) -> Path | None:
        if self.folder is None and self._player is not None:
            return None
        with self._lock:
            if self.folder is None:
                self.folder, self._unasked = Path(tempfile.mkdtemp(prefix="callout-voice-")), deque()
            self._count += 1
            words = "-".join(re.findall(r"[a-z]+", text.lower())[:6])[:48]
            return self.folder / f"{self._count:04d}-{words}.wav"


def open_voice(
    rate_figures: float = 100,
    rate_words: float = 130,
    folder: Path | None = None,
    *,
    device: str | None = None,
    vox_lead: float = 0.0,
    play: bool = True,
    on_trouble: Callable[[str], None] | None = None,
    backends: Sequence[miniaudio.Backend] = (),
    process: Source | None = None,
) -> Voice:
    """A voice on `device` (None: the default output).

    `folder`: where every utterance is written as WAV; without one, only a machine without a sound card writes
    files, into a new temporary folder. `vox_lead`: seconds of tone before every utterance, for a radio that keys
    itself. `play=False` renders only. The rates are words a minute. `process`: a speech process shared with
    another voice; who made it closes it. Raises `BadInput` for an unknown device or a folder that cannot be written.
    """
    pace = Pace(figures=rate_figures, words=rate_words)
    player, silent = open_player(device, backends) if play else (None, "playing is switched off")
    if folder is not None:
        _writable(folder)
    source = SpeechProcess() if process is None else process
    return Voice(source, player, pace, folder, vox_lead, silent, on_trouble, owns=process is None)


def _writable(folder: Path) -> None:
    try:
        try_folder(folder)
    except OSError as failed:
        raise BadInput(f"cannot write voice files into {folder} ({failed.strerror}); name another folder") from failed
