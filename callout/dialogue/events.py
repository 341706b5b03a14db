"""What can happen in a conversation, one list for the console, the journal and the replay.

A `Record` is one line of it. Nothing is spoken that is not in a record first, and the conversation's own state is a
fold over its records (see `callout.dialogue.evolve`), so that a restart loses nothing.

What `data` holds, by event (all of it JSON; an item is the name of a stock line):

  picked, returned   {"line": index in build.parts, "pieces": [[item, quantity], ...]}; returned without a line: a
                     change of the build puts these pieces back. These and placed also hold {"number": the number
                     that the build is called by}. {"stands": true}: they were not carried, but stand at the old place
                     of a relocation, and are that shore's again
  placed             {"pieces": [[item, quantity], ...]}: what was picked for the build now stands at the wall
  released           {"number": spoken number, "role": who gave it, "replaces": true when a change order replaces the
                     build of the same build_id, "relocates": the standing build whose place it takes, "reused":
                     [[item, quantity], ...]: what it takes along from there}
  voided             {"what": "readback" | "half" | "build"}; a voided build gives up what it had reserved.
                     {"move": false, "relocates" | "changes": build_id}: what the void readback was about goes on
  heard              {"seat": whose readback this voids, "half": what is kept of it, "patching", "readings" ...}
  stock_changed      {"changes": [{"item", "delta", "quantity"}, ...]}: quantity is what is on hand afterwards
  site_changed       {"facts": {name of a field of `callout.shoring.request.Site`: value}}: of the build, or without
                     one of what is called next; no facts: all that was said before is forgotten
  readback, asked    {"seat", "pending" | "half" ...}: what waits for an answer; {"unclear": "two_at_once" | ...}: what
                     kind of speech was answered
  said               {"seat", ...}: where the walk stands. A `said` with `build` works that build out again from what
                     is left ({"got": how many of each line are picked already}): the new plan replaces the old
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

EventName = Literal[
    "heard", "readback", "asked", "said", "affirmed", "released", "refused", "voided", "parked", "picked",
    "placed", "returned", "stock_changed", "site_changed", "alarm", "error", "resumed",
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
