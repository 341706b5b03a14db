"""Readback and what answers it.

Rules from outside: only an affirmative answers a readback, "roger" acknowledges and is never an answer to it (ICAO
radiotelephony word list); what is read back is repeated in full, and corrected with "negative" or "correction"
(SERA.14075, EU and UK); digits first, then grouped (FAA Order 7110.65, 2-4-18 number clarification).
"""

from __future__ import annotations

import pytest

from callout.dialogue.events import Uttered
from callout.dialogue.settings import load_settings
from callout.language.outcome import Ambiguous, NotPossible, NotUnderstood
from callout.values import Callout, Command, meaning_json
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, Talk, ft

PATCH = Command(command="correction", patch=Callout(angle_deg=45))


def heard(talk: Talk, result: object, *, certain: bool = True) -> Talk:
    talk.time += 1.0
    return talk.put(Uttered(result, "words", "measurer", talk.time, certain))  # type: ignore[arg-type]


def test_a_callout_is_read_back_digits_first_and_then_grouped() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    assert talk.events == ["heard", "readback"]
    assert "one one feet, eleven feet" in talk.said[0]
    assert "sixty degrees" in talk.said[0]
    assert "sixty" in talk.said[0]
    assert talk.state() == "confirm"


def test_only_the_affirmative_releases_it() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    assert talk.count("released") == 0
    talk.say(AFFIRM)
    assert talk.events[:3] == ["heard", "affirmed", "released"]
    released = next(record for record in talk.records if record.event == "released")
    assert released.meaning == meaning_json(ELEVEN_SIXTY)
    assert released.build is not None
    assert Callout.model_validate(released.build["request"]) == ELEVEN_SIXTY
    assert released.build_id == 1


def test_unsaid_parts_stay_null_in_the_confirmed_meaning() -> None:
    talk = Talk.new().released()
    meaning = next(record for record in talk.records if record.event == "released").meaning
    assert meaning is not None
    assert {name for name, value in meaning.items() if value is not None} == {"kind", "insertion", "angle_deg"}


@pytest.mark.parametrize("word", ["roger", "wilco", "say_again", "ready", "status", "read_back", "closing"])
def test_no_other_word_releases_or_voids(word: str) -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(word)
    assert talk.count("released") == 0
    assert talk.count("voided") == 0
    assert talk.say(AFFIRM).count("released") == 1


@pytest.mark.parametrize("word", ["stand_by", "hold", "stop"])
def test_a_yes_after_standing_by_is_asked_for_once_more_with_the_readback(word: str) -> None:
    """Somebody may have measured again meanwhile, or asked the officer."""
    talk = Talk.new().say(ELEVEN_SIXTY).say(word).say(AFFIRM)
    assert talk.count("released") == 0
    assert talk.said[-1].startswith("i say again. insertion")
    assert talk.say(AFFIRM).count("released") == 1


def test_roger_is_not_a_yes_and_is_told_so_once() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("roger")
    assert talk.said == ["roger is not a yes. say affirm, or correction."]
    assert talk.say("roger").said == []


@pytest.mark.parametrize(
    "word", [Command(command="negative"), Command(command="disregard"), Command(command="cancel"),
             Command(command="correction"), Command(command="undo")]
)  # fmt: skip
def test_a_no_voids_the_readback(word: Command) -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(word)
    assert "voided" in talk.events
    assert talk.say(AFFIRM).count("released") == 0
    assert talk.events == ["heard", "refused"]


def test_a_bare_correction_asks_for_the_part() -> None:
    correction = Command(command="correction")
    asked = "not affirmed. say the part, or the callout again."
    assert Talk.new().say(ELEVEN_SIXTY).say(correction).said == [asked]
    assert Talk.new().say(Callout(insertion=ft(8))).say(correction).said == ["say the part, or the callout again."]
    assert Talk.new().released().say(correction).said == ["say the callout again, or correction and the part."]


