"""Whether a change of selection changes an answer: the outcomes of many questions, kept before and compared after.

python -m tests.selection_outcomes keep FILE       on the code before
python -m tests.selection_outcomes compare FILE    on the code after: what is the same, better, worse

300 random cases (`tests/selection_cases.py`), and 8, 24 and 200 builds of `tests/bench_shoring.py`. Each outcome is
ranked as selection ranks it: builds whole, the aims over them, then what the other builds lack and take.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))  # as in tests/proof_selection.py

from bench_shoring import random_needs, stock_of
from selection_cases import random_case

from callout.shoring.allocation import Need
from callout.shoring.selection.allocate import Outcome, allocate_all
from callout.shoring.stock import Stock

CASES = 300
Kept = dict[str, Any]


def questions() -> Iterator[tuple[str, Stock, dict[int, tuple[Need, ...]]]]:
    for seed in range(3_000_000, 3_000_000 + CASES):
        stock, needs = random_case(seed, builds=5, timber=True)
        yield f"random {seed}", stock, {build: tuple(mine) for build, mine in needs.items()}
    for builds, times in ((8, 1.0), (24, 3.0), (200, 10.0)):
        yield f"{builds} builds", stock_of(times), random_needs(builds, stock_of(1), (None, "solid"))


def kept(outcome: Outcome) -> Kept:
    """`rank`: what selection makes least, in order. `all`: the whole answer."""
    left = [mine for build, mine in sorted(outcome.allocations.items()) if build not in outcome.whole]
    lacking = [sum(one.quantity for one in mine.missing) for mine in left]
    return {
        "rank": [-len(outcome.whole), *outcome.aims],
        "lacking": sum(lacking),
        "gaps": outcome.gaps,
        "all": {str(build): mine.model_dump(mode="json") for build, mine in sorted(outcome.allocations.items())},
    }


def verdict(before: Kept, after: Kept) -> str:
    if before["all"] == after["all"]:
        return "the same"
    one, other = ((found["rank"], found["lacking"]) for found in (before, after))
    if one == other:
        return "of the same worth"
    return "better" if other < one else "WORSE"


def main(what: str, file: Path) -> None:
    now = {name: kept(allocate_all(needs, stock)) for name, stock, needs in questions()}
    if what == "keep":
        file.write_text(json.dumps(now), encoding="utf-8")
        return
    before = json.loads(file.read_text("utf-8"))
    counts: dict[str, int] = {}
    for name, mine in now.items():
        found = verdict(before[name], json.loads(json.dumps(mine)))
        counts[found] = counts.get(found, 0) + 1
        if found != "the same":
            was, now_is = before[name], mine
            print(f"{name}: {found}: {was['rank']} lacking {was['lacking']} gaps {was['gaps']}")
            print(f"    now {now_is['rank']} lacking {now_is['lacking']} gaps {now_is['gaps']}")
    print(", ".join(f"{number} {found}" for found, number in counts.items()))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
