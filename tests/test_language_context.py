"""The same words in different contexts: what was asked, which angles, what reach, which builds; and n-best lists."""

from __future__ import annotations

import pytest

from callout.language import grammar
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import Ambiguous, Hypothesis, Nothing, NotPossible, NotUnderstood, Understood
from callout.language.resolve import resolve, resolve_text
from callout.values import Callout, Command, Length

FEET = Length.imperial
ELEVEN_SIXTY = Callout(insertion=FEET(11), angle_deg=60)


def heard(*lines: tuple[str, float]) -> list[Hypothesis]:
    return [Hypothesis(tuple(words.split()), score) for words, score in lines]


# --- what was asked


@pytest.mark.parametrize(
    ("asked", "said", "meaning"),
    [
        ("insertion", "eleven feet", Callout(insertion=FEET(11))),
        ("insertion", "eleven feet six", Callout(insertion=FEET(11, 6))),
        ("insertion", "one one feet six inches", Callout(insertion=FEET(11, 6))),
        ("insertion", "three point three five metres", Callout(insertion=Length.mm(3350))),
        ("insertion", "eleven feet sixty", ELEVEN_SIXTY),
        ("insertion", "insertion eleven feet sixty", ELEVEN_SIXTY),
        ("insertion", "sixty", Callout(angle_deg=60)),
        ("angle_deg", "sixty", Callout(angle_deg=60)),
        ("angle_deg", "six zero degrees", Callout(angle_deg=60)),
        ("angle_deg", "angle five two", Callout(angle_deg=52)),
        ("angle_deg", "insertion eleven feet", Callout(insertion=FEET(11))),
        ("spacing", "six feet", Callout(spacing=FEET(6))),
        ("rakers", "three", Callout(rakers=3)),
        ("position", "three", Callout(position=3)),
        ("wall_height", "fourteen feet", Callout(wall_height=FEET(14))),
    ],
)
def test_a_bare_answer_is_the_part_that_was_asked_for(asked: str, said: str, meaning: Callout) -> None:
    result = resolve_text(said, Context(state="gather", asked=asked))
    assert isinstance(result, Understood)
    assert result.meaning == meaning


@pytest.mark.parametrize("said", ["eleven", "one one", "six", "thirty"])
def test_a_bare_number_for_a_height_is_asked_again_with_its_unit(said: str) -> None:
    result = resolve_text(said, Context(state="gather", asked="insertion"))
    assert isinstance(result, Ambiguous)
    assert result.ask == "insertion"
    assert any(isinstance(c, Callout) and c.insertion is not None for c in result.candidates)
    assert "feet" in result.reasons[0]


@pytest.mark.parametrize("said", ["fifty", "five zero", "thirty five"])
def test_an_odd_angle_needs_its_word_even_when_the_angle_was_asked_for(said: str) -> None:
    result = resolve_text(said, Context(state="gather", asked="angle_deg"))
    assert isinstance(result, NotUnderstood)
    assert result.missing == ("angle_deg",)
    assert result.nearest == (f"angle {said}",)


def test_without_a_question_a_bare_length_could_be_several_parts() -> None:
    result = resolve_text("eleven feet")
    assert isinstance(result, Ambiguous)
    assert result.ask == "insertion"
    assert set(result.candidates) == {Callout(**{n: FEET(11)}) for n in ("insertion", "spacing", "wall_height")}


# --- what the context allows


def test_a_context_free_reading_has_no_limits_of_practice() -> None:
    result = resolve_text("insertion thirty nine feet angle fifty nine two rakers eight feet six on center")
    assert isinstance(result, Understood)


def test_an_angle_that_is_not_possible_here_is_named_with_the_nearest() -> None:
    result = resolve_text("insertion eleven feet angle fifty", Context(angles=frozenset({45, 60})))
    assert isinstance(result, NotPossible)
    assert result.meaning == Callout(insertion=FEET(11), angle_deg=50)
    assert result.nearest == Callout(insertion=FEET(11), angle_deg=45)
    assert "50" in result.reason


