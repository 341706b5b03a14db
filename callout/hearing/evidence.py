"""What the ears say of an utterance, before anyone decides: readings with scores, and facts about the sound."""

from __future__ import annotations

from dataclasses import dataclass

from callout.hearing.search import SearchReading
from callout.hearing.vosk_ear import VoskReading


@dataclass(frozen=True)
class Asked:
    """A reading that the third opinion was asked about: `score` is the log-probability of its likeliest writing, of
    `tokens` tokens. `reading` has the encoder ear's score of the same words."""

    reading: SearchReading
    score: float
    tokens: int


@dataclass(frozen=True)
class Evidence:
    """`encoder` and `vosk` are readings, best first; either may be empty. `third` is empty where the third opinion was
    not asked, or did not answer (`mute` then says why).

    `free` are the phones heard without a grammar; `vosk_lacks` are words of the state that Vosk cannot hear;
    `deaf` is True when Vosk did not answer at all; `late_key` when speech was already under way when the
    channel opened, so that its beginning is lost.
    """

    encoder: tuple[SearchReading, ...]
    vosk: tuple[VoskReading, ...]
    free: tuple[str, ...]
    silent: bool = False
    late_key: bool = False
    deaf: bool = False
    vosk_lacks: frozenset[str] = frozenset()
    third: tuple[Asked, ...] = ()
    mute: str = ""
