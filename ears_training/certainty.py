"""How sure the ears may be: weights for the chance that a part is right, and the threshold from which all are taken.

The weights are a logistic's, learned from development hearings (`calibrate`). A threshold is the textbook's: where
taking costs as much as asking again, at the log of the cost of a wrong one less one. It is held against the chance that
all parts are right at once, as the cost is that of the whole. What each threshold would have cost is counted on
recordings of talkers that the weights were not learned from. The least loss counted is no better a choice: it hangs
on the few wrong ones, and moved by a whole unit from one division of the data to the next.

Odd synthetic voices weigh little (`talkers.toml`): a voice of which a free Whisper base gets fewer than half of the
words in quiet must not set how sure a person in quiet can be.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from callout.files import tomllib
from callout.hearing.agreement import (
    FEATURES,
    DecisionSettings,
    Meanings,
    Verdict,
    agreed_parts,
    settings,
    start_lost,
    together,
    values,
    weigh,
)
from callout.hearing.agreement_of_three import FEATURES as FEATURES_OF_THREE
from callout.hearing.agreement_of_three import weigh_three
from callout.hearing.evidence import Evidence
from callout.hearing.judge import reader, speech
from callout.language.context import EVERYTHING, Context
from callout.language.parse import parse
from callout.values import Meaning
from ears_training.people import MISREAD

WRONG = {"callout": 50.0, "command": 50.0, "harmless": 5.0, "digits": 5.0}
AGAIN = 1.0
STAKES = tuple(WRONG)
KINDS = ("callout", "command", "digits")
#: The kinds that `calibrate fit` learns; the others keep the weights they have. On 12,725 hearings with the grammar of
#: 841 words those of callouts and digits, learned anew, parted right from wrong no better than the shipped.
LEARNED = ("command",)
ODD = 0.1  # what a recording of a voice weighs that few would understand
#: Log-odds from which two ears take a meaning without a third opinion: asking costs a fifth of a second, so they must
#: be surer than where the question is whether to ask a person. A command that moves nothing waits for nobody.
SURE = {"callout": 4.5, "command": 4.5, "harmless": 1.39, "digits": 2.5}
#: Where all three decide. For callouts the least loss counted on talkers held out stood a little above the textbook's
#: threshold, since the errors of three that learned from people are not as independent as their odds say. For commands
#: the loss hardly changes from 3.25 to 5: of 3.9 and 4.25 the stricter, with which 5 of 3,388 were wrong instead of 7.
THREE = {"callout": 4.25, "command": 4.25, "harmless": 1.39, "digits": 2.5}
#: The share of its log-odds that an earlier hearing of the same value adds. On 9,368 pairs of hearings of one recording
#: in two conditions (development; nearly all that are twice in doubt are learners') the loss of the odds is least at
#: 0.3; of 306 pairs that agree none is taken wrongly up to there (72 are taken), and at 0.5 eight of 124.
HEARD_BEFORE = 0.25

GRID = tuple(0.25 * step for step in range(37))  # what else is counted

FREE = ("one", "angle_deg", "rakers", "spacing")
AGAINST = ("vosk_deaf", "late", "vosk_rival", "words_to_6")
MIXES = (0.1, 0.2, 0.3, 0.5, 0.8, 1.2)  # what the encoder ear's score may weigh beside the third opinion's
PLAIN = 0.003  # a mix with so little fewer right first readings is as good: the least of them

MISCUT = (
    "insertion point one nine seven inches three zero degrees",
    "insertion one three six inches four five degrees",
)

Row = dict[str, Any]  # words, kind, voice, condition, evidence, and perhaps state
Judged = tuple[Row, Verdict | None, Meaning | None]


@dataclass(frozen=True)
class Result:
    """One hearing: what two ears make of it, what all three make of it, and the truth. `verdict` is what counts."""

    row: Row
    two: Verdict | None
    three: Verdict | None
    meant: Meaning | None

    @property
    def verdict(self) -> Verdict | None:
        return self.three if self.three is not None and not (self.two and self.two.agreed) else self.two


def context_of(row: Row) -> Context:
    """The state of the conversation that a recording was made for."""
    return Context(state=row.get("state"))


def truth(words: str, context: Context = EVERYTHING) -> Meaning | None:
    """What a transcript means; None where it means nothing, or more than one thing."""
    found = parse(tuple(words.split()), context)
    return found[0].meaning if len(found) == 1 else None


def deafened(rows: list[Row]) -> list[Row]:
    """One row in five as it would be had the second ear not answered."""
    return [{**row, "evidence": replace(row["evidence"], vosk=(), deaf=True)} for row in rows[::5]]


def mislabelled(row: Row) -> bool:
    """Whether a transcript is not to be trusted: one of the learners' strings is not what it says, and of two pieced
    callouts the "one" was lost when it was cut (a free Whisper base, which is no part of the ears, writes "9. 7." and
    "3, 6 inches" of them in quiet; `talkers`)."""
    return bool(row["words"] in (MISREAD, *MISCUT))


@lru_cache(maxsize=1)
def talkers() -> dict[str, float]:
    """Voice -> share of its words that a free Whisper base gets in quiet."""
    text = files("ears_training").joinpath("data/talkers.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(text)["share"])


def talker(row: Row) -> str:
    """Who speaks: a person whose words a voice carries is the person, a mixture of two voices the first, a longer or
    shorter throat (`warp:0.86:flite:rms`) whose it is."""
    voice = re.sub(r"^warp:[^:]*:", "", str(row["voice"]))
    return voice.split("+")[0] if row["kind"] != "noise" else "noise"


def weight(row: Row) -> float:
    """What a recording weighs: odd voices little."""
    return ODD if talkers().get(str(row["voice"]), 1.0) < 0.5 else 1.0


def weighed(rows: list[Row], chosen: DecisionSettings) -> list[Result]:
    """What two ears and all three make of each row, with the truth beside it.

    Sentences that are nearly of the language (a callout with a word that it lacks) are left out: some of their parts
    are right, and nobody knows which. Chatter and noise stay, as sound that means nothing.
    """
    out = []
    known: dict[str | None, Meanings] = {}
    for row in rows:
        context = context_of(row)
        meant = truth(row["words"], context)
        if row["kind"] not in ("chatter", "noise") and meant is None:
            continue
        evidence: Evidence = row["evidence"]
        if not speech(evidence, context):
            out.append(Result(row, None, None, meant))
            continue
        meanings = known.setdefault(context.state, reader(context))
        both = weigh(evidence, meanings, chosen)
        out.append(Result(row, both, weigh_three(evidence, meanings, chosen) if evidence.third else None, meant))
    return out


def judged(results: Sequence[Result], chosen: DecisionSettings) -> list[Result]:
    """The same hearings by other weights."""

    def again(
        verdict: Verdict | None, weights: Mapping[str, Sequence[float]], least: Mapping[str, float]
    ) -> Verdict | None:
        if verdict is None:
            return None
        parts = [
            replace(p, log_odds=sum(w * f for w, f in zip(weights[p.kind], p.features, strict=True)))
            for p in verdict.parts
        ]
        unsure = [replace(p, agreement="doubtful") if p.agreement == "agreed" else p for p in parts]
        return replace(verdict, parts=agreed_parts(unsure, least[parts[0].stake]))

    return [
        replace(
            r, two=again(r.two, chosen.weights, chosen.sure), three=again(r.three, chosen.three, chosen.agreed_three)
        )
        for r in results
    ]


def taken(verdict: Verdict, chosen: DecisionSettings) -> bool:
    """Whether a verdict is understood, as `judge` has it."""
    fits = verdict.reading.fit >= chosen.least_fit[verdict.parts[0].kind]
    return verdict.agreed and not verdict.hopeless and fits


def logistic(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    ridge: float = 0.3,
    names: Sequence[str] = FEATURES,
    weights: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Weights of a logistic regression with a small ridge; the first column is the constant.

    More of what speaks for a part never makes it less sure, and the other way round (`AGAINST`): with few commands to
    learn from, a free fit takes noise for a sign.
    """
    keep = np.full(x.shape[1], ridge)
    keep[0] = 1e-6
    each = np.ones(len(x)) if weights is None else weights

    def loss(w: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        z = x @ w
        slope = x.T @ (each * (1 / (1 + np.exp(-np.clip(z, -30, 30))) - y)) + keep * w
        return float(each @ np.logaddexp(0, z) - (each * y) @ z + 0.5 * w @ (keep * w)), slope

    bounds = [(None, None) if f in FREE else (None, 0.0) if f in AGAINST else (0.0, None) for f in names]
    found: NDArray[np.float64] = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds).x
    return found