def test_a_height_beyond_the_stock_is_named_with_the_nearest() -> None:
    result = resolve_text("insertion thirty feet sixty", Context(reach=(FEET(4), FEET(20))))
    assert isinstance(result, NotPossible)
    assert result.nearest == Callout(insertion=FEET(20), angle_deg=60)
    assert "30 ft" in result.reason


@pytest.mark.parametrize(
    ("context", "said", "nearest"),
    [
        (Context(items=12), "item four", None),
        (Context(items=12), "item twenty", Command(command="item", item=12)),
        (Context(items=12), "say again item thirteen", Command(command="say_again", item=12)),
        (Context(builds=(1, 3)), "build three", None),
        (Context(builds=(1, 3)), "build five", Command(command="build", build=3)),
        (Context(), "build ninety nine", None),
    ],
)
def test_items_and_builds_that_are_not_there(context: Context, said: str, nearest: Command | None) -> None:
    result = resolve_text(said, context)
    if nearest is None:
        assert isinstance(result, Understood)
    else:
        assert isinstance(result, NotPossible)
        assert result.nearest == nearest


@pytest.mark.parametrize(("said", "nearest"), [("11 ft 6.1 in", "11 ft 6 1/8 in"), ("3.3504 m", "3.35 m")])
def test_a_length_that_no_tape_shows_is_named_with_the_nearest(said: str, nearest: str) -> None:
    result = resolve_text(f"insertion {said} angle 60")
    assert isinstance(result, NotPossible)
    assert result.reason.endswith(f"the nearest is {nearest}")
    assert isinstance(result.nearest, Callout)
    assert str(result.nearest.insertion) == nearest


def test_a_correction_out_of_range_is_not_possible() -> None:
    assert isinstance(resolve_text("correction insertion fifty feet"), NotPossible)


def test_a_word_of_another_state_is_said_to_be_out_of_turn() -> None:
    result = resolve_text("skip", Context(state="idle"))
    assert isinstance(result, NotPossible)
    assert result.meaning == Command(command="skip")
    assert "not expected" in result.reason


# --- several readings of one utterance


def test_the_best_reading_the_context_allows_is_taken_and_the_better_heard_one_named() -> None:
    lines = heard(("insertion eleven feet angle fifty", 0.0), ("insertion eleven feet sixty", -1.5))
    result = resolve(lines, Context(angles=frozenset({45, 60})))
    assert isinstance(result, Understood)
    assert result.meaning == ELEVEN_SIXTY
    assert "insertion eleven feet angle fifty" in result.reasons[0]


def test_a_clear_reading_that_is_not_possible_gives_way_to_no_faint_one() -> None:
    lines = heard(("insertion eleven feet angle fifty", 0.0), ("insertion eleven feet sixty", -20.0))
    assert isinstance(resolve(lines, Context(angles=frozenset({45, 60}))), NotPossible)


def test_a_closing_word_does_not_hide_what_is_not_possible() -> None:
    assert isinstance(resolve(heard(("insertion fifty feet sixty", 0.0), ("thank you", -1.0))), NotPossible)


def test_in_the_open_the_better_heard_one_wins() -> None:
    lines = heard(("insertion eleven feet angle fifty", 0.0), ("insertion eleven feet sixty", -1.5))
    assert resolve(lines).meaning == Callout(insertion=FEET(11), angle_deg=50)


def test_a_sequence_outside_the_language_is_passed_over_and_named() -> None:
    result = resolve(heard(("insertion sixty sixty feet", 0.0), ("insertion eleven feet sixty", -0.5)))
    assert isinstance(result, Understood)
    assert "insertion sixty sixty feet" in result.reasons[0]


def test_a_near_twin_within_reach_is_stressed() -> None:
    result = resolve(heard(("insertion thirteen feet sixty", 0.0), ("insertion thirty feet sixty", -2.0)))
    assert isinstance(result, Understood)
    assert result.stress == ("insertion",)
    assert "i say again" in result.spoken[0]


