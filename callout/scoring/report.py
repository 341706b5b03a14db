"""The report: one JSON object made of a tally and a list of files; printed, compared, joined."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, TextIO

from callout.errors import BadInput
from callout.files import must_be_a_file
from callout.scoring.run import ScoredRow
from callout.scoring.statistics import GROUPS, Tally, paired, shares
from callout.scoring.verdict import VERDICTS

SLOT_VERDICTS = ("right", "wrong", "missed")
#: Letters of a report that is read back: some millions of recordings.
LARGEST = 500_000_000


def file_line(row: ScoredRow) -> dict[str, Any]:
    """A line of `files`: {"file", "outcome", "verdict"}, with "condition" and "error" only where there is one."""
    line: dict[str, Any] = {"file": row.file, "outcome": row.outcome, "verdict": row.verdict}
    if row.condition:
        line["condition"] = row.condition
    if row.error:
        line["error"] = row.error
    return line


def build_report(tally: Tally, settings: dict[str, Any], part: int = 1, parts: int = 1) -> dict[str, Any]:
    """Everything but `files`, which is streamed (`write_report`)."""
    by: dict[str, Any] = {"slot": {name: shares(c, SLOT_VERDICTS) for name, c in sorted(tally.slots.items())}}
    for name in GROUPS:
        by[name] = {value: shares(c, VERDICTS) for value, c in sorted(tally.groups[name].items())}
    hits, substituted, deleted, inserted = tally.edits
    said = hits + substituted + deleted
    return {
        "overall": shares(tally.verdicts, VERDICTS),
        "by": by,
        "curve": _curve(tally),
        "words": {
            "said": said,
            "substitutions": substituted,
            "deletions": deleted,
            "insertions": inserted,
            "error_rate": (substituted + deleted + inserted) / said if said else None,
        },
        "confusion": [[said_word, heard, n] for (said_word, heard), n in sorted(tally.confusion.items())],
        "seconds": {
            "audio": tally.audio_us / 1e6,
            "decode": tally.decode_us / 1e6,
            "to_readback": {name: tally.time_quantile(q) for name, q in (("median", 0.5), ("p95", 0.95), ("max", 1.0))},
        },
        "notes": _notes(tally),
        "settings": settings,
        "shard": {"part": part, "parts": parts},
        "tally": tally.to_json(),
    }


def _curve(tally: Tally) -> list[dict[str, Any]]:
    points = []
    for key, counts in tally.curve.items():
        name, level = key.split("|")
        points.append({"channel": name, "snr_db": float(level), **shares(counts, VERDICTS)})
    return sorted(points, key=lambda point: (point["channel"], -point["snr_db"]))


def _notes(tally: Tally) -> list[str]:
    notes = []
    if tally.guessed:
        notes.append(
            f"{tally.guessed} meanings were not in the manifest and were taken from the words"
            + (f"; {tally.meaningless} of them mean nothing, so nothing should be heard" if tally.meaningless else "")
        )
    if tally.broken:
        notes.append(f"{tally.broken} recordings could not be read; they count as not heard")
    return notes


def write_report(report: dict[str, Any], files: Iterable[dict[str, Any]], out: TextIO, indent: bool = False) -> None:
    """The report with its files as one JSON object, file by file: it never lies in memory as a whole."""
    text = json.dumps(report, ensure_ascii=False, indent=1 if indent else None)
    out.write(text[:-1].rstrip() + ', "files": [')
    for number, line in enumerate(files):
        out.write((", " if number else "") + ("\n  " if indent else "") + json.dumps(line, ensure_ascii=False))
    out.write("]}\n")
    out.flush()


def read_report(path: Path) -> dict[str, Any]:
    """A report from disk; raises BadInput for anything else."""
    try:
        must_be_a_file(path)
        with path.open(encoding="utf-8") as file:
            text = file.read(LARGEST + 1)
        if len(text) > LARGEST:
            raise BadInput(f"{path}: over {LARGEST:,} letters, too large for a report; score in smaller parts")
        report = json.loads(text)
        Tally.from_json(report["tally"])
        _ = [(line["file"], line["verdict"]) for line in report["files"]]
        if report["shard"]["parts"] < 1:
            raise ValueError
    except OSError as failed:
        raise BadInput(f"{path}: cannot be read ({failed.strerror}); name a score.json") from failed
    except (ValueError, KeyError, TypeError, RecursionError):
        raise BadInput(f"{path}: is no report of callout score; name a score.json") from None
    return report  # type: ignore[no-any-return]


def merge_reports(paths: list[Path]) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """(report, files) of all shards together, the same as one run over everything would have given.

    Raises BadInput when the reports are not all the shards of one run.
    """
    reports = [read_report(path) for path in paths]
    reports.sort(key=lambda report: report["shard"]["part"])
    parts = reports[0]["shard"]["parts"]
    if [report["shard"]["part"] for report in reports] != list(range(1, parts + 1)):
        have = ", ".join(f"{r['shard']['part']}/{r['shard']['parts']}" for r in reports)
        raise BadInput(f"need each of the {parts} shards once, have {have}")
    if any(report["settings"] != reports[0]["settings"] for report in reports):
        raise BadInput("the reports come from other recordings or options; run the shards with the same ones")
    tally = Tally()
    for report in reports:
        tally.join(Tally.from_json(report["tally"]))
    every = max(len(reports[0]["settings"]["conditions"]), 1)
    chunks = [[report["files"][at : at + every] for at in range(0, len(report["files"]), every)] for report in reports]
    files = [
        line for turn in range(max(map(len, chunks))) for chunk in chunks if turn < len(chunk) for line in chunk[turn]
    ]
    return build_report(tally, reports[0]["settings"]), files


def compare(files: Iterable[dict[str, Any]], other: dict[str, Any], name: str) -> dict[str, Any]:
    """How this run differs from `other` on the recordings that both have; raises BadInput when they share none."""
    before = {(line["file"], line.get("condition", "")): line["verdict"] for line in other["files"]}
    cells = {"right": [0, 0, 0, 0], "wrong_accepted": [0, 0, 0, 0]}
    unmatched = 0
    for line in files:
        then = before.pop((line["file"], line.get("condition", "")), None)
        if then is None:
            unmatched += 1
            continue
        for verdict, cell in cells.items():
            cell[2 * (line["verdict"] != verdict) + (then != verdict)] += 1
    if not sum(cells["right"]):
        raise BadInput(f"{name}: has no recording and condition in common with this run")
    result: dict[str, Any] = {"with": name, "unmatched": unmatched + len(before)}
    for verdict, (both, only_this, only_other, neither) in cells.items():
        result[verdict] = paired(both, only_this, only_other, neither)
    return result


def text_lines(report: dict[str, Any]) -> Iterator[str]:
    """The report for the terminal."""
    overall = report["overall"]
    yield f"{overall['n']} recordings heard"
    for verdict in VERDICTS:
        yield f"  {_name(verdict):<15}{_share(overall[verdict])}"
    for group, table in report["by"].items():
        if len(table) > (0 if group == "slot" else 1):
            names = SLOT_VERDICTS if group == "slot" else VERDICTS
            yield f"{'by ' + group:<36}{'n':>6}" + "".join(f"{_name(name):>16}" for name in names)
            for value, figures in table.items():
                cells = "".join(f"{figures[n]['share']:>16.1%}" for n in names)
                yield f"  {value[:34]:<34}{figures['n']:>6}{cells}"
    for point in report["curve"]:
        yield f"  {point['channel']} at {point['snr_db']:g} dB: right {_share(point['right'])}"
    words = report["words"]
    if words["error_rate"] is not None:
        yield f"word error {words['error_rate']:.1%} of {words['said']} words, where something was to be heard"
    confused = sorted((c for c in report["confusion"] if c[0] != c[1]), key=lambda c: -c[2])[:8]
    if confused:
        yield "number words taken for others: " + ", ".join(f"{a} for {b} {n}x" for b, a, n in confused)
    times = report["seconds"]["to_readback"]
    if times["median"] is not None:
        yield f"from end of speech to readback: median {times['median']:.2f} s, 95 % under {times['p95']:.2f} s"
    for row in report["tally"]["worst"][:10]:
        what = row["error"] or f"said {row['said'] or '(nothing)'!r}, heard {row['heard']!r}"
        where = f"{row['file']} ({row['condition']})" if row["condition"] else row["file"]
        yield f"  {_name(row['verdict'])}: {where}: {what}"
    if "compare" in report:
        yield from _compare_lines(report["compare"])
    for note in report["notes"]:
        yield f"note: {note}"


def _compare_lines(compared: dict[str, Any]) -> Iterator[str]:
    yield f"against {compared['with']} ({compared['right']['pairs']} pairs):"
    for verdict in ("right", "wrong_accepted"):
        c = compared[verdict]
        sure = "a real difference" if c["p_value"] < 0.05 else "no difference that could not be chance"
        yield (
            f"  {_name(verdict)}: {c['both'] + c['only_other']} before, {c['both'] + c['only_this']} now: "
            f"{c['difference']:+.1%} ({c['low']:+.1%} to {c['high']:+.1%}), only now "
            f"{c['only_this']}, only before {c['only_other']}, McNemar p = {c['p_value']:.3g}: {sure}"
        )


def _name(verdict: str) -> str:
    return verdict.replace("_", " ")


def _share(figures: dict[str, Any]) -> str:
    return f"{figures['count']:>6}  {figures['share']:>6.1%}  ({figures['low']:.1%} to {figures['high']:.1%})"