def test_affirm_out_of_turn_does_nothing_and_says_so_once() -> None:
    talk = Talk.new().say(AFFIRM)
    assert talk.said == ["nothing to affirm."]
    assert talk.say(AFFIRM).said == []
    assert talk.count("released") == 0
    assert talk.count("refused") == 2  # both stand in the journal


def test_a_second_affirm_releases_no_second_build() -> None:
    talk = Talk.new().released().say(AFFIRM)
    assert talk.count("released") == 1


def test_new_content_voids_and_replaces() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(Callout(insertion=ft(9), angle_deg=45))
    assert talk.events == ["heard", "voided", "readback"]
    talk.say(AFFIRM)
    released = next(record for record in talk.records if record.event == "released")
    assert released.meaning is not None
    assert released.meaning["insertion"]["text"] == "9 ft"


def test_a_new_half_voids_what_waited() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(Callout(insertion=ft(12)))
    assert "voided" in talk.events
    assert talk.said == ["say the angle."]
    talk.say(AFFIRM)
    assert talk.count("released") == 0


def test_a_detail_joins_the_pending_callout_with_a_new_readback() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(Callout(rakers=3))
    assert talk.events == ["heard", "voided", "readback"]
    assert "three rakers" in talk.said[0]
    assert "one one feet" in talk.said[0]


def test_correction_by_part_keeps_the_rest() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(PATCH)
    assert talk.events == ["heard", "voided", "readback"]
    meaning = talk.records[-1].meaning
    assert meaning is not None
    assert (meaning["insertion"]["text"], meaning["angle_deg"]) == ("11 ft", 45)


def test_say_again_repeats_and_voids_nothing() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    first = talk.said[0]
    assert talk.say("say_again").said == [f"i say again. {first}"]
    assert talk.say("say_again").said == [f"i say again. {first}"]
    assert talk.say(AFFIRM).count("released") == 1


@pytest.mark.parametrize(
    ("command", "part", "spoken"),
    [
        ("say_again", "angle_deg", "i say again. sixty degrees."),
        ("say_again", "insertion", "i say again. insertion: one one feet, eleven feet."),
        ("say_again_all_before", "angle_deg", "i say again. insertion: one one feet, eleven feet."),
        ("say_again_all_after", "insertion", "i say again. sixty degrees."),
    ],
)
def test_say_again_of_a_part(command: str, part: str, spoken: str) -> None:
    """SERA.14075: all before, all after, or the word named."""
    talk = Talk.new().say(ELEVEN_SIXTY).say(Command(command=command, part=part))
    assert talk.said == [spoken]
    assert talk.say(AFFIRM).count("released") == 1


def test_an_affirm_that_began_before_the_readback_does_not_answer_it() -> None:
    talk = Talk.new()
    talk.time = 10.0
    talk.say(ELEVEN_SIXTY)
    talk.time = 5.0
    talk.say(AFFIRM)
    assert talk.count("released") == 0
    assert talk.events == ["heard", "refused", "readback"]  # and it is read back again
    assert talk.say(AFFIRM).count("released") == 1


# --- The key for the affirm ---


def test_a_yes_by_the_key_is_written_as_keyed_and_a_yes_in_words_as_those_words() -> None:
    keyed = Talk.new().say(ELEVEN_SIXTY).key("affirm")
    said = Talk.new().say(ELEVEN_SIXTY).say(AFFIRM)
    (one,), (other,) = ([r for r in talk.records if r.event == "affirmed"] for talk in (keyed, said))
    assert (one.text, one.data["keyed"]) == ("keyed", True)
    assert (other.text, other.data.get("keyed", False)) == ("words", False)


def test_the_key_for_the_affirm_answers_a_readback_and_no_question() -> None:
    assert Talk.new().say(Callout(insertion=ft(8))).key("affirm").said == ["nothing to affirm."]


# --- The second guard: noise alone can be heard as a bare "affirm" ---


