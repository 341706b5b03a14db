"""Callouts in people's own words: no number without a place, nothing left out in silence, nothing out of other talk."""

from __future__ import annotations

import random

import pytest

from callout.files import read_toml
from callout.language.context import Context
from callout.language.numerals import NUMBER_WORDS, grouped_words
from callout.language.outcome import Hypothesis, NotUnderstood, Understood
from callout.language.resolve import resolve, resolve_text
from callout.values import Callout, Command, Length
from tests.how_much import blocks
from tests.people_talk import PEOPLE, context

WAITING = Context(state="confirm", waiting=Callout(insertion=Length.imperial(11), angle_deg=60))

HEIGHTS = {"ten feet": Length.imperial(10), "ten foot three inches": Length.imperial(10, 3),
           "nine and a half feet": Length.imperial(9, 6), "two metre seventy": Length.mm(2700),
           "three point two metres": Length.mm(3200), "two hundred and forty centimetres": Length.mm(2400)}  # fmt: skip
PARTS = {"rakers": ("two rakers", 2), "sole": ("split sole", "split"), "place": ("north wall", "north wall"),
         "spacing": ("on eight foot centers", Length.imperial(8))}  # fmt: skip


@pytest.mark.parametrize("seed", blocks(60, 200))
def test_parts_in_any_order_between_words_that_say_nothing(seed: int) -> None:
    rng = random.Random(seed)
    height, length = rng.choice(list(HEIGHTS.items()))
    named = rng.sample(list(PARTS), rng.randint(0, 3))
    chunks = [f"insertion point {height}", "sixty degrees", *(PARTS[name][0] for name in named)]
    rng.shuffle(chunks)
    between = rng.choice(["okay", "uh", "please", "we want", "with"])
    result = resolve_text(f"hey {f' {between} '.join(chunks)} please")
    assert isinstance(result, Understood), result
    assert result.meaning == Callout(
        insertion=length, angle_deg=60, **{name: PARTS[name][1] for name in named}  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("extra", [n for n in range(2, 100) if n not in (30, 45, 60)])
def test_a_number_without_a_place_leaves_no_callout(extra: int) -> None:
    said = f"we need the flying raker ten feet up at sixty degrees {' '.join(grouped_words(extra))} okay"
    result = resolve_text(said)
    assert not isinstance(result, Understood) or not isinstance(result.meaning, Callout)


def test_what_was_taken_out_between_two_figures_never_joins_them() -> None:
    """"Twenty, the, five feet" is not 25 feet."""
    result = resolve_text("raker at twenty the five feet sixty degrees")
    assert not isinstance(result, Understood)


def test_what_is_left_out_is_told() -> None:
    result = resolve_text("raker ten feet sixty degrees gorgeous weather")
    assert isinstance(result, Understood)
    assert result.reasons[-1] == "left out: gorgeous, weather"


def test_many_unknown_words_are_talk() -> None:
    said = "raker ten feet sixty degrees gorgeous weather somebody brings sandwiches tomorrow morning"
    assert isinstance(resolve_text(said), NotUnderstood)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("raker ten feet forty five with a twelve foot wall plate", "the tool chooses the wall plate"),
        ("twelve feet sixty degrees figure about five thousand pounds on it", "a load is no part of a callout"),
        ("need a box crib under the slab two by two", "the size of the timber"),
    ],
)
def test_what_is_no_part_of_a_callout_is_told_with_the_reason(said: str, why: str) -> None:
    result = resolve_text(said)
    assert isinstance(result, NotUnderstood)
    assert result.reasons[0].startswith(why)


@pytest.mark.parametrize("word", ["not", "or", "if", "was", "done", "cancel", "what", "without", "forget", "never"])
def test_words_that_turn_a_meaning_round_leave_no_callout(word: str) -> None:
    for said in (f"{word} the flying raker ten feet up sixty degrees", f"the flying raker ten feet up sixty {word}"):
        result = resolve_text(said)
        assert not isinstance(result, Understood) or not isinstance(result.meaning, Callout), said


def test_a_correction_needs_something_that_says_so() -> None:
    """With a readback waiting, a part alone is taken where every word of it is known; with unknown words it is talk."""
    result = resolve_text("wait make it a pair eight foot spacing", WAITING)
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Command)
    assert result.meaning.patch == Callout(rakers=2, spacing=Length.imperial(8))
    talk = resolve_text("the road is closed on the east side", WAITING)
    assert not isinstance(talk, Understood)


def test_every_number_word_is_a_word_of_the_grammar() -> None:
    """Else a number could be left out as an unknown word."""
    from callout.language import grammar

    assert grammar.load().free_words >= NUMBER_WORDS - {"oh", "zero"}


