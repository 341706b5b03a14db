"""What the two ears say of an utterance, before anyone decides: readings with scores, and facts about the sound."""

from __future__ import annotations

from dataclasses import dataclass

from callout.hearing.search import Reading
from callout.hearing.vosk_ear import VoskReading


@dataclass(frozen=True)
class Evidence:
    """`encoder` and `vosk` are readings, best first; either may be empty.

    `free` are the phones heard without a grammar; `vosk_lacks` are words of the state that Vosk cannot hear;
    `deaf` is True when Vosk did not answer at all; `late_key` when speech was already under way when the
    channel opened, so that its beginning is lost.
    """

    encoder: tuple[Reading, ...]
    vosk: tuple[VoskReading, ...]
    free: tuple[str, ...]
    silent: bool = False
    late_key: bool = False
    deaf: bool = False
    vosk_lacks: frozenset[str] = frozenset()