def test_a_heard_affirm_needs_both_ears() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(AFFIRM, certain=False)
    assert talk.count("released") == 0
    assert talk.said == ["say affirm insertion."]
    assert talk.say(AFFIRM, certain=False, agreed=True).count("released") == 1


def test_the_longer_form_is_a_guard_of_its_own() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("affirm_insertion", certain=False)
    assert talk.count("released") == 1


@pytest.mark.parametrize(
    ("guard", "word", "agreed", "releases"),
    [
        ("agreed_or_long", "affirm", False, False),
        ("agreed_or_long", "affirm", True, True),
        ("agreed_or_long", "affirm_insertion", False, True),
        ("long", "affirm", True, False),
        ("long", "affirm_insertion", False, True),
        ("agreed_and_long", "affirm", True, False),
        ("agreed_and_long", "affirm_insertion", False, False),
        ("agreed_and_long", "affirm_insertion", True, True),
    ],
)
def test_the_guard_goes_upward(guard: str, word: str, agreed: bool, releases: bool) -> None:
    talk = Talk.new(guard=guard).say(ELEVEN_SIXTY).say(word, certain=False, agreed=agreed)
    assert (talk.count("released") == 1) is releases
    assert Talk.new(guard=guard).say(ELEVEN_SIXTY).say("affirm").count("released") == 1  # typed words are certain


@pytest.mark.parametrize("guard", ["none", "agreed", "off", "", None])
def test_the_guard_cannot_be_lowered(guard: str | None) -> None:
    with pytest.raises(ValueError, match="guard"):
        load_settings(guard=guard)


def test_an_affirm_that_one_ear_alone_heard_is_asked_for_in_its_longer_form() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    for _ in range(3):
        heard(talk, Ambiguous((AFFIRM,), "command", ("affirm",)), certain=False)
        assert talk.said == ["say affirm insertion."]
    assert talk.count("released") == 0
    assert talk.say("affirm_insertion", certain=False).count("released") == 1


# --- The same callout twice ---


def test_the_same_callout_while_it_waits_is_the_same_one() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(ELEVEN_SIXTY)
    assert talk.events == ["heard", "readback"]
    assert talk.said[0].startswith("the same callout.")
    talk.say(AFFIRM).say(AFFIRM)
    assert talk.count("released") == 1


def test_the_same_callout_after_release_is_not_a_second_build() -> None:
    talk = Talk.new().released().say(ELEVEN_SIXTY)
    assert talk.events == ["heard", "refused"]
    assert "that is build one, not a second build" in talk.said[0]
    assert talk.say(AFFIRM).count("released") == 1


def test_a_position_makes_a_second_build_of_the_same_measure() -> None:
    talk = Talk.new().released().released(ELEVEN_SIXTY.model_copy(update={"position": 5}))
    assert [build.number for build in talk.now.open.values()] == [1, 5]


def test_a_taken_position_is_refused() -> None:
    five = Callout(insertion=ft(9), angle_deg=45, position=5)
    talk = Talk.new().released(five).say(ELEVEN_SIXTY.model_copy(update={"position": 5}))
    assert talk.events == ["heard", "refused"]
    assert talk.state() != "confirm"


# --- Doubt, chatter, what cannot be ---


def test_chatter_while_a_readback_waits_is_answered_twice_at_most_and_voids_nothing() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    for _ in range(2):
        heard(talk, NotUnderstood(("the", "dog")), certain=False)
        assert talk.said == ["say affirm, or correction."]
    heard(talk, NotUnderstood(("the", "dog")), certain=False)
    assert talk.said == []
    assert talk.say(AFFIRM).count("released") == 1


def test_numbers_without_the_lead_in_are_content_and_void() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    heard(talk, NotUnderstood(("twelve", "feet", "sixty"), missing=("insertion",)))
    assert "voided" in talk.events
    assert talk.say(AFFIRM).count("released") == 0


