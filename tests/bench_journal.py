"""How long a restart takes on 100,000 lines, against merely reading the same lines' JSON. `open` is what a start does:
every line read, its chain checked, and the conversation folded from all of them.

python -m tests.bench_journal
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from callout.dialogue.machine import restore
from callout.dialogue.records import Record
from callout.journal import Journal, JournalLine
from callout.journal.chain import canonical
from callout.journal.database import pausing_collection
from callout.journal.memory import open_journal
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Stock, load_stock
from callout.values import Callout, Length, meaning_json
from tests.timing import least

LINES = 100_000


def a_shift(lines: int = LINES) -> list[Record]:
    """A long shift: builds called out, read back, released, picked item by item, placed; much chatter between."""
    stock, planner = load_stock(), ShorePlanner()
    request = Callout(insertion=Length.imperial(11), angle_deg=60)
    meaning = meaning_json(request)
    from callout.dialogue.machine import start
    from callout.dialogue.state import holdings

    plan = planner.plan(1, request, stock, holdings(start(stock, planner))).to_json()
    records: list[Record] = []
    build = 0
    while len(records) < lines:
        build += 1
        pending = {"kind": "callout", "role": "measurer", "name": None, "meaning": meaning}
        records += [
            Record(event="heard", speaker="measurer", text="insertion eleven feet sixty", meaning=meaning),
            Record(event="readback", speaker="callout", text="one one", data={"seat": "measurer", "pending": pending}),
            Record(event="affirmed", speaker="measurer", text="affirm", data={"seat": "measurer"}),
            Record(event="released", build_id=build, meaning=meaning, build={**plan, "build_id": build},
                   data={"number": build, "role": "measurer", "name": None}),
        ]  # fmt: skip
        for line, part in enumerate(plan["parts"]):
            pieces = [[part["name"], part["quantity"]]]
            records += [
                Record(event="said", speaker="callout", build_id=build, text=f"{line}", data={"seat": "logistics"}),
                Record(event="heard", speaker="logistics", text="ready", meaning={"command": "ready"}),
                Record(event="picked", speaker="logistics", build_id=build, data={"line": line, "pieces": pieces}),
            ]  # fmt: skip
        records.append(Record(event="placed", build_id=build, data={"pieces": []}))
        records += [Record(event="heard", speaker="logistics", text="mind the hose over there")] * 60
    return records[:lines]


def write(path: Path, records: list[Record]) -> None:
    """All in one transaction: the speed of single appends is the disk's."""
    with Journal.open(path) as journal:
        stamp = "2031-05-04T12:00:00.000+00:00"
        journal.add_lines(
            JournalLine(0, journal.origin, seq, None, None, "",
                 canonical(r.model_copy(update={"seq": seq, "time": stamp}).model_dump(mode="json")))
            for seq, r in enumerate(records, 1)
        )  # fmt: skip


def bench() -> dict[str, float]:
    """Seconds; `ratio` is a restart over reading the bare JSON of the same lines."""
    stock, planner = load_stock(), ShorePlanner()
    with tempfile.TemporaryDirectory(prefix="callout-bench-") as folder:
        path = Path(folder) / "j"
        write(path, a_shift())
        with Journal.open(path) as journal:
            peer = least(lambda: [json.loads(line.body) for line in journal.lines()])
            rebuilt = least(lambda: restore(journal.records(), stock, planner))
            verified = least(journal.verify, 3)
        opened = least(lambda: _opened(path, stock, planner), 3)
    return {
        "bare JSON": peer, "restart": rebuilt, "ratio": rebuilt / peer, "verify": verified, "open": opened,
        "open, ratio": opened / peer,
    }  # fmt: skip


def _opened(path: Path, stock: Stock, planner: ShorePlanner) -> None:
    store = open_journal(path, print)
    with pausing_collection():
        restore(list(store.records()), stock, planner)
    store.close()


if __name__ == "__main__":
    for name, value in bench().items():
        print(f"{name:<12} {value:.2f}")
