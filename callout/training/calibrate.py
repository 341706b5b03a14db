"""Choose what the ears may take for certain: weights and thresholds of `callout/hearing/decisions.json`.

    python -m callout.training.calibrate collect MANIFEST OUT.pkl [--share 3] [--every 1] [--noises 30]
    python -m callout.training.calibrate fit OUT.pkl ...

`collect` plays development recordings to both ears, each clean and in a few conditions drawn from the seed, and
keeps the evidence. `fit` turns it into a logistic for the chance that a part is right, and chooses the thresholds
with the least loss: a wrong meaning that is taken costs 50, a right one that must be said again costs 1; of equals,
the strictest. One row in five is weighed once more as if the second ear had not answered. A string of digits sets
nothing in motion (its state serves the scoring of recordings): there a wrong one costs 5.

Thresholds and the reliability table are judged on recordings that the weights were not learned from (five folds): on
the very hearings that they were fitted to, weights look surer than they are. Whether the second ear says the part is
among the features, so one threshold serves with it and without: two of them, fitted apart, moved from 3.5 and 3.75 to
4.5 and 5.25 from one division of the data to the next, at the same loss. Of well calibrated parts the least loss is
at the log of the cost: 3.9 for 50, 1.6 for 5.

A row of a manifest may name the state that it was said in; `callout.training.digits` makes a kit of digits. `fit`
writes the decisions, and docs/ears-thresholds.md with the table and the curves. Recordings kept for reporting are
never used.
"""

from __future__ import annotations

import json
import pickle
import random
import sys
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from callout.hearing import agreement
from callout.hearing.agreement import FEATURES, Settings, Verdict, settings, values, weigh
from callout.hearing.audio import read_audio
from callout.hearing.ears import Ears
from callout.hearing.evidence import Evidence
from callout.hearing.judge import reader, speech
from callout.language.context import EVERYTHING, Context
from callout.language.parse import parse
from callout.training.conditions import CONDITIONS, NOISES, noise_alone, through
from callout.values import Meaning

WRONG = {"callout": 50.0, "command": 50.0, "digits": 5.0}
AGAIN = 1.0
NEVER = 99.0  # log-odds that nothing reaches
SEED = 7
DECISIONS = Path(agreement.__file__).with_name("decisions.json")

KINDS = tuple(WRONG)

FREE = ("one", "angle_deg", "rakers", "spacing")
AGAINST = ("vosk_deaf", "late", "vosk_rival")

FOLDS = 5
SHOWN = (0, 1, 2, 2.5, 3, 3.25, 3.5, 3.75, 4, 4.25, 4.5, 5, 5.5, 6, 8)  # thresholds in the table besides the best

MISREAD = "four five zero three"

Row = dict[str, Any]  # words, kind, voice, condition, evidence, and perhaps state


def collect(manifest: Path, out: Path, share: int = 3, every: int = 1, noises: int = 30) -> int:
    """Evidence for each recording (or one in `every`), clean or not, in `share` conditions, and for `noises` clips of
    each noise."""
    lines = [json.loads(line) for line in manifest.read_text(encoding="utf-8").splitlines()][::every]
    rng = random.Random(SEED)
    ears = Ears()
    rows: list[Row] = []
    pool = [read_audio(manifest.parent / line["file"]) for line in rng.sample(lines, min(40, len(lines)))]
    for number, line in enumerate(lines):
        clean = read_audio(manifest.parent / line["file"])
        for name in rng.sample(list(CONDITIONS), share):
            sound = through(clean, name, number, rng.sample(pool, min(5, len(pool))))
            rows.append({**line, "condition": name, "evidence": ears.evidence(sound, context_of(line))})
        if number % 50 == 0:
            print(f"{number} of {len(lines)} recordings", file=sys.stderr, flush=True)
    state = {"state": lines[0]["state"]} if "state" in lines[0] else {}
    for name in NOISES:
        for number in range(noises):
            sound = noise_alone(name, rng.uniform(1.5, 6.0), number, rng.sample(pool, min(5, len(pool))))
            row = {"words": "", "kind": "noise", "voice": name, "condition": "noise alone"} | state
            rows.append({**row, "evidence": ears.evidence(sound, context_of(row))})
    ears.close()
    out.write_bytes(pickle.dumps(rows))
    return len(rows)


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
    """Whether a transcript is not to be trusted: one of the learners' strings says "four five two zero" where its
    transcript has "four five zero three", and the spliced callouts took their "three" and "zero" from it, too."""
    words = row["words"].split()
    return row["words"] == MISREAD or bool(row.get("spliced") and {"three", "zero"} & set(words))


