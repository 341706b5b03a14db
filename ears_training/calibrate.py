"""Choose what the ears may take for certain: weights and thresholds of `callout/hearing/decisions.json`.

    python -m ears_training.calibrate collect MANIFEST OUT.pkl [--share 3] [--every 1] [--noises 30]
    python -m ears_training.calibrate fit OUT.pkl ...

`collect` plays development recordings to both ears, each clean and in a few conditions drawn from the seed, and
keeps the evidence. `fit` turns it into a logistic for the chance that a part is right, and chooses the thresholds
with the least loss (`certainty`): a wrong meaning that is taken costs 50, a right one that must be said again costs
1; of equals, the strictest. One row in five is weighed once more as if the second ear had not answered. A string of
digits sets nothing in motion (its state serves the scoring of recordings): there a wrong one costs 5.

A row of a manifest may name the state that it was said in; `ears_training.digits` makes a kit of digits. `fit`
writes the decisions, and docs/proofs/ears-thresholds.md with the table and the curves. Recordings kept for reporting
are never used.
"""

from __future__ import annotations

import json
import pickle
import random
import sys
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from callout.hearing import agreement
from callout.hearing.agreement import FEATURES, settings, values
from callout.hearing.audio import read_audio
from callout.hearing.ears import Ears
from ears_training.certainty import (
    AGAIN,
    STAKES,
    WRONG,
    Case,
    Price,
    Result,
    Row,
    cases,
    context_of,
    crossed,
    fitted,
    mislabelled,
    prices,
    threshold,
)  # fmt: skip
from ears_training.conditions import CONDITIONS, NOISES, noise_alone, through

SEED = 7
DECISIONS = Path(agreement.__file__).with_name("decisions.json")
SHOWN = (0, 1, 1.5, 2, 2.5, 3, 3.25, 3.5, 3.75, 4, 4.25, 4.5, 5, 5.5, 6, 8)  # thresholds in the table


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
    agreed = {}
    unheard = sum(meant is not None for _, verdict, meant in results if verdict is None)
    for stake in STAKES:
        found = cases(results, stake, start)
        swept = prices(found, stake)
        agreed[stake] = threshold(stake)
        page += ["", *_prices(stake, found, swept, agreed[stake], unheard)]
    decisions = {
        "weights": weights, "agreed": agreed, "reach": start.reach, "least_fit": dict(start.least_fit),
    }  # fmt: skip
    return decisions, "\n".join(page) + "\n"


def _data(rows: list[Row]) -> list[str]:
    voices = sorted({row["voice"] for row in rows if row["kind"] != "noise"})
    kinds = {kind: sum(row["kind"] == kind for row in rows) for kind in sorted({row["kind"] for row in rows})}
    return [
        f"Made by `python -m ears_training.calibrate fit` from {len(rows)} hearings of development recordings "
        f"({', '.join(f'{n} {kind}' for kind, n in kinds.items())}) by the voices {', '.join(voices)}, clean and "
        f"through the radio. Loss: a wrong meaning taken costs {WRONG['callout']:.0f} (a string of digits "
        f"{WRONG['digits']:.0f}; a command that only makes the voice speak or be silent {WRONG['harmless']:.0f}: "
        f"a stop word missed matters more than one too many), a right one said again {AGAIN:.0f}. A threshold is the "
        "log of the cost less one, where taking and asking again cost the same, and is held against the chance that "
        "all parts are right at once; what others would have cost stands beside it. "
        "Everything below is of five folds: each recording is judged by weights learned without it. "
        "Left out: transcripts known to be wrong (`mislabelled` in `ears_training/certainty.py`)."
    ]


def _prices(stake: str, found: Sequence[Case], swept: Sequence[Price], chosen: float, unheard: int) -> list[str]:
    """The thresholds in a table, and the best that each number of wrong ones buys, drawn as bars of "say again"."""
    lines = [
        f"## {stake.capitalize()}: {len(found)} hearings; besides, {unheard} of any kind were heard as nothing", "",
        f"A wrong one costs {WRONG[stake]:.0f}{'; both ears must say it' if stake == 'command' else ''}.", "",
        "| agreed from | loss | wrong taken | said again | |", "|---|---|---|---|---|",
    ]  # fmt: skip
    for p in sorted((p for p in swept if p is swept[0] or p.least in (*SHOWN, chosen)), key=lambda p: p.least):
        facts = (("chosen", p.least == chosen), ("the least loss counted", p is swept[0]))
        why = " and ".join(said for said, so in facts if so)
        lines.append(f"| {p.least:.2f} | {p.loss:.0f} | {p.wrong} | {p.again} | {why} |")
    fewest: dict[int, int] = {}
    for p in swept:
        fewest[p.wrong] = min(p.again, fewest.get(p.wrong, p.again))
    most = max(fewest.values(), default=0) or 1
    lines += ["", "The curve: fewest said again for each number of wrong ones taken.", ""]
    return lines + [
        f"    {wrong:3d} wrong {again:4d} {'#' * round(40 * again / most)}" for wrong, again in sorted(fewest.items())
    ]


def _weights(weights: Mapping[str, Sequence[float]]) -> list[str]:
    lines = ["| | " + " | ".join(FEATURES) + " |", "|---" * (len(FEATURES) + 1) + "|"]
    return lines + [f"| {kind} | " + " | ".join(f"{w:.2f}" for w in ws) + " |" for kind, ws in weights.items()]


def _reliability(results: list[Result]) -> list[str]:
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
        (DECISIONS.parents[2] / "docs" / "proofs" / "ears-thresholds.md").write_text(page, encoding="utf-8")
        print(page)
    else:
        print(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