def test_a_near_twin_heard_as_well_is_asked_for_alone() -> None:
    result = resolve(heard(("insertion fifteen feet sixty", 0.0), ("insertion nine feet sixty", -0.2)))
    assert isinstance(result, Ambiguous)
    assert result.ask == "insertion"
    assert len(result.candidates) == 2


def test_a_far_runner_up_changes_nothing() -> None:
    result = resolve(heard(("insertion thirteen feet sixty", 0.0), ("insertion thirty feet sixty", -9.0)))
    assert isinstance(result, Understood)
    assert result.stress == ()


def test_hypotheses_in_any_order() -> None:
    result = resolve(heard(("insertion thirty feet sixty", -9.0), ("insertion thirteen feet sixty", 0.0)))
    assert result.meaning == Callout(insertion=FEET(13), angle_deg=60)


@pytest.mark.parametrize("lines", [[], [Hypothesis(())], [Hypothesis((), -1.0), Hypothesis((), -2.0)]])
def test_no_words_are_nothing(lines: list[Hypothesis]) -> None:
    assert isinstance(resolve(lines), Nothing)


# --- several callouts in one breath


def test_two_callouts_in_one_breath_are_both_kept() -> None:
    result = resolve_text("insertion eleven feet sixty insertion twelve feet forty five")
    assert isinstance(result, Ambiguous)
    assert result.candidates == (ELEVEN_SIXTY, Callout(insertion=FEET(12), angle_deg=45))
    assert "2 callouts" in result.reasons[0]


def test_the_same_callout_twice_is_one() -> None:
    result = resolve_text("insertion eleven feet sixty insertion eleven feet sixty")
    assert isinstance(result, Understood)
    assert result.meaning == ELEVEN_SIXTY
    assert any("twice" in reason for reason in result.reasons)
    assert [part.name for part in result.parts] == ["insertion", "angle_deg"]


# --- half a callout


def test_half_a_callout_is_understood_and_says_what_is_missing() -> None:
    result = resolve_text("insertion eleven feet")
    assert isinstance(result, Understood)
    assert result.reasons == ("angle not said",)


@pytest.mark.parametrize(
    "context",
    [
        Context(state="confirm", waiting=ELEVEN_SIXTY), Context(state="gather", asked="angle_deg"),
        Context(state="gather"),
    ],
    ids=["a readback waits", "the angle was asked for", "half a callout waits"],
)
def test_where_a_height_is_known_a_length_after_the_rakers_is_their_spacing(context: Context) -> None:
    wanted = Callout(rakers=2, spacing=FEET(8), angle_deg=60)
    assert resolve_text("two rakers at eight feet sixty", context).meaning == wanted
    alone = resolve_text("two rakers at eight feet sixty", Context(state="idle"))
    assert alone.meaning == Callout(rakers=2, insertion=FEET(8), angle_deg=60)


def test_heard_the_height_of_rakers_is_asked_for() -> None:
    """By ear a half may have lost its beginning: nothing is put in its place."""
    result = resolve(heard(("two rakers at eight feet sixty", 1.0)))
    assert result.meaning == Callout(rakers=2, spacing=FEET(8), angle_deg=60)


@pytest.mark.parametrize("state", [s for s in grammar.load().states if s != "digits"])
def test_every_state_hears_the_stop_words(state: str) -> None:
    for word in ("stop", "evacuate", "cease operations", "say again"):
        assert isinstance(resolve_text(word, Context(state=state)), Understood)


def test_a_state_without_callouts_takes_none_by_the_wider_grammar_either() -> None:
    for said in ("insertion eleven feet sixty", "insertion is at eleven feet sixty", "eleven feet sixty"):
        assert isinstance(resolve_text(said, Context(state="digits")), (NotUnderstood, NotPossible))


def test_digit_strings_have_a_state_of_their_own() -> None:
    result = resolve_text("two niner three", Context(state="digits"))
    assert result.meaning == Command(command="digits", part="293", quantity=293)
    leading = resolve_text("zero zero seven", Context(state="digits"))
    assert leading.meaning == Command(command="digits", part="007", quantity=7)
    assert isinstance(resolve_text("two nine three", EVERYTHING), NotUnderstood)
