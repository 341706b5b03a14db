"""Lengths are exact, and the published shapes of a meaning survive the way out and back."""

import json
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import BaseModel, TypeAdapter, ValidationError

from callout.schemas import schema_of
from callout.values import Callout, Command, Length, Meaning, meaning_from_json, meaning_json
from callout.values.length import WrittenLength, written_length
from callout.values.sights import Looked, MarkReading, Seen
from tests.outside_units import units_in_fractions

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


@settings(deadline=None)  # the first example makes the units
@given(st.integers(0, 100), st.integers(0, 11), st.integers(0, 15))
def test_imperial_against_a_units_library(feet: int, inches: int, sixteenths: int) -> None:
    # Outside reference: pint.
    theirs = units_in_fractions().Quantity
    outside = theirs(Fraction(feet), "foot") + theirs(inches + Fraction(sixteenths, 16), "inch")
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


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("11 ft", Length.imperial(11)),
        ("11 ft 6 1/2 in", Length.imperial(11, 6, 8)),
        ("3 1/2 in", Length.imperial(0, 3, 8)),
        ("1/2 in", Length.imperial(0, 0, 8)),
        ("6.5 in", Length.imperial(0, 6, 8)),
        ("-2 in", -Length.imperial(0, 2)),
        (" - 2 in ", -Length.imperial(0, 2)),
        ("3.35 m", Length.mm(3350)),
        ("2 m 50 cm", Length.mm(2500)),
        ("12 cm 5 mm", Length.mm(125)),
        ("90mm", Length.mm(90)),
        ("0 in", Length(0)),
        ("1/2 ft", Length.imperial(0, 6)),
    ],
)
def test_a_length_in_a_data_file(text: str, length: Length) -> None:
    assert written_length(text) == length


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "an empty length"), ("   ", "an empty length"), ("-", "an empty length"), ("11", "is not a length"),
        ("ft", "is not a length"), ("6 in 11 ft", "is not a length"), ("6 in 7 in", "is not a length"),
        ("11 ft and", "is not a length"), ("6 inches", "is not a length"), ("1/0 in", "divides by zero"),
        ("1/3 in", "is finer than"), ("0.001 mm", "is finer than"),
    ],
)  # fmt: skip
def test_what_is_no_length_in_a_data_file_is_told(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why) as told:
        written_length(text)
    if text.strip(" -"):
        assert repr(text) in str(told.value)


@given(st.integers(-(10**6), 10**6))
def test_every_text_of_a_length_is_read_back(sixteenths: int) -> None:
    length = Length(127 * sixteenths)
    assert written_length(length.text) == length
    assert written_length(Length.mm(sixteenths).text) == Length.mm(sixteenths)


class Shelf(BaseModel):
    depth: WrittenLength


def test_a_field_of_a_data_file_takes_a_length_as_text() -> None:
    assert Shelf(depth="3 1/2 in").depth == Length.imperial(0, 3, 8)  # type: ignore[arg-type]
    assert Shelf(depth=Length.mm(5)).depth == Length.mm(5)
    with pytest.raises(ValidationError, match="is not a length"):
        Shelf(depth="deep")  # type: ignore[arg-type]
    shown = Shelf.model_json_schema()["properties"]["depth"]
    assert shown["type"] == "string"
    assert all(written_length(example) for example in shown["examples"])


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("kind", ("raker", "flying_raker", "t", "double_t", "laced_post", "cribbing", "vertical_post", "horizontal",
                  "window", "door")),
        ("sole", ("solid", "split")),
        ("ground", ("soil", "pavement")),
    ],
)  # fmt: skip
def test_the_published_names_are_these_and_no_others(name: str, values: tuple[str, ...]) -> None:
    """A name that leaves the program as JSON is changed only with a new version of the schema."""
    for value in values:
        assert getattr(meaning_from_json({name: value}), name) == value
        for wrong in (value.upper(), f"{value}s"):
            with pytest.raises(ValidationError):
                meaning_from_json({name: wrong})


WHOLE_CALLOUT = Callout(
    kind="flying_raker", sole="split", insertion=Length.imperial(11), angle_deg=60, rakers=2,
    span=Length.imperial(3), spacing=Length.imperial(8), wall_height=Length.imperial(14),
    wall_thickness=Length.imperial(1),
    lean=Length.imperial(0, 2), ground="soil", position=3, place="east wall", for_whom="alpha",
)  # fmt: skip


def test_what_was_said_is_told_in_the_order_of_the_readback() -> None:
    assert list(WHOLE_CALLOUT.said) == [
        "kind", "sole", "insertion", "span", "angle_deg", "rakers", "spacing", "wall_height", "wall_thickness",
        "lean", "ground", "position", "place", "for_whom",
    ]  # fmt: skip
    assert Callout().said == {}
    assert Callout(insertion=Length(0)).said == {"insertion": Length(0)}
    assert list(Callout(rakers=1, kind="t").said) == ["kind", "rakers"]


