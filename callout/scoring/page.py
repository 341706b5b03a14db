"""What a run leaves for people and for machines that build: an HTML page and a JUnit file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TextIO
from urllib.parse import quote
from xml.sax.saxutils import quoteattr

from callout.scoring import plots
from callout.scoring.report import SLOT_VERDICTS
from callout.scoring.verdict import NO_WORD, NUMBER_WORDS, VERDICTS


def page(report: dict[str, Any], sound: Callable[[dict[str, Any]], str]) -> str:
    """The report as one HTML page. `sound` gives the address of a row's recording, "" for none."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("callout.scoring", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    groups = []
    for name, table in report["by"].items():
        if len(table) > (0 if name == "slot" else 1):
            verdicts = SLOT_VERDICTS if name == "slot" else VERDICTS
            groups.append((name, Markup(plots.bars(list(table.items())[:60], verdicts))))
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
        worst=[{**row, "sound": sound(row)} for row in report["tally"]["worst"]],
    )


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
