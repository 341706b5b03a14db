"""Agreement decides: each part of what was heard is agreed, doubtful or contested, and only all agreed is understood.

For each part of the best reading there are rivals: the readings in which that part is different. Both ears say how
far ahead of its rivals the part is, and how well its words fit the free phones; a logistic turns that into the chance
that the part is right. Parts are agreed as long as all of them are likely right at once: one wrong part makes a wrong
shore, and a callout has up to six. Weights and thresholds stand in `decisions.json`, which
`python -m ears_training.calibrate` writes from development recordings.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import lru_cache
from pathlib import Path
from typing import Any

from callout.hearing.evidence import Evidence
from callout.hearing.search import SearchReading
from callout.hearing.states import pronunciations
from callout.hearing.vosk_ear import VoskReading
from callout.language.commands import commands_that
from callout.language.outcome import Agreement, Guess
from callout.language.parse import Span
from callout.language.usual import usual
from callout.values import Callout, Meaning

#: A score, and the parts of what was meant.
Valued = tuple[float, dict[str, Any]]
#: What the words of a reading mean: a list of (meaning, spans of its parts); empty where they mean nothing.
Meanings = Callable[[tuple[str, ...]], Sequence[tuple[Meaning, tuple[Span, ...]]]]

FEATURES = (
    "one", "lead_to_3", "lead_to_8", "lead_to_20", "fit", "fit_all", "clear_to_0.1", "clear_to_0.3", "clear_to_1",
    "vosk_to_4", "vosk_lead", "vosk_same", "vosk_deaf", "late", "vosk_rival", "angle_deg", "rakers", "spacing",
    "words_to_6",
)  # fmt: skip
_LEADS = (3.0, 8.0, 20.0)  # nats; the first few say most, and a lead beyond the last says no more
_CLEAR = (0.1, 0.3, 1.0)  # nats a phone that the best path is worse than certain: how noisy it was
_NEAR, _MARGIN = 4.0, 15.0  # nats between the second ear's readings
_FIT = 4.0  # nats a phone; likewise
_WORDS = 6  # words; a bad one is hidden by the others around it, and no better by more of them
#: Nats that another meaning in words that are not taught counts less to the second ear where the encoder ear heard a
#: command that is. Chosen on 945 development recordings and people's phrases: from 3 on "shush" is taken for "short".
_RARE = 1.5


@dataclass(frozen=True)
class DecisionSettings:
    """`weights` are for the features, for the parts of a callout, of a command and of a string of digits. `agreed`: the
    log-odds from which parts are taken together, by their stake (`stake_of`). `reach`: a rival nearer than this (nats)
    contests. `three` are the weights where the third opinion was asked, `mix` what the encoder ear's score weighs
    beside its, `sure` the log-odds from which two ears take a meaning without asking it, `agreed_three` those from
    which all three do. `heard_before` is the share of its log-odds that an earlier hearing of the same value adds.
    Below `least_fit` nats a phone nothing in the language was said (a single digit cut tight is all edges, and fits
    worse); its "word of a command" is the least of a single word beside others, of a command that moves something. A
    command of `harmless` (a mark in `grammars/commands.toml`) moves nothing: it only makes the voice speak or
    be silent.
    """

    weights: Mapping[str, Sequence[float]]
    agreed: Mapping[str, float]
    reach: float
    least_fit: Mapping[str, float]
    harmless: frozenset[str]
    three: Mapping[str, Sequence[float]]
    mix: float
    sure: Mapping[str, float]
    agreed_three: Mapping[str, float]
    heard_before: float


@dataclass(frozen=True)
class Weighed:
    """A part with all that is known about it. `rival` is its best other value."""

    name: str
    value: Any
    rival: Any
    features: tuple[float, ...]
    kind: str  # "callout", "command" or "digits"
    stake: str  # the same, or "harmless"
    both: bool
    needs_both: bool  # one ear alone never settles it
    log_odds: float
    agreement: Agreement

    @property
    def confidence(self) -> float:
        return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, self.log_odds))))


@dataclass(frozen=True)
class Verdict:
    """The best meaning that both ears together give, its parts weighed, and the rival meanings, nearest first."""

    reading: SearchReading
    meaning: Meaning
    parts: tuple[Weighed, ...]
    rivals: tuple[Meaning, ...]

    @property
    def agreed(self) -> bool:
        return all(part.agreement == "agreed" for part in self.parts)

    @property
    def hopeless(self) -> bool:
        """Sound that happens to resemble the language: no part is likely right, or the ears have no part in common and
        one is likely wrong."""
        said = [part for part in self.parts if part.value is not None]
        unlikely = [part for part in said if part.log_odds < 0.0]
        return len(unlikely) == len(said) or bool(unlikely and not any(part.both for part in said))

    @property
    def weakest(self) -> Weighed:
        return min(self.parts, key=lambda part: (part.agreement == "agreed", part.log_odds))


@lru_cache(maxsize=4)
def settings(path: Path | None = None) -> DecisionSettings:
    """The shipped decisions, or those of another file."""
    table = json.loads((path or Path(__file__).with_name("decisions.json")).read_text(encoding="utf-8"))
    return DecisionSettings(
        weights=table["weights"],
        agreed=table["agreed"],
        reach=table["reach"],
        least_fit=table["least_fit"],
        harmless=commands_that("harmless"),
        three=table["three"],
        mix=table["mix"],
        sure=table["sure"],
        agreed_three=table["agreed_three"],
        heard_before=table["heard_before"],
    )


def values(meaning: Meaning) -> dict[str, Any]:
    """The parts that were said: name -> value. A kind that nobody said is no part."""
    if isinstance(meaning, Callout):
        return meaning.said
    found = {"command": meaning.command}
    for name in ("item", "build", "quantity", "part", "length"):
        if getattr(meaning, name) is not None:
            found[name] = getattr(meaning, name)
    if meaning.patch is not None:
        found = {"command": meaning.command, **meaning.patch.said}
    return found


def kind_of(meaning: Meaning) -> str:
    """Which weights a meaning has."""
    if isinstance(meaning, Callout):
        return "callout"
    return "digits" if meaning.command == "digits" else "command"


def stake_of(meaning: Meaning, chosen: DecisionSettings) -> str:
    """Which threshold a meaning has: that of its kind, or that of the commands that move nothing."""
    if isinstance(meaning, Callout) or meaning.command not in chosen.harmless:
        return kind_of(meaning)
    return "harmless"


def weigh(evidence: Evidence, meanings: Meanings, chosen: DecisionSettings) -> Verdict | None:
    """The verdict on an utterance; None where the encoder ear has no reading with a meaning."""
    heard = [(reading, found) for reading in _apart(evidence.encoder) if (found := meanings(reading.words))]
    if not heard:
        return None
    best, found = heard[0]
    meaning, spans = found[0]
    mine = values(meaning)
    kind, stake = kind_of(meaning), stake_of(meaning, chosen)
    ours = [(reading.score, values(other)) for reading, every in heard for other, _ in every]
    floor = min(best.score - 20.0, *(r.score for r in evidence.encoder)) if len(heard) < 8 else heard[-1][0].score
    theirs, lost = theirs_of(evidence, best, meanings), start_lost(evidence, best)
    parts = []
    for name in names_of(mine, ours, best.score - chosen.reach):
        value = mine.get(name)
        rival_score, rival, lead = rival_of(ours, best.score, name, value, floor)
        margin = best.score - rival_score
        vosk_lead, same = second_ear(theirs, name, value)
        crossed = named_first(theirs, name, rival)
        words = _span(spans, name)
        fits = [word.fit for word in best.heard[words]] or [best.fit]
        features = (
            1.0,
            *(clip(lead, 0.0, most) / most for most in _LEADS),
            clip(min(fits), -_FIT, 0.0) / _FIT,
            clip(best.fit, -_FIT, 0.0) / _FIT,
            *(clip(best.score / max(len(best.sound), 1), -most, 0.0) / most for most in _CLEAR),
            *(0.0 if evidence.deaf else clip(vosk_lead, -most, most) / most for most in (_NEAR, _MARGIN)),
            float(same),
            float(evidence.deaf),
            float(evidence.late_key),
            float(crossed),
            *(float(name == part) for part in ("angle_deg", "rakers", "spacing")),
            clip(len(best.words), 0.0, _WORDS) / _WORDS,
        )
        log_odds = sum(w * f for w, f in zip(chosen.weights[kind], features, strict=True))
        away = margin if rival is not None or rival_score > floor else math.inf
        # Noise sounds like a command more often than it was recorded. Digits set nothing in motion.
        needs_both = stake == "command" or (crossed and kind != "digits") or (lost and stake == "callout")
        unsure: Agreement = "contested" if away < chosen.reach else "doubtful"
        parts.append(
            Weighed(name, value, rival, features, kind, stake, same and not lost, needs_both, log_odds, unsure)
        )
    others = list(dict.fromkeys(other for _, every in heard for other, _ in every if other != meaning))
    return Verdict(best, meaning, agreed_parts(parts, chosen.agreed[stake]), tuple(others[:4]))


def names_of(mine: Mapping[str, Any], ours: Sequence[Valued], least: float) -> list[str]:
    """The parts to weigh: those of the best meaning, and those of every reading that scores more than `least`."""
    names = list(mine)
    for score, other in ours:
        if score > least:
            names += [name for name in other if name not in names]
    return names


def start_lost(evidence: Evidence, reading: SearchReading) -> bool:
    """Whether a lone word lost its start, so that what is left of it may be another word ("wait" and "eight", "affirm"
    and "done"): all ears agree on that, and all are wrong."""
    return evidence.late_key and len(reading.words) == 1


def rival_of(ours: Sequence[Valued], best: float, name: str, value: Any, floor: float) -> tuple[float, Any, float]:
    """The score and the value of the best reading in which a part is different (`floor` and None where there is none),
    and how far the score `best` is ahead of all of those."""
    others = [(score, other.get(name)) for score, other in ours if other.get(name) != value]
    rival_score, rival = max(others, key=lambda pair: pair[0], default=(floor, None))
    return rival_score, rival, best - together_of([score for score, _ in others] or [floor])


def named_first(theirs: Sequence[Valued], name: str, rival: Any) -> bool:
    """Whether the second ear's first choice is this ear's second: two voices for the rival, one for the part."""
    return rival is not None and bool(theirs) and max(theirs, key=lambda pair: pair[0])[1].get(name) == rival


def theirs_of(evidence: Evidence, best: SearchReading, meanings: Meanings) -> list[Valued]:
    """What the second ear's readings mean, each with its score; nothing where it heard nothing of the language.

    What hardly anybody says counts less beside a command that is taught. A callout has its figures to be weighed by,
    and a yes must be no likelier than it sounds.
    """
    (mine, _), *_ = meanings(best.words)
    taught = _name(mine) not in {"", *commands_that("affirmative")} and usual(best.words)
    theirs: list[Valued] = []
    for reading in evidence.vosk:
        said = best.words if same_sound(reading.words, best.words) else reading.words
        every = meanings(said)
        less = [_RARE * (taught and _name(other) != _name(mine) and _rare(other, said)) for other, _ in every]
        theirs += [(reading.score - away, values(other)) for away, (other, _) in zip(less, every, strict=True)]
        theirs += [] if every else [(reading.score, {})]
    return theirs


def _rare(meaning: Meaning, words: tuple[str, ...]) -> bool:
    """Whether hardly anybody says it: a figure alone, a callout without its insertion, words that nobody is taught."""
    if isinstance(meaning, Callout):
        return meaning.insertion is None
    return meaning.command.startswith("bare") or not usual(words)


def _name(meaning: Meaning) -> str:
    """The command that it is; "" of a callout."""
    return "" if isinstance(meaning, Callout) else meaning.command


def together(log_odds: Sequence[float]) -> float:
    """The log-odds that all parts are right, as if one had nothing to do with another: never more than the least."""
    wrong = sum(math.log1p(math.exp(-max(-30.0, min(30.0, odds)))) for odds in log_odds)
    return math.inf if wrong == 0 else -math.log(math.expm1(wrong))


def agreed_parts(parts: Sequence[Weighed], least: float) -> tuple[Weighed, ...]:
    """The surest parts agreed, as many as are likely all right at once; the others stay as unsure as they were."""
    taken: list[Weighed] = []
    for part in sorted(parts, key=lambda part: -part.log_odds):
        both = part.both or not part.needs_both
        if both and together([*(other.log_odds for other in taken), part.log_odds]) >= least:
            taken.append(part)
    names = {part.name for part in taken}
    return tuple(replace(part, agreement="agreed") if part.name in names else part for part in parts)


def heard_again(parts: Sequence[Weighed], guesses: Sequence[Guess], share: float, least: float) -> tuple[Weighed, ...]:
    """The parts with what was guessed of them before: the same value again adds a share of its odds, since one talker's
    errors repeat; another value takes them off whole, and so is asked again."""
    before = {guess.name: guess for guess in guesses}
    fresh = []
    for part in parts:
        unsure: Agreement = "doubtful" if part.agreement == "agreed" else part.agreement
        guess = before.get(part.name)
        more = 0.0 if guess is None else share * guess.log_odds if part.value == guess.value else -guess.log_odds
        fresh.append(replace(part, log_odds=part.log_odds + more, agreement=unsure))
    return agreed_parts(fresh, least)


def together_of(scores: Sequence[float]) -> float:
    """The log of the summed chances: many near rivals weigh more than one."""
    top = max(scores)
    return top + math.log(sum(math.exp(score - top) for score in scores))


def second_ear(theirs: Sequence[Valued], name: str, value: Any) -> tuple[float, bool]:
    """How far Vosk puts this value before any other (negative: behind), and whether its best reading has it."""
    if not theirs:
        return -_MARGIN, False
    top = max(score for score, _ in theirs)
    least = top - _MARGIN
    with_it = max((score for score, other in theirs if other and other.get(name) == value), default=least)
    without = max((score for score, other in theirs if not other or other.get(name) != value), default=least)
    return with_it - without, with_it == top


def _apart(readings: Sequence[SearchReading]) -> list[SearchReading]:
    """Readings of one sound are one to the ear: the one of fewest words stands for them."""
    best: dict[tuple[int, ...], SearchReading] = {}
    for reading in readings:
        known = best.get(reading.sound)
        if known is None or len(reading.words) < len(known.words):
            best[reading.sound] = reading
    return sorted(best.values(), key=lambda reading: -reading.score)


def same_sound(one: Sequence[str], other: Sequence[str]) -> bool:
    """Whether two word sequences can be said alike ("six tee", "sixty")."""
    for kind, a, b, c, d in SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        if kind == "equal":
            continue
        if b - a > 3 or d - c > 3 or not _ways(one[a:b]) & _ways(other[c:d]):
            return False
    return True


def _ways(words: Sequence[str]) -> set[tuple[str, ...]]:
    ways: set[tuple[str, ...]] = {()}
    for word in words:
        ways = {(*way, *pron) for way in ways for pron in pronunciations().get(word, ())}
    return ways


def _span(spans: Sequence[Span], name: str) -> slice:
    """The words of a part; all of them where it has none of its own."""
    for span in spans:
        if span.name == name:
            return slice(span.start, span.end)
    return slice(None)


def clip(value: float, low: float, high: float) -> float:
    return max(low, min(high, value))


def heard_first(second: Sequence[VoskReading]) -> tuple[str, ...]:
    """What the second ear's best reading says, for the reasons; empty where it heard nothing of the language."""
    return second[0].words if second and not second[0].garbage else ()
