"""The Vosk ear: a small TDNN of our own making inside Vosk, in a process that may die.

Why a process: a wrong phrase list or a grammar changed in mid-utterance aborts Vosk and all around it. Word times
come from 30 ms frames.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import weakref
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from callout.errors import CalloutError
from callout.hearing.audio import RATE, Samples
from callout.hearing.helper import Helper, HelperDied, HelperFailed
from callout.hearing.vosk_graph import GARBAGE, lexicon_mark, model_folder, read_words, write_gr

_FOLDER = "callout-ears-"
_SECONDS = 4.0  # an answer takes 0.1 s; after this the process is given up


@dataclass(frozen=True)
class VoskReading:
    """One reading: `score` is a log score in nats, comparable within an utterance; times in seconds."""

    words: tuple[str, ...]
    score: float
    times: tuple[tuple[float, float], ...] = ()

    @property
    def garbage(self) -> bool:
        return GARBAGE in self.words


class VoskEar:
    """Hears with a strict grammar for each state. `missing` of a state are words that this ear cannot hear.

    One utterance at a time: `begin`, `feed` as the sound comes, `end`; or `hear` for all three. When the process
    dies the utterance is lost to this ear (an empty list) and the next one is heard by a fresh process. `helper` is the
    process.
    """

    def __init__(self, model: Path) -> None:
        self._model = model
        self._words = read_words(model)
        _sweep()
        self._folder = Path(tempfile.mkdtemp(prefix=f"{_FOLDER}{os.getpid()}-"))
        self.helper = Helper("callout.hearing.vosk_worker", started=self._load_all)
        self._places: dict[str, Path] = {}
        self._missing: dict[str, tuple[str, ...]] = {}
        self._live = False  # an utterance is under way
        #: All of it was fed, and the readings are being worked out.
        self.closed = False
        #: The process died or hung in the utterance that was heard last.
        self.lost = False
        self.close = weakref.finalize(self, _clear, self.helper, self._folder)
        self.helper.start()

    def prepare(
        self, key: str, arcs: Iterable[tuple[int, int, str]], start: int, finals: Iterable[int]
    ) -> tuple[str, ...]:
        """Give the grammar of a state a name; returns the words of it that this ear does not know."""
        if key not in self._places:
            place = self._folder / str(len(self._places))
            self._missing[key] = tuple(write_gr(model_folder(self._model, place), arcs, start, finals, self._words))
            self._places[key] = place
            self._load(self.helper, key)
        return self._missing[key]

    def begin(self, key: str) -> None:
        self._live = self.closed = False
        for _ in range(2):
            try:
                self._load(self.helper, key)
                self.helper.post(("begin", key))
            except HelperDied:
                continue
            self._live = True
            return

    def feed(self, samples: Samples) -> None:
        """The next stretch of sound, 16 kHz float within -1 to 1."""
        if not self._live:
            return
        pcm = np.round(np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2").tobytes()
        try:
            self.helper.post(("feed", pcm))
        except HelperDied:
            self._live = False

    def close_utterance(self, most: int = 8) -> None:
        """All of it was fed: the readings are worked out until `end` takes them."""
        if not self._live or self.closed:
            return
        try:
            self.helper.post(("end", most))
            self.closed = True
        except HelperDied:
            self._live = False

    def end(self) -> list[VoskReading]:
        """The readings, best first; empty when nothing was heard or the process died."""
        self.close_utterance()
        self.lost = not self._live
        if self.lost:
            return []
        self._live = False
        try:
            ways = self.helper.answer(_SECONDS)
        except (HelperDied, HelperFailed):
            self.lost = True
            return []
        return [
            VoskReading(tuple(text.split()), score, tuple((start, end) for _, start, end in times))
            for text, score, times in ways
        ]

    def hear(self, samples: Samples, key: str, most: int = 8) -> list[VoskReading]:
        self.begin(key)
        for start in range(0, len(samples), RATE):
            self.feed(samples[start : start + RATE])
        self.close_utterance(most)
        return self.end()

    def ready(self) -> bool:
        """Wait until the process has loaded what it was given, and with nothing given until it runs; False when it
        cannot."""
        try:
            key = next(iter(self._places), None)
            return key is None or bool(self.helper.ask(("words", key, []), _SECONDS) == [])
        except (HelperDied, HelperFailed):
            return False

    def _load(self, helper: Helper, key: str) -> None:
        helper.post(("model", key, str(self._places[key]), None))

    def _load_all(self, helper: Helper) -> None:
        for key in list(self._places)[-1:]:
            self._load(helper, key)


def check_lexicon(model: Path, lexicon: Mapping[str, Iterable[Sequence[str]]]) -> None:
    """Raise CalloutError when the model's words, or their pronunciations, are not the grammar's."""
    has, wants = set(read_words(model)) - {"<eps>", GARBAGE}, set(lexicon)
    if has != wants:
        raise CalloutError(
            f"the Vosk ear's words differ from the grammar's (lacks {sorted(wants - has)}, has besides "
            f"{sorted(has - wants)}); build its graph again: python -m callout.hearing.build_vosk"
        )
    if (model / "graph" / "lexicon.sha256").read_text().strip() != lexicon_mark(lexicon):
        raise CalloutError(
            "the pronunciations have changed since the Vosk ear's graph was built; build it again: "
            "python -m callout.hearing.build_vosk"
        )


def _sweep() -> None:
    """Remove the folders of processes that were killed before they could do it themselves."""
    for folder in Path(tempfile.gettempdir()).glob(f"{_FOLDER}*"):
        number = folder.name.removeprefix(_FOLDER).partition("-")[0]
        if os.name == "posix" and number.isdigit():
            try:
                os.kill(int(number), 0)
            except ProcessLookupError:
                shutil.rmtree(folder, ignore_errors=True)
            except PermissionError:  # somebody else's, and alive
                pass


def _clear(helper: Helper, folder: Path) -> None:
    helper.close()
    shutil.rmtree(folder, ignore_errors=True)
