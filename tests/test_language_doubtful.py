"""A number that may be something else is never taken in silence: "I need two eight feet" is no 28 feet unasked, and
"nearly eleven feet" no eleven."""

from __future__ import annotations

import pytest

from callout.language import grammar
from callout.language.outcome import Ambiguous, Hypothesis, NotUnderstood, Understood
from callout.language.resolve import resolve, resolve_text
from callout.values import Callout, Length
from tests.people_talk import context

ASKED = [
    "i need two eight feet sixty", "need one eight feet sixty", "give me one eight feet at sixty",
    "just the one seven foot nine at forty five", "it's a flying one eight feet six inches forty five degrees",
    "build one eight feet sixty", "the solid sole one eight feet sixty", "another one eight feet six sixty",
    "next one nine feet sixty", "the big one nine feet sixty", "also one nine feet forty five",
    "raker one eight feet sixty", "raker one nine foot sixty", "wall one nine feet sixty",
    "bravo side two nine feet sixty",
    "send two nine foot sixty", "order two nine feet sixty", "two nine foot rakers at sixty",
    "insertion is two nine foot shores at sixty", "engine twenty one feet sixty", "engine two nine feet sixty",
]  # fmt: skip
FIGURES = [
    ("insertion one eight feet sixty", Length.imperial(18)), ("raker eighteen feet sixty", Length.imperial(18)),
    ("insertion one nine feet six zero", Length.imperial(19)), ("two nine feet sixty", Length.imperial(29)),
    ("insertion two nine feet angle six zero", Length.imperial(29)),
    ("height two nine feet sixty", Length.imperial(29)),
    ("raker insertion one one feet sixty", Length.imperial(11)), ("raker, one nine feet, sixty", Length.imperial(19)),
    ("raker one one feet sixty", Length.imperial(11)),
    ("raker on the north side one one feet sixty", Length.imperial(11)),
    ("three solid sole rakers one two feet six zero degrees spaced eight feet", Length.imperial(12)),
    ("engine two eleven feet sixty", Length.imperial(11)),
    ("the insertion is one eight feet", Length.imperial(18)), ("split sole one eight feet sixty", Length.imperial(18)),
    ("i need two rakers at one eight feet sixty", Length.imperial(18)),
    ("need eighteen feet sixty", Length.imperial(18)),
]  # fmt: skip


@pytest.mark.parametrize("state", ["idle", "confirm"])
@pytest.mark.parametrize("said", ASKED)
def test_what_may_be_a_count_is_asked_for(said: str, state: str) -> None:
    result = resolve_text(said, context(state))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "insertion"


@pytest.mark.parametrize(("said", "length"), FIGURES)
def test_figures_after_a_name_are_figures(said: str, length: Length) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning.insertion == length


#: What is typed -> the part that is asked for, because the number of one thing would go on past the mark.
PARTED = {
    "insertion one, nine feet, sixty": "insertion", "insertion two, nine feet, sixty": "insertion",
    "insertion: two. nine feet. sixty.": "insertion", "insertion three, two feet six, forty five": "insertion",
    "insertion 2, 9 feet, 60": "insertion", "insertion two - nine feet - sixty": "insertion",
    "next one, two feet, sixty": "insertion", "raker two, nine feet, sixty": "insertion",
    "wall two, nine feet, sixty": "insertion", "at two, nine feet sixty": "insertion",
    "for two, nine feet sixty": "insertion", "one, nine feet, sixty": "insertion",
    "rakers three, six feet, sixty": "insertion",
    "insertion twelve feet sixty, two rakers, make it three, eight feet on center": "spacing",
    "pocket three, raker, one three decimal five feet, sixty degrees": "rakers",
}  # fmt: skip


