"""Choose what the ears may take for certain: weights and thresholds of `callout/hearing/decisions.json`.

    python -m ears_training.calibrate collect MANIFEST OUT.pkl [--share 3] [--every 1] [--noises 30] [--jobs 1]
    python -m ears_training.calibrate fit OUT.pkl ...

`collect` plays development recordings to both ears, each clean and in a few conditions drawn from the seed, and
keeps the evidence. `fit` turns it into a logistic for the chance that a part is right, and chooses the thresholds
with the least loss (`certainty`): a wrong meaning that is taken costs 50, a right one that must be said again costs
1; of equals, the strictest. One row in five is weighed once more as if the second ear had not answered. Every row is
judged by weights learned without its talker. A string of
digits sets nothing in motion (its state serves the scoring of recordings): there a wrong one costs 5.

A row of a manifest may name the state that it was said in; `ears_training.digits` makes a kit of digits. `fit`
writes the decisions, and docs/proofs/ears-thresholds.md with the table and the curves. Recordings kept for reporting
are never used.
"""

from __future__ import annotations

import json
import lzma
import pickle
import random
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from multiprocessing import Process
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from callout.hearing import agreement
from callout.hearing.agreement import FEATURES, DecisionSettings, settings, values
from callout.hearing.agreement_of_three import FEATURES as FEATURES_OF_THREE
from callout.hearing.audio import Samples, read_audio
from callout.hearing.ears import Ears
from callout.scoring.statistics import share
from ears_training.certainty import (
    AGAIN,
    HEARD_BEFORE,
    KINDS,
    LEARNED,
    ODD,
    STAKES,
    SURE,
    THREE,
    WRONG,
    Case,
    Price,
    Result,
    Row,
    best_mix,
    blank,
    cases,
    context_of,
    crossed,
    deafened,
    learned,
    mislabelled,
    prices,
    taken,
    talker,
    threshold,
    weighed,
    weight,
)  # fmt: skip
from ears_training.conditions import CONDITIONS, NOISES, noise_alone, through

SEED = 7
DECISIONS = Path(agreement.__file__).with_name("decisions.json")
SHOWN = (0, 1, 1.5, 2, 2.5, 3, 3.25, 3.5, 3.75, 4, 4.25, 4.5, 5, 5.5, 6, 8)  # thresholds in the table


def collect(manifest: Path, out: Path, share: int = 3, every: int = 1, noises: int = 30, jobs: int = 1) -> int:
    """Evidence for each recording (or one in `every`), clean or not, in `share` conditions, and for `noises` clips of
    each noise, in `jobs` processes. The third opinion is asked about all of them."""
    lines = [json.loads(line) for line in manifest.read_text(encoding="utf-8").splitlines()][::every]
    rng = random.Random(SEED)
    pool = [read_audio(manifest.parent / line["file"]) for line in rng.sample(lines, min(40, len(lines)))]
    tasks: list[tuple[Row, Callable[[], Samples]]] = []
    for number, line in enumerate(lines):
        for name in rng.sample(list(CONDITIONS), share):
            babble = rng.sample(pool, min(5, len(pool)))
            make = partial(_through_file, manifest.parent / line["file"], name, number, babble)
            tasks.append(({**line, "condition": name}, make))
    state = {"state": lines[0]["state"]} if "state" in lines[0] else {}
    for name in NOISES:
        for number in range(noises):
            make = partial(noise_alone, name, rng.uniform(1.5, 6.0), number, rng.sample(pool, min(5, len(pool))))
            row = {"words": "", "kind": "noise", "voice": name, "condition": "noise alone"} | state
            tasks.append((row, make))
    with TemporaryDirectory() as folder:
        parts = [Path(folder) / str(job) for job in range(jobs)]
        children = [Process(target=_hear, args=(tasks[job::jobs], part)) for job, part in enumerate(parts)]
        for child in children:
            child.start()
        for child in children:
            child.join()
        rows = [row for part in parts for row in pickle.loads(part.read_bytes())]
    out.write_bytes(lzma.compress(pickle.dumps(rows), preset=1))
    return len(rows)


def _through_file(file: Path, name: str, seed: int, babble: Sequence[Samples]) -> Samples:
    return through(read_audio(file), name, seed, babble)


def _hear(tasks: Sequence[tuple[Row, Callable[[], Samples]]], out: Path) -> None:
    ears = Ears()
    rows = []
    for number, (row, make) in enumerate(tasks):
        context = context_of(row)
        rows.append({**row, "evidence": ears.asked(ears.evidence(make(), context), context)})
        if number % 50 == 0:
            print(f"{number} of {len(tasks)} hearings", file=sys.stderr, flush=True)
    ears.close()
    out.write_bytes(pickle.dumps(rows))


def fit(rows: list[Row]) -> tuple[dict[str, Any], str]:
    """The decisions and the page that shows how they were chosen."""
    mix = best_mix(rows) if set(LEARNED) == set(KINDS) else settings().mix  # callouts are most of what it is chosen by
    start = replace(blank(settings(), mix), sure=SURE, agreed_three=THREE)
    heard, heard_less = weighed(rows, start), weighed(deafened(rows), start)
    chosen = learned([*heard, *heard_less], start)
    results = crossed(heard, heard_less, start)
    page = ["# How the ears' thresholds were chosen", "", *_data(rows, mix), "", *_weights(chosen)]
    page += ["", *_reliability(results), "", *_coverage(results, start)]
    agreed = {}
    unheard = sum(r.meant is not None and r.verdict is None for r in results)
    for stake in STAKES:
        found = cases(results, stake, start)
        swept = prices(found, stake)
        agreed[stake] = threshold(stake)
        page += ["", *_prices(stake, found, swept, agreed[stake], unheard)]
    page += ["", f"Where all three decide about a callout or a command the bar is {THREE['callout']}, a little above "
             "the textbook's (`THREE` in `ears_training/certainty.py`)."]  # fmt: skip
    decisions = {
        "weights": chosen.weights, "three": chosen.three, "mix": mix, "agreed": agreed, "sure": SURE,
        "agreed_three": THREE, "heard_before": HEARD_BEFORE, "reach": start.reach, "least_fit": dict(start.least_fit),
    }  # fmt: skip
    return decisions, "\n".join(page) + "\n"


