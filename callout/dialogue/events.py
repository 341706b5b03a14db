"""The names of what can happen in a conversation, one list for the console, the journal and the replay."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

EventName = Literal[
    "heard", "readback", "asked", "said", "affirmed", "released", "refused", "voided", "parked", "picked",
    "placed", "returned", "stock_changed", "alarm", "error", "resumed",
]  # fmt: skip

Speaker = Literal["measurer", "logistics", "callout"]


class Record(BaseModel):
    """One event as it is printed by `callout listen --json` and kept in the journal.

    `seq` and `time` (ISO 8601, local with offset) are None until the journal has written it. `data` holds what a
    restart needs and is not printed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    seq: int | None = None
    time: str | None = None
    event: EventName
    speaker: str | None = None
    build_id: int | None = None
    text: str = ""
    meaning: dict[str, Any] | None = None
    build: dict[str, Any] | None = None
    data: dict[str, Any] = {}

    def to_json(self) -> dict[str, Any]:
        """The published shape: {"seq", "time", "event", "speaker", "build_id", "text", "meaning", "build"}."""
        return self.model_dump(mode="json", exclude={"data"})