def part_table(results: Sequence[Judged]) -> dict[str, tuple[Any, Any, Any]]:
    """kind -> (features, right, what each weighs) of every weighed part."""
    table: dict[str, tuple[list[Any], list[float], list[float]]] = {kind: ([], [], []) for kind in KINDS}
    for row, verdict, meant in results:
        if verdict is None or (start_lost(row["evidence"], verdict.reading) and verdict.parts[0].kind != "digits"):
            continue
        right = values(meant) if meant is not None else {}
        for part in verdict.parts:
            x, y, each = table[part.kind]
            x.append(part.features)
            y.append(float(bool(right) and right.get(part.name) == part.value))
            each.append(weight(row))
    return {kind: (np.array(x), np.array(y), np.array(each)) for kind, (x, y, each) in table.items()}


def learned(results: Sequence[Result], start: DecisionSettings) -> DecisionSettings:
    """Settings with the weights of the `LEARNED` kinds: those of two ears, then those of all three from what two ears
    do not take by themselves."""
    more = _fitted([(r.row, r.two, r.meant) for r in results], FEATURES)
    chosen = replace(start, weights=dict(start.weights) | more)
    unsure = [r for r in judged(results, chosen) if r.three is not None and not (r.two and r.two.agreed)]
    return replace(
        chosen, three=dict(start.three) | _fitted([(r.row, r.three, r.meant) for r in unsure], FEATURES_OF_THREE)
    )