#: Fields that came after the shape was first published.
LATER = {"place", "span", "have", "seen", "look", "phrase"}
MEASURED = Looked(readings=(MarkReading(mark="crack", kind="crack", value=Length.imperial(0, 1)),), tight=True)


@pytest.mark.parametrize(
    "meaning",
    [
        Callout(), WHOLE_CALLOUT, Command(command="status"), Command(command="short", item=2, quantity=1, have=3),
        Command(command="size_up", seen=Seen(wall="brick", lean=Length.imperial(0, 2))),
        Command(command="look", build=1, look=MEASURED),
        Command(command="teach", part="ready", phrase="fetch it"), Command(command="move", length=Length.imperial(6)),
    ],
    ids=str,
)  # fmt: skip
def test_what_leaves_the_program_is_plain_json_as_its_schema_says_and_comes_back(meaning: Meaning) -> None:
    """Outside reference: the validator of the package jsonschema. Other programs read a callout by that schema: what
    came later is there only when it was said."""
    shape = meaning_json(meaning)
    assert shape is not None
    assert json.loads(json.dumps(shape)) == shape
    assert meaning_from_json(shape) == meaning
    assert {name for name in LATER & set(shape) if shape[name] is None} == set()
    published = schema_of("heard")
    name = "Callout" if isinstance(meaning, Callout) else "PublishedCommand"
    assert published["$defs"][name]["additionalProperties"] is False
    Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": published["$defs"]}).validate(shape)


def test_a_meaning_that_nobody_said_is_none() -> None:
    assert meaning_json(None) is None
    assert meaning_from_json(None) is None


def test_the_published_shape_of_a_length_is_a_whole_number_and_its_words() -> None:
    """Outside reference: the validator of the package jsonschema."""
    shape = TypeAdapter(Length).json_schema(mode="serialization")
    length = Draft202012Validator(shape)
    assert length.is_valid(Length.imperial(11).to_json())
    assert not length.is_valid({"eightieths_mm": 1.5, "text": "11 ft"})
    assert not length.is_valid({"eightieths_mm": 1, "text": 11})
    assert not length.is_valid({"text": "11 ft"})
    assert "examples" not in Shelf.model_json_schema(mode="serialization")["properties"]["depth"]


@pytest.mark.parametrize(
    "shape",
    [
        {"insertion": {"eightieths_mm": "11"}}, {"insertion": {"eightieths_mm": 1.5}}, {"insertion": {"text": "11 ft"}},
        {"insertion": {"eightieths_mm": 1, "feet": 1}}, {"insertion": "11 ft"}, {"insertion": {}},
    ],
)  # fmt: skip
def test_a_length_in_json_counts_by_its_integer_alone(shape: dict[str, object]) -> None:
    if shape == {"insertion": {"eightieths_mm": 1, "feet": 1}}:
        assert meaning_from_json(shape) == Callout(insertion=Length(1))  # what it does not know it leaves
        return
    with pytest.raises(ValidationError):
        meaning_from_json(shape)


def test_values_do_not_change() -> None:
    with pytest.raises(ValidationError):
        Callout().rakers = 2  # type: ignore[misc]
    with pytest.raises(ValidationError):
        Command(command="affirm").command = "negative"  # type: ignore[misc]
    with pytest.raises(ValidationError):
        Command(command="affirm", wish=1)  # type: ignore[call-arg]


def test_lengths_add_and_scale_exactly() -> None:
    a, b = Length.imperial(2, 3), Length.mm(7)
    assert (a + b).eightieths == 27 * 2032 + 560
    assert (a - b).eightieths == 27 * 2032 - 560
    assert (a * 3, 3 * a) == (Length.imperial(6, 9), Length.imperial(6, 9))
    assert Length(1)
    assert not Length(0)
    assert (-Length.mm(45)).text == "-45 mm"
    assert str(a) == a.text == "2 ft 3 in"
    assert a.inches == 27
    assert Length.mm(3350).text_in_feet == "10 ft 11 7/8 in"  # 3350 / 25.4 = 131.89 in
    assert (-Length.mm(3350)).text_in_feet == "-10 ft 11 7/8 in"
    assert Length.imperial(11).text_in_metres == "3.353 m"  # 11 x 304.8 mm
    assert (-Length.imperial(11)).text_in_metres == "-3.353 m"
    assert Length(127).round_up(Length(127)) == Length(127)
    assert Length(128).round_up(Length(127)) == Length(254)


def test_nothing_is_below_nothing() -> None:
    """A zero has no sign; common notation, no source."""
    assert Length.imperial() == Length(0)
    assert "-" not in Length(0).text_in_feet + Length(0).text_in_metres
