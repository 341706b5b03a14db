"""A writer killed at random points, many times, on one real file: is every confirmed line there, is the chain whole?

python -m tests.proof_journal [COUNT]     writes docs/journal-proof.md
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from callout.journal import Journal

ROOT = Path(__file__).resolve().parent.parent
VICTIM = Path(__file__).with_name("journal_victim.py")
#: A new file after so many kills, so that checking the whole chain each time stays quick.
KILLS_PER_FILE = 50


@dataclass
class Tally:
    kills: int = 0
    while_starting: int = 0
    confirmed: int = 0
    unconfirmed_kept: int = 0
    lost: int = 0
    broken_chains: int = 0
    files: int = 0
    lines: int = 0


def kill_once(path: Path, run: int, chance: random.Random, tally: Tally) -> None:
    """Start a writer, kill it (SIGKILL) at a random moment, and look at what is left."""
    before = _last(path)
    child = subprocess.Popen([sys.executable, str(VICTIM), str(path), str(run)], stdout=subprocess.PIPE, cwd=ROOT)
    assert child.stdout is not None
    first = b""
    if chance.random() < 0.2:
        time.sleep(chance.uniform(0.0, 0.6))  # at any moment of starting, opening or writing
    else:
        first = child.stdout.readline()
        time.sleep(chance.uniform(0.0, 0.12))
    child.kill()
    told = (first + child.stdout.read()).decode().splitlines()
    child.wait()
    child.stdout.close()
    confirmed = {int(seq): text for seq, _, text in (line.partition(" ") for line in told)}
    tally.kills += 1
    tally.while_starting += not confirmed
    tally.confirmed += len(confirmed)
    if not path.exists():
        return
    with Journal.open(path) as journal:
        verdict = journal.verify()
        tally.broken_chains += not verdict.ok
        kept = {record.seq: record.text for record in journal.records(before)}
    tally.lost += sum(kept.get(seq) != text for seq, text in confirmed.items())
    tally.unconfirmed_kept += len(kept.keys() - confirmed.keys())


def _last(path: Path) -> int:
    if not path.exists():
        return 0
    with Journal.open(path) as journal:
        return journal.last_seq


def kill_many(folder: Path, count: int, seed: int, say: bool = False) -> Tally:
    chance, tally = random.Random(seed), Tally()
    for run in range(count):
        path = folder / f"{run // KILLS_PER_FILE}.journal"
        kill_once(path, run, chance, tally)
        if say and (run + 1) % 50 == 0:
            print(f"{run + 1} kills, {tally.confirmed} confirmed lines, {tally.lost} lost", flush=True)
    for path in folder.glob("*.journal"):
        with Journal.open(path, writer=False) as journal:
            tally.files, tally.lines = tally.files + 1, tally.lines + journal.last_seq
    return tally


def table(tally: Tally, seed: int, seconds: float) -> str:
    return f"""# The journal and kill -9

A writer process appends lines to a real file as fast as the disk confirms them, and prints each number after
`append` has returned. It is killed with SIGKILL at a random moment: four times in five while it writes, one time in
five at any moment from its start. Then the file is opened again as a writer would, the whole hash chain is checked,
and every line that was printed is looked for. Made by `python -m tests.proof_journal`, seed {seed}.

| what | count |
|---|---|
| kills | {tally.kills} |
| of these before the first confirmed line | {tally.while_starting} |
| lines confirmed before a kill | {tally.confirmed} |
| **confirmed lines lost** | **{tally.lost}** |
| **chains that did not verify** | **{tally.broken_chains}** |
| lines on the disk whose confirmation the kill swallowed (at most one a kill) | {tally.unconfirmed_kept} |
| files, lines in them | {tally.files}, {tally.lines} |
| minutes it took | {seconds / 60:.1f} |

What this does not show: a power cut. SIGKILL ends a process, not the kernel; that a confirmed line survives a power
cut rests on SQLite's `synchronous=FULL` (an fsync before each commit returns) and on a disk that does not lie.
"""


def prove(count: int = 1000, seed: int = 20310504) -> Tally:
    """Run it and write the table. About half a second a kill."""
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="callout-kill-") as folder:
        tally = kill_many(Path(folder), count, seed, say=True)
    (ROOT / "docs" / "journal-proof.md").write_text(table(tally, seed, time.monotonic() - began))
    assert (tally.lost, tally.broken_chains) == (0, 0), tally
    assert tally.unconfirmed_kept <= tally.kills, tally
    return tally


if __name__ == "__main__":
    print(prove(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
