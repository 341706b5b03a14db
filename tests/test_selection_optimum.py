"""Every plan is the best there is: checked against trying everything, on hundreds of random small stocks.

The second check is an outside one: HiGHS (through SciPy), which the code uses for large questions only, must agree with
the plain search that it uses for small ones.
"""

import random

import pytest
from selection_cases import best_plan, random_case
from selection_plain_model import most_builds_plainly

from callout.shoring.allocation import Allocation, CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.selection import choose, nesting, shortage
from callout.shoring.selection.allocate import Outcome, allocate_all
from callout.shoring.selection.choose import GaveUp
from callout.shoring.selection.patterns import AIMS
from callout.shoring.stock import Stock, load_stock
from callout.shoring.work_out import needs_of
from callout.values import Callout, Length
from tests.how_much import blocks, one_in


def check_plan(stock: Stock, needs: dict[int, list[Need]], outcome: Outcome) -> None:
    """What a crew relies on, read off the plan itself: nothing twice, every need met, every member reaches."""
    used: dict[str, int] = {}
    for allocation in outcome.allocations.values():
        for name, number in allocation.counts.items():
            used[name] = used.get(name, 0) + number
    assert all(number <= stock.by_name[name].quantity for name, number in used.items())
    for build, allocation in outcome.allocations.items():
        assert allocation.complete == (build in outcome.whole)
        if allocation.complete:
            check_whole(stock, needs[build], allocation)


def check_whole(stock: Stock, needs: list[Need], allocation: Allocation) -> None:
    spans = {span.label: span for span in allocation.spans}
    cuts = [cut for bar in allocation.bars for cut in bar.cuts if cut.build == allocation.build]
    for need in needs:
        if isinstance(need, SpanNeed):
            span = spans[need.label]
            parts = [stock.by_name[name] for name in (*span.extensions, *span.couplers)]
            added = sum((getattr(p, "length", None) or getattr(p, "adds", Length(0)) for p in parts), Length(0))
            assert span.lock + span.screw_out + added + need.deduct == need.wanted
            assert span.turn_in >= need.slack_in
            assert span.turn_out >= need.slack_out
            assert span.closed <= span.setting <= span.open
            assert len(span.extensions) <= need.max_extensions
            assert (span.extension_end is not None) == bool(span.extensions)
        elif isinstance(need, PieceNeed):
            taken = [item for item in allocation.taken if item.label == need.label]
            assert sum(item.quantity for item in taken) == need.quantity
        else:
            mine = [cut for cut in cuts if cut.label == need.label]
            assert [cut.length for cut in mine] == [need.length] * need.quantity
    for bar in allocation.bars:
        kerfs = stock.kerf * (len(bar.cuts) - 1)
        sawn = sum((cut.length for cut in bar.cuts), Length(0)) + kerfs
        assert sawn <= bar.length
        assert bar.offcut == max(Length(0), bar.length - sawn - stock.kerf)


@pytest.mark.parametrize("block", blocks(2, 8))
def test_spans_and_pieces_equal_the_best_of_all_ways(block: int) -> None:
    short = 0
    for seed in range(block * 50, block * 50 + 50):
        stock, needs = random_case(seed)
        outcome = allocate_all(needs, stock)
        assert (len(outcome.whole), outcome.aims) == best_plan(stock, needs), seed
        assert not outcome.gaps
        check_plan(stock, needs, outcome)
        short += len(outcome.whole) < len(needs)
    assert 5 < short < 45  # both plentiful and short stocks among them


@pytest.mark.parametrize("block", blocks(2, 6))
def test_timber_and_kit_together_equal_the_best_of_all_ways(block: int) -> None:
    for seed in range(10_000 + block * 40, 10_000 + block * 40 + 40):
        stock, needs = random_case(seed, timber=True)
        outcome = allocate_all(needs, stock)
        assert (len(outcome.whole), outcome.aims) == best_plan(stock, needs), seed
        check_plan(stock, needs, outcome)


