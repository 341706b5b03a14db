"""Selection against trying everything, and against a second formulation, on thousands of random cases.

python -m tests.proof selection     writes docs/proofs/selection.md
"""

from __future__ import annotations

import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # the cases are shared with the tests, which import them by name

from selection_cases import best_plan, random_case
from selection_plain_model import most_builds_plainly

from callout.shoring.allocation import CutNeed, Need
from callout.shoring.selection import choose, nesting
from callout.shoring.selection.allocate import allocate_all
from callout.shoring.stock import Stock, load_stock
from callout.shoring.work_out import needs_of
from callout.values import Callout, Length

PAGE = Path(__file__).resolve().parent.parent / "docs" / "proofs" / "selection.md"
CASES = 3_000
LARGE = 40
HEAD = """# Selection: is every plan the best there is?

Made by `python -m tests.proof selection`. Every case is a random stock and the needs of some builds. "Agrees" means:
as many builds whole, and the same value under every aim (substitutions, pieces, weight, waste, scarcity, order).

| check | cases | of these short of stock | agrees | differs | minutes |
|---|---|---|---|---|---|
"""
FOOT = """
Trying everything shares no code with the planner (`tests/selection_cases.py`). The solver is HiGHS, which the planner
itself asks only where its plain search would take long; here it is made to settle every part. The straightforward
programme (`tests/selection_plain_model.py`) has a variable for each build, member and pattern; the planner joins equal
needs and equal builds. Its needs are those of real callouts, 24 builds on the packaged stock times one to four.
"""
Row = tuple[str, int, int, int, float]


def prove() -> None:
    PAGE.write_text(HEAD + "".join(_line(row) for row in rows()) + FOOT, encoding="utf-8")
    print(f"wrote {PAGE}", file=sys.stderr)


def _line(row: Row) -> str:
    check, cases, short, agrees, minutes = row
    return f"| {check} | {cases} | {short} | {agrees} | **{cases - agrees}** | {minutes:.1f} |\n"


def rows() -> list[Row]:
    kit = _against_everything("kit alone, by trying everything", CASES, timber=False)
    both = _against_everything("kit and timber, by trying everything", CASES, timber=True)
    return [kit, both, _by_solver(), _large()]


def _against_everything(check: str, cases: int, *, timber: bool) -> Row:
    began, short, agrees = time.monotonic(), 0, 0
    for seed in range(1_000_000, 1_000_000 + cases):
        stock, needs = random_case(seed, timber=timber)
        outcome = allocate_all(needs, stock)
        agrees += (len(outcome.whole), outcome.aims) == best_plan(stock, needs)
        short += len(outcome.whole) < len(needs)
    return check, cases, short, agrees, (time.monotonic() - began) / 60


def _by_solver() -> Row:
    began, short, agrees = time.monotonic(), 0, 0
    groups, cuts = choose.GROUPS, nesting.CUTS
    for seed in range(2_000_000, 2_000_000 + CASES // 3):
        stock, needs = random_case(seed, builds=4, timber=True)
        before = allocate_all(needs, stock)
        choose.GROUPS, nesting.CUTS = -1, -1
        after = allocate_all(needs, stock)
        choose.GROUPS, nesting.CUTS = groups, cuts
        agrees += (len(after.whole), after.aims) == (len(before.whole), before.aims)
        short += len(before.whole) < len(needs)
    return "plain search and solver", CASES // 3, short, agrees, (time.monotonic() - began) / 60


def _large() -> Row:
    began, short, agrees = time.monotonic(), 0, 0
    for seed in range(LARGE):
        stock, needs = _callouts(seed)
        outcome = allocate_all(needs, stock, seconds=120)
        agrees += len(outcome.whole) == most_builds_plainly(needs, stock) and not outcome.gaps
        short += len(outcome.whole) < len(needs)
    check = "24 builds, the straightforward programme (builds whole)"
    return check, LARGE, short, agrees, (time.monotonic() - began) / 60


def _callouts(seed: int) -> tuple[Stock, dict[int, list[Need]]]:
    pick, packaged = random.Random(seed), load_stock()
    times = pick.randint(1, 4)
    stock = packaged.with_quantities({line.name: line.quantity * times for line in packaged.lines})
    needs: dict[int, list[Need]] = {}
    while len(needs) < 24:
        insertion = Length.imperial(pick.randint(3, 18), pick.randint(0, 11))
        mine = needs_of(Callout(insertion=insertion, angle_deg=pick.choice((45, 60))), stock.kit)
        if mine is not None:
            needs[len(needs) + 1] = [need for need in mine if not isinstance(need, CutNeed)]  # the kit alone
    return stock, needs
