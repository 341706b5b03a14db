"""A journal that an older version wrote gives the conversation that it gave then.

`tests/data/talk_before_typed_events.sqlite` was written by the last version whose records held plain dictionaries: a
typed conversation with two crews' worth of builds, a relocation, an evacuation and a restart in the middle. The .json
beside it is what that version made of it, at every twelfth record.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import jsonschema

from callout.dialogue.evolve import evolve
from callout.dialogue.machine import start
from callout.dialogue.state import Conversation, OpenBuild, Seat
from callout.journal.store import Journal
from callout.schemas import schema_of
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock

OLD = Path(__file__).parent / "data" / "talk_before_typed_events.sqlite"


def _seat(seat: Seat) -> dict[str, Any]:
    names = ("half", "asked", "times_asked", "relocates", "changes", "patching", "last")
    return {
        **{name: getattr(seat, name) for name in names},
        "pending": seat.pending and seat.pending.text, "parked": seat.parked and seat.parked.text,
        "readings": list(seat.readings),
    }  # fmt: skip


def _build(build: OpenBuild) -> dict[str, Any]:
    names = ("number", "role", "name", "held", "card", "swept", "begun", "stale", "relocates", "lent")
    return {
        **{name: getattr(build, name) for name in names},
        "got": list(build.got), "without": list(build.without), "title": build.plan["title"],
        "parts": len(build.plan["parts"]),
    }  # fmt: skip


def _state(now: Conversation) -> dict[str, Any]:
    names = ("focus", "changes", "site", "next_id", "taken_back", "halted")
    return {
        **{name: getattr(now, name) for name in names},
        "measurer": _seat(now.measurer), "open": {str(key): _build(build) for key, build in now.open.items()},
        "standing": {str(key): _build(build) for key, build in now.standing.items()},
    }  # fmt: skip


def test_a_journal_of_before_gives_the_conversation_of_then(tmp_path: Path) -> None:
    then = json.loads(OLD.with_suffix(".json").read_text())
    now, seen = start(load_stock(), ShorePlanner()), 0
    with Journal.open(shutil.copy(OLD, tmp_path / "old.journal")) as journal:
        for record in journal.records():
            now = evolve(now, record)
            if (expected := then.get(str(record.seq))) is not None:
                pending = expected["measurer"].pop("pending")
                assert expected["measurer"].pop("pending_text") == _state(now)["measurer"].pop("pending")
                found = _state(now)
                del found["measurer"]["pending"]
                assert found == expected, record.seq
                if pending is not None:
                    waiting = now.measurer.pending
                    assert waiting is not None
                    assert (waiting.kind, waiting.role) == (pending["kind"], pending["role"])
                    assert waiting.shape.meaning == pending["meaning"]
                seen += 1
    assert seen == len(then) == 22


def test_lines_of_before_are_published_with_what_happened(tmp_path: Path) -> None:
    with Journal.open(shutil.copy(OLD, tmp_path / "old.journal")) as journal:
        lines = [record.to_json() for record in journal.records() if record.build is None or record.event == "released"]
    valid = jsonschema.Draft202012Validator(schema_of("event"))
    for line in lines:
        assert valid.is_valid(line)
    picked = next(line for line in lines if line["event"] == "picked")
    assert picked["happened"] == {
        "number": 1, "item": 1, "pieces": [{"name": "ten foot strut", "count": 2}], "count": 2, "stands": False,
    }  # fmt: skip
    events = ("picked", "placed", "returned", "released", "stock_changed", "site_changed", "alarm")
    assert all(line["happened"] for line in lines if line["event"] in events)
