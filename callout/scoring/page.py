"""What a run leaves for people and for machines that build: an HTML page with its plots, and a JUnit file.

The page is one file that opens without a network: every recording in a table, worst first, with why it was asked again,
its waveform and its sound; as a bundle it holds the sounds, too, and can be mailed. The plots are SVG text drawn here,
without a library.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any, TextIO
from urllib.parse import quote
from xml.sax.saxutils import quoteattr

from callout.pages import render
from callout.scoring.report import SLOT_VERDICTS
from callout.scoring.run import ScoredRow
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
    from markupsafe import Markup

    groups = []
    for name, table in report["by"].items():
        if len(table) > (0 if name == "slot" else 1):
            verdicts = SLOT_VERDICTS if name == "slot" else VERDICTS
            title = f"Verdicts by {name.replace('_', ' ')}"
            groups.append((name, Markup(bars(list(table.items())[:60], verdicts, title))))
    shown = table_rows(rows, sounds)
    return render(
        Path(__file__).with_name("score.html"),
        overall=report["overall"],
        verdicts=VERDICTS,
        notes=report["notes"],
        compare=report.get("compare"),
        curve=Markup(curve(report["curve"])) if report["curve"] else None,
        groups=groups,
        legend=list(COLOURS.items()),
        words=report["words"],
        seconds=report["seconds"],
        matrix=Markup(matrix(report["confusion"], (*NUMBER_WORDS, NO_WORD))) if report["confusion"] else None,
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
        waveform = wave(_peaks(path), f"waveform of {row.file}") if path and place < MOST_WAVES else ""
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


#: Each has 3:1 against both grounds, by day and by night (WCAG 2.2, 1.4.11).
COLOURS = {
    "right": "#2f8a57", "wrong_accepted": "#d0453c", "asked_again": "#b07d00", "not_heard": "#7a7a7a",
    "wrong": "#d0453c", "missed": "#7a7a7a",
}  # fmt: skip
_LINES = ("#2f7fc4", "#d0453c", "#2f8a57", "#a062bd", "#b07d00", "#0f8a94", "#7a7a7a", "#b5653a")
#: How each line is broken, so that they are told from one another without colours.
_DASHES = ("none", "8 4", "2 3", "8 3 2 3", "14 4", "4 4", "1 6", "10 3 1 3 1 3")
#: A cell of a table of figures is no stronger than this: its figure must be read on it, 7:1 by day and by night.
_CELL = 0.4


def bars(rows: Sequence[tuple[str, dict[str, Any]]], verdicts: Sequence[str], title: str = "") -> str:
    """A bar a row, divided by verdict, with the interval of "right" drawn over it. `rows`: (name, shares). `title` is
    what a screen reader says of it, before the share right of each row."""
    width, left, step, right = 760, 190, 24, 180
    parts = []
    for place, (name, figures) in enumerate(rows):
        y, x = place * step + 4, float(left)
        parts.append(f'<text x="{left - 6}" y="{y + 12}" text-anchor="end">{escape(name[:30])}</text>')
        for verdict in verdicts:
            wide = figures[verdict]["share"] * (width - left - right)
            if wide:
                part = f"{verdict.replace('_', ' ')} {figures[verdict]['share']:.1%}"
                parts.append(
                    f'<rect x="{x:.1f}" y="{y}" width="{wide:.1f}" height="16" fill="{COLOURS[verdict]}">'
                    f"<title>{part}</title></rect>"
                )
            x += wide
        low, high = (left + figures["right"][end] * (width - left - right) for end in ("low", "high"))
        parts.append(
            f'<path d="M{low:.1f} {y + 8}H{high:.1f}M{low:.1f} {y + 4}v8M{high:.1f} {y + 4}v8" stroke="currentColor"/>'
        )
        in_words = ", ".join(f"{figures[one]['share']:.0%} {one.split('_')[0]}" for one in verdicts[:2])
        parts.append(f'<text x="{width - right + 6}" y="{y + 12}">{in_words}, n {figures["n"]}</text>')
    told = "; ".join(f"{name} {figures['right']['share']:.1%} right of {figures['n']}" for name, figures in rows)
    return _svg(width, len(rows) * step + 8, "".join(parts), title, told)


def curve(points: Sequence[dict[str, Any]]) -> str:
    """Share right against signal-to-noise ratio, a line for each channel, each point with its interval."""
    width, height, left, top, bottom = 640, 300, 50, 16, 40
    levels = [point["snr_db"] for point in points]
    low, high = min(levels), max(levels)
    span = (high - low) or 1.0

    def x(level: float) -> float:
        return float(left + (level - low) / span * (width - left - 170) + 10)

    def y(share: float) -> float:
        return top + (1 - share) * (height - top - bottom)

    parts = [
        f'<path d="M{left} {y(s):.1f}H{width - 150}" stroke="currentColor" stroke-opacity=".3"/>'
        f'<text x="{left - 6}" y="{y(s) + 4:.1f}" text-anchor="end">{s:.0%}</text>'
        for s in (0, 0.25, 0.5, 0.75, 1)
    ]
    for level in sorted(set(levels)):
        parts.append(f'<text x="{x(level):.1f}" y="{height - 18}" text-anchor="middle">{level:g}</text>')
    parts.append(f'<text x="{(left + width - 150) / 2}" y="{height - 2}" text-anchor="middle">noise ratio, dB</text>')
    names = sorted({point["channel"] for point in points})
    for place, name in enumerate(names):
        colour, dashes = _LINES[place % len(_LINES)], _DASHES[place % len(_DASHES)]
        stroke = f'fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dashes}"'
        mine = sorted((p for p in points if p["channel"] == name), key=lambda p: p["snr_db"])
        line = " ".join(f"{x(p['snr_db']):.1f},{y(p['right']['share']):.1f}" for p in mine)
        parts.append(f'<polyline points="{line}" {stroke}/>')
        for p in mine:
            at, middle = x(p["snr_db"]), y(p["right"]["share"])
            up, down = y(p["right"]["high"]), y(p["right"]["low"])
            title = f"{name} {p['snr_db']:g} dB: {p['right']['share']:.1%} of {p['n']}"
            parts.append(
                f'<path d="M{at:.1f} {up:.1f}V{down:.1f}" stroke="{colour}"/>'
                f'<circle cx="{at:.1f}" cy="{middle:.1f}" r="4" fill="{colour}"><title>{escape(title)}</title></circle>'
            )
        below = top + 14 + place * 18
        parts.append(f'<path d="M{width - 144} {below - 4}h28" {stroke}/>')
        parts.append(f'<text x="{width - 110}" y="{below}">{escape(name)}</text>')
    told = "; ".join(f"{p['channel']} {p['snr_db']:g} dB: {p['right']['share']:.1%} of {p['n']}" for p in points)
    return _svg(width, height, "".join(parts), "Share right, by signal-to-noise ratio", told)


def matrix(confusion: Sequence[Sequence[Any]], order: Sequence[str]) -> str:
    """Number words said (down) against heard (across); the darker, the more often."""
    words = [w for w in order if any(w in (said, heard) for said, heard, _ in confusion)]
    size, left = 24, 90
    counts = {(said, heard): n for said, heard, n in confusion}
    totals = {word: sum(n for said, _, n in confusion if said == word) for word in words}
    parts = []
    for row, said in enumerate(words):
        y = left + row * size
        parts.append(f'<text x="{left - 6}" y="{y + 16}" text-anchor="end">{escape(said)}</text>')
        x0 = left + row * size + 15
        parts.append(f'<text transform="translate({x0},{left - 6}) rotate(-90)">{escape(said)}</text>')
        for column, heard in enumerate(words):
            n = counts.get((said, heard), 0)
            if n:
                colour = COLOURS["right"] if said == heard else COLOURS["wrong_accepted"]
                strength = 0.1 + (_CELL - 0.1) * n / max(totals[said], 1)
                parts.append(
                    f'<rect x="{left + column * size}" y="{y}" width="{size}" height="{size}" fill="{colour}" '
                    f'fill-opacity="{strength:.2f}"><title>{escape(said)} heard as {escape(heard)}: {n}</title></rect>'
                    f'<text x="{left + column * size + 12}" y="{y + 16}" text-anchor="middle">{n}</text>'
                )
    side = left + len(words) * size + 4
    wrong = [(said, heard, n) for said, heard, n in confusion if said != heard]
    told = "; ".join(f"{said} heard as {heard} {n} times" for said, heard, n in sorted(wrong, key=lambda w: -w[2])[:20])
    return _svg(side, side, "".join(parts), "Number words said, and what they were heard as", told or "none mistaken")


def wave(peaks: Sequence[int], title: str) -> str:
    """A waveform from its peaks (0 to 99, evenly spaced in time)."""
    points = "".join(f"M{x} {50 - p / 2:g}V{50 + p / 2:g}" for x, p in enumerate(peaks))
    return _svg(max(1, len(peaks)), 100, f'<path d="{points}" stroke="currentColor"/>', title, "")


def _svg(width: int, height: int, inside: str, title: str, told: str) -> str:
    """With a title and a description for whoever cannot see it. Letters take the colour of the page."""
    words = f"<title>{escape(title)}</title>" + (f"<desc>{escape(told)}</desc>" if told else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" role="img" '
        f'aria-label="{escape(f"{title}. {told}" if told else title, quote=True)}" font-family="sans-serif" '
        f'font-size="12" fill="currentColor">{words}{inside}</svg>'
    )
