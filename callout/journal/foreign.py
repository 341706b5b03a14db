"""What a line of another laptop's journal means here: its builds under new numbers, its conversation left out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from callout.dialogue.events import Record
from callout.journal.chain import Line

#: Events that move stock or open and close builds. Of the others a merged line keeps its words alone.
COUNTS = frozenset(("released", "voided", "picked", "returned", "placed", "stock_changed", "said"))
#: Who waits there for which answer, and where their walk stands, is no business of the conversation here.
THEIRS = frozenset(("seat", "pending", "half", "asked", "times", "at", "swept", "halted"))


def as_here(line: Line, builds: Callable[[str], Mapping[int, int]]) -> Record:
    """The record of a merged line as this journal reads it. `builds(origin)`: build numbers there -> here."""
    shape: dict[str, Any] = json.loads(line.body)
    counts = shape["event"] in COUNTS and not (shape["event"] == "said" and shape["build"] is None)
    data = {key: value for key, value in shape["data"].items() if counts and key not in THEIRS}
    if "number" in data:
        data["number"] = line.build_id  # its own number may be taken here
    if "relocates" in data:
        data["relocates"] = builds(line.origin).get(data["relocates"])
    return Record.model_validate({**shape, "seq": line.seq, "build_id": line.build_id, "data": data})
