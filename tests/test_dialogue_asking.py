"""Halves, questions and time-outs. Time comes in as an event, so these tests wait for nothing."""

from __future__ import annotations

import pytest

from callout.dialogue.events import Spoken, Tick, Uttered
from callout.dialogue.state import context
from callout.language.outcome import Ambiguous, MeaningPart, Nothing, NotUnderstood
from callout.language.resolve import resolve_text
from callout.values import Callout, Command, meaning_json
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, Talk, ft

HEIGHT = Callout(insertion=ft(11))
ANGLE = Callout(angle_deg=60)


def tick(talk: Talk, seconds: float) -> Talk:
    talk.time += seconds
    return talk.put(Tick(talk.time))


@pytest.mark.parametrize("halves", [(HEIGHT, ANGLE), (ANGLE, HEIGHT)])
def test_a_half_is_joined_with_its_other_half(halves: tuple[Callout, Callout]) -> None:
    talk = Talk.new().say(halves[0])
    assert talk.events == ["heard", "asked"]
    assert talk.state() == "gather"
    talk.say(halves[1])
    assert talk.events == ["heard", "readback"]
    assert talk.records[-1].meaning == meaning_json(ELEVEN_SIXTY)


def test_only_the_missing_part_is_asked_for() -> None:
    assert Talk.new().say(HEIGHT).said == ["say the angle."]
    assert Talk.new().say(ANGLE).said == ["say insertion and the height."]
    assert Talk.new().say(Callout(rakers=2)).said == ["say insertion and the height."]


def test_a_shore_without_an_angle_is_not_asked_for_one() -> None:
    assert Talk.new().say(Callout(kind="vertical_post", insertion=ft(8))).events == ["heard", "readback"]


def test_a_heard_half_waits_for_its_other_half_before_the_tool_asks() -> None:
    talk = Talk.new().say(HEIGHT, certain=False)
    assert talk.said == []
    tick(talk, 1.0)
    assert talk.said == []
    tick(talk, 2.0)
    assert talk.said == ["say the angle."]
    talk.say(ANGLE, certain=False)
    assert talk.events == ["heard", "readback"]


def test_one_part_is_asked_for_twice_at_most_then_the_console_takes_over() -> None:
    talk = Talk.new().say(HEIGHT)
    assert tick(talk, 9.0).said == []
    assert tick(talk, 1.0).said == ["say the angle."]
    assert tick(talk, 10.0).said == ["stand by for the console."]
    assert talk.count("asked") == 2
    assert talk.state() == "idle"
    assert tick(talk, 60.0).said == []
    assert talk.say(AFFIRM).count("released") == 0


def test_answers_that_are_not_understood_count_as_asking() -> None:
    talk = Talk.new().say(HEIGHT)
    for expected in ("say the angle.", "stand by for the console."):
        talk.time += 1.0
        talk.put(Uttered(NotUnderstood(("mumble",)), "mumble", "measurer", talk.time))
        assert talk.said == [expected]


def test_a_doubtful_angle_is_asked_for_twice_at_most() -> None:
    doubt = Ambiguous((ELEVEN_SIXTY, Callout(insertion=ft(11), angle_deg=30)), "angle_deg", ())
    talk = Talk.new()
    said = []
    for _ in range(3):
        talk.time += 1.0
        talk.put(Uttered(doubt, "words", "measurer", talk.time))
        said += talk.said
    assert said[:2] == ["say the angle.", "say the angle."]
    assert talk.count("released") == 0


def test_required_parts_in_doubt_are_asked_for_and_a_detail_in_doubt_stays_in_the_readback() -> None:
    call = Callout(insertion=ft(11), angle_deg=60, rakers=3)
    parts = tuple(MeaningPart(name, value, 0.5, "doubtful") for name, value in call.said.items())
    talk = Talk.new()
    talk.put(Uttered(Ambiguous((call,), "angle_deg", (), parts), "words", "measurer", 1.0))
    assert talk.said == ["say the angle."]
    talk.time = 1.0
    assert talk.say(ANGLE).said == ["say insertion and the height."]
    assert "three rakers" in talk.say(HEIGHT).said[0]


def test_what_the_readings_do_not_share_is_asked_for_too() -> None:
    """"Three metres sixty" is 3 m at 60 degrees, or 3.60 m with no angle: the answer must not bring one along."""
    line = "insertion three metres sixty"
    talk = Talk.new()
    talk.put(Uttered(resolve_text(line), line, "measurer", 1.0, True))
    assert talk.said == ["say insertion and the height."]
    talk.time = 1.0
    assert talk.say(HEIGHT).said == ["say the angle."]


