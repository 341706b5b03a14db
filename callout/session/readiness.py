"""Whether the main job can run: each part of it is tried, and what is missing is named with what mends it."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from callout import config as settings
from callout.errors import CalloutError
from callout.files import data_folder

_REINSTALL = "python -m pip install --force-reinstall callout"


class Finding(BaseModel):
    """One thing the main job needs, or would like. `mend` is a command or an action, empty when ready."""

    model_config = ConfigDict(extra="forbid")

    name: str
    ready: bool
    needed: bool
    detail: str
    mend: str = ""


class Report(BaseModel):
    """The whole of `callout check --json`; `ready` is true when the main job can run."""

    model_config = ConfigDict(extra="forbid")

    ready: bool
    findings: list[Finding]


def _language() -> str:
    from callout.language import grammar

    count = len(grammar.load().words())
    return f"the grammar reads; {count} words"


def _team_words() -> str:
    """A team's own words: what moves something with one that the second ear lacks is hardly taken by voice."""
    from callout.hearing.vocabulary import unheard_words
    from callout.language.team import team_folder

    if team_folder() is None:
        return "none yet"
    if unheard := unheard_words():
        raise CalloutError(f"one ear lacks some: what moves something with them is typed: {', '.join(unheard[:8])}")
    return "both ears know them all"


#: A recording of ours, and what is said in it: both ears must hear just that.
RECORDING, SAID = "whole_clean.flac", "insertion eleven feet sixty"


def _recognizer() -> str:
    """Each ear hears a recording by itself: one that is dead would otherwise be found out at the first affirm."""
    from callout.hearing.audio import read_audio
    from callout.hearing.ears import Ears

    started = time.perf_counter()
    with contextlib.closing(Ears()) as ears:
        evidence = ears.evidence(read_audio(data_folder("audio_fixtures") / "demo" / RECORDING))
        mute = ears.asked(evidence).mute
    for name, readings in (("encoder ear", evidence.encoder), ("second ear (Vosk)", evidence.vosk)):
        if not readings:
            raise CalloutError(f"the {name} hears nothing; the other one works alone, and no heard affirm will count")
        heard = " ".join(readings[0].words)
        if heard != SAID:
            raise CalloutError(f"the {name} hears {heard!r} where {SAID!r} is said")
    third = f"without a third opinion, so more is asked again ({mute})" if mute else "the third opinion answers"
    return f"each ear heard {SAID!r}, {third}; opened in {time.perf_counter() - started:.1f} s"


def _voice() -> str:
    from callout.speaking import open_voice

    with tempfile.TemporaryDirectory() as folder, contextlib.closing(open_voice(folder=Path(folder))) as voice:
        return f"speaks to a file, {voice.render('radio check').seconds:.1f} s of speech"


class Unfit(CalloutError):
    """What is set and cannot be used, with what mends just that."""

    def __init__(self, detail: str, mend: str) -> None:
        super().__init__(detail)
        self.mend = mend


def _set(name: str) -> tuple[Path | None, str]:
    """The file that a setting names, as a conversation takes it, and where that was set."""
    value = next(value for value in settings.load() if value.setting.name == name)
    return (None if value.value is None else Path(value.value)), value.source


def _stock() -> str:
    """The stock that `callout listen` would use."""
    from callout.shoring.stock import load_stock

    file, source = _set("stock")
    try:
        stock = load_stock(file)
    except CalloutError as unfit:
        if file is None:
            raise
        mend = f"mend it (callout stock {file}), or name another in {source}"
        raise Unfit(f"{unfit} (set in {source})", mend) from None
    return f"{len(stock.lines)} lines: {file}" if file else "the invented stock of the package; yours: callout config"


def _disk() -> str:
    folder = Path.cwd()
    if not os.access(folder, os.W_OK):
        raise CalloutError(f"{folder} cannot be written")
    free = shutil.disk_usage(folder).free
    if free < 200 * 2**20:
        raise CalloutError(f"only {free // 2**20} MB free in {folder}")
    return f"{free // 2**30} GB free here"


def _journal() -> str:
    """The journal that is set, or that a microphone writes when nobody names one. Nothing is made or changed here."""
    from callout.journal import Journal
    from callout.journal.store import default_path

    path = _set("journal")[0] or default_path()
    folder = next(folder for folder in path.absolute().parents if folder.exists())
    if not os.access(folder, os.W_OK):
        raise CalloutError(f"{folder} cannot be written")
    if not path.exists():
        return f"a new one will be made: {path}"
    with Journal.open(path, writer=False) as journal:
        verdict = journal.verify()
    if not verdict.ok:
        raise CalloutError(f"{path}: {verdict.problem}")
    return f"{verdict.lines} lines, the chain is whole: {path}"


def _clock() -> str:
    if time.localtime().tm_year < 2024:
        raise CalloutError(f"the clock says {time.strftime('%Y-%m-%d %H:%M')}")
    return time.strftime("%Y-%m-%d %H:%M %Z")


def _named(names: list[str]) -> str:
    if not names:
        raise CalloutError("no sound device found")
    return ", ".join(names[:3])


def _sound_out() -> str:
    from callout.speaking.player import output_devices

    return _named([device["name"] for device in output_devices()])


def _sound_in() -> str:
    from callout.hearing.sources import input_names

    return _named(input_names())


#: name, needed for the main job, probe, what mends it
PROBES: tuple[tuple[str, bool, Callable[[], str], str], ...] = (
    ("language", True, _language, _REINSTALL),
    ("a team's words", False, _team_words, "type them, or see what docs/language.md says of a word that an ear lacks"),
    ("recognizer and model", True, _recognizer, _REINSTALL),
    ("voice", True, _voice, _REINSTALL),
    ("stock", True, _stock, _REINSTALL),
    ("disk", True, _disk, "free some space, or change to a folder you may write to: cd ~"),
    ("journal", True, _journal, "move the file away, or name another: export CALLOUT_JOURNAL=FILE"),
    ("clock", True, _clock, "set the clock: sudo date --set '2030-01-31 14:00'"),
    ("sound out", False, _sound_out, "plug in a loudspeaker; until then the voice goes to WAV files"),
    ("sound in", False, _sound_in, "plug in a microphone; until then use: callout listen --typed"),
)


def check(before: Callable[[str], object] = lambda name: None) -> Report:
    """Try everything; a probe that fails in any way is a finding, never a crash. `before` is told what comes next."""
    findings = []
    for name, needed, probe, mend in PROBES:
        before(name)
        try:
            findings.append(Finding(name=name, ready=True, needed=needed, detail=probe()))
        except Exception as failure:
            detail = (str(failure).splitlines() or [type(failure).__name__])[0]
            mend = failure.mend if isinstance(failure, Unfit) else mend
            findings.append(Finding(name=name, ready=False, needed=needed, detail=detail, mend=mend))
    return Report(ready=all(f.ready for f in findings if f.needed), findings=findings)
