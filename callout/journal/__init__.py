"""What happened, kept so that a crash loses nothing: append-only, hash-chained, one writer."""

from callout.journal.chain import Line, Verdict
from callout.journal.memory import MemoryJournal, Store, open_journal
from callout.journal.store import Journal

__all__ = ["Journal", "Line", "MemoryJournal", "Store", "Verdict", "open_journal"]
