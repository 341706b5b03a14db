"""Recordings through the ears: one in one condition, or many on all cores, in order, to be stopped and taken up again.

Each trial leaves a row, from which everything is counted. Every process opens ears of its own. Rows are written one a
line as they come, in the order of the trials, so what is on disk is always the beginning of the whole; memory does not
grow with the number of recordings.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from pydantic import BaseModel, ConfigDict

from callout.channel.level import Samples
from callout.errors import BadInput, CalloutError
from callout.files import must_be_a_file, private, whole_file
from callout.language.context import Context
from callout.language.outcome import Resolution
from callout.language.typed import typed_words
from callout.processes import end_with_parent, spawning
from callout.scoring.conditions import Condition
from callout.scoring.manifest import Entry, read_manifest
from callout.scoring.verdict import SlotVerdict, Verdict, judge, judge_slots, meaning_of_words, word_edits
from callout.values import meaning_json


class HeardByListener(Protocol):
    """What a listener returns: see `callout.hearing.ears.Heard`."""

    @property
    def resolution(self) -> Resolution: ...
    @property
    def readings(self) -> Sequence[Sequence[str]]: ...
    @property
    def confidence(self) -> float | None: ...


#: 16 kHz mono floats and a context -> what was heard.
Listener = Callable[[Samples, Context], HeardByListener]


class ScoredRow(BaseModel):
    """One recording in one condition. `said` and `heard` are words; times are whole microseconds."""

    model_config = ConfigDict(extra="forbid")

    trial: int
    file: str
    condition: str
    snr_db: float | None
    speaker: str
    channel: str
    noise: str
    audio_us: int = 0
    decode_us: int = 0
    outcome: str = "nothing"
    verdict: Verdict = "not_heard"
    said: str = ""
    heard: str = ""
    truth: dict[str, Any] | None = None
    meaning: dict[str, Any] | None = None
    guessed: bool = False
    confidence: float | None = None
    reasons: list[str] = []
    slots: dict[str, SlotVerdict] = {}
    edits: list[int] = [0, 0, 0, 0]
    pairs: list[tuple[str, str]] = []
    error: str = ""


@dataclass
class Booth:
    """Everything a process needs to hear recordings: its own listener, the way to read files, the context."""

    listen: Listener
    folder: Path
    context: Context
    read: Callable[[Path], Samples]
    resolve: Callable[[str], Resolution]
    close: Callable[[], None] = lambda: None

    def hear(self, trial: int, entry: Entry, condition: Condition) -> ScoredRow:
        """The row of one trial. A recording that cannot be read is a row with its error, never an exception."""
        row = blank_row(trial, entry, condition)
        if not entry.given:
            row.truth, row.guessed = meaning_of_words(entry.words, self.resolve), True
        try:
            samples = self.read(self.folder / entry.file)
            row.audio_us = round(len(samples) / 16e-3)
            heard_samples = np.asarray(condition.apply(samples, entry.file), dtype=np.float32)
            began = time.perf_counter()
            heard = self.listen(heard_samples, self.context)
            row.decode_us = round((time.perf_counter() - began) * 1e6)
        except (CalloutError, OSError) as broken:
            row.error = " ".join(str(broken).split())
            return row
        result = heard.resolution
        row.outcome = result.outcome
        row.meaning = meaning_json(result.meaning)
        row.heard = " ".join(heard.readings[0] if heard.readings else result.words)
        row.confidence = heard.confidence
        row.reasons = list(result.reasons)
        row.verdict = judge(row.truth, row.outcome, row.meaning)
        row.slots = judge_slots(row.truth, row.outcome, row.meaning)
        if row.truth is not None:  # the words of chatter are not meant to be heard
            row.edits, row.pairs = word_edits(_as_spoken(entry.words), row.heard)
        return row


def _as_spoken(words: str) -> str:
    """The words of the manifest as an ear gives them: no comma counts as a word misheard, and "11" is eleven."""
    typed = typed_words(words)
    return words if typed.fault else " ".join(typed.words)


def blank_row(trial: int, entry: Entry, condition: Condition) -> ScoredRow:
    """The row of a recording nobody has heard yet."""
    return ScoredRow(
        trial=trial,
        file=entry.file,
        condition=condition.label,
        snr_db=condition.snr_db,
        speaker=entry.speaker,
        channel=entry.channel if condition.channel == "clean" else condition.channel,
        noise=entry.noise if condition.channel == "clean" else condition.noise,
        said=entry.words,
        truth=entry.meaning,
        guessed=not entry.given,
    )


#: How many trials wait for each process: enough to keep it busy, few enough to hold.
_AHEAD = 4

Trial = tuple[int, Entry, Condition]


@dataclass(frozen=True)
class ScoringTask:
    """What to score. `part` of `parts`: which shard, counted from 1; a shard takes every `parts`-th recording."""

    manifest: Path
    conditions: tuple[Condition, ...]
    part: int = 1
    parts: int = 1

    def trials(self) -> Iterator[Trial]:
        """(number among all shards, recording, condition), in order."""
        for entry in read_manifest(self.manifest):
            if entry.index % self.parts == self.part - 1:
                for place, condition in enumerate(self.conditions):
                    yield entry.index * len(self.conditions) + place, entry, condition

    def count(self, entries: int) -> int:
        """How many trials this shard has when the manifest has `entries` recordings."""
        return len(range(self.part - 1, entries, self.parts)) * len(self.conditions)


#: Trials and the way to open ears in, their rows out in the same order: how work is spread over other machines.
Spread = Callable[[Iterator[Trial], Callable[[], Booth]], Iterator[ScoredRow]]


def run(
    task: ScoringTask, open_booth: Callable[[], Booth], jobs: int, skip: int = 0, spread: Spread | None = None
) -> Iterator[ScoredRow]:
    """The rows of a task in order, without the first `skip`: in `jobs` processes here, or where `spread` takes them.

    `open_booth` must be picklable when it leaves this process."""
    trials = (trial for number, trial in enumerate(task.trials()) if number >= skip)
    if spread is not None:
        yield from spread(trials, open_booth)
        return
    if jobs <= 1:
        with contextlib.closing(open_booth()) as booth:
            for trial in trials:
                yield booth.hear(*trial)
        return
    yield from _in_processes(trials, open_booth, jobs)


def _in_processes(trials: Iterator[Trial], open_booth: Callable[[], Booth], jobs: int) -> Iterator[ScoredRow]:
    waiting: deque[tuple[Trial, Future[ScoredRow]]] = deque()
    pool = _pool(open_booth, jobs)
    try:
        while True:
            while len(waiting) < jobs * _AHEAD and (trial := next(trials, None)) is not None:
                waiting.append((trial, pool.submit(_hear, *trial)))
            if not waiting:
                return
            try:
                row = waiting[0][1].result()
            except BrokenProcessPool:
                # A library aborted its process. Which recording did it is not known: hear the waiting ones again one
                # by one, each in a process that may die.
                pool.shutdown(wait=False, cancel_futures=True)
                for trial, _ in waiting:
                    yield _hear_alone(trial, open_booth)
                waiting.clear()
                pool = _pool(open_booth, jobs)
                continue
            waiting.popleft()
            yield row
    finally:
        # At the end of the list wait for the processes, or Python's own ending may meet a pipe half closed; a run that
        # was stopped does not wait for what it no longer wants.
        pool.shutdown(wait=not waiting, cancel_futures=True)


def _hear_alone(trial: Trial, open_booth: Callable[[], Booth]) -> ScoredRow:
    with _pool(open_booth, 1) as pool:
        try:
            return pool.submit(_hear, *trial).result()
        except BrokenProcessPool:
            row = blank_row(*trial)
            row.error = f"{trial[1].file}: the ears' process died on it"
            return row


_booth: Booth | None = None


def _pool(open_booth: Callable[[], Booth], jobs: int) -> ProcessPoolExecutor:
    # Spawned, not forked: a forked copy of a native library's threads is not safe to use.
    return ProcessPoolExecutor(jobs, mp_context=spawning(), initializer=_set_up, initargs=(open_booth,))


def _set_up(open_booth: Callable[[], Booth]) -> None:
    global _booth
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which ends its processes
    _booth = open_booth()
    atexit.register(_booth.close)


def _hear(number: int, entry: Entry, condition: Condition) -> ScoredRow:
    assert _booth is not None
    return _booth.hear(number, entry, condition)


class RowFile:
    """Rows on disk, one a line after a first line that says what is being scored."""

    def __init__(self, path: Path, settings: dict[str, Any]) -> None:
        """Take up the rows that are there when they belong to the same settings; raises BadInput when not.

        A last line that was cut in the middle is dropped.
        """
        must_be_a_file(path)
        self.path = path
        self.done = 0
        head = json.dumps(settings, sort_keys=True) + "\n"
        if path.exists():
            self._take_up(head)
        else:
            with whole_file(path, opener=private) as file:
                file.write(head)
        self._file = path.open("a", encoding="utf-8")

    def _take_up(self, head: str) -> None:
        with self.path.open("r+b") as file:
            if file.readline().decode() != head:
                raise BadInput(
                    f"{self.path} is a stopped run of other recordings or options; "
                    "repeat its command to finish it, delete the file, or name another --out"
                )
            whole = file.tell()
            for line in file:
                if not line.endswith(b"\n"):
                    break
                whole += len(line)
                self.done += 1
            file.truncate(whole)

    def add(self, row: ScoredRow) -> None:
        self._file.write(row.model_dump_json() + "\n")
        self._file.flush()

    def close(self) -> None:
        self._file.close()

    def rows(self) -> Iterator[ScoredRow]:
        return read_rows(self.path)


def read_rows(path: Path) -> Iterator[ScoredRow]:
    with path.open(encoding="utf-8") as file:
        next(file)
        for line in file:
            yield ScoredRow.model_validate_json(line)