@pytest.mark.parametrize("said", PARTED)
def test_no_number_goes_on_past_a_comma(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == PARTED[said]


@pytest.mark.parametrize(("said", "height", "angle"), [
    ("insertion, eleven feet, six inches, sixty", Length.imperial(11, 6), 60),
    ("insertion point, eleven feet, sixty", Length.imperial(11), 60),
    ("insertion twenty-one feet, forty-five degrees", Length.imperial(21), 45),
    ("11' 6\", 60", Length.imperial(11, 6), 60), ("thirteen, one three feet, sixty", Length.imperial(13), 60),
    ("insertion 11.5 ft. 60 deg.", Length.imperial(11, 6), 60),
])  # fmt: skip
def test_a_comma_between_two_things_changes_nothing(said: str, height: Length, angle: int) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert (result.meaning.insertion, result.meaning.angle_deg) == (height, angle)


@pytest.mark.parametrize("said", ["for two, nine feet", "rakers three, six feet", "two nine feet apart",
                                  "two, nine feet apart", "three six feet apart",
                                  "three, eight foot centers"])  # fmt: skip
def test_a_count_joins_no_length_in_a_correction(said: str) -> None:
    assert isinstance(resolve_text(said, context("confirm")), Ambiguous)


@pytest.mark.parametrize(("said", "asked"), [
    ("insertion eleven feet sixty three eight foot centers", "spacing"),
    ("insertion eleven feet thirty six feet on center", "spacing"),
    ("insertion eleven feet sixty two inch lean", "lean"), ("insertion twelve foot six rakers sixty", "rakers"),
])  # fmt: skip
def test_a_number_of_two_parts_is_asked_for(said: str, asked: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == asked


#: What is said -> the beginning of the reason.
TOLD = {
    "just shy of eleven feet at sixty": "nearly", "nearly eleven feet at sixty": "nearly",
    "up to eleven feet at sixty": "nearly", "raker past eleven feet at sixty": "nearly",
    "probably eleven feet at sixty": "nearly", "raker eleven feet max at sixty": "nearly",
    "eleven feet two blokes here angle sixty": "the last number",
    "i measured eleven feet two days ago angle sixty": "the last number",
}  # fmt: skip
UNCOUNTED = ["several rakers at eleven feet sixty", "a dozen rakers at eleven feet sixty",
             "i need some rakers at eleven feet sixty"]  # fmt: skip


@pytest.mark.parametrize("said", UNCOUNTED)
def test_rakers_without_a_number_lack_that_alone(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "rakers"
    assert result.reasons[0].startswith("how many")


@pytest.mark.parametrize("said", TOLD)
def test_what_is_doubtful_is_told_and_not_taken(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, NotUnderstood), result
    assert result.reasons[0].startswith(TOLD[said])


@pytest.mark.parametrize(
    "said", ["raker eleven feet out from the wall sixty", "eleven feet along the wall sixty degrees"]
)
def test_what_is_measured_on_the_ground_is_no_height(said: str) -> None:
    assert not isinstance(resolve_text(said, context("idle")), Understood)


@pytest.mark.parametrize("said", ["larkfield rescue two rakers insertion three metres angle sixty",
                                  "engine four solid sole rakers eleven feet sixty"])  # fmt: skip
def test_a_number_between_a_callsign_and_the_rakers_is_asked_for(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "rakers"


@pytest.mark.parametrize(
    "said", ["team two flying raker insertion one one feet sixty", "team two raker insertion one one feet sixty"]
)
def test_a_callsign_before_one_raker_keeps_its_number(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning.insertion == Length.imperial(11)


@pytest.mark.parametrize(
    "called",
    ["echo five", "staging this is echo five", "echo five to staging", "staging from alpha two", "zulu nine here"],
)
def test_a_letter_and_a_figure_are_a_callsign(called: str) -> None:
    result = resolve_text(f"{called} insertion one one feet sixty over", context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning == Callout(insertion=Length.imperial(11), angle_deg=60)


def test_a_letter_before_a_count_is_no_callsign() -> None:
    result = resolve_text("side alpha two rakers eleven feet sixty", context("idle"))
    assert not isinstance(result, Understood) or result.meaning.rakers == 2


def test_before_a_correction_nearly_is_no_bound() -> None:
    result = resolve_text("nearly it's fifteen foot one", context("confirm"))
    assert isinstance(result, Understood), result
    assert result.meaning.patch == Callout(insertion=Length.imperial(15, 1))


def test_two_lengths_in_one_breath_are_no_feet_and_inches() -> None:
    result = resolve_text("two rakers at eleven feet eight on centre sixty", context("idle"))
    assert isinstance(result, Ambiguous), result
    assert result.ask == "spacing"


@pytest.mark.parametrize(
    ("said", "length"),
    [("raker above the door eleven feet sixty degrees", Length.imperial(11)),
     ("raker over there eleven feet sixty degrees", Length.imperial(11)),
     ("two rakers eight feet six on centre insertion eleven feet sixty", Length.imperial(11))],
)  # fmt: skip
def test_words_that_are_no_bound_change_nothing(said: str, length: Length) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning.insertion == length


@pytest.mark.parametrize(
    "said", ["team two is ready", "got a few of them", "we got some here", "that's all we have"]
)
def test_what_is_not_all_of_an_item_or_of_somebody_else_books_nothing(said: str) -> None:
    """In the walk "ready" books the item, and "all picked" asks to book the rest."""
    result = resolve_text(said, context("walk"))
    meant = result.meaning.command if isinstance(result, Understood) else ""
    assert meant not in ("ready", "next", "all_picked", "stands")


@pytest.mark.parametrize("said", ["insertion eleven feet sixty", "two rakers insertion eleven feet sixty", "affirm"])
def test_what_is_heard_reads_nothing_in_that_is_only_typed(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The callsigns come with the wide rules: to read those takes half a second, of the first readback of a shift."""
    def read_in(self: grammar.Grammar) -> None:
        raise AssertionError("the callsigns were asked for")

    monkeypatch.setattr(grammar.Grammar, "crew_words", property(read_in))
    assert isinstance(resolve([Hypothesis(tuple(said.split()), 0.0)]), Understood)


def test_what_is_denied_before_a_comma_joins_nothing_after_it() -> None:
    result = resolve_text("not thirty, thirteen", context("confirm"))
    assert isinstance(result, Understood), result
    assert result.meaning.patch == Callout(insertion=Length.imperial(13))  # type: ignore[union-attr]