def weighed(rows: list[Row], chosen: Settings) -> list[tuple[Row, Verdict | None, Meaning | None]]:
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


def part_table(results: list[tuple[Row, Verdict | None, Meaning | None]]) -> dict[str, tuple[Any, Any]]:
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


def crossed(rows: list[Row]) -> list[tuple[Row, Verdict | None, Meaning | None]]:
    """The verdict on each row by weights that were learned without its recording."""
    out = []
    for fold in range(FOLDS):
        chosen = fitted([row for row in rows if fold_of(row) != fold])
        out += weighed([row for row in rows if fold_of(row) == fold], chosen)
    return out


def fit(rows: list[Row]) -> tuple[dict[str, Any], str]:
    """The decisions and the page that shows how they were chosen."""
    chosen = fitted(rows)
    weights, start = chosen.weights, settings()
    results = crossed(rows)
    page = [
        "# How the ears' thresholds were chosen",
        "",
        *_data(rows),
        "",
        *_weights(weights),
        "",
        *_reliability(results),
    ]
    both, alone = {}, {}
    for kind in KINDS:
        best, lines = _sweep(results, chosen, kind)
        both[kind], alone[kind] = best
        page += ["", *lines]
    decisions = {
        "weights": weights, "both": both, "alone": alone, "reach": start.reach, "least_fit": dict(start.least_fit),
        "releasing": sorted(start.releasing),
    }  # fmt: skip
    return decisions, "\n".join(page) + "\n"


def _data(rows: list[Row]) -> list[str]:
    voices = sorted({row["voice"] for row in rows if row["kind"] != "noise"})
    kinds = {kind: sum(row["kind"] == kind for row in rows) for kind in sorted({row["kind"] for row in rows})}
    return [
        f"Made by `python -m callout.training.calibrate fit` from {len(rows)} hearings of development recordings "
        f"({', '.join(f'{n} {kind}' for kind, n in kinds.items())}) by the voices {', '.join(voices)}, clean and "
        f"through the radio. Loss: a wrong meaning taken costs {WRONG['callout']:.0f} "
        f"({WRONG['digits']:.0f} where it is a string of digits), a right one said again {AGAIN:.0f}. "
        "Everything below is of five folds: each recording is judged by weights learned without it. "
        "Left out: transcripts known to be wrong (`mislabelled` in that module)."
    ]


def _curve(rows: list[tuple[float, float, float, int, int]]) -> list[str]:
    """The best that each number of wrong ones buys, drawn as bars of "say again"."""
    fewest: dict[int, int] = {}
    for _, _, _, wrong, again in rows:
        fewest[wrong] = min(again, fewest.get(wrong, again))
    most = max(fewest.values(), default=0) or 1
    lines = ["", "The curve: fewest said again for each number of wrong ones taken.", ""]
    return lines + [
        f"    {wrong:3d} wrong {again:4d} {'#' * round(40 * again / most)}" for wrong, again in sorted(fewest.items())
    ]


def _weights(weights: Mapping[str, Sequence[float]]) -> list[str]:
    lines = ["| | " + " | ".join(FEATURES) + " |", "|---" * (len(FEATURES) + 1) + "|"]
    return lines + [f"| {kind} | " + " | ".join(f"{w:.2f}" for w in ws) + " |" for kind, ws in weights.items()]


