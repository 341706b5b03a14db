"""The shapes of what `callout sample`, `words`, `radio`, `record`, `drill` and `replay` print as JSON."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Union

from pydantic import BaseModel, ConfigDict, Field

from callout.language.outcome import OutcomeName

Meaning = Union[dict[str, Any], None]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class SampleLine(_Shape):
    """A line of `callout sample --json`: a sentence and what it means."""

    words: str
    meaning: dict[str, Any]


class WordLine(_Shape):
    """A line of `callout words --json`: a word, the rules of the grammar that use it, its sounds (ARPAbet without
    stress, a blank between phones), and the words it is taken for."""

    word: str
    rules: list[str]
    sounds: list[str]
    twins: list[str]


class RadioLine(_Shape):
    """`callout radio --json`. `snr_db` and `noise` are null where no noise was added."""

    file: str
    seconds: float
    snr_db: float | None
    noise: str | None
    late_ms: float
    mulaw: bool
    boost_db: float
    seed: int


class RecordedLine(_Shape):
    """A line of `callout record --json`, and of the manifest that it writes. `consent`: when the speaker agreed."""

    file: str
    words: str
    meaning: Meaning
    speaker: str
    licence: str
    consent: str
    channel: str
    noise: str
    level_db: float


class MarkLine(_Shape):
    """One task of `callout drill --json`. `skills`: those that the task could show."""

    task: Literal["listen", "call"]
    words: str
    answer: str
    right: bool
    skills: dict[str, bool]
    seconds: float
    advice: list[str]


class SkillShare(_Shape):
    right: int
    n: int


class RoundLine(_Shape):
    """The end of a round of `callout drill --json`, and a line of its progress."""

    name: str
    time: str
    n: int
    right: int
    skills: dict[str, SkillShare]
    seconds_each: float | None


DrillLine = Union[MarkLine, RoundLine]


class Then(_Shape):
    text: str
    meaning: Meaning


class Now(_Shape):
    text: str
    meaning: Meaning
    outcome: OutcomeName


class ReplayedLine(_Shape):
    """One utterance of `callout replay --json`, then and now. `error` is empty when its sound could be read."""

    seq: int | None
    time: str | None
    speaker: str | None
    change: Literal["same", "other", "lost", "gained", "unreadable"]
    then: Then
    now: Now
    error: str


Count = Annotated[int, Field(ge=0)]


class ReplayEnd(_Shape):
    """The last line of `callout replay --json`."""

    heard_again: Count
    same: Count
    other: Count
    lost: Count
    gained: Count
    unreadable: Count


ReplayLine = Union[ReplayedLine, ReplayEnd]