def test_several_callouts_in_one_breath_are_asked_for_one_at_a_time() -> None:
    line = "insertion eleven feet sixty insertion nine feet sixty"
    two = Ambiguous((ELEVEN_SIXTY, Callout(insertion=ft(9), angle_deg=60)), "insertion", tuple(line.split()))
    talk = Talk.new().say(ELEVEN_SIXTY)
    talk.put(Uttered(two, "words", "measurer", talk.time + 1))
    assert talk.said == ["one callout at a time."]
    assert talk.say(AFFIRM).count("released") == 0


def test_a_new_height_starts_a_new_half() -> None:
    talk = Talk.new().say(HEIGHT).say(Callout(insertion=ft(12))).say(ANGLE)
    meaning = talk.records[-1].meaning
    assert meaning is not None
    assert meaning["insertion"]["text"] == "12 ft"


def test_a_correction_reaches_into_a_half() -> None:
    talk = Talk.new().say(HEIGHT).say(Command(command="correction", patch=Callout(insertion=ft(12)))).say(ANGLE)
    meaning = talk.records[-1].meaning
    assert meaning is not None
    assert meaning["insertion"]["text"] == "12 ft"


def test_disregard_drops_a_half() -> None:
    talk = Talk.new().say(HEIGHT).say("disregard").say(ANGLE)
    assert talk.said == ["say insertion and the height."]


def test_say_again_repeats_the_question() -> None:
    assert Talk.new().say(HEIGHT).say("say_again").said == ["say the angle."]


# --- Nothing is released by silence ---


def test_an_unanswered_readback_is_said_again_once_and_then_parked() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    first = talk.said[0]
    assert tick(talk, 19.0).said == []
    assert tick(talk, 1.0).said == [f"i say again. {first}"]
    assert tick(talk, 19.0).said == []
    tick(talk, 1.0)
    assert talk.events == ["parked"]
    assert talk.state() == "idle"
    for _ in range(10):
        assert tick(talk, 100.0).said == []
    assert talk.count("released") == 0


def test_a_parked_callout_is_not_affirmed_but_can_be_read_back() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    tick(talk, 21.0)
    tick(talk, 21.0)
    assert talk.say(AFFIRM).said == ["that callout was set aside. say read back first."]
    assert talk.count("released") == 0
    assert talk.say("read_back").events == ["heard", "readback"]
    assert talk.say(AFFIRM).count("released") == 1


def test_the_time_outs_are_data() -> None:
    talk = Talk.new(readback_again=3.0, park_after=2.0).say(ELEVEN_SIXTY)
    assert tick(talk, 3.0).events == ["readback"]
    assert tick(talk, 2.0).events == ["parked"]


def test_the_wait_begins_when_the_readback_has_been_spoken() -> None:
    talk = Talk.new(seconds_a_word=0.5).say(ELEVEN_SIXTY)
    spoken = 0.5 * len(talk.said[0].split())
    assert spoken > 4
    assert tick(talk, 19.0 + spoken).said == []
    assert tick(talk, 1.0).events == ["readback"]


def test_a_readback_that_the_voice_cannot_say_is_waited_for_from_that_moment() -> None:
    """It stands on the screen at once, and takes none of the time that the sentence would have taken."""
    talk = Talk.new(voiced=True, seconds_a_word=0.5).say(ELEVEN_SIXTY)
    talk.put(Spoken(talk.said[-1], talk.time, "failed"))
    assert tick(talk, 19.0).said == []
    assert tick(talk, 1.0).events == ["readback"]


def test_stand_by_stops_the_clock_until_the_next_word() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("stand_by")
    assert tick(talk, 500.0).said == []
    talk.say("say_again")
    assert tick(talk, 21.0).events == ["readback"]


def test_after_standing_by_the_wait_begins_anew_with_the_next_word() -> None:
    """Whatever that word is: it is no answer, and the readback is said again twenty seconds after it, no sooner."""
    talk = Talk.new(seconds_a_word=0.5).say(ELEVEN_SIXTY).say("stand_by")
    assert tick(talk, 500.0).said == []
    talk.say("radio_check")
    assert tick(talk, 19.9).said == []
    assert tick(talk, 0.2).events == ["readback"]


def test_a_clock_that_is_set_back_neither_repeats_nor_blocks() -> None:
    talk = Talk.new()
    talk.time = 1000.0
    talk.say(ELEVEN_SIXTY)
    talk.time = 10.0
    assert tick(talk, 0.0).said == []
    assert tick(talk, 21.0).events == ["readback"]
    assert talk.say(AFFIRM).count("released") == 1


@pytest.mark.parametrize("through", [False, True])
def test_a_clock_that_is_set_back_starts_the_wait_again_whether_or_not_the_voice_was_through(through: bool) -> None:
    """Not the time that the sentence takes: by then it was said."""
    talk = Talk.new(seconds_a_word=0.5)
    talk.time = 1000.0
    talk.say(ELEVEN_SIXTY)
    if through:
        talk.put(Spoken(talk.said[-1], 1010.0, "through"))
    talk.time = 10.0
    assert tick(talk, 0.0).said == []
    assert tick(talk, 19.9).said == []
    assert tick(talk, 0.2).events == ["readback"]


