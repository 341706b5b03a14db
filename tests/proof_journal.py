"""A writer killed at random points, many times, on one real file: is every confirmed line there, is the chain whole?

python -m tests.proof journal     writes docs/proofs/journal.md
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from callout.journal import Journal

ROOT = Path(__file__).resolve().parent.parent
VICTIM = Path(__file__).with_name("journal_victim.py")
PAGE = ROOT / "docs" / "proofs" / "journal.md"
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


def kill_many(folder: Path, count: int, seed: int, tally: Tally | None = None) -> Tally:
    """Kill up to run `count`, going on after the runs that `tally` holds. Each run has chances of its own."""
    tally = tally or Tally()
    while tally.kills < count:
        run = tally.kills
        kill_once(folder / f"{run // KILLS_PER_FILE}.journal", run, random.Random(f"{seed} {run}"), tally)
    for path in folder.glob("*.journal"):
        with Journal.open(path, writer=False) as journal:
            tally.files, tally.lines = tally.files + 1, tally.lines + journal.last_seq
    return tally


def table(tally: Tally, seed: int, minutes: float) -> str:
    return f"""# The journal and kill -9

A writer process appends lines to a real file as fast as the disk confirms them, and prints each number after
`append` has returned. It is killed with SIGKILL at a random moment: four times in five while it writes, one time in
five at any moment from its start. Then the file is opened again as a writer would, the whole hash chain is checked,
and every line that was printed is looked for. Made by `python -m tests.proof journal`, seed {seed}.

| what | count |
|---|---|
| kills | {tally.kills} |
| of these before the first confirmed line | {tally.while_starting} |
| lines confirmed before a kill | {tally.confirmed} |
| **confirmed lines lost** | **{tally.lost}** |
| **chains that did not verify** | **{tally.broken_chains}** |
| lines on the disk whose confirmation the kill swallowed (at most one a kill) | {tally.unconfirmed_kept} |
| files, lines in them | {tally.files}, {tally.lines} |
| minutes it took | {minutes:.1f} |

What this does not show: a power cut. SIGKILL ends a process, not the kernel; that a confirmed line survives a power
cut rests on SQLite's `synchronous=FULL` (an fsync before each commit returns) and on a disk that does not lie.
"""


def prove(count: int = 1000, seed: int = 20310504) -> None:
    """Run it and write the page; a run that was stopped goes on where it was. About half a second a kill."""
    state = ROOT / "out" / f"journal-proof-{seed}.json"
    tally, minutes = Tally(), 0.0
    if state.exists():
        kept = json.loads(state.read_text())
        tally, minutes = Tally(**kept["tally"]), kept["minutes"]
    while tally.kills < count:
        began = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="callout-kill-") as folder:
            kill_many(Path(folder), min(count, tally.kills + KILLS_PER_FILE), seed, tally)
        minutes += (time.monotonic() - began) / 60
        state.parent.mkdir(exist_ok=True)
        state.write_text(json.dumps({"tally": asdict(tally), "minutes": minutes}))
        print(f"{tally.kills} kills, {tally.confirmed} confirmed lines, {tally.lost} lost", flush=True)
    PAGE.write_text(table(tally, seed, minutes), "utf-8")
    state.unlink()
    if tally.lost or tally.broken_chains or tally.unconfirmed_kept > tally.kills:
        raise SystemExit(f"the journal lost something: {tally}")


if __name__ == "__main__":
    prove(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
