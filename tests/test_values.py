"""Lengths are exact, and the published shapes of a meaning survive the way out and back."""

from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from callout.values import Callout, Command, Length, meaning_from_json, meaning_json

UNITS = pint.UnitRegistry(non_int_type=Fraction)

TEXTS = [
    (Length.imperial(11), "11 ft"),
    (Length.imperial(11, 6), "11 ft 6 in"),
    (Length.imperial(11, 6, 8), "11 ft 6 1/2 in"),
    (Length.imperial(11, 0, 8), "11 ft 1/2 in"),
    (Length.imperial(0, 6), "6 in"),
    (Length.imperial(0, 0, 3), "3/16 in"),
    (Length(0), "0 in"),
    (-Length.imperial(0, 2), "-2 in"),
    (Length.mm(3350), "3.35 m"),
    (Length.mm(3000), "3 m"),
    (Length.mm(45), "45 mm"),
    (Length.nearest(152.42), "about 12 ft 8 7/16 in"),
]


@pytest.mark.parametrize(("length", "text"), TEXTS)
def test_text_for_the_eye(length: Length, text: str) -> None:
    assert length.text == text


def test_the_unit_holds_both_systems_exactly() -> None:
    # International Yard and Pound agreement, 1959: 1 in = 25.4 mm, exactly.
    assert Length.imperial(0, 1).millimetres == Fraction(254, 10)
    assert Length.imperial(0, 0, 1).eightieths == 127
    assert Length.mm(1).eightieths == 80
    assert Length.mm(127) == Length.imperial(0, 5)


@given(st.integers(0, 100), st.integers(0, 11), st.integers(0, 15))
def test_imperial_against_a_units_library(feet: int, inches: int, sixteenths: int) -> None:
    # Outside reference: pint.
    outside = UNITS.Quantity(Fraction(feet), "foot") + UNITS.Quantity(inches + Fraction(sixteenths, 16), "inch")
    assert Length.imperial(feet, inches, sixteenths).millimetres == outside.to("millimeter").magnitude


@given(st.integers(-10**6, 10**6), st.integers(1, 10**5))
def test_rounding_up_reaches_the_next_whole_step(n: int, step: int) -> None:
    up = Length(n).round_up(Length(step))
    assert up.eightieths % step == 0
    assert Length(n) <= up < Length(n + step)


lengths = st.builds(Length, st.integers(-(10**7), 10**7))
callouts = st.builds(
    Callout,
    insertion=st.none() | lengths,
    angle_deg=st.none() | st.integers(30, 60),
    rakers=st.none() | st.integers(1, 12),
    spacing=st.none() | lengths,
    sole=st.sampled_from([None, "solid", "split"]),
    for_whom=st.none() | st.text(min_size=1),
)


@given(callouts)
def test_a_callout_survives_its_json(callout: Callout) -> None:
    assert meaning_from_json(meaning_json(callout)) == callout


def test_a_command_publishes_six_fields_and_keeps_its_patch_to_itself() -> None:
    command = Command(command="correction", patch=Callout(angle_deg=45))
    assert meaning_json(command) == {
        "command": "correction", "item": None, "build": None, "quantity": None, "part": None, "length": None,
    }  # fmt: skip


def test_merging_replaces_only_what_was_said() -> None:
    first = Callout(insertion=Length.imperial(11), angle_deg=60, rakers=2)
    assert first.merged(Callout(angle_deg=45)) == Callout(insertion=Length.imperial(11), angle_deg=45, rakers=2)
    assert first.merged(Callout(kind="flying_raker")).kind == "flying_raker"


def test_what_is_missing_is_asked_for_in_order() -> None:
    assert Callout().missing == ("insertion", "angle_deg")
    assert Callout(insertion=Length.imperial(11)).missing == ("angle_deg",)
    assert Callout(insertion=Length.imperial(11), angle_deg=60).missing == ()


@pytest.mark.parametrize("shape", [{"kind": "buttress"}, {"insertion": 11}, {"angle": 60}, {"command": None}])
def test_a_wrong_shape_is_refused(shape: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        meaning_from_json(shape)


def test_a_calculated_length_is_the_nearest_eightieth_of_a_millimetre() -> None:
    """One inch is 25.4 mm exactly (international yard and pound agreement, 1959): 2,032 eightieths."""
    assert Length.nearest(0.5).eightieths == 1016
    assert Length.nearest(Fraction(1, 3)).eightieths == 677
    assert (-Length.imperial(1)).eightieths == -24384
    assert Length.imperial(2, 3, 5).eightieths == 2 * 24384 + 3 * 2032 + 5 * 127


def test_the_published_shape_of_a_length() -> None:
    assert Length.imperial(11).to_json() == {"eightieths_mm": 268224, "text": "11 ft"}


@pytest.mark.parametrize(("mm", "text"), [(99, "99 mm"), (100, "0.1 m"), (101, "0.101 m"), (2500, "2.5 m")])
def test_a_hand_and_more_is_said_in_metres(mm: int, text: str) -> None:
    assert Length.mm(mm).text == text
