"""How sure the ears may be: weights for the chance that a part is right, and the threshold from which all are taken.

The weights are a logistic's, learned from development hearings (`calibrate`). A threshold is the textbook's: where
taking costs as much as asking again, at the log of the cost of a wrong one less one. It is held against the chance that
all parts are right at once, as the cost is that of the whole. What each threshold would have cost is counted on
recordings that the weights were not learned from (five folds). The least loss counted is no better a choice: it hangs
on the few wrong ones, and moved by a whole unit from one division of the data to the next.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from callout.hearing.agreement import FEATURES, Settings, Verdict, settings, together, values, weigh
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
GRID = tuple(0.25 * step for step in range(37))  # what else is counted

FREE = ("one", "angle_deg", "rakers", "spacing")
AGAINST = ("vosk_deaf", "late", "vosk_rival")

FOLDS = 5

Row = dict[str, Any]  # words, kind, voice, condition, evidence, and perhaps state
Result = tuple[Row, Verdict | None, Meaning | None]


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
    """Whether a transcript is not to be trusted: one of the learners' strings is not what it says."""
    return bool(row["words"] == MISREAD)


def weighed(rows: list[Row], chosen: Settings) -> list[Result]:
    """The verdict on each row, with the truth beside it.

    Sentences that are nearly of the language (a callout with a word that it lacks) are left out: some of their parts
    are right, and nobody knows which. Chatter and noise stay, as sound that means nothing.
    """
    out = []
    for row in rows:
        context = context_of(row)
        meant = truth(row["words"], context)
        if row["kind"] not in ("chatter", "noise") and meant is None:
            continue
        evidence: Evidence = row["evidence"]
        out.append((row, weigh(evidence, reader(context), chosen) if speech(evidence, context) else None, meant))
    return out


def logistic(x: NDArray[np.float64], y: NDArray[np.float64], ridge: float = 0.3) -> NDArray[np.float64]:
    """Weights of a logistic regression with a small ridge; the first column is the constant.

    More of what speaks for a part never makes it less sure, and the other way round (`AGAINST`): with few commands to
    learn from, a free fit takes noise for a sign.
    """
    keep = np.full(x.shape[1], ridge)
    keep[0] = 1e-6

    def loss(w: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        z = x @ w
        slope = x.T @ (1 / (1 + np.exp(-np.clip(z, -30, 30))) - y) + keep * w
        return float(np.logaddexp(0, z).sum() - y @ z + 0.5 * w @ (keep * w)), slope

    bounds = [(None, None) if f in FREE else (None, 0.0) if f in AGAINST else (0.0, None) for f in FEATURES]
    found: NDArray[np.float64] = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B", bounds=bounds).x
    return found


def part_table(results: list[Result]) -> dict[str, tuple[Any, Any]]:
    """kind -> (features, right) of every weighed part."""
    table: dict[str, tuple[list[Any], list[float]]] = {kind: ([], []) for kind in KINDS}
    for _, verdict, meant in results:
        if verdict is None:
            continue
        right = values(meant) if meant is not None else {}
        for part in verdict.parts:
            x, y = table[part.kind]
            x.append(part.features)
            y.append(float(bool(right) and right.get(part.name) == part.value))
    return {kind: (np.array(x), np.array(y)) for kind, (x, y) in table.items()}


def fitted(rows: list[Row]) -> Settings:
    """The shipped settings with weights learned from these rows."""
    start = replace(settings(), weights={kind: [0.0] * len(FEATURES) for kind in KINDS})
    table = part_table(weighed(rows + deafened(rows), start))
    found = {kind: [round(float(w), 3) for w in logistic(x, y)] for kind, (x, y) in table.items() if len(x)}
    return replace(start, weights=dict(start.weights) | found)


def fold_of(row: Row) -> int:
    """Which fifth of the data a row is in: all hearings of one recording are in one, noise by its kind."""
    return zlib.crc32(str(row.get("file", row["voice"])).encode()) % FOLDS


def crossed(rows: list[Row]) -> list[Result]:
    """The verdict on each row by weights that were learned without its recording."""
    out = []
    for fold in range(FOLDS):
        chosen = fitted([row for row in rows if fold_of(row) != fold])
        out += weighed([row for row in rows if fold_of(row) == fold], chosen)
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


def cases(results: Sequence[Result], stake: str, chosen: Settings) -> list[Case]:
    """The hearings that gave a meaning of this stake."""
    found = []
    for _, verdict, meant in results:
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