def _reliability(results: list[tuple[Row, Verdict | None, Meaning | None]]) -> list[str]:
    """Of the parts said to be so sure, how many are right."""
    sure, right = [], []
    for _, verdict, meant in results:
        for part in verdict.parts if verdict else ():
            sure.append(part.confidence)
            right.append(meant is not None and values(meant).get(part.name) == part.value)
    edges = [0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 0.999, 1.0001]
    p, y = np.array(sure), np.array(right, float)
    lines = ["| confidence | parts | mean confidence | right | |", "|---|---|---|---|---|"]
    for low, high in pairwise(edges):
        here = (p >= low) & (p < high)
        if here.any():
            bar = "#" * round(20 * float(y[here].mean()))
            lines.append(
                f"| {low:g} to {min(high, 1):g} | {here.sum()} | {p[here].mean():.3f} | {y[here].mean():.3f} | {bar} |"
            )
    return lines


def _sweep(
    results: list[tuple[Row, Verdict | None, Meaning | None]], chosen: Settings, kind: str
) -> tuple[tuple[float, float], list[str]]:
    """The threshold with the least loss, as (with both ears, with one alone), and the curve of the loss."""
    grid = [round(0.25 * step, 2) for step in range(0, 37)]
    cases = []
    for _, verdict, meant in results:
        if verdict is None or verdict.parts[0].kind != kind or verdict.reading.fit < chosen.least_fit[kind]:
            continue
        odds = np.array([part.log_odds for part in verdict.parts])
        same = np.array([part.both for part in verdict.parts])
        crossed = np.array(
            [bool(part.features[FEATURES.index("vosk_rival")]) and kind != "digits" for part in verdict.parts]
        )
        releasing = verdict.parts[0].value in chosen.releasing and kind == "command"
        needs_both = crossed | releasing
        cases.append((odds, same, needs_both, verdict.meaning == meant, meant is not None))
    lost = sum(meant is not None for _, verdict, meant in results if verdict is None)
    rows = []
    for both in grid:
        # A bare command needs both ears whatever the data say: noise sounds like one more often than it was recorded.
        alone = NEVER if kind == "command" else both
        wrong = again = 0
        for odds, same, needs_both, right, meaningful in cases:
            taken = bool(np.all((same & (odds >= both)) | ((odds >= alone) & ~needs_both)))
            wrong += taken and not right
            again += not taken and meaningful
        rows.append((WRONG[kind] * wrong + AGAIN * again, -both, -alone, wrong, again))
    best = min(rows)
    lines = [
        f"## {kind.capitalize()}: {len(cases)} hearings; besides, {lost} of any kind were not heard as anything", "",
        "| agreed by both from | by one alone from | loss | wrong taken | said again |", "|---|---|---|---|---|",
    ]  # fmt: skip
    seen = sorted(rows)[:3] + [r for r in rows if -r[1] in SHOWN]
    for loss, b, a, wrong, again in dict.fromkeys(seen):
        lines.append(f"| {-b:.2f} | {'never' if -a == NEVER else f'{-a:.2f}'} | {loss:.0f} | {wrong} | {again} |")
    return (-best[1], -best[2]), [*lines, *_curve(rows)]


def main(arguments: list[str]) -> None:
    if arguments[:1] == ["collect"]:
        options = {
            name: int(arguments[arguments.index(f"--{name}") + 1])
            for name in ("share", "every", "noises")
            if f"--{name}" in arguments
        }
        print(f"{collect(Path(arguments[1]), Path(arguments[2]), **options)} hearings kept in {arguments[2]}")
    elif arguments[:1] == ["fit"]:
        read = [row for file in arguments[1:] for row in pickle.loads(Path(file).read_bytes())]
        rows = [row for row in read if not mislabelled(row)]
        decisions, page = fit(rows)
        DECISIONS.write_text(json.dumps(decisions, indent=2) + "\n", encoding="utf-8")
        (DECISIONS.parents[2] / "docs" / "ears-thresholds.md").write_text(page, encoding="utf-8")
        print(page)
    else:
        print(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
