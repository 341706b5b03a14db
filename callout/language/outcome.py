"""What becomes of an utterance: five outcomes, each a value with its reasons. None is an exception."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Union

from callout.values import Command, Length, Meaning, meaning_json

OutcomeName = Literal["understood", "ambiguous", "not_understood", "not_possible", "nothing"]
Agreement = Literal["agreed", "doubtful", "contested"]


@dataclass(frozen=True)
class Hypothesis:
    """One reading of an utterance, as words. `score` is a log score: 0 is the best heard, others are below."""

    words: tuple[str, ...]
    score: float = 0.0

    @property
    def text(self) -> str:
        return " ".join(self.words)


@dataclass(frozen=True)
class MeaningPart:
    """One part of a meaning and how sure it is. `confidence` is a calibrated 0 to 1; 1.0 when typed."""

    name: str
    value: Any
    confidence: float | None = None
    agreement: Agreement | None = None

    def to_json(self) -> dict[str, Any]:
        value = self.value.to_json() if isinstance(self.value, Length) else self.value
        return {"name": self.name, "value": value, "confidence": self.confidence, "agreement": self.agreement}


@dataclass(frozen=True)
class Guess:
    """A part that was heard and not taken: what it was likeliest to be, and the log-odds that this is right (above 0).

    It counts in the decision on the next hearing of the same part, and in nothing else."""

    name: str
    value: Any
    log_odds: float


@dataclass(frozen=True)
class Understood:
    """Every part is sure. `spoken` holds the words of the readback, digits first, then grouped."""

    meaning: Meaning
    words: tuple[str, ...]
    spoken: tuple[str, ...] = ()
    parts: tuple[MeaningPart, ...] = ()
    reasons: tuple[str, ...] = ()
    stress: tuple[str, ...] = ()  # parts whose runner-up is a near twin: the readback leans on them
    outcome: Literal["understood"] = field(default="understood", init=False)


@dataclass(frozen=True)
class Ambiguous:
    """More than one meaning is within reach. `ask` names the part to ask for alone ("angle_deg", "insertion")."""

    candidates: tuple[Meaning, ...]
    ask: str
    words: tuple[str, ...]
    parts: tuple[MeaningPart, ...] = ()
    reasons: tuple[str, ...] = ()
    outcome: Literal["ambiguous"] = field(default="ambiguous", init=False)

    @property
    def meaning(self) -> Meaning | None:
        return self.candidates[0] if self.candidates else None

    @property
    def guesses(self) -> tuple[Guess, ...]:
        """Of each part in doubt its value, where that is likelier right than not."""
        return tuple(
            Guess(part.name, part.value, math.log(part.confidence / max(1.0 - part.confidence, 0.001)))
            for part in self.parts
            if part.agreement not in (None, "agreed") and part.confidence is not None and part.confidence > 0.5
        )


@dataclass(frozen=True)
class NotUnderstood:
    """Speech without a meaning. `nearest` are sentences that would have been understood; `missing` what lacked."""

    words: tuple[str, ...]
    nearest: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    parts: tuple[MeaningPart, ...] = ()
    reasons: tuple[str, ...] = ()
    outcome: Literal["not_understood"] = field(default="not_understood", init=False)
    meaning: None = None


@dataclass(frozen=True, kw_only=True)
class Near(NotUnderstood):
    """Not understood, and near to one sentence of the language: asked in one clause (`sentence`, rising), and a
    yes does `likely`. Nothing is done before that yes.
    """

    likely: Command
    sentence: str


@dataclass(frozen=True)
class NotPossible:
    """Understood, and not to be done: out of range, or not allowed by the context."""

    meaning: Meaning | None
    words: tuple[str, ...]
    reason: str
    nearest: Meaning | None = None
    parts: tuple[MeaningPart, ...] = ()
    outcome: Literal["not_possible"] = field(default="not_possible", init=False)

    @property
    def reasons(self) -> tuple[str, ...]:
        return (self.reason,)


@dataclass(frozen=True)
class Nothing:
    """No speech, or a blank line."""

    words: tuple[str, ...] = ()
    parts: tuple[MeaningPart, ...] = ()
    reasons: tuple[str, ...] = ()
    outcome: Literal["nothing"] = field(default="nothing", init=False)
    meaning: None = None


Resolution = Union[Understood, Ambiguous, NotUnderstood, NotPossible, Nothing]


def resolution_json(
    result: Resolution,
    *,
    file: str | None = None,
    words: Sequence[Sequence[str]] = (),
    confidence: float | None = None,
    audio_seconds: float = 0.0,
    decode_seconds: float = 0.0,
    listener: str = "typed",
) -> dict[str, Any]:
    """The published JSON line of `callout hear` and `callout read`. `words`: readings, best first."""
    readings = [" ".join(w) for w in words] or ([" ".join(result.words)] if result.words else [])
    return {
        "file": file,
        "outcome": result.outcome,
        "words": readings,
        "meaning": meaning_json(result.meaning),
        "confidence": confidence,
        "parts": [part.to_json() for part in result.parts],
        "reasons": list(result.reasons),
        "seconds": {"audio": audio_seconds, "decode": decode_seconds},
        "listener": listener,
    }