def test_the_words_of_a_callout_in_peoples_own_words_are_all_that_lead_anywhere() -> None:
    from callout.language import grammar

    arcs = grammar.load().free_network.complete().words
    assert grammar.load().free_words == {word for found in arcs for word, _ in found}


def test_the_end_of_a_figure_and_the_next_are_two_where_they_make_no_number() -> None:
    """"Forty five, eight foot" can be no number; "forty, five rakers" can."""
    result = resolve_text("gimme a pair of solid sole rakers, ten foot insertion, forty five, eight foot spacing")
    assert isinstance(result, Understood)
    assert result.meaning == Callout(
        insertion=Length.imperial(10), angle_deg=45, rakers=2, spacing=Length.imperial(8), sole="solid"
    )


@pytest.mark.parametrize(
    ("said", "patch"),
    [
        ("it's the west wall not the east wall", Callout(place="west wall")),
        ("that's a split sole not a solid sole", Callout(sole="split")),
        ("no no, split sole, the ground is dirt here", Callout(sole="split", ground="soil")),
    ],
)
def test_a_correction_that_says_what_is_wrong(said: str, patch: Callout) -> None:
    result = resolve_text(said, WAITING)
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Command)
    assert result.meaning.patch == patch


def test_not_and_nothing_that_it_stands_against_corrects_nothing() -> None:
    assert not isinstance(resolve_text("the west wall not today", WAITING), Understood)


@pytest.mark.parametrize("said", ["get out now, the wall is moving", "cease operations, all quiet please everyone"])
def test_a_stop_word_is_taken_whatever_follows(said: str) -> None:
    result = resolve_text(said, Context(state="walk"))
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Command)
    assert result.meaning.command in ("evacuate", "cease_operations")


@pytest.mark.parametrize("crew", ["team two", "battalion two", "task force alpha"])
def test_who_it_is_for_is_never_left_out_in_silence(crew: str) -> None:
    result = resolve_text(f"okay need a raker ten feet up sixty degrees for {crew}")
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Callout)
    assert result.meaning.for_whom == crew


METRIC = Context(state="confirm", waiting=Callout(insertion=Length.mm(3000), angle_deg=60, rakers=2))


@pytest.mark.parametrize(
    ("said", "patch"),
    [
        ("not three metres two point nine", Callout(insertion=Length.mm(2900))),
        ("spacing's six foot not eight", Callout(spacing=Length.imperial(6))),
        ("six feet apart not eight", Callout(spacing=Length.imperial(6))),
        ("east wall not west", Callout(place="east wall")),
        ("not solid sole, flying", Callout(kind="flying_raker")),
        ("we need split soles not solid", Callout(sole="split")),
        ("you said fifteen it's fourteen feet", Callout(insertion=Length.imperial(14))),
        ("hang on i misread the tape it's thirteen and a half feet", Callout(insertion=Length.imperial(13, 6))),
        ("the angle's off it's forty five", Callout(angle_deg=45)),
        ("start again twelve feet forty five degrees", Callout(insertion=Length.imperial(12), angle_deg=45)),
        ("i need three not two", Callout(rakers=3)),
    ],
)
def test_what_is_denied_is_another_value_of_a_part_said(said: str, patch: Callout) -> None:
    result = resolve_text(said, METRIC)
    assert isinstance(result, Understood), result
    meaning = result.meaning
    assert (meaning.patch if isinstance(meaning, Command) else meaning) == patch


@pytest.mark.parametrize(
    "said",
    [
        "east wall not east", "not eleven feet thirty", "not twelve feet", "not forty five sixty feet",
        "i need five not four", "not the east wall",
    ],
)  # fmt: skip
def test_what_is_denied_and_is_no_other_value_corrects_nothing(said: str) -> None:
    result = resolve_text(said, METRIC)
    assert not isinstance(result, Understood), result


# --- other talk with figures in it, and callouts that leave something open (tests/data/people/talk_with_figures.toml)

FIGURES = read_toml(PEOPLE / "talk_with_figures.toml")


def is_taken(said: str, state: str) -> bool:
    """Whether words are taken for a callout or a correction."""
    result = resolve_text(said, context(state))
    meaning = result.meaning if isinstance(result, Understood) else None
    return isinstance(meaning, Callout) or (meaning is not None and meaning.patch is not None)