def test_an_ambiguous_callout_voids_and_asks_for_the_part_in_doubt_alone() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    fifty, fifteen = (Callout(insertion=ft(f), angle_deg=45) for f in (15, 5))
    heard(talk, Ambiguous((fifty, fifteen), "insertion", ()), certain=False)
    assert "voided" in talk.events
    assert talk.said == ["say insertion and the height."]
    talk.say(Callout(insertion=ft(15)))
    assert "forty five degrees" in talk.said[0]  # the sure part was kept


def test_an_ambiguous_answer_is_no_answer() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    heard(talk, Ambiguous((AFFIRM, Command(command="negative")), "command", ()), certain=False)
    assert talk.said == ["affirm, or negative?"]
    assert talk.count("released") == 0
    assert talk.state() == "confirm"


def test_a_callout_that_cannot_be_voids_and_says_why() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    heard(talk, NotPossible(Callout(insertion=ft(90), angle_deg=60), (), "90 ft is over 40 ft"))
    assert "voided" in talk.events
    assert talk.said == ["the callout that waited is void. say it again after this.", "ninety feet is over forty feet."]
    assert talk.say(AFFIRM).count("released") == 0


NINETY = NotPossible(Callout(insertion=ft(90), angle_deg=60), (), "90 ft is over 40 ft")


def test_a_callout_that_cannot_be_leaves_the_half_and_the_move_that_waited_and_its_refusal_is_kept() -> None:
    talk = Talk.new().say(Callout(insertion=ft(11)))
    heard(talk, NINETY)
    assert (talk.records[-1].event, talk.records[-1].meaning) == ("refused", meaning_json(NINETY.meaning))
    assert talk.say(Callout(angle_deg=60)).events == ["heard", "readback"]
    moving = Talk.new().released().stand().say(Command(command="relocate"))
    heard(moving, NINETY)
    assert moving.now.measurer.relocates == 1
    assert moving.say(ELEVEN_SIXTY.model_copy(update={"rakers": 2})).said[0].startswith("relocate build one.")


def test_a_word_that_cannot_be_and_is_content_ends_a_move_that_waited_for_its_callout() -> None:
    moving = Talk.new().released().stand().say(Command(command="relocate"))
    heard(moving, NotPossible(Command(command="stock_set", part="strut"), (), "there are more kinds"))
    assert moving.now.measurer.relocates is None


def test_without_a_list_the_yard_is_told_what_to_do_and_the_measurer_why_it_cannot_be() -> None:
    none = NotPossible(Command(command="item", item=9), (), "there is no item 9")
    talk = Talk.new(one_source=False)
    assert talk.put(Uttered(none, "item nine", "logistics", 1.0, True)).heard_by == [
        ("yard", "no build is open. say insertion, the height, the angle.")
    ]
    assert talk.put(Uttered(none, "item nine", "measurer", 2.0, True)).heard_by == [
        ("measurer", "there is no item nine.")
    ]


def test_what_cannot_be_built_is_read_back_with_the_nearest_and_never_released() -> None:
    talk = Talk.new().say(Callout(insertion=ft(11), angle_deg=40))
    assert talk.said == [
        "insertion: one one feet, eleven feet; four zero degrees, forty. it cannot be built. no raker is "
        "built under forty five degrees. the nearest is insertion: one one feet, eleven feet; forty five "
        "degrees. say correction, or disregard."
    ]
    talk.say(AFFIRM)
    assert talk.said == ["that cannot be built. say correction, or disregard."]
    assert not talk.now.open
    talk.say(PATCH).say(AFFIRM)
    assert talk.count("released") == 1
    assert talk.count("affirmed") == 1


def test_a_change_that_cannot_be_built_leaves_the_build_as_it_was() -> None:
    talk = Talk.new().released().say(Command(command="correction", patch=Callout(angle_deg=40)))
    assert "it cannot be built" in talk.said[0]
    talk.say(AFFIRM)
    assert talk.now.open[1].request == ELEVEN_SIXTY
    assert talk.count("released") == 1
