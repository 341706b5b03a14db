"""A whole scoring: from a folder of recordings to the report and its files, and how far it is."""

from __future__ import annotations

import contextlib
import functools
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from callout.errors import BadInput
from callout.files import private, private_folder, try_folder, whole_file
from callout.hearing.agreement import DecisionSettings
from callout.hearing.agreement import settings as package_decisions
from callout.hearing.voices import KnownVoice, shifted
from callout.journal.lock import WriterLock
from callout.language.context import Context
from callout.language.outcome import Resolution
from callout.scoring.conditions import Condition
from callout.scoring.manifest import find_manifest, survey
from callout.scoring.page import Sounds, address, page, worst_first, write_junit
from callout.scoring.report import build_report, compare, file_line, write_report
from callout.scoring.run import Booth, RowFile, ScoredRow, ScoringTask, Spread, run
from callout.scoring.statistics import Tally

ROWS_NAME = "rows.jsonl"
#: So many recordings are kept as they came out of the simulated radio, the worst first.
MOST_RENDERED = 100
TOO_GOOD = "believe the figures of callout voices, which left each out, or record others"


def open_booth(
    folder: Path, state: str | None, model: Path | None = None, decisions: DecisionSettings | None = None
) -> Booth:
    """The ears of `callout hear`, and its way of reading files; `decisions` as for `open_ears`.

    Raises CalloutError where they cannot be opened."""
    from callout.hearing.audio import read_audio
    from callout.hearing.ears import open_ears
    context = Context(state=state)
    ears = open_ears(model, decisions)
    return Booth(
        listen=ears.hear,
        folder=folder,
        context=context,
        read=read_audio,
        resolve=functools.partial(meant, context),
        close=ears.close,
    )


def meant(context: Context, words: str) -> Resolution:
    """What the words of the manifest mean in the state that is scored; where they mean nothing there, what they mean at
    all: a callout is a callout that was missed, though the state has no words for it.
    """
    from callout.language.resolve import resolve_text

    here = resolve_text(words, context)
    return here if here.outcome == "understood" else resolve_text(words)


@dataclass
class Scored:
    """A finished run. `files` streams the lines of `files` from the rows on disk, `rows` the rows themselves (none
    where reports were merged)."""

    report: dict[str, Any]
    files: Callable[[], Iterator[dict[str, Any]]]
    rows: Callable[[], Iterator[ScoredRow]] = lambda: iter(())


@contextlib.contextmanager
def score(
    folder: Path,
    conditions: Sequence[Condition],
    *,
    state: str | None = None,
    model: Path | None = None,
    voice: KnownVoice | None = None,
    out: Path | None = None,
    shard: tuple[int, int] = (1, 1),
    jobs: int = 1,
    other: tuple[str, dict[str, Any]] | None = None,
    booth: Callable[[], Booth] | None = None,
    spread: Spread | None = None,
) -> Iterator[Scored]:
    """Score a folder; inside the `with` the rows are on disk and `files` can be read as often as needed.

    `voice` is the talker's to judge by. `out` keeps the rows of a stopped run, which the same call takes up again.
    `other` is (name, report) to compare with. `booth` opens the ears of one process (default: those of `callout hear`);
    it must be picklable for `jobs`
    above 1. `spread` takes the trials to other machines (`callout.scoring.fleet`) instead of `jobs` processes here.
    Raises BadInput for a folder, manifest or output that cannot be used.
    """
    manifest = find_manifest(folder)
    if out is not None:
        check_out(out, folder)
    recordings, digest = survey(manifest)
    task = ScoringTask(manifest, tuple(conditions), *shard)
    settings = {
        "recordings": recordings,
        "manifest_sha256": digest,
        "state": state,
        "listener": model.resolve().name if model else "ears",
        "conditions": [condition.label for condition in conditions],
    }
    decisions = None
    if voice is not None:
        settings["voice"] = {"name": voice.name, "shift": voice.shift}
        decisions = shifted(package_decisions(), voice.shift)
    with contextlib.ExitStack() as stack:
        if out is not None:
            stack.enter_context(_alone_in(out))
        place = out or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="callout-score-")))
        rows = RowFile(place / ROWS_NAME, {**settings, "shard": list(shard)})
        stack.callback(rows.close)
        total = task.count(recordings)
        progress = Progress("recordings heard", total, rows.done)
        stack.callback(progress.close)
        open_one = booth or functools.partial(open_booth, folder, state, model, decisions)
        for row in run(task, open_one, min(jobs, max(total - rows.done, 1)), rows.done, spread):
            rows.add(row)
            progress.step()
        tally = Tally()
        for row in rows.rows():
            tally.add(row)
        report = build_report(tally, settings, *shard)
        if voice is not None and voice.manifest == digest:
            report["notes"].append(f"the voice {voice.name} was learned from these recordings: {TOO_GOOD}")

        def files() -> Iterator[dict[str, Any]]:
            return (file_line(row) for row in rows.rows())

        if other is not None:
            report["compare"] = compare(files(), other[1], other[0])
        yield Scored(report, files, rows.rows)
    if out is not None:
        (out / ROWS_NAME).unlink(missing_ok=True)  # all of it is in the report now


