"""The shapes of what the commands on recordings and for practice print as JSON: score, radio, replay, drill ..."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal, Union

from pydantic import BaseModel, ConfigDict, Field

from callout.hearing.voices import KnownVoice
from callout.language.outcome import OutcomeName

Meaning = Union[dict[str, Any], None]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


def _may_lack(*names: str) -> Callable[[dict[str, Any]], None]:
    """For a model's config: fields that are left out when there is nothing to tell."""

    def change(schema: dict[str, Any]) -> None:
        schema["required"] = [name for name in schema["required"] if name not in names]

    return change


Confidence = Annotated[float, Field(ge=0, le=1)]


class Share(_Shape):
    """A share of n recordings with its 95 % interval."""

    count: int
    share: Confidence
    low: Confidence
    high: Confidence


class Shares(_Shape):
    n: int
    right: Share
    wrong_accepted: Share
    asked_again: Share
    not_heard: Share


class SlotShares(_Shape):
    n: int
    right: Share
    wrong: Share
    missed: Share


class CurvePoint(Shares):
    channel: str
    snr_db: float


class Groups(_Shape):
    """The same shares by slot (part of the meaning), speaker, channel, noise, length and condition."""

    slot: dict[str, SlotShares]
    speaker: dict[str, Shares]
    channel: dict[str, Shares]
    noise: dict[str, Shares]
    length: dict[str, Shares]
    condition: dict[str, Shares]


class WordEdits(_Shape):
    said: int
    substitutions: int
    deletions: int
    insertions: int
    error_rate: float | None


class Quantiles(_Shape):
    median: float | None
    p95: float | None
    max: float | None


class ScoreSeconds(_Shape):
    audio: float
    decode: float
    to_readback: Quantiles


class Pairs(_Shape):
    pairs: int
    both: int
    only_this: int
    only_other: int
    neither: int
    difference: float
    low: float
    high: float
    p_value: Confidence


class Comparison(_Shape):
    """This run against another on the same recordings."""

    with_: str = Field(alias="with", serialization_alias="with")
    unmatched: int
    right: Pairs
    wrong_accepted: Pairs


class Shard(_Shape):
    part: int
    parts: int


class ScoredFile(_Shape):
    """`condition` and `error` stand only where there is one."""

    model_config = ConfigDict(json_schema_extra=_may_lack("condition", "error"))

    file: str
    outcome: OutcomeName | None
    verdict: Literal["right", "wrong_accepted", "asked_again", "not_heard"]
    condition: str = ""
    error: str = ""


class Score(_Shape):
    """`callout score --json`. `tally` and `settings` are what --merge needs, and may change between versions."""

    model_config = ConfigDict(json_schema_extra=_may_lack("compare"))

    overall: Shares
    by: Groups
    curve: list[CurvePoint]
    words: WordEdits
    confusion: list[tuple[str, str, int]]
    seconds: ScoreSeconds
    notes: list[str]
    settings: dict[str, Any]
    shard: Shard
    tally: dict[str, Any]
    compare: Comparison | None = None
    files: list[ScoredFile]


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


class VoiceLine(KnownVoice):
    """A line of `callout voices --json`. `kept` is false where it was learned and found no better."""

    kept: bool


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
