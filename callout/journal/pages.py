"""The journal and the hand-over sheet as pages: one file each, without a network, light or dark, and to print."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from callout.pages import render

_FOLDER = Path(__file__).parent


def log_page(rows: Sequence[dict[str, Any]], source: str, verdict: str, version: str) -> str:
    """Every line of a journal in a table that sorts and filters. A row: {"seq", "time", "who", "event", "build" (the
    number it is called by, or None), "words", "note", "parts" (lines of a parts list)}. `verdict` tells of the chain.
    """
    return render(
        _FOLDER / "log.html", rows=rows, source=source, verdict=verdict, version=version,
        events=sorted({row["event"] for row in rows}), builds=sorted({row["build"] for row in rows if row["build"]}),
    )  # fmt: skip


def handover_page(sheet: dict[str, Any], source: str, verdict: str, version: str) -> str:
    """The sheet of `callout.journal.handover` as a page. What is short is a word, not a colour."""
    from callout.journal.handover import called, looks, size_up_lines

    after = [line.strip() for shore in sheet["aftercare"] for line in looks(shore)]
    return render(
        _FOLDER / "handover.html", sheet=sheet, source=source, after=after, verdict=verdict, version=version,
        called=called, size_up_lines=size_up_lines,
    )  # fmt: skip
