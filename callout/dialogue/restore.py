"""A conversation rebuilt from its journal, and from nothing else."""

from __future__ import annotations

from collections.abc import Iterable

from callout.dialogue.events import Record
from callout.dialogue.evolve import evolve
from callout.dialogue.machine import start
from callout.dialogue.ports import Planner, Stock
from callout.dialogue.settings import Settings
from callout.dialogue.state import Conversation


def restore(
    records: Iterable[Record], stock: Stock, planner: Planner, settings: Settings | None = None
) -> Conversation:
    """The conversation as it stood after `records`, in the order in which they were written.

    What was confirmed is confirmed, what waited still waits. Send `Resumed` next: it says where we were.
    """
    now = start(stock, planner, settings)
    for record in records:
        now = evolve(now, record)
    return now
