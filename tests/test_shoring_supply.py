"""Supply and return: everything is carried once, nobody carries too much, and nothing comes back that is not there."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.supply import carry, offcuts, supply_text, take_down
from callout.values import Length
from tests.test_shoring_kinds import KINDS
from tests.test_shoring_practice import STOCK, build

NAMES = [f"{s.get('kind', 'raker')} {s.get('sole', '')}" for s in KINDS]
KERF = Length.imperial(sixteenths=2)  # of the packaged stock: what the saw eats at each cut


@pytest.mark.parametrize("people", [1, 4, 10])
@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_everything_is_carried_once_and_by_enough_people(said: dict[str, object], people: int) -> None:
    """Fifty pounds a person (common practice, no source); one piece that is heavier goes alone, with more people."""
    found = build(**said)
    loads = carry(found, people)
    moved: Counter[str] = Counter()
    for load in loads:
        moved.update({one.mark: one.quantity for one in load.pieces})
        assert load.weight_lb == pytest.approx(sum(one.quantity * one.weight_lb for one in load.pieces), abs=0.1)
        assert load.people * 50 >= load.weight_lb - 0.1
        assert load.weight_lb <= people * 50 + 0.1 or sum(one.quantity for one in load.pieces) == 1
    letters = marks.letters(found)
    wanted = Counter({str(part.item): part.quantity for part in found.parts})
    for cut in found.cuts:
        wanted[letters[cut.label]] += cut.quantity
    assert moved == wanted
    assert [load.number for load in loads] == list(range(1, len(loads) + 1))


def test_what_is_needed_first_goes_first() -> None:
    """Timber to the saw, then the frame, the braces, what holds it, and the ties last: the order of work."""
    loads = carry(build(insertion=14, angle_deg=45, sole="solid"))
    first = {
        one.name.partition(" ")[2]: load.number for load in reversed(loads) for one in load.pieces if load.to == "wall"
    }
    assert loads[0].to == "saw"
    order = ["heel pad", "raker", "mid brace", "sole anchor", "upper tie"]
    assert [first[name] for name in order] == sorted(first[name] for name in order)


def test_a_long_timber_takes_two_people() -> None:
    found = build(insertion=8, kind="t")
    assert all(
        load.people >= 2
        for load in carry(found)
        if any((one.length or KERF) > Length.imperial(8) for one in load.pieces)
    )


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_what_comes_back_is_what_is_there(said: dict[str, object]) -> None:
    """Kit and pickets whole; timber in the lengths that it was cut to; nails, plywood and anchors never."""
    found = build(**said)
    back = [one for stage in take_down(found) for one in stage.back]
    sawn = {bar.name for bar in found.nesting}
    whole = Counter({one.name: one.quantity for one in back if not one.name.endswith(" timber")})
    for part in found.parts:
        gone = part.name in sawn or part.part in ("nail", "gusset", "sheet", "anchor")
        assert whole[part.name] == (0 if gone else part.quantity), part.name
    cut: Counter[tuple[str, Length | None]] = Counter()
    for one in back:
        if one.name.endswith(" timber"):
            cut[one.name, one.length] += one.quantity
    assert cut == Counter({(f"{c.section} timber", c.length): n for c, n in _cuts(found).items()})


def _cuts(found: Build) -> dict[object, int]:
    sums: dict[tuple[str, Length], list[object]] = {}
    for one in found.cuts:
        sums.setdefault((one.section, one.length), []).append(one)
    return {ones[0]: sum(one.quantity for one in ones) for ones in sums.values()}  # type: ignore[attr-defined]


@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_no_timber_is_made_or_lost(said: dict[str, object]) -> None:
    """Sawn pieces, what is left and what the saw ate make up the timbers that were fetched."""
    found = build(**said)
    fetched = sum(bar.stock_length.eightieths for bar in found.nesting)
    pieces = sum(one.length.eightieths * one.quantity for one in found.cuts)
    left = sum(one.length.eightieths for one in offcuts(found) if one.length is not None)
    cuts = sum(one.quantity for one in found.cuts)
    assert pieces + left <= fetched <= pieces + left + cuts * KERF.eightieths
    assert STOCK.kerf == KERF


def test_what_the_saw_leaves_is_on_the_list_of_loads_and_no_nail_is() -> None:
    found = build(insertion=11, angle_deg=60, sole="solid")
    text = supply_text(found)
    left = re.findall(r"left at the saw: (\d+) x (\w+) timber of (.*), to timber bay", text)
    assert sum(int(number) for number, _, _ in left) == len(offcuts(found)) > 0
    assert {length for _, _, length in left} == {one.length.text for one in offcuts(found) if one.length is not None}
    assert "nail" not in "".join(line for line in text.splitlines() if "left at" in line)
    assert "nail" not in "".join(one.name for stage in take_down(found) for one in stage.back)


def test_it_is_taken_down_in_reverse_and_not_before_something_else_holds() -> None:
    stages = take_down(build(insertion=14, angle_deg=45, sole="solid"))
    assert "nothing is taken down before" in stages[0].say
    said = [stage.say for stage in stages]
    order = ["ties", "wedges", "braces", "frame", "pads"]
    places = [next(n for n, one in enumerate(said) if word in one and n) for word in order]
    assert places == sorted(places)


@pytest.mark.parametrize("down", [False, True], ids=["carry", "down"])
@pytest.mark.parametrize("said", KINDS, ids=NAMES)
def test_the_text_fits_and_the_sentences_may_be_spoken(said: dict[str, object], down: bool) -> None:
    found = build(**said)
    assert max(map(len, supply_text(found, down).splitlines())) <= 80
    words = [stage.say for stage in take_down(found)] + [load.stage for load in carry(found)]
    assert not any(re.search(r"[()\[\]{}+*=<>&%@#_|]", one) for one in words)


def test_every_sawn_member_has_its_stage() -> None:
    from callout.shoring.supply import _stages

    known = {label for stage in _stages() for label in stage.cuts}
    assert {cut.label for said in KINDS for cut in build(**said).cuts} <= known
