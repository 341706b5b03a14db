"""The decision where the third opinion was asked: the likeliest reading of all three, its parts weighed by all three.

Each reading asked about has the encoder ear's score, the third opinion's, and perhaps a place among the Vosk ear's.
The first two added, the encoder's at `mix`, choose the reading; for each of its parts a logistic over all three gives
the chance that it is right, as `agreement` does for two. Weights stand in `decisions.json` under `three`.
"""

from __future__ import annotations

from typing import Any

from callout.hearing.agreement import (
    DecisionSettings,
    Meanings,
    Valued,
    Verdict,
    Weighed,
    agreed_parts,
    clip,
    kind_of,
    named_first,
    names_of,
    rival_of,
    second_ear,
    stake_of,
    start_lost,
    theirs_of,
    together_of,
    values,
)
from callout.hearing.evidence import Asked, Evidence
from callout.language.outcome import Agreement

FEATURES = (
    "one", "lead_to_3", "lead_to_8", "lead_to_16", "encoder_to_4", "encoder_to_12", "third_to_3", "third_to_8",
    "vosk_to_4", "vosk_lead", "votes_two", "votes_three", "fit_all", "clear_to_0.3", "clear_to_1", "likely",
    "likely_first", "vosk_deaf", "late", "vosk_rival", "angle_deg", "rakers", "spacing",
    "words_to_6",
)  # fmt: skip
_LEADS, _ENCODER, _THIRD, _VOSK, _CLEAR = (3.0, 8.0, 16.0), (4.0, 12.0), (3.0, 8.0), (4.0, 15.0), (0.3, 1.0)
_FIT, _LIKELY, _WORDS = 4.0, 3.0, 6  # nats a phone, nats a token, words
FLOOR = 16.0  # nats behind the best at which a rival would stand that nobody proposed


def weigh_three(evidence: Evidence, meanings: Meanings, chosen: DecisionSettings) -> Verdict | None:
    """The verdict of all three; None where no reading that was asked about has a meaning."""
    mix = chosen.mix
    heard = [(asked, found) for asked in evidence.third if (found := meanings(asked.reading.words))]
    if not heard:
        return None
    heard.sort(key=lambda pair: -_both(pair[0], mix))
    best, found = heard[0]
    meaning, _ = found[0]
    mine, kind, stake = values(meaning), kind_of(meaning), stake_of(meaning, chosen)
    ours = [(_both(a, mix), values(other)) for a, every in heard for other, _ in every]
    by_ear = [(a.reading.score, values(other)) for a, every in heard for other, _ in every]
    by_third = [(a.score, values(other)) for a, every in heard for other, _ in every]
    theirs = theirs_of(evidence, best.reading, meanings)
    top = max(a.reading.score for a, _ in heard)
    likely = max(a.score / a.tokens for a, _ in heard)
    first, lost = ours[0][0], start_lost(evidence, best.reading)
    parts = []
    for name in names_of(mine, ours, first - chosen.reach):
        value = mine.get(name)
        rival_score, rival, lead = rival_of(ours, first, name, value, first - FLOOR)
        ear, third = (_lead(rows, name, value) for rows in (by_ear, by_third))
        vosk, same = second_ear(theirs, name, value)
        votes = (ear > 0) + (third > 0) + same
        crossed = named_first(theirs, name, rival)
        features = (
            1.0,
            *(clip(lead, 0.0, most) / most for most in _LEADS),
            *(clip(ear, -most, most) / most for most in _ENCODER),
            *(clip(third, -most, most) / most for most in _THIRD),
            *(0.0 if evidence.deaf else clip(vosk, -most, most) / most for most in _VOSK),
            float(votes >= 2),
            float(votes >= 3),
            clip(best.reading.fit, -_FIT, 0.0) / _FIT,
            *(clip(top / max(len(best.reading.sound), 1), -most, 0.0) / most for most in _CLEAR),
            clip(best.score / best.tokens, -_LIKELY, 0.0) / _LIKELY,
            clip(likely, -_LIKELY, 0.0) / _LIKELY,
            float(evidence.deaf),
            float(evidence.late_key),
            float(crossed),
            *(float(name == part) for part in ("angle_deg", "rakers", "spacing")),
            clip(len(best.reading.words), 0.0, _WORDS) / _WORDS,
        )
        log_odds = sum(w * f for w, f in zip(chosen.three[kind], features, strict=True))
        unsure: Agreement = "contested" if first - rival_score < chosen.reach else "doubtful"
        needs_two = stake == "command" or (crossed and kind != "digits") or (lost and stake == "callout")
        both = votes >= 2 and not lost
        parts.append(Weighed(name, value, rival, features, kind, stake, both, needs_two, log_odds, unsure))
    rivals = tuple(dict.fromkeys(other for _, every in heard for other, _ in every if other != meaning))
    return Verdict(best.reading, meaning, agreed_parts(parts, chosen.agreed_three[stake]), rivals[:4])


def _both(asked: Asked, mix: float) -> float:
    return asked.score + mix * asked.reading.score


def _lead(rows: list[Valued], name: str, value: Any) -> float:
    """How far the readings with this value stand before all others; negative behind."""
    with_it = max(score for score, other in rows if other.get(name) == value)
    return with_it - together_of(
        [score for score, other in rows if other.get(name) != value] or [max(s for s, _ in rows) - FLOOR]
    )