@contextlib.contextmanager
def _alone_in(out: Path) -> Iterator[None]:
    """Two runs that wrote the same rows would count recordings twice; raises BadInput for the second."""
    lock = WriterLock(out / "rows.lock")
    try:
        taken = lock.take()
    except OSError as failed:
        raise BadInput(f"cannot write into {out} ({failed.strerror}); name another --out") from failed
    if not taken:
        raise BadInput(f"another run is writing into {out}; wait for its end, or name another --out")
    try:
        yield
    finally:
        lock.path.unlink(missing_ok=True)
        lock.drop()


def check_out(out: Path, folder: Path | None) -> None:
    """Make the output folder; raises BadInput when it lies among the recordings or cannot be written."""
    if folder is not None and folder.resolve() in (out.resolve(), *out.resolve().parents):
        raise BadInput(f"--out {out} lies among the recordings; name a folder outside {folder}")
    try:
        try_folder(out)
    except OSError as failed:
        raise BadInput(f"cannot write into {out} ({failed.strerror}); name another --out") from failed


def write_files(
    scored: Scored, out: Path, folder: Path | None, conditions: Sequence[Condition], *, bundle: bool = False,
    options: str = "", version: str = "",
) -> list[Path]:  # fmt: skip
    """Write score.json, score.html and junit.xml into `out`; return their paths.

    `folder` holds the recordings, which the page plays; None when they are not at hand. With `bundle` the page holds
    their sound. `options` is the command and `version` that of the program, for whoever reads it later.
    """
    json_path, html_path, junit_path = out / "score.json", out / "score.html", out / "junit.xml"
    with _written(json_path) as file:
        write_report(scored.report, scored.files(), file, indent=True)
    with _written(junit_path) as file:
        write_junit(scored.report, scored.files(), file)
    by_label = {condition.label: condition for condition in conditions}

    table = worst_first(scored.rows()) or [_row_of(worst) for worst in scored.report["tally"]["worst"]]
    through_radio = {row.trial for row in table[:MOST_RENDERED] if row.condition}

    def sound(row: ScoredRow) -> Path | None:
        if folder is None:
            return None
        if not row.condition:
            return folder / row.file
        return _as_heard(row, folder, by_label[row.condition], out) if row.trial in through_radio else None

    sounds = Sounds(sound, lambda path: address(path, out), bundle)
    with _written(html_path) as file:
        file.write(page(scored.report, table, sounds, options=options, version=version))
    return [json_path, html_path, junit_path]


def _row_of(worst: dict[str, Any]) -> ScoredRow:
    """A merged report has kept the worst of its rows, and no more of them than the page tells."""
    known = {name: value for name, value in worst.items() if name in ScoredRow.model_fields}
    return ScoredRow(**{"trial": 0, "snr_db": None, "speaker": "", "channel": "", "noise": "", **known})


@contextlib.contextmanager
def _written(path: Path) -> Iterator[TextIO]:
    try:
        with whole_file(path, opener=private) as file:  # it holds what people said
            yield file
    except OSError as failed:
        raise BadInput(f"cannot write {path} ({failed.strerror}); make room, or name another --out") from failed


def _as_heard(row: ScoredRow, folder: Path, condition: Condition, out: Path) -> Path:
    """The recording as it came out of the simulated radio, written beside the page."""
    import numpy as np
    import soundfile

    from callout.hearing.audio import read_audio

    path = out / "worst" / f"{row.trial:06d}.flac"
    private_folder(path.parent)
    samples = condition.apply(read_audio(folder / row.file), row.file)
    with open(path, "wb", opener=private) as file:
        soundfile.write(file, np.asarray(samples), 16_000, format="FLAC")
    return path


class Progress:
    """One line that is rewritten on a terminal, and a new line every ten seconds elsewhere."""

    def __init__(self, what: str, total: int, done: int = 0, out: TextIO | None = None) -> None:
        self._what, self._total, self._done = what, total, done
        self._out = out or sys.stderr
        self._terminal = self._out.isatty()
        self._began = time.monotonic()  # of the first step: opening the ears says nothing about the speed
        self._at_start = done
        self._last = self._began if not self._terminal else 0.0

    def step(self) -> None:
        self._done += 1
        now = time.monotonic()
        if self._done == self._at_start + 1:
            self._began, self._at_start = now, self._done
        if now - self._last >= (0.2 if self._terminal else 10.0):
            self._last = now
            self._show(now)

    def close(self) -> None:
        """End the line that is being rewritten."""
        if self._terminal and self._last:
            self._show(time.monotonic())
            self._out.write("\n")
            self._out.flush()

    def _show(self, now: float) -> None:
        speed = (self._done - self._at_start) / max(now - self._began, 1e-3)
        left = (self._total - self._done) / speed if speed else 0.0
        text = f"{self._what}: {self._done} of {self._total}"
        if speed:
            text += f", {_duration(left)} left"
        self._out.write(f"\r{text:<70}" if self._terminal else text + "\n")
        self._out.flush()


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"
