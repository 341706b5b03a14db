"""What a line of another laptop's journal means here: its builds under new numbers, its conversation left out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from callout.dialogue.events import Record
from callout.journal.chain import Line

#: Events that move stock or open and close builds. Of the others a merged line keeps its words alone.
COUNTS = frozenset(("released", "voided", "picked", "returned", "placed", "stock_changed", "site_changed", "said"))
#: Of these only the lines of a build: what was said of the place at large there, or of a walk, holds there.
OF_A_BUILD = {"said": "build", "site_changed": "build_id"}
#: Who waits there for which answer, and where their walk stands, is no business of the conversation here.
THEIRS = frozenset(("seat", "pending", "half", "asked", "times", "at", "swept", "halted"))


def as_here(line: Line, builds: Callable[[str], Mapping[int, int]]) -> Record:
    """The record of a merged line as this journal reads it. `builds(origin)`: build numbers there -> here."""
    shape: dict[str, Any] = json.loads(line.body)
    event = shape["event"]
    counts = event in COUNTS and (event not in OF_A_BUILD or shape[OF_A_BUILD[event]] is not None)
    data = {key: value for key, value in shape["data"].items() if counts and key not in THEIRS}
    if "number" in data:
        data["number"] = line.build_id  # its own number may be taken here
    if "relocates" in data:
        data["relocates"] = builds(line.origin).get(data["relocates"])
    return Record.model_validate({**shape, "seq": line.seq, "build_id": line.build_id, "data": data})