@pytest.mark.parametrize(
    ("rows", "states"),
    [
        ("talk", ("idle", "confirm")), pytest.param("talk", ("gather", "walk"), marks=pytest.mark.slow),
        ("talk_where_nothing_waits", ("idle", "walk")),
        ("open", ("idle", "walk")), ("open_corrections", ("confirm",)),
    ],
)  # fmt: skip
def test_other_talk_with_figures_and_what_is_left_open_are_not_taken(rows: str, states: tuple[str, ...]) -> None:
    assert sum(len(FIGURES[name]) for name in FIGURES) >= 200
    taken = [(said, state) for said in FIGURES[rows] for state in states if is_taken(said, state)]
    assert not taken


# --- a height and an angle alone


@pytest.mark.parametrize("said", ["eleven feet sixty", "twelve foot forty five", "two point four metres at sixty"])
def test_a_height_and_an_angle_alone_are_a_callout_where_nothing_is_going_on(said: str) -> None:
    """Typed and idle. Heard, in the walk, or as an answer to a question, the height needs its name."""
    assert is_taken(said, "idle")
    assert not isinstance(resolve([Hypothesis(tuple(said.split()))]), Understood)
    assert not is_taken("eleven feet sixty", "walk")


# --- what a speaker mends in the same breath


@pytest.mark.parametrize(
    ("said", "height", "angle"),
    [
        ("ten no eleven foot sorry eleven on the forty five", Length.imperial(11), 45),
        ("seven feet that's seven and go with thirty", Length.imperial(7), 30),
        ("fourteen feet one four sixty degrees six zero", Length.imperial(14), 60),
        ("alpha side ten foot no wait ten and a half feet sixty degrees", Length.imperial(10, 6), 60),
        ("sixty degrees no wait forty five eleven foot six", Length.imperial(11, 6), 45),
        ("raker fourteen at sixty degrees feet that is", Length.imperial(14), 60),
        ("three point three at forty five metres i mean", Length.mm(3300), 45),
        ("it is metres three point two at sixty", Length.mm(3200), 60),
        ("eighteen hundred mil at forty five", Length.mm(1800), 45),
        ("nineteen fifty mil forty five degrees", Length.mm(1950), 45),
        ("hundred and twenty inches up sixty degrees", Length.imperial(10), 60),
        ("nine nine foot at sixty", Length.imperial(9), 60),
        ("nine metres no sorry nine feet at sixty", Length.imperial(9), 60),
        ("an eleven footer at sixty", Length.imperial(11), 60),
        ("eleven six up at sixty", Length.imperial(11, 6), 60),
        ("fourteen at sixty", Length.imperial(14), 60),
    ],
)
def test_one_value_is_left_of_each_part(said: str, height: Length, angle: int) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert (result.meaning.insertion, result.meaning.angle_deg) == (height, angle)


@pytest.mark.parametrize(
    ("said", "spacing"),
    [
        ("solid sole pair thirteen feet sixty degrees with eight between", Length.imperial(8)),
        ("three rakers three point six metres at sixty one point eight apart", Length.mm(1800)),
        ("two rakers eleven feet sixty seven foot six apart", Length.imperial(7, 6)),
        ("a solid sole raker pair twelve feet at sixty eight foot apart", Length.imperial(8)),
    ],
)
def test_a_distance_without_a_unit_has_that_of_the_height(said: str, spacing: Length) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert result.meaning.spacing == spacing


