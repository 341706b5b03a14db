"""What a run leaves for people and for machines that build: an HTML page and a JUnit file.

The page is one file that opens without a network: every recording in a table, worst first, with why it was asked again,
its waveform and its sound; as a bundle it holds the sounds, too, and can be mailed.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO
from urllib.parse import quote
from xml.sax.saxutils import quoteattr

from callout.scoring import plots
from callout.scoring.report import SLOT_VERDICTS
from callout.scoring.trial import ScoredRow
from callout.scoring.verdict import NO_WORD, NUMBER_WORDS, VERDICTS

#: So many recordings stand in the table, the worst first; all of them are in score.json.
MOST_ROWS = 5_000
#: So many have their waveform.
MOST_WAVES = 400
#: What a bundle holds of sound at the most, in bytes: what mail still takes.
MOST_SOUND = 12_000_000
PEAKS = 160
_WORST_FIRST = ("wrong_accepted", "asked_again", "not_heard", "right")
_SOUNDS = {".wav": "audio/wav", ".flac": "audio/flac", ".ogg": "audio/ogg", ".mp3": "audio/mpeg"}


@dataclass(frozen=True)
class Sounds:
    """Where the page finds sounds: `file` gives the recording of a row as it was heard, None for one that is not there;
    `address` how the page names it, which a bundle does not need."""

    file: Callable[[ScoredRow], Path | None]
    address: Callable[[Path], str]
    bundled: bool = False


def worst_first(rows: Iterable[ScoredRow]) -> list[ScoredRow]:
    """The rows of the table, at most `MOST_ROWS`: by verdict, then in the order of the manifest."""
    kept: dict[str, list[ScoredRow]] = {verdict: [] for verdict in _WORST_FIRST}
    for row in rows:
        if len(kept[row.verdict]) < MOST_ROWS:
            kept[row.verdict].append(row)
    return [row for verdict in _WORST_FIRST for row in kept[verdict]][:MOST_ROWS]


def page(
    report: dict[str, Any], rows: Sequence[ScoredRow], sounds: Sounds | None, *, made: datetime | None = None,
    options: str = "", version: str = "",
) -> str:  # fmt: skip
    """The report as one HTML page. `rows` are those of the table; `options` and `version` what made it."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("callout.scoring", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    groups = []
    for name, table in report["by"].items():
        if len(table) > (0 if name == "slot" else 1):
            verdicts = SLOT_VERDICTS if name == "slot" else VERDICTS
            title = f"Verdicts by {name.replace('_', ' ')}"
            groups.append((name, Markup(plots.bars(list(table.items())[:60], verdicts, title))))
    shown = table_rows(rows, sounds)
    return environment.get_template("page.html.jinja").render(
        overall=report["overall"],
        verdicts=VERDICTS,
        notes=report["notes"],
        compare=report.get("compare"),
        curve=Markup(plots.curve(report["curve"])) if report["curve"] else None,
        groups=groups,
        legend=list(plots.COLOURS.items()),
        words=report["words"],
        seconds=report["seconds"],
        matrix=Markup(plots.matrix(report["confusion"], (*NUMBER_WORDS, NO_WORD))) if report["confusion"] else None,
        rows=shown,
        left_out=max(0, report["overall"]["n"] - len(shown)),
        bundled=sounds is not None and sounds.bundled,
        settings=report["settings"],
        made=(made or datetime.now().astimezone()).isoformat(timespec="seconds"),
        version=version,
        options=options,
        verdict_order={verdict: place for place, verdict in enumerate(_WORST_FIRST)},
    )


def table_rows(rows: Sequence[ScoredRow], sounds: Sounds | None) -> list[dict[str, Any]]:
    """What the table says of each recording."""
    from markupsafe import Markup

    found, room = [], MOST_SOUND
    for place, row in enumerate(rows):
        path = sounds.file(row) if sounds is not None and not row.error else None
        sound = ""
        if path is not None and sounds is not None:
            if not sounds.bundled:
                sound = sounds.address(path)
            elif (size := path.stat().st_size) <= room:
                sound, room = _inside(path), room - size
        waveform = plots.wave(_peaks(path), f"waveform of {row.file}") if path and place < MOST_WAVES else ""
        found.append(
            {
                "file": row.file, "condition": row.condition, "verdict": row.verdict, "said": row.said,
                "heard": row.error or row.heard, "why": why(row), "seconds": row.audio_us / 1e6, "speaker": row.speaker,
                "confidence": row.confidence, "sound": sound, "wave": Markup(waveform),
            }
        )  # fmt: skip
    return found


def why(row: ScoredRow) -> str:
    """Why a recording was asked again or not taken, in the ears' own words."""
    if row.error:
        return "could not be read"
    wrong = [f"{name.replace('_', ' ')} {verdict}" for name, verdict in row.slots.items() if verdict != "right"]
    return "; ".join([*row.reasons, *(wrong if row.verdict == "wrong_accepted" else [])])


def _inside(path: Path) -> str:
    kind = _SOUNDS.get(path.suffix.lower(), "audio/wav")
    return f"data:{kind};base64,{base64.b64encode(path.read_bytes()).decode()}"


def _peaks(path: Path) -> list[int]:
    """The loudest of each of `PEAKS` equal spans, in hundredths of the loudest there is."""
    import numpy as np

    from callout.hearing.audio import read_audio

    samples = np.abs(read_audio(path))
    if not len(samples) or not samples.max():
        return [0] * PEAKS
    spans = np.array_split(samples, min(PEAKS, len(samples)))
    return [int(99 * span.max() / samples.max()) for span in spans]


def address(recording: Path, page_folder: Path) -> str:
    """The address of a recording as seen from the page: relative, so that both may move together."""
    try:
        relative = os.path.relpath(recording.resolve(), page_folder.resolve())
    except ValueError:  # another drive on Windows
        return recording.resolve().as_uri()
    return quote(Path(relative).as_posix())


def write_junit(report: dict[str, Any], files: Iterable[dict[str, Any]], out: TextIO) -> None:
    """A test case for each file: a failure when it was not right, an error when it could not be read."""
    n, right = report["overall"]["n"], report["overall"]["right"]["count"]
    broken = report["tally"]["broken"]
    seconds = report["seconds"]["decode"]
    out.write('<?xml version="1.0" encoding="UTF-8"?>\n')
    out.write(f'<testsuites><testsuite name="callout score" tests="{n}" ')
    out.write(f'failures="{n - right - broken}" errors="{broken}" time="{seconds:.3f}">\n')
    for line in files:
        name = line["file"] + (f" ({line['condition']})" if line.get("condition") else "")
        out.write(f' <testcase classname="callout.score" name={_attribute(name)}')
        if line.get("error"):
            out.write(f"><error message={_attribute(line['error'])}/></testcase>\n")
        elif line["verdict"] != "right":
            out.write(
                f"><failure type={_attribute(line['verdict'])} message={_attribute(line['outcome'])}/></testcase>\n"
            )
        else:
            out.write("/>\n")
    out.write("</testsuite></testsuites>\n")


def _attribute(text: str) -> str:
    """Quoted for XML 1.0, which has no place for control characters at all."""
    return quoteattr("".join(c if c >= " " or c in "\t\n" else "?" for c in text))
