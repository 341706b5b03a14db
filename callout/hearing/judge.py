"""From evidence to an outcome: silence, speech without a meaning, a part to ask for, or understood."""

from __future__ import annotations

from callout.hearing.agreement import Settings, Verdict, Weighed, near, settings, weigh
from callout.hearing.evidence import Evidence
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import (
    Ambiguous,
    Hypothesis,
    NotPossible,
    NotUnderstood,
    Nothing,
    Part,
    Resolution,
    Understood,
)
from callout.language.parse import Span, parse
from callout.language.resolve import resolve
from callout.values import Callout, Length, Meaning

FEWEST_PHONES = 3  # fewer free phones than this are no word of the language
LATE_KEY = "the start was cut off; press the key, wait half a second, then speak"

Answer = tuple[Resolution, tuple[tuple[str, ...], ...], "float | None"]


def judge(evidence: Evidence, context: Context = EVERYTHING, chosen: Settings | None = None) -> Answer:
    """(outcome, readings best first, confidence). The outcome is Understood only when every part is agreed."""
    chosen = chosen or settings()
    if evidence.silent or len(evidence.free) < FEWEST_PHONES:
        return Nothing(reasons=("no speech",)), (), None
    seen: dict[tuple[str, ...], list[tuple[Meaning, tuple[Span, ...]]]] = {}

    def meanings(words: tuple[str, ...]) -> list[tuple[Meaning, tuple[Span, ...]]]:
        if words not in seen:
            seen[words] = [(found.meaning, found.parts) for found in parse(words, context)]
        return seen[words]

    verdict = weigh(evidence, meanings, chosen)
    if verdict is None or verdict.reading.fit < chosen.least_fit:
        return _no_meaning(evidence), (), None
    readings = tuple(dict.fromkeys(reading.words for reading in evidence.encoder))
    best = verdict.reading.words
    resolution = resolve([Hypothesis(best)], context)
    confidence = round(min(part.confidence for part in verdict.parts), 3)
    parts = tuple(_part(weighed) for weighed in verdict.parts if weighed.value is not None)
    if isinstance(resolution, (NotUnderstood, Nothing)):
        return resolution, readings, None
    if not verdict.agreed:
        return _asked(verdict, evidence, parts), readings, confidence
    if isinstance(resolution, Understood):
        resolution = Understood(
            meaning=resolution.meaning, words=resolution.words, spoken=resolution.spoken, parts=parts,
            reasons=resolution.reasons, stress=resolution.stress,
        )  # fmt: skip
    elif isinstance(resolution, Ambiguous):
        resolution = Ambiguous(
            candidates=resolution.candidates, ask=resolution.ask, words=resolution.words, parts=parts,
            reasons=resolution.reasons,
        )  # fmt: skip
    else:
        resolution = NotPossible(
            meaning=resolution.meaning, words=resolution.words, reason=resolution.reason, nearest=resolution.nearest,
            parts=parts,
        )  # fmt: skip
    return resolution, readings, confidence


def _no_meaning(evidence: Evidence) -> Resolution:
    reasons = ["speech that is no callout and no command"]
    if evidence.late_key:
        reasons.append(LATE_KEY)
    return NotUnderstood(words=(), reasons=tuple(reasons))


def _asked(verdict: Verdict, evidence: Evidence, parts: tuple[Part, ...]) -> Resolution:
    """Ask for one part, by its name; a command that is not sure is said again whole."""
    weakest = verdict.weakest
    unsure = [part for part in verdict.parts if part.agreement != "agreed"]
    reasons = [_reason(part) for part in sorted(unsure, key=lambda part: part.log_odds)]
    other = near(verdict, evidence.vosk)
    if evidence.deaf:
        reasons.append("only one ear heard it")
    elif other and other != verdict.reading.words:
        reasons.append(f"the second ear heard: {' '.join(other)}")
    lacking = sorted(set(verdict.reading.words) & evidence.vosk_lacks)
    if lacking:
        reasons.append(f"the second ear does not know: {', '.join(lacking)}")
    if evidence.late_key:
        reasons.append(LATE_KEY)
    candidates = (verdict.meaning, *(rival for rival in verdict.rivals if isinstance(rival, Callout)))
    return Ambiguous(
        candidates=candidates, ask=weakest.name, words=verdict.reading.words, parts=parts, reasons=tuple(reasons)
    )


def _reason(part: Weighed) -> str:
    def shown(value: object) -> str:
        if value is None:
            return "nothing"
        return value.text if isinstance(value, Length) else str(value)

    if part.agreement == "contested":
        return f"{part.name} contested: {shown(part.value)} or {shown(part.rival)}"
    return f"{part.name} doubtful: {shown(part.value)}"


def _part(weighed: Weighed) -> Part:
    return Part(weighed.name, weighed.value, round(weighed.confidence, 3), weighed.agreement)
