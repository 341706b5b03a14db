"""The language against tables and libraries that are not ours. The source of each row stands beside it."""

from __future__ import annotations

import csv
import functools
import operator
import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from callout.language.numerals import digit_words, grouped_words
from callout.language.outcome import Ambiguous, NotPossible, NotUnderstood, Understood
from callout.language.parse import parse
from callout.language.resolve import resolve_text
from callout.language.speak import speak_length, speak_number
from callout.language.typed import typed_words
from callout.values import Callout, Command, Length
from tests.outside_units import units

TABLES = Path(__file__).parent / "data" / "radiotelephony"


def table(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_row_has_a_source() -> None:
    for name in ("digits.csv", "figures.csv", "prowords.csv"):
        assert all(row["source"].strip() for row in table(name))


@pytest.mark.parametrize("row", table("digits.csv"), ids=lambda row: row["said"])
def test_radio_digits(row: dict[str, str]) -> None:
    result = resolve_text(f"insertion one {row['said']} feet sixty")
    if row["accepted"] == "yes":
        assert result.meaning == Callout(insertion=Length.imperial(10 + int(row["value"])), angle_deg=60)
    else:
        assert not isinstance(result, Understood)


@pytest.mark.parametrize("row", table("figures.csv"), ids=lambda row: row["said"])
def test_figures_as_they_are_sent(row: dict[str, str]) -> None:
    result = resolve_text(f"insertion {row['said']} inches sixty")
    inches = Length.imperial(0, int(row["number"]))
    if isinstance(result, NotPossible):  # below the foot with which heights begin
        assert inches < Length.imperial(1)
    assert isinstance(result.meaning, Callout)
    assert result.meaning.insertion == inches


@pytest.mark.parametrize("row", table("prowords.csv"), ids=lambda row: row["said"])
def test_prowords(row: dict[str, str]) -> None:
    meaning = resolve_text(row["said"]).meaning
    assert isinstance(meaning, Command)
    assert meaning.command == row["command"]


def test_roger_is_no_yes() -> None:
    """ICAO: ROGER is under no circumstances an answer to a question that wants AFFIRM or NEGATIVE."""
    for words in ("roger", "copy", "wilco"):
        meaning = resolve_text(words).meaning
        assert isinstance(meaning, Command)
        assert meaning.command != "affirm"


def test_number_words_are_those_of_num2words_to_ten_thousand() -> None:
    for n in range(10_001):
        assert list(grouped_words(n)) == re.sub(r"[-,]| and ", " ", num2words(n)).split()
        assert list(digit_words(n)) == [num2words(int(d)) for d in str(n)]


@pytest.mark.parametrize("part", range(1, 16))
@pytest.mark.parametrize("inches", [0, 1, 6, 11])
def test_fractions_are_those_of_the_standard_library(part: int, inches: int) -> None:
    length = Length.imperial(11, inches, part)
    assert length.inches == Fraction(132 + inches) + Fraction(part, 16)
    value = Fraction(part, 16)
    bottom = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}[value.denominator]
    top = num2words(value.numerator)
    for words in speak_length(length):
        assert f"{top} {bottom}" in words


UNHURRIED = settings(deadline=None)  # the first example loads the grammar, on a busy machine


@UNHURRIED
@given(st.integers(1, 39), st.integers(0, 11), st.integers(0, 15))
def test_feet_and_inches_are_those_of_a_units_library(feet: int, inches: int, sixteenths: int) -> None:
    ours = Length.imperial(feet, inches, sixteenths)
    words = speak_length(ours)[1]
    (reading,) = parse(f"insertion {words}".split())
    assert isinstance(reading.meaning, Callout)
    outside = units().Quantity
    theirs = outside(feet, "foot") + outside(inches, "inch") + outside(sixteenths / 16, "inch")
    assert reading.meaning.insertion is not None
    assert float(reading.meaning.insertion.millimetres) == pytest.approx(theirs.to("millimeter").magnitude, rel=1e-12)


@UNHURRIED
@given(st.integers(1000, 12_000))
def test_metres_are_those_of_a_units_library(mm: int) -> None:
    words = speak_length(Length.mm(mm) if mm % 127 else Length.mm(mm + 1))
    for said in words:
        (reading,) = parse(f"insertion {said}".split()) or parse(f"insertion {said}".split(), wide=True)
        assert isinstance(reading.meaning, Callout)
        assert reading.meaning.insertion is not None
        theirs = units().Quantity(mm if mm % 127 else mm + 1, "millimeter").to("inch").magnitude
        assert float(reading.meaning.insertion.inches) == pytest.approx(theirs, rel=1e-12)


@UNHURRIED
@given(st.integers(1, 39), st.integers(1, 11), st.integers(1, 15))
def test_typed_figures_are_the_same_as_spoken_words(feet: int, inches: int, sixteenths: int) -> None:
    fraction = Fraction(sixteenths, 16)
    typed = f"""{feet}' {inches} {fraction.numerator}/{fraction.denominator}" @60"""
    spoken = f"insertion {speak_length(Length.imperial(feet, inches, sixteenths))[0]} six zero"
    assert resolve_text(typed).meaning == resolve_text(spoken).meaning
    assert resolve_text(typed).meaning is not None


def test_figures_become_the_words_of_num2words() -> None:
    for n in (0, 7, 11, 45, 60, 100, 132, 480, 999, 3350):
        assert " ".join(typed_words(str(n)).words) == re.sub(r"[-,]| and ", " ", num2words(n)).replace("  ", " ")


@pytest.mark.parametrize(
    ("said", "inches"),
    [
        # Duckling (facebook/duckling, Distance/EN/Corpus.hs): seven feet ten inches, in several ways
        ("seven feet and ten inches", 94), ("seven feet, ten inches", 94), ("seven feet ten inches", 94),
        # Cases that went wrong in other projects: an inch lost (UnitsNet 72), 3/4 for 5 ft 3/4 (ruby-units 276),
        # 10 for 10 3/8 (traiter 8), a zero inch (blender_cad_transforms 40), LibreCAD 1178's own grammar
        ("sixteen feet one inch", 193), ("5' 3/4\"", Fraction(243, 4)), ("10 3/8 in", Fraction(83, 8)),
        ("4' 0 3/16\"", Fraction(771, 16)), ("11ft6-7/8in", Fraction(1111, 8)),
    ],
)  # fmt: skip
def test_lengths_that_other_projects_had_trouble_with(said: str, inches: int | Fraction) -> None:
    result = resolve_text(f"spacing {said}")
    assert isinstance(result.meaning, Callout)
    assert result.meaning.spacing is not None
    assert result.meaning.spacing.inches == inches


def test_a_number_is_not_strung_together_over_a_unit() -> None:
    """Text-to-number libraries join "eleven sixty" to 1160; here it is no height at all."""
    assert isinstance(resolve_text("insertion eleven sixty"), NotUnderstood)
    assert isinstance(resolve_text("insertion eleven feet and a half"), Ambiguous)


def test_digits_first_then_grouped() -> None:
    """FAA Order 7110.65 2-4-18: "One Seven Thousand, Seventeen Thousand": the same number in both forms."""
    for n in range(100):
        digits, grouped = speak_number(n)
        assert digits == " ".join(num2words(int(d)) for d in str(n))
        assert functools.reduce(operator.add, grouped.split()) == num2words(n).replace("-", "")
