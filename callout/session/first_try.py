"""A person's first try with a microphone: how loud it comes in, and one callout with what each ear heard."""

from __future__ import annotations

import time
from collections.abc import Iterator

from pydantic import BaseModel, ConfigDict

from callout.hearing.audio import Samples
from callout.hearing.ears import Ears
from callout.hearing.level import clipped, measure
from callout.hearing.live import utterances
from callout.hearing.sources import SoundSource
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Ambiguous, NotPossible, Resolution, Understood, resolution_json
from callout.language.resolve import resolve_text
from callout.language.speak import readback
from callout.session.radio_check import SignalLevel
from callout.values import Meaning

#: What is asked for, as it is shown and as it is said.
FIGURES, WORDS = "insertion 11 ft, angle 60", "insertion eleven feet sixty"

#: Decibels below full scale of speech, and of it above the place's noise. Common practice for speech, no source.
SOFT, NEAR = -42.0, 15.0
CUT = 0.001  # the share of samples at full scale that is too much


class SpeechLevel(BaseModel):
    """How speech comes in: dB below full scale, the place without it likewise, and one sentence what to turn."""

    model_config = ConfigDict(extra="forbid")

    speech_db: float
    place_db: float
    good: bool
    advice: str


class RadioLevel(BaseModel):
    """How a tone that went out over the radio came in, as `callout check --radio --json` tells it."""

    model_config = ConfigDict(extra="forbid")

    tone_db: float
    noise_db: float
    good: bool
    advice: str

    @classmethod
    def of(cls, level: SignalLevel) -> RadioLevel:
        good = level.advice.startswith("good")
        return cls(tone_db=level.tone, noise_db=level.noise, good=good, advice=level.advice)


class FirstTry(BaseModel):
    """`callout check --practice --json`. `first_ear`, `second_ear` and `third_opinion` are the words that each would
    choose, "" where it chose none; typed words have no ear, and no level. `radio` is there when it was tried, too."""

    model_config = ConfigDict(extra="forbid")

    wanted: str
    radio: RadioLevel | None = None
    level: SpeechLevel | None
    first_ear: str
    second_ear: str
    third_opinion: str
    outcome: str
    reasons: list[str]
    readback: str
    as_wanted: bool
    advice: str


def speech_level(samples: Samples) -> SpeechLevel:
    """Of some seconds in which somebody speaks."""
    level = measure(samples)
    wrong = _wrong_level(level.loud, level.floor, level.silent, clipped(samples))
    return SpeechLevel(
        speech_db=round(level.loud, 1), place_db=round(level.floor, 1), good=not wrong,
        advice=wrong or "good: leave the microphone as it is",
    )  # fmt: skip


def _wrong_level(loud: float, floor: float, silent: bool, cut: float) -> str:
    if silent:
        return "nothing comes in: the microphone is muted or is not the one; choose another with --in"
    if cut > CUT:
        return "too loud, it is cut: turn the input's level down, or hold the microphone farther away"
    if loud < SOFT:
        return "too soft: hold the microphone two fingers from the mouth, or turn the input's level up"
    if loud - floor < NEAR:
        return "the place is nearly as loud as you: come nearer to the microphone, turn away from the engine"
    return ""


def next_utterance(source: SoundSource, ears: Ears, seconds: float) -> Samples | None:
    """The sound of what is said next; None where nothing is said within `seconds`, or the source ends."""
    ends = time.monotonic() + seconds
    for segment in utterances(_Until(source, ends), ears, lambda: EVERYTHING):
        if not measure(segment.samples).silent:
            return segment.samples
    return None


class _Until:
    """A source that ends at a time of the clock, where it is live."""

    def __init__(self, source: SoundSource, ends: float) -> None:
        self._source, self._ends, self.live = source, ends, source.live

    def blocks(self) -> Iterator[Samples]:
        for block in self._source.blocks():
            yield block
            if self.live and time.monotonic() > self._ends:
                return

    def close(self) -> None:
        self._source.close()


def tried(samples: Samples, ears: Ears, context: Context = EVERYTHING) -> FirstTry:
    """What each ear makes of an utterance, and what becomes of it."""
    evidence = ears.evidence(samples, context)
    heard, evidence = ears.judged(evidence, context), ears.asked(evidence, context)
    first = next((" ".join(reading.words) for reading in evidence.encoder), "")
    second = next((" ".join(reading.words) for reading in evidence.vosk if not reading.garbage), "")
    third = max(evidence.third, key=lambda asked: asked.score, default=None)
    opinion = " ".join(third.reading.words) if third else ""
    return _judged(heard.resolution, speech_level(samples), first, second, opinion)


def typed(line: str) -> FirstTry:
    """The same of a typed line."""
    return _judged(resolve_text(line, EVERYTHING), None, "", "", "")


def _judged(result: Resolution, level: SpeechLevel | None, first: str, second: str, third: str) -> FirstTry:
    meaning = result.meaning if isinstance(result, Understood) else None
    right = meaning is not None and meaning == _wanted()
    return FirstTry(
        wanted=WORDS, level=level, first_ear=first, second_ear=second, third_opinion=third, outcome=result.outcome,
        reasons=list(resolution_json(result)["reasons"]), readback=readback(meaning) if meaning is not None else "",
        as_wanted=right, advice=_advice(result, right, first, second),
    )  # fmt: skip


def _wanted() -> Meaning:
    result = resolve_text(WORDS, EVERYTHING)
    assert isinstance(result, Understood)
    return result.meaning


def _advice(result: Resolution, right: bool, first: str, second: str) -> str:
    if right:
        return "this is what you would be read back; nothing is built before you say affirm to it"
    if isinstance(result, Understood):
        return "it was taken for something else: the readback is there for this; say negative, and call again"
    if isinstance(result, Ambiguous):
        return "one part was not sure: callout would ask for that part alone; answer with only that"
    if isinstance(result, NotPossible):
        return "it was heard, and is outside what a callout may be: call the figures that were asked for"
    if first and first == second:
        return "both ears heard the same words, but no callout: say it in one breath, as it is shown"
    return "say it again in one breath, half a second after the key, in your usual voice"
