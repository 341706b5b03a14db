"""What happened, kept so that a crash loses nothing: append-only, hash-chained, one writer."""

from callout.journal.chain import ChainVerdict, JournalLine
from callout.journal.memory import MemoryJournal, Store, open_journal
from callout.journal.store import Journal

__all__ = ["ChainVerdict", "Journal", "JournalLine", "MemoryJournal", "Store", "open_journal"]
