"""Planning and selection: one raker, 24 builds and 200 builds from a short stock, timber apart.

python -m tests.bench shoring
"""

from __future__ import annotations

import random
from collections.abc import Sequence

from callout.shoring.allocation import CutNeed, Need
from callout.shoring.draft import Draft
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.selection import shortage
from callout.shoring.selection.allocate import allocate_all
from callout.shoring.selection.program import Answer, Clock, Program, solve
from callout.shoring.stock import Stock, load_stock
from callout.shoring.work_out import work_out
from callout.values import Callout, Length
from callout.values.meaning import Sole
from tests.timing import least

Needs = dict[int, tuple[Need, ...]]


def random_needs(builds: int, stock: Stock, soles: Sequence[Sole | None] = (None,), seed: int = 5) -> Needs:
    """Pairs of rakers at random heights from 5 to 15 ft, as practice asks for them."""
    pick = random.Random(seed)
    found: Needs = {}
    while len(found) < builds:
        insertion = Length.imperial(pick.randint(5, 15), pick.randint(0, 11))
        request = Callout(insertion=insertion, angle_deg=pick.choice((45, 60)), sole=pick.choice(soles))
        draft = work_out(request, stock.kit)
        if isinstance(draft, Draft):
            found[len(found) + 1] = tuple(draft.needs)
    return found


def without_cuts(needs: Needs) -> Needs:
    """The kit alone: what is sawn is timed apart."""
    return {build: tuple(n for n in mine if not isinstance(n, CutNeed)) for build, mine in needs.items()}


def stock_of(times: float) -> Stock:
    """The packaged stock with its quantities multiplied."""
    stock = load_stock()
    return stock.with_quantities({line.name: int(line.quantity * times) for line in stock.lines})


class _Known(Exception):
    """The first aim is settled."""


def first_aim(needs: Needs, stock: Stock) -> None:
    """Allocate until it is known how many builds can be whole."""

    def only_first(program: Program, clock: Clock, **_: object) -> Answer | None:
        program.aims = program.aims[:1]
        assert solve(program, clock) is not None
        raise _Known

    shortage.solve = only_first  # type: ignore[attr-defined]
    try:
        allocate_all(needs, stock)
    except _Known:
        pass
    finally:
        shortage.solve = solve  # type: ignore[attr-defined]


def bench() -> dict[str, float]:
    from tests.selection_plain_model import most_builds_plainly

    figures: dict[str, float] = {}
    stock = load_stock()
    planner, ledger = ShorePlanner(), Holdings.of(stock)
    request = Callout(insertion=Length.imperial(11), angle_deg=60)
    figures["one pair of strut rakers, planned (target 0.010)"] = least(
        lambda: planner.plan(1, request, stock, ledger), 20
    )
    timber = request.model_copy(update={"sole": "solid"})
    figures["one pair of timber rakers, planned and nested"] = least(lambda: planner.plan(1, timber, stock, ledger), 20)

    short, padded = stock_of(3), random_needs(24, stock)
    needs = without_cuts(padded)
    plain = least(lambda: most_builds_plainly(needs, short))
    known = least(lambda: first_aim(needs, short))
    figures["24 builds, short stock: first aim (target 0.5)"] = known
    figures["  ratio to the straightforward programme"] = known / plain
    figures["24 builds, short stock: all aims (target 3)"] = least(lambda: allocate_all(needs, short))
    outcome = allocate_all(needs, short)
    figures["24 builds, short stock: builds whole"] = len(outcome.whole)
    figures["24 builds, short stock: aims with a gap"] = len(outcome.gaps)
    figures["24 builds, short stock: all aims, heel pads nested too"] = least(lambda: allocate_all(padded, short))

    mixed = random_needs(24, stock, (None, "solid"))
    kit = without_cuts(mixed)
    cuts = {build: tuple(n for n in mine if isinstance(n, CutNeed)) for build, mine in mixed.items()}
    figures["24 builds, half of them timber: kit alone"] = least(lambda: allocate_all(kit, short))
    figures["24 builds, half of them timber: nesting alone"] = least(lambda: allocate_all(cuts, short))
    figures["24 builds, half of them timber: together"] = least(lambda: allocate_all(mixed, short), 2)

    padded, large = random_needs(200, stock), stock_of(10)
    many = without_cuts(padded)
    figures["200 builds, short stock (target 10)"] = least(lambda: allocate_all(many, large), 1)
    outcome = allocate_all(many, large)
    figures["200 builds, short stock: builds whole"] = len(outcome.whole)
    figures["200 builds, short stock: more that might be whole"] = outcome.gaps.get("builds", 0)
    figures["200 builds, short stock: heel pads nested too"] = least(lambda: allocate_all(padded, large), 1)
    mixed = random_needs(200, stock, (None, "solid"))
    figures["200 builds, half of them timber, short stock"] = least(lambda: allocate_all(mixed, large), 1)
    outcome = allocate_all(mixed, large)
    figures["200 builds, half of them timber: builds whole"] = len(outcome.whole)
    figures["200 builds, half of them timber: more that might be whole"] = outcome.gaps.get("builds", 0)
    return figures