def test_a_clock_that_stands_takes_nothing_from_the_time_that_a_sentence_takes() -> None:
    talk = tick(Talk.new(seconds_a_word=0.5).say(ELEVEN_SIXTY), 0.0)
    assert tick(talk, 21.0).said == []


def test_the_yard_has_its_time_to_answer_from_the_end_of_what_it_is_asked() -> None:
    """Its last word, not its figures, after which a yes counts already."""
    talk = Talk.new(one_source=False, voiced=True, seconds_a_word=0.5)
    talk.say(Command(command="stock_out", part="anchor"), "logistics")
    asked = talk.said[-1]
    talk.put(Spoken(asked, talk.time + 4.0, "figures"))
    talk.put(Spoken(asked, talk.time + 30.0, "through"))
    assert tick(talk, 49.9).said == []
    assert tick(talk, 0.2).said == [f"i say again. {asked}"]


def test_nobody_is_late_with_an_answer_while_the_voice_still_speaks() -> None:
    """A yes counts once the figures were said; the wait for it begins at the end of the sentence."""
    talk = Talk.new(voiced=True, seconds_a_word=0.5).say(ELEVEN_SIXTY)
    assert len(talk.said[-1].split()) >= 8
    talk.put(Spoken(talk.said[-1], talk.time + 2.0, "figures"))
    assert tick(talk, 23.0).said == []
    assert tick(talk, 2.0).events == ["readback"]


def test_a_readback_that_nobody_answers_is_written_as_set_aside_with_its_figures_and_its_build() -> None:
    talk = Talk.new().released().say(Command(command="correction", patch=Callout(angle_deg=45)))
    parked = tick(tick(talk, 21.0), 21.0).records[-1]
    assert (parked.event, parked.build_id) == ("parked", 1)
    assert parked.meaning is not None
    assert parked.meaning["angle_deg"] == 45


@pytest.mark.parametrize("result", [Nothing(), NotUnderstood(("somebody", "talking"))])
def test_nothing_and_chatter_lead_to_nothing_when_idle(result: Nothing | NotUnderstood) -> None:
    talk = Talk.new()
    talk.put(Uttered(result, "", "measurer", 1.0))
    assert talk.events == ["heard"]
    assert talk.said == []


def test_two_at_once_are_asked_to_speak_one_at_a_time() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    talk.put(Uttered(NotUnderstood((), reasons=("two at once",)), "", "measurer", talk.time + 1))
    assert talk.said == ["two at once. say affirm, or correction."]
    assert talk.state() == "confirm"


def test_typed_words_that_mean_nothing_get_the_nearest_sentence() -> None:
    talk = Talk.new()
    talk.put(Uttered(NotUnderstood(("insertin",), nearest=("insertion eleven feet sixty",)), "", "measurer", 1.0, True))
    assert talk.said == ["not understood. did you mean: insertion eleven feet sixty?"]


def test_what_a_height_in_doubt_was_heard_as_counts_for_its_answer_alone() -> None:
    parts = (MeaningPart("insertion", ft(11), 0.9, "doubtful"), MeaningPart("angle_deg", 60, 0.999, "agreed"))
    talk = Talk.new()
    words = ("insertion", "eleven", "feet", "sixty")
    talk.put(Uttered(Ambiguous((ELEVEN_SIXTY,), "insertion", words, parts), " ".join(words), "measurer", talk.time))
    assert talk.said == ["one one feet? say insertion and the height."]
    (guess,) = context(talk.now, "measurer").guesses
    assert (guess.name, guess.value) == ("insertion", ft(11))
    assert context(talk.now, "logistics").guesses == () or talk.now.settings.one_source
    talk.say(HEIGHT)
    assert talk.events == ["heard", "readback"]
    assert context(talk.now, "measurer").guesses == ()


@pytest.mark.parametrize("yes", ["affirm", "yes", "that is correct"])
def test_a_yes_to_a_guess_takes_nothing_the_part_itself_does(yes: str) -> None:
    """ "One five feet? say insertion and the height" is a question about a hearing in doubt, and no readback."""
    parts = (MeaningPart("insertion", ft(15), 0.9, "doubtful"), MeaningPart("angle_deg", 60, 0.999, "agreed"))
    talk = Talk.new()
    heard = Ambiguous((ELEVEN_SIXTY.model_copy(update={"insertion": ft(15)}),), "insertion", (), parts)
    talk.put(Uttered(heard, "", "measurer", talk.time))
    assert talk.said == ["one five feet? say insertion and the height."]
    talk.say(resolve_text(yes, context(talk.now, "measurer")).meaning or Command(command="affirm"))
    assert (talk.now.seat("measurer").half or {"insertion": "taken"}).get("insertion") is None
    assert "readback" not in talk.events
    assert talk.said[-1] == "not read back yet. say insertion and the height."
