"""What the ears make of what is said, from the rows of docs/proofs/ears.md: `python -m tests.noisy_ear` brings the
counts of tests/data/noisy_ear.toml up to date.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from scipy.stats import binomtest

from callout.files import read_toml

TABLE_FILE = Path(__file__).with_name("data") / "noisy_ear.toml"
PAGE = Path(__file__).parent.parent / "docs" / "proofs" / "ears.md"
#: The table under each heading of the page, by the name that noisy_ear.toml gives it: heading, and how many in it.
TABLES = {
    "Voices": ("Voices", 0),
    "Voices, commands": ("Voices", 3),
    "People": ("People", 0),
    "Noise alone": ("Noise alone", 0),
    "Chatter": ("Chatter", 0),
}


class Counts(NamedTuple):
    """Of `n` utterances so many were taken right, and so many wrong; all others are asked again."""

    n: int
    right: int
    wrong: int


class Rates(NamedTuple):
    right: float
    wrong: float


def rates(counts: Counts, like: Counts | None = None) -> Rates:
    """The shares that the simulation uses: `wrong` at the upper end of its interval (of `like`, where that holds more
    of the same kind), `right` as measured, as far as that leaves room."""
    wrong = upper((like or counts).wrong, (like or counts).n)
    return Rates(min(counts.right / counts.n, 1.0 - wrong), wrong)


def upper(found: int, n: int) -> float:
    """The upper end of Wilson's interval at 95 %."""
    return float(binomtest(found, n).proportion_ci(0.95, "wilson").high)


def rows(page: str, name: str) -> dict[str, list[str]]:
    """The rows of one table of the page of the ears by their first cell. Raises KeyError for a missing table."""
    heading, which = TABLES[name]
    section = next((part for part in page.split("\n## ") if part.startswith(heading)), None)
    tables = re.findall(r"(?:^\|.*\n?)+", section or "", re.MULTILINE)
    if which >= len(tables):
        raise KeyError(f"no table {name!r} in {PAGE.name}: mend TABLES in tests/noisy_ear.py")
    cells = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in tables[which].splitlines()[2:]]
    return {row[0]: row[1:] for row in cells}


def counts_of(cells: list[str]) -> Counts:
    """The counts of a row "n | right % (interval) | wrong (interval) | asked again | bar"."""
    n, wrong, again = int(cells[0]), int(cells[2].split()[0]), int(cells[3])
    return Counts(n, n - wrong - again, wrong)


def measured(page: str, table: dict[str, Any]) -> Iterator[tuple[dict[str, Any], Counts]]:
    """Every entry of noisy_ear.toml that names a row, with the counts that the page has for it now."""
    for channel in table["channel"]:
        for kind in ("callouts", "commands"):
            entry = channel[kind]
            yield entry, counts_of(rows(page, entry["section"])[entry["row"]])


def noise(page: str) -> tuple[int, int, int]:
    """Clips of what is not meant for the tool, noise and chatter, and how many were taken as a command (or a callout),
    as the releasing word."""
    cells = [row for name in ("Noise alone", "Chatter") for row in rows(page, name).values()]
    return sum(int(c[0]) for c in cells), sum(int(c[1]) + int(c[2]) for c in cells), sum(int(c[3]) for c in cells)


def main() -> None:
    page, text = PAGE.read_text("utf-8"), TABLE_FILE.read_text("utf-8")
    table = read_toml(TABLE_FILE)
    for entry, counts in measured(page, table):
        old = f'section = "{entry["section"]}", row = "{entry["row"]}", '
        text = re.sub(
            re.escape(old) + r"n = \d+, right = \d+, wrong = \d+",
            f"{old}n = {counts.n}, right = {counts.right}, wrong = {counts.wrong}", text,
        )  # fmt: skip
    clips, command, releasing = noise(page)
    counted = f"n = {clips}\ncommand = {command}\nreleasing = {releasing}"
    text = re.sub(r"n = \d+\ncommand = \d+\nreleasing = \d+", counted, text)
    TABLE_FILE.write_text(text, "utf-8")
    sys.stdout.write(f"{TABLE_FILE} holds the counts of {PAGE.name}\n")


if __name__ == "__main__":
    main()
