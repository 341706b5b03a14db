"""Taking over a second laptop's journal: every line once, whoever brings it and however often."""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from callout.errors import BadInput
from callout.journal.chain import JournalLine
from callout.journal.store import Journal


@dataclass(frozen=True)
class Merged:
    """What a merge did: lines taken over, lines that were here already, and their builds' numbers there and here."""

    added: int
    known: int
    builds: dict[int, int] = field(default_factory=dict)


def merge(here: Journal, there: Journal) -> Merged:
    """Add the lines of `there` that `here` lacks, in their order, all or none.

    Raises `BadInput` when the chain of either is broken, or when both hold different lines under the same name (two
    copies of one journal were written to apart): then counting would be wrong, and a person must choose.
    """
    for journal in (there, here):
        verdict = journal.verify()
        if not verdict.ok:
            raise BadInput(f"{journal.path}: {verdict.problem}; nothing was merged")
    known = {(line.origin, line.origin_seq): line.first_hash for line in here.lines()}
    numbers, highest = _builds_here(here)
    added: list[JournalLine] = []
    met = 0
    for line in there.lines():
        if (line.origin, line.origin_seq) in known:
            if known[line.origin, line.origin_seq] != line.first_hash:
                raise BadInput(
                    f"line {line.seq} of {there.path} and the line of that name here differ: "
                    "two copies of one journal were written to apart; nothing was merged"
                )
            met += 1
            continue
        build = _build_in(line)
        if build is not None and (line.origin, build) not in numbers:
            highest += 1
            numbers[line.origin, build] = highest
        here_id = None if build is None else numbers[line.origin, build]
        added.append(line._replace(origin_hash=line.first_hash, build_id=here_id))
    here.add_lines(added)
    theirs = {build: number for (origin, build), number in numbers.items() if origin == there.origin}
    return Merged(len(added), met, theirs if added else {})


def _build_in(line: JournalLine) -> int | None:
    build: int | None = json.loads(line.body)["build_id"]
    return build


def _builds_here(journal: Journal) -> tuple[dict[tuple[str, int], int], int]:
    """-> (origin, build number there) -> number here, and the highest number in use here."""
    numbers: dict[tuple[str, int], int] = {}
    for line in journal.lines():
        build = _build_in(line)
        if build is not None:
            here = line.build_id if line.build_id is not None else build
            numbers[line.origin, build] = here
    return numbers, max(numbers.values(), default=0)