@pytest.mark.parametrize("block", blocks(1, 4))
def test_the_solver_agrees_with_the_plain_search(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [random_case(seed, builds=4, timber=True) for seed in range(20_000 + block * 30, 20_000 + block * 30 + 30)]
    plain = [allocate_all(needs, stock) for stock, needs in cases]
    monkeypatch.setattr(choose, "GROUPS", -1)
    monkeypatch.setattr(nesting, "CUTS", -1)
    for (stock, needs), before in zip(cases, plain, strict=True):
        outcome = allocate_all(needs, stock)
        assert (len(outcome.whole), outcome.aims) == (len(before.whole), before.aims)
        check_plan(stock, needs, outcome)


@pytest.mark.parametrize(("seed", "times"), one_in(3, [(1, 1), (2, 2), (3, 3)]))
def test_as_many_of_24_builds_as_the_straightforward_programme_makes(seed: int, times: int) -> None:
    """A second formulation, without joining equal needs, on needs as practice states them and a short stock."""
    pick, packaged = random.Random(seed), load_stock()
    stock = packaged.with_quantities({line.name: line.quantity * times for line in packaged.lines})
    needs: dict[int, list[Need]] = {}
    while len(needs) < 24:
        insertion = Length.imperial(pick.randint(3, 18), pick.randint(0, 11))
        mine = needs_of(Callout(insertion=insertion, angle_deg=pick.choice((45, 60))), stock.kit)
        if mine is not None:
            needs[len(needs) + 1] = [need for need in mine if not isinstance(need, CutNeed)]  # the kit alone
    outcome = allocate_all(needs, stock, seconds=60)
    assert len(outcome.whole) == most_builds_plainly(needs, stock)
    assert len(outcome.whole) < 24
    assert "builds" not in outcome.gaps
    check_plan(stock, needs, outcome)


@pytest.mark.parametrize("seed", blocks(15, 60))
def test_the_order_of_builds_and_of_stock_lines_changes_nothing(seed: int) -> None:
    stock, needs = random_case(seed, builds=4, timber=True)
    pick = random.Random(seed)
    tables = {table: list(getattr(stock, table)) for table in ("adjustable", "extension", "coupler", "piece", "timber")}
    for lines in tables.values():
        pick.shuffle(lines)
    other = Stock.model_validate({"name": stock.name, "kerf": stock.kerf, "kit": stock.kit, **tables})
    builds = list(needs)
    pick.shuffle(builds)
    plan = allocate_all(needs, stock)
    assert allocate_all({build: needs[build] for build in builds}, other) == plan
    assert allocate_all(needs, stock) == plan  # and asking twice gives the same answer


@pytest.mark.parametrize("seed", blocks(15, 60))
def test_less_stock_is_never_better(seed: int) -> None:
    stock, needs = random_case(seed, builds=3, timber=True)
    pick = random.Random(seed)
    line = pick.choice(stock.lines)
    fewer = stock.with_quantities({line.name: max(0, line.quantity - 1)})
    before, after = allocate_all(needs, stock), allocate_all(needs, fewer)
    worth = AIMS.index("order in the stock")  # the last place only breaks ties
    assert (-len(before.whole), before.aims[:worth]) <= (-len(after.whole), after.aims[:worth])


def test_an_incomplete_build_says_exactly_what_it_lacks() -> None:
    """With the missing pieces it is whole; with all but one of them it is not."""
    found = 0
    for seed in range(150):
        stock, needs = random_case(seed, builds=1, timber=True)
        lacking = allocate_all(needs, stock).allocations[1].missing
        if not lacking or any(missing.name is None for missing in lacking):
            continue  # whole, or no line of this stock would do, however many there were
        found += 1
        have = {line.name: line.quantity for line in stock.lines}
        for missing in lacking:
            have[str(missing.name)] += missing.quantity
        assert allocate_all(needs, stock.with_quantities(have)).whole == (1,)
        for missing in lacking:
            one_less = {**have, str(missing.name): have[str(missing.name)] - 1}
            assert allocate_all(needs, stock.with_quantities(one_less)).whole == ()
    assert found > 20


@pytest.mark.parametrize("block", blocks(1, 3))
def test_what_is_missing_is_the_same_by_the_solver(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [random_case(seed, builds=2, timber=True) for seed in range(block * 40, block * 40 + 40)]
    plain = [allocate_all(needs, stock).allocations for stock, needs in cases]

    def give_up(*_: object, **__: object) -> None:
        raise GaveUp

    monkeypatch.setattr(shortage, "search", give_up)
    for (stock, needs), before in zip(cases, plain, strict=True):
        for build, allocation in allocate_all(needs, stock).allocations.items():
            assert allocation.complete == before[build].complete
            assert sum(m.quantity for m in allocation.missing) == sum(m.quantity for m in before[build].missing)


def test_every_kind_of_need_is_among_the_cases() -> None:
    kinds = {type(need) for seed in range(20) for mine in random_case(seed, timber=True)[1].values() for need in mine}
    assert kinds == {SpanNeed, PieceNeed, CutNeed}
