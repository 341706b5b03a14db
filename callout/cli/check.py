"""`callout check`: what is ready, what is missing, and the command that mends it."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import click
from pydantic import BaseModel, ConfigDict

from callout.console.output import emit, say
from callout.errors import CalloutError

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


def _recognizer() -> str:
    from callout.hearing.ears import open_ears

    started = time.perf_counter()
    with contextlib.closing(open_ears()):
        return f"both ears open in {time.perf_counter() - started:.1f} s"


def _voice() -> str:
    from callout.speaking import open_voice

    with tempfile.TemporaryDirectory() as folder, contextlib.closing(open_voice(folder=Path(folder))) as voice:
        return f"speaks to a file, {voice.render('radio check').seconds:.1f} s of speech"


def _stock() -> str:
    from callout.shoring.stockfile import load_stock

    load_stock(None)
    return "the packaged stock reads"


def _disk() -> str:
    folder = Path.cwd()
    if not os.access(folder, os.W_OK):
        raise CalloutError(f"{folder} cannot be written")
    free = shutil.disk_usage(folder).free
    if free < 200 * 2**20:
        raise CalloutError(f"only {free // 2**20} MB free in {folder}")
    return f"{free // 2**30} GB free here"


def _journal() -> str:
    """The journal that a microphone writes when nobody names one. Nothing is made or changed here."""
    from callout.journal import Journal
    from callout.journal.place import default_path

    path = default_path()
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
    ("recognizer and model", True, _recognizer, _REINSTALL),
    ("voice", True, _voice, _REINSTALL),
    ("stock", True, _stock, _REINSTALL),
    ("disk", True, _disk, "free some space, or change to a folder you may write to: cd ~"),
    ("journal", True, _journal, "move the file away, or name another: export CALLOUT_JOURNAL=FILE"),
    ("clock", True, _clock, "set the clock: sudo date --set '2030-01-31 14:00'"),
    ("sound out", False, _sound_out, "plug in a loudspeaker; until then the voice goes to WAV files"),
    ("sound in", False, _sound_in, "plug in a microphone; until then use: callout listen --typed"),
)


def run_checks() -> Report:
    """Try everything; a probe that fails in any way is a finding, never a crash."""
    findings = []
    for name, needed, probe, mend in PROBES:
        say(f"checking {name} ...")
        try:
            findings.append(Finding(name=name, ready=True, needed=needed, detail=probe()))
        except Exception as failure:
            detail = (str(failure).splitlines() or [type(failure).__name__])[0]
            findings.append(Finding(name=name, ready=False, needed=needed, detail=detail, mend=mend))
    return Report(ready=all(f.ready for f in findings if f.needed), findings=findings)


@click.command()
@click.option("--json", "as_json", is_flag=True, help="One JSON object (schema: callout schema check).")
def check(as_json: bool) -> int:
    """Say what is ready and what is missing, each with what mends it.

    Exit code 0 only when the main job (hear, read back, plan, speak to a file) can run. Sound in and out are
    reported and not required: recordings, typed words and WAV files do without.
    """
    report = run_checks()
    if as_json:
        emit(report.model_dump(mode="json"))
    else:
        for finding in report.findings:
            mark = "ready  " if finding.ready else ("MISSING" if finding.needed else "absent ")
            click.echo(f"{mark}  {finding.name}: {finding.detail}")
            if finding.mend:
                click.echo(f"         to mend: {finding.mend}")
        click.echo("ready to work" if report.ready else "not ready: mend what is marked MISSING")
    return 0 if report.ready else 1
