"""What a line of another laptop's journal means here: its builds under new numbers, its conversation left out."""

from __future__ import annotations

import json
from typing import Any

from callout.dialogue.events import Record
from callout.journal.chain import Line

#: What a merged line keeps for the fold: what moves stock. Who waits for which answer belongs to the other laptop.
KEPT = {
    "released": ("number", "role", "name", "got"),
    "voided": ("what",),
    "picked": ("pieces", "line"),
    "returned": ("pieces", "line"),
    "placed": ("pieces", "line"),
    "stock_changed": ("changes",),
}


def as_here(line: Line) -> Record:
    """The record of a merged line as this journal reads it."""
    shape: dict[str, Any] = json.loads(line.body)
    data = shape["data"]
    shape["data"] = {key: data[key] for key in KEPT.get(shape["event"], ()) if key in data}
    return Record.model_validate({**shape, "seq": line.seq, "build_id": line.build_id})