@pytest.mark.parametrize(
    ("said", "patch"),
    [
        ("you dropped the six inches it's eleven six", Callout(insertion=Length.imperial(11, 6))),
        ("thirteen not thirty thirteen feet", Callout(insertion=Length.imperial(13))),
        ("height's fine angle's wrong it's forty five", Callout(angle_deg=45)),
        ("it was a flying raker i asked for", Callout(kind="flying_raker")),
        ("it's thirteen we're after not thirty", Callout(insertion=Length.imperial(13))),
        ("fifteen six not fifteen", Callout(insertion=Length.imperial(15, 6))),
        ("negative it's thirteen one three", Callout(insertion=Length.imperial(13))),
        ("sixteen sixteen feet my bad", Callout(insertion=Length.imperial(16))),
        ("ain't no sixty that's a forty five", Callout(angle_deg=45)),
        ("i make that three rakers you have two", Callout(rakers=3)),
        ("no no twelve i said twelve", Callout(insertion=Length.imperial(12))),
        ("bump it up to sixteen feet", Callout(insertion=Length.imperial(16))),
        ("sixty's wrong make it forty five", Callout(angle_deg=45)),
        ("hang on the tape slipped fourteen nine", Callout(insertion=Length.imperial(14, 9))),
        ("hang on let me check no it's fourteen feet", Callout(insertion=Length.imperial(14))),
        ("damn no both wrong thirteen foot at forty five", Callout(insertion=Length.imperial(13), angle_deg=45)),
    ],
)
def test_a_correction_in_peoples_words(said: str, patch: Callout) -> None:
    result = resolve_text(said, context("confirm"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Command)
    assert result.meaning.patch == patch


@pytest.mark.parametrize(
    "said",
    [
        "correction rakers three",
        # A number that is counted or may be anything: never a height in the unit that was read back.
        "wait one i'm going to measure again", "no it is twelve on my side",
        # The distance between rakers, or the height?
        "all good but add two rakers at eight feet",
        # A yes with what was read back; it is no new callout.
        "that's right fifteen at sixty",
    ],
)  # fmt: skip
def test_no_value_is_made_of_a_number_that_may_be_another(said: str) -> None:
    assert not is_taken(said, "confirm")


def test_one_raker_after_feet_is_asked_for() -> None:
    """"Seven feet, one flying raker" is not seven feet one."""
    assert not is_taken("angle thirty height seven feet one flying raker", "idle")


@pytest.mark.parametrize(("said", "place"), [
    ("chapel wall eleven feet sixty", "chapel wall"), ("t shore for the front entrance", "front entrance"),
    ("south gable raker fourteen foot at forty five", "south gable"),
    ("cribbing four feet high under the slab", "under the slab"),
    ("corner bravo charlie three split soles fifteen feet at sixty", "corner bravo charlie"),
])  # fmt: skip
def test_places_have_names_of_their_own(said: str, place: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert result.meaning.place == place


def test_what_denies_or_asks_something_else_is_left_out_and_told() -> None:
    result = resolve_text("single raker twelve foot thirty degrees not ideal", context("idle"))
    assert isinstance(result, Understood)
    assert result.reasons[-1] == "left out: not ideal"


def test_a_callout_that_begins_with_hang_on_is_a_new_one() -> None:
    """Where nothing waits it changes no build that stands."""
    result = resolve_text("hang on eleven feet sixty", context("idle"))
    assert isinstance(result, Understood)
    assert isinstance(result.meaning, Callout)


@pytest.mark.parametrize("said", ["fourteen sixty", "eleven forty five", "thirteen eight sixty"])
def test_numbers_alone_are_no_sentence_and_the_unit_is_asked_for(said: str) -> None:
    """They may be a time of day; and they are near to no command."""
    result = resolve_text(said, context("idle"))
    assert isinstance(result, NotUnderstood)
    assert result.reasons[0].startswith("a number without its unit")


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("no raker at eleven feet sixty", '"no raker" may refuse it all'),
        ("i need five not four", "a number without its unit"),
    ],
)
def test_what_may_refuse_or_count_is_no_correction(said: str, why: str) -> None:
    result = resolve_text(said, context("confirm"))
    assert isinstance(result, NotUnderstood), result
    assert result.reasons[0].startswith(why)


@pytest.mark.parametrize("state", ["idle", "confirm"])
def test_the_head_of_a_callout_alone_asks_for_the_height(state: str) -> None:
    result = resolve_text("insertion", context(state))
    assert isinstance(result, NotUnderstood), result
    assert result.missing == ("insertion",)


@pytest.mark.parametrize(
    ("said", "place", "rakers", "spacing"),
    [
        ("stair tower pair of solid soles twelve feet at forty five", "stair tower", 2, None),
        ("gable end two rakers at sixteen feet sixty degrees space em eight", "gable end", 2, Length.imperial(8)),
        ("gimme two flyin rakers eight feet forty five", None, 2, None),
        ("solid sole three pieces four point two metre sixty degree and two metre between", None, 3, Length.mm(2000)),
        ("four split soles eleven foot forty five eight foot between em", None, 4, Length.imperial(8)),
    ],
)
def test_short_ways_to_say_where_and_how_many(
    said: str, place: str | None, rakers: int, spacing: Length | None
) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Callout)
    assert (result.meaning.place, result.meaning.rakers, result.meaning.spacing) == (place, rakers, spacing)


@pytest.mark.parametrize(
    ("said", "patch"),
    [
        ("yes but two rakers six foot apart", Callout(rakers=2, spacing=Length.imperial(6))),
        ("bit more than that fifteen three", Callout(insertion=Length.imperial(15, 3))),
    ],
)
def test_a_yes_that_goes_on_with_but_is_a_correction(said: str, patch: Callout) -> None:
    result = resolve_text(said, context("confirm"))
    assert isinstance(result, Understood), result
    assert isinstance(result.meaning, Command)
    assert result.meaning.patch == patch