def _fitted(
    results: Sequence[tuple[Row, Verdict | None, Meaning | None]], names: Sequence[str]
) -> dict[str, list[float]]:
    table = part_table(results)
    return {
        kind: [round(float(w), 3) for w in logistic(x, y, names=names, weights=each)]
        for kind, (x, y, each) in table.items()
        if len(x) and kind in LEARNED
    }


def best_mix(rows: list[Row]) -> float:
    """What the encoder ear's score should weigh beside the third opinion's: the least with which nearly as many first
    readings are right as with the best. The development people were chosen by with the encoder ear; of others it knows
    less."""
    start, found, every = settings(), [], sum(weight(row) for row in rows)
    known: dict[str | None, Meanings] = {}
    for mix in MIXES:
        right = 0.0
        for row in rows:
            meant = truth(row["words"], context_of(row))
            if meant is None or not row["evidence"].third:
                continue
            meanings = known.setdefault(row.get("state"), reader(context_of(row)))
            verdict = weigh_three(row["evidence"], meanings, replace(start, mix=mix))
            right += weight(row) * (verdict is not None and verdict.meaning == meant)
        found.append((right, mix))
    return min(mix for right, mix in found if right >= max(found)[0] - PLAIN * every)


def blank(start: DecisionSettings, mix: float) -> DecisionSettings:
    """The shipped settings with nothing learned of the `LEARNED` kinds."""
    return replace(
        start,
        weights=dict(start.weights) | {kind: [0.0] * len(FEATURES) for kind in LEARNED},
        three=dict(start.three) | {kind: [0.0] * len(FEATURES_OF_THREE) for kind in LEARNED},
        mix=mix,
    )


def crossed(results: Sequence[Result], heard_less: Sequence[Result], start: DecisionSettings) -> list[Result]:
    """Each hearing judged by weights that were learned without its talker; `heard_less` are learned from and not
    judged."""
    out = []
    for who in sorted({talker(r.row) for r in results}):
        rest = [r for r in (*results, *heard_less) if talker(r.row) != who]
        out += judged([r for r in results if talker(r.row) == who], learned(rest, start))
    return out


@dataclass(frozen=True)
class Case:
    """One hearing as a threshold sees it: the log-odds that all its parts are right, whether both ears say all that
    must have both, whether the meaning is right, and whether the sound had one."""

    odds: float
    both: bool
    right: bool
    meaningful: bool

    def taken(self, least: float) -> bool:
        return self.both and self.odds >= least


def cases(results: Sequence[Result], stake: str, chosen: DecisionSettings) -> list[Case]:
    """The hearings that gave a meaning of this stake."""
    found = []
    for result in results:
        verdict, meant = result.verdict, result.meant
        if verdict is None or verdict.parts[0].stake != stake:
            continue
        if verdict.reading.fit < chosen.least_fit[verdict.parts[0].kind]:
            continue
        odds = together([part.log_odds for part in verdict.parts])
        both = all(part.both or not part.needs_both for part in verdict.parts)
        found.append(Case(odds, both, verdict.meaning == meant, meant is not None))
    return found


@dataclass(frozen=True)
class Price:
    """What a threshold costs."""

    loss: float
    least: float
    wrong: int
    again: int


def prices(found: Sequence[Case], stake: str) -> list[Price]:
    """What each threshold of the grid, and the one chosen, would have cost; the best first, of equals the strictest."""
    out = []
    for least in (*GRID, threshold(stake)):
        taken = [case.taken(least) for case in found]
        wrong = sum(t and not case.right for t, case in zip(taken, found, strict=True))
        again = sum(not t and case.meaningful for t, case in zip(taken, found, strict=True))
        out.append(Price(WRONG[stake] * wrong + AGAIN * again, least, wrong, again))
    return sorted(out, key=lambda price: (price.loss, -price.least))


def threshold(stake: str) -> float:
    """The log-odds of least expected loss where the odds are true: the log of the cost less one.

    Taking a part of chance p costs (1 - p) times the cost of a wrong one, asking again costs 1 (the
    reject option of Bayesian decision theory; Duda and Hart, Pattern Classification, from memory).
    """
    return math.ceil(100 * math.log(WRONG[stake] / AGAIN - 1)) / 100