def _data(rows: list[Row], mix: float) -> list[str]:
    voices = sorted({row["voice"] for row in rows if row["kind"] != "noise"})
    odd = sorted({row["voice"] for row in rows if weight(row) < 1.0})
    kinds = {kind: sum(row["kind"] == kind for row in rows) for kind in sorted({row["kind"] for row in rows})}
    return [
        f"Made by `python -m ears_training.calibrate fit` from {len(rows)} hearings of development recordings "
        f"({', '.join(f'{n} {kind}' for kind, n in kinds.items())}) by the voices {', '.join(voices)}, clean and "
        f"through the radio. Loss: a wrong meaning taken costs {WRONG['callout']:.0f} (a string of digits "
        f"{WRONG['digits']:.0f}; a command that only makes the voice speak or be silent {WRONG['harmless']:.0f}: "
        f"a stop word missed matters more than one too many), a right one said again {AGAIN:.0f}. A threshold is the "
        "log of the cost less one, where taking and asking again cost the same, and is held against the chance that "
        "all parts are right at once; what others would have cost stands beside it.",
        "",
        f"Learned here: the weights of {' and '.join(LEARNED)}s; those of the other kinds are of earlier calibrations, "
        "with fewer hearings. One word whose start was lost is never taken for a callout or a command that moves "
        "anything, and nothing is learned from it. Two ears decide "
        f"where they are sure (log-odds {SURE['callout']}); else the third opinion is asked, and a logistic over all "
        f"three decides (the encoder ear's score weighs {mix} beside the third opinion's when the reading is chosen). "
        "**Everything below is judged by weights that were learned without the talker who speaks.** Talkers of whom a "
        f"free Whisper base gets fewer than half of the words in quiet weigh {ODD} each: "
        f"{', '.join(odd) or 'there are none here'} (`ears_training/talkers.py`). Left out: "
        "transcripts known to be wrong (`mislabelled` in `ears_training/certainty.py`).",
    ]


def _coverage(results: Sequence[Result], chosen: DecisionSettings) -> list[str]:
    """Risk against coverage: what is taken and what of it is wrong, talker by talker, by two ears and by all three."""
    lines = [
        "| talker | callouts | two ears: taken right % | wrong | all three: taken right % (95 %) | wrong (95 %) |",
        "|---|---|---|---|---|---|",
    ]
    rows = [r for r in results if r.row["kind"] == "callout"]
    for who in [*sorted({talker(r.row) for r in rows}), "all"]:
        mine = [r for r in rows if who in ("all", talker(r.row))]
        n = len(mine)
        two = [r.two is not None and taken(r.two, chosen) for r in mine]
        both = [r.verdict is not None and taken(r.verdict, chosen) for r in mine]
        right_two = sum(t and r.two.meaning == r.meant for t, r in zip(two, mine, strict=True) if r.two)
        right = sum(t and r.verdict.meaning == r.meant for t, r in zip(both, mine, strict=True) if r.verdict)
        s, w = share(right, n), share(sum(both) - right, n)
        lines.append(
            f"| {who} | {n} | {100 * right_two / n:.1f} | {sum(two) - right_two} | {100 * right / n:.1f} "
            f"({100 * s['low']:.1f} to {100 * s['high']:.1f}) | {sum(both) - right} ({100 * w['low']:.1f} to "
            f"{100 * w['high']:.1f} %) |"
        )
    return lines


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


def _weights(chosen: DecisionSettings) -> list[str]:
    lines = []
    for names, table in ((FEATURES, chosen.weights), (FEATURES_OF_THREE, chosen.three)):
        lines += ["| | " + " | ".join(names) + " |", "|---" * (len(names) + 1) + "|"]
        lines += [f"| {kind} | " + " | ".join(f"{w:.2f}" for w in ws) + " |" for kind, ws in table.items()] + [""]
    return lines[:-1]


def _reliability(results: Sequence[Result]) -> list[str]:
    """Of the parts said to be so sure, how many are right."""
    sure, right = [], []
    for verdict, meant in ((r.verdict, r.meant) for r in results):
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
            for name in ("share", "every", "noises", "jobs")
            if f"--{name}" in arguments
        }
        print(f"{collect(Path(arguments[1]), Path(arguments[2]), **options)} hearings kept in {arguments[2]}")
    elif arguments[:1] == ["fit"]:
        read = [row for file in arguments[1:] for row in pickle.loads(lzma.decompress(Path(file).read_bytes()))]
        rows = [row for row in read if not mislabelled(row)]
        decisions, page = fit(rows)
        DECISIONS.write_text(json.dumps(decisions, indent=2) + "\n", encoding="utf-8")
        (DECISIONS.parents[2] / "docs" / "proofs" / "ears-thresholds.md").write_text(page, encoding="utf-8")
        print(page)
    else:
        print(__doc__)


if __name__ == "__main__":
    main(sys.argv[1:])
