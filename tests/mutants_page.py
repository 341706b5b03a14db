"""The page of the faults that no test noticed: `python -m tests.mutants --page` writes docs/proofs/faults-noticed.md.

Why one is left stands in `tests/data/faults_left.toml`, by a piece of its line, and by a piece of what the fault makes
of it where not all faults of the line are meant; one that stands nowhere is a gap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from pathlib import Path
from typing import NamedTuple

from callout.files import read_toml
from tests.mutants_made import Fault

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "proofs" / "faults-noticed.md"
REASONS = ROOT / "tests" / "data" / "faults_left.toml"
GAP = "**no reason found: a test is missing**"


class Known(NamedTuple):
    """What is known of a topic: how many faults there are, how many were tried, those that no test noticed."""

    files: tuple[str, ...]
    faults: int
    tried: int
    left: Sequence[Fault]

    @property
    def share(self) -> str:
        return f"{(self.tried - len(self.left)) / self.tried:.1%}" if self.tried else "not tried"


def write(found: Mapping[str, Known | None], bar: float) -> None:
    """The page, with the topics that are None as they stand in it."""
    PAGE.write_text(page(found, bar, PAGE.read_text("utf-8")), "utf-8")


def page(found: Mapping[str, Known | None], bar: float, before: str) -> str:
    lines = [
        "# Would the tests notice?", "",
        "Written by `python -m tests.mutants --page` from the faults that `python -m tests.mutants` tried: small ones, "
        f"one at a time, each against the tests of its topic. The bar is {bar:.0%} of them noticed. Why one is left "
        "stands in `tests/data/faults_left.toml`. The figures of a topic are those of the day on which it was tried "
        "last.",
        "",
        "| topic | files | faults | tried | noticed | share |", "|---|---|---|---|---|---|",
    ]  # fmt: skip
    for topic, known in found.items():
        if known is None:
            lines += [line for line in before.splitlines() if line.startswith(f"| {topic} |")]
            continue
        files = ", ".join(f"`{file}`" for file in known.files)
        noticed = known.tried - len(known.left)
        lines.append(f"| {topic} | {files} | {known.faults} | {known.tried} | {noticed} | {known.share} |")
    for topic, known in found.items():
        kept = before.partition(f"## {topic}\n\n")[2].partition("\n## ")[0].rstrip("\n").split("\n")
        lines += ["", f"## {topic}", "", *(kept if known is None else _left(known))]
    return "\n".join([*lines, ""])


def listed(topic: str, faults: Sequence[Fault]) -> list[Fault]:
    """Those of the faults that the page lists as left, as it stands."""
    rows = set(_rows(topic))
    return [fault for fault in faults if _without_its_number(_row(fault)) in rows]


def told(topic: str, faults: Sequence[Fault]) -> tuple[int, int]:
    """How many faults of a topic there were when it was tried as a whole, and how many were tried, less those of its
    list that its files as they are now do not have."""
    row = next(line for line in PAGE.read_text("utf-8").splitlines() if line.startswith(f"| {topic} |"))
    gone = len(_rows(topic)) - len(listed(topic, faults))
    return int(row.split("|")[3]) - gone, int(row.split("|")[4]) - gone


def _rows(topic: str) -> list[str]:
    part = PAGE.read_text("utf-8").partition(f"## {topic}\n\n")[2].partition("\n## ")[0]
    return [_without_its_number(line) for line in part.splitlines() if ".py:" in line]


def _without_its_number(row: str) -> str:
    return row.partition(":")[0] + row.partition(" | ")[2]


def _row(fault: Fault) -> str:
    where, before, after = changed(fault)
    return f"| {Path(fault.file).name}:{where} | {_code(before)} | {_code(after)} |"


def _left(known: Known) -> list[str]:
    """The faults of a topic that are left, those of one reason together."""
    if not known.left:
        return ["None is left." if known.tried else "Not tried."]
    reasons, by_why = read_toml(REASONS)["left"], {}
    for fault in known.left:
        _, before, after = changed(fault)
        why = next((row["why"] for row in reasons if _is_of(row, fault.file, before, after)), GAP)
        by_why.setdefault(why, []).append(_row(fault))
    lines: list[str] = []
    for why, rows in sorted(by_why.items(), key=lambda pair: (pair[0] != GAP, -len(pair[1]))):
        lines += [f"{why} ({len(rows)}):", "", "| line | as it is | with the fault |", "|---|---|---|", *rows, ""]
    return lines[:-1]


def _is_of(row: Mapping[str, str], file: str, before: str, after: str) -> bool:
    return row["file"] == file and row["line"] in before and row.get("fault", "") in after


def changed(fault: Fault) -> tuple[int, str, str]:
    """The first line that the fault changes, as it is and as it was made."""
    before, after = (ROOT / fault.file).read_text("utf-8").splitlines(), fault.source.splitlines()
    for kind, a, b, c, d in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if kind != "equal":
            return a + 1, " ".join(map(str.strip, before[a:b])), " ".join(map(str.strip, after[c:d]))
    raise AssertionError("a fault that changes nothing")


def _code(text: str) -> str:
    text = text if len(text) <= 160 else text[:157] + "..."
    return f"`{text.replace('|', chr(92) + '|').replace('`', chr(39))}`" if text else ""
