"""What is out of range, and the nearest that is not: each border, on readings made by hand."""

from __future__ import annotations

import pytest

from callout.files import data_folder, read_toml
from callout.language.context import EVERYTHING, Context
from callout.language.limits import complaint, complaints, trouble, twin_limits
from callout.language.parse import Reading, Span
from callout.values import Callout, Command, Length

FEET = Length.imperial
RANGES = read_toml(data_folder("grammars") / "ranges.toml")


def reading(meaning: Callout | Command, *parts: Span, **more: object) -> Reading:
    return Reading(meaning, parts, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("feet", "in_reach"), [(FEET(4), True), (FEET(20), True), (FEET(3, 11, 15), False), (FEET(20, 0, 1), False)]
)
def test_the_reach_of_the_stock_holds_its_ends(feet: Length, in_reach: bool) -> None:
    found = trouble(reading(Callout(insertion=feet)), Context(reach=(FEET(4), FEET(20))))
    assert (found is None) == in_reach
    if found is not None:
        nearest = FEET(4) if feet < FEET(4) else FEET(20)
        assert found.nearest == Callout(insertion=nearest)
        assert found.reason == f"insertion {feet.text} is outside the reach of the stock, 4 ft to 20 ft"


@pytest.mark.parametrize("name", sorted(RANGES["numbers"]))
def test_a_number_may_be_each_end_of_its_range_and_no_more(name: str) -> None:
    low, high = RANGES["numbers"][name]
    for value in (low, high):
        assert trouble(reading(Callout(**{name: value})), EVERYTHING) is None
    for value, nearest in ((low - 1, low), (high + 1, high)):
        found = trouble(reading(Callout(**{name: value})), EVERYTHING)
        assert found is not None
        assert found.nearest == Callout(**{name: nearest})
        called = name.removesuffix("_deg").replace("_", " ")
        assert found.reason == f"{called} {value} is outside the range of a callout, {low} to {high}"


@pytest.mark.parametrize("name", sorted(RANGES["lengths"]))
def test_a_length_may_be_each_end_of_its_range_and_no_more(name: str) -> None:
    low, high = (Length.nearest(inches) for inches in RANGES["lengths"][name])
    for value in (low, high):
        assert trouble(reading(Callout(**{name: value})), EVERYTHING) is None
    for value, nearest in ((low - Length(1), low), (high + Length(1), high)):
        found = trouble(reading(Callout(**{name: value})), EVERYTHING)
        assert found is not None
        assert found.nearest == Callout(**{name: nearest})


def test_the_correction_of_a_callout_is_held_to_the_same_ranges() -> None:
    angles = Context(angles=frozenset({45, 60}))
    good = Command(command="correction", patch=Callout(angle_deg=45))
    assert trouble(reading(good), angles) is None
    found = trouble(reading(Command(command="correction", patch=Callout(angle_deg=50))), angles)
    assert found is not None
    assert found.reason == "50 degrees is not possible here; possible: 45, 60"
    assert found.nearest is None  # it is no callout by itself


@pytest.mark.parametrize(("angle", "nearest"), [(46, 45), (59, 60), (1, 45), (52, 45), (90, 60)])
def test_the_nearest_angle_is_named(angle: int, nearest: int) -> None:
    found = trouble(reading(Callout(angle_deg=angle if angle > 20 else 30)), Context(angles=frozenset({60, 45})))
    assert found is not None
    assert found.nearest == Callout(angle_deg=nearest)


def test_where_no_angle_is_possible_none_is_named() -> None:
    found = trouble(reading(Callout(angle_deg=45)), Context(angles=frozenset()))
    assert found is not None
    assert found.nearest is None


@pytest.mark.parametrize(
    ("caller", "said", "taken"),
    [("alpha", "alpha", True), ("alpha", "bravo", False), (None, "bravo", False), ("alpha", None, True)],
)
def test_a_yes_is_for_the_caller_whose_name_it_has(caller: str | None, said: str | None, taken: bool) -> None:
    parts = () if said is None else (Span("caller", said, 0, 1),)
    found = trouble(reading(Command(command="affirm"), *parts), Context(caller=caller))
    assert (found is None) == taken
    if found is not None:
        assert found.reason == f"the readback is not for {said}"


@pytest.mark.parametrize(("item", "nearest"), [(0, 12), (1, None), (12, None), (13, 12)])
def test_items_go_from_one_to_the_last(item: int, nearest: int | None) -> None:
    found = trouble(reading(Command(command="item", item=item)), Context(items=12))
    assert (found is None) == (nearest is None)
    if found is not None:
        assert found.nearest == Command(command="item", item=nearest)
        assert found.reason == f"no item {item}: the list has 12"


def test_an_empty_list_has_no_nearest_item() -> None:
    found = trouble(reading(Command(command="item", item=1)), Context(items=0))
    assert found is not None
    assert found.nearest is None


@pytest.mark.parametrize(("build", "nearest"), [(1, None), (2, 1), (4, 5), (5, None), (90, 5)])
def test_a_build_that_is_not_open_is_named_with_the_nearest(build: int, nearest: int | None) -> None:
    found = trouble(reading(Command(command="build", build=build)), Context(builds=(1, 5)))
    assert (found is None) == (nearest is None)
    if found is not None:
        assert found.nearest == Command(command="build", build=nearest)
        assert found.reason == f"no build {build}: there are builds 1, 5"


def test_a_length_finer_than_a_tape_gives_the_nearest_as_it_was_meant() -> None:
    meaning = Callout(insertion=FEET(6, 1, 2))
    part = Span("insertion", FEET(6, 1, 2), 1, 5)
    found = trouble(reading(meaning, Span("angle_deg", 60, 5, 6), part, inexact="insertion"), EVERYTHING)
    assert found is not None
    assert found.nearest == meaning
    assert found.reason.endswith("the nearest is 6 ft 1 1/8 in")


def test_what_the_wide_grammar_holds_against_a_sentence_comes_with_the_word_that_lacks() -> None:
    bare = reading(Callout(angle_deg=52), Span("angle_deg", 52, 2, 4), notes=("hint", "bare angle"))
    found = complaint(bare)
    assert found is complaints()["bare angle"]
    assert found is not None
    assert found.better(bare, ("eleven", "feet", "five", "two")) == ("eleven feet angle five two",)
    assert found.better(reading(Callout()), ("five", "two")) == ()  # the part was not said
    unit = complaints()["no unit"]
    assert (unit.before, unit.part) == (None, None)
    assert unit.better(bare, ("five", "two")) == ()
    assert complaint(reading(Callout(), notes=("twice angle_deg",))) is None


def test_the_limits_of_twins_are_those_of_the_file() -> None:
    row = read_toml(data_folder("grammars") / "twins.toml")["limits"]
    assert twin_limits() == (row["stress"], row["ask"], row["set_aside"])
    assert all(isinstance(limit, float) for limit in twin_limits())
