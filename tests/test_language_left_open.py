"""What may deny, count, or be of another part than the one it was read as is asked for, and not taken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from callout.language.context import Context
from callout.language.outcome import Ambiguous, NotUnderstood, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, Length
from tests.people_talk import WAITING, context

SPACED = WAITING.model_copy(update={"rakers": 2, "spacing": Length.imperial(8)})


def waits(callout: Callout = WAITING) -> Context:
    return replace(context("confirm"), waiting=callout)


@pytest.mark.parametrize(("said", "asked"), [
    ("insertion ten feet sixty no flying raker", "kind"), ("insertion ten feet sixty no split sole", "sole"),
    ("insertion ten feet sixty no soil", "ground"),
])  # fmt: skip
def test_no_before_a_part_wants_none(said: str, asked: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == asked


@pytest.mark.parametrize("said", ["no pavement", "no flying raker, solid sole", "no solid sole"])
def test_no_before_a_part_denies_it_in_a_correction(said: str) -> None:
    assert isinstance(resolve_text(said, waits()), Ambiguous)


@pytest.mark.parametrize("said", ["no, solid sole", "no no solid sole", "negative, solid sole"])
def test_no_by_itself_corrects(said: str) -> None:
    result = resolve_text(said, waits())
    assert isinstance(result, Understood), result
    assert result.meaning.patch == Callout(sole="solid")


def test_no_before_another_sole_than_waits_corrects_to_it() -> None:
    result = resolve_text("no solid sole", waits(WAITING.model_copy(update={"sole": "split"})))
    assert isinstance(result, Understood), result
    assert result.meaning.patch == Callout(sole="solid")


@pytest.mark.parametrize(("said", "meant"), [
    ("insertion ten feet sixty, split sole, no, solid sole", {"sole": "solid", "insertion": Length.imperial(10)}),
    ("insertion eleven no twelve feet sixty", {"insertion": Length.imperial(12)}),
    ("insertion sixty no forty five eleven feet", {"angle_deg": 45, "insertion": Length.imperial(11)}),
])  # fmt: skip
def test_a_value_taken_back_is_corrected(said: str, meant: dict[str, object]) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert meant.items() <= result.meaning.said.items()


@pytest.mark.parametrize("said", [
    "insertion eleven feet sixty each side", "insertion eleven feet sixty both sides",
    "one more raker insertion eleven feet sixty",
])  # fmt: skip
def test_how_many_there_are_in_all_is_asked_for(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "rakers"


@pytest.mark.parametrize("said", ["take one raker off", "correction one raker each side", "one more raker"])
def test_a_change_of_the_number_is_no_number(said: str) -> None:
    result = resolve_text(said, waits(SPACED.model_copy(update={"rakers": 3})))
    assert not isinstance(result, Understood) or getattr(result.meaning, "patch", None) is None, result
    assert not isinstance(getattr(result, "meaning", None), Callout) or isinstance(result, Ambiguous)


@pytest.mark.parametrize("said", ["make it three", "I said three", "no, two", "change it to three", "sorry, three"])
def test_a_small_number_alone_may_count(said: str) -> None:
    assert isinstance(resolve_text(said, waits()), (Ambiguous, NotUnderstood))


@pytest.mark.parametrize(("said", "feet"), [("make it three feet", 3), ("make it thirteen", 13), ("I said four", 4),
                                            ("twelve feet not fifteen", 12)])  # fmt: skip
def test_a_number_of_the_height_corrects_it(said: str, feet: int) -> None:
    result = resolve_text(said, waits())
    assert isinstance(result, Understood), result
    assert result.meaning.patch == Callout(insertion=Length.imperial(feet))


@pytest.mark.parametrize("said", ["six feet not eight", "make them six feet"])
def test_what_may_be_of_the_spacing_is_asked_for(said: str) -> None:
    result = resolve_text(said, waits(SPACED))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "spacing"


def test_a_denied_number_that_was_not_read_back_is_asked_for_beside_a_spacing() -> None:
    assert isinstance(resolve_text("six feet not ten", waits(SPACED)), Ambiguous)
    assert isinstance(resolve_text("six feet not ten", waits()), Understood)


#: What is said -> the beginning of the reason.
TOLD = {
    "dead shore eight foot": "no kind of shore", "dead shore eight foot sixty": "no kind of shore",
    "insertion eleven feet two and change sixty": "nearly",
}  # fmt: skip


@pytest.mark.parametrize("said", TOLD)
def test_what_is_no_kind_and_no_measure_is_told(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, NotUnderstood), result
    assert result.reasons[0].startswith(TOLD[said])


@pytest.mark.parametrize("said", ["logistics, entry three, raker, one three decimal five feet, sixty degrees, out",
                                  "entry three raker insertion thirteen foot six sixty"])  # fmt: skip
def test_the_number_of_an_entry_team_counts_no_rakers(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning == Callout(insertion=Length.imperial(13, 6), angle_deg=60)
