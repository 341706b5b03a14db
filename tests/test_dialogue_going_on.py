"""Nothing is lost in silence: what a new word voids is said, and what it does not touch goes on.

"Correction" as a word of its own: a correction is announced, then the right value follows (ICAO Annex 10 Vol. II,
5.2.1.9, "CORRECTION"). The pause between the two is what these tests put in.
"""

from __future__ import annotations

import pytest

from callout.dialogue.events import Resumed, Spoken, Tick, Uttered
from callout.dialogue.machine import restore
from callout.dialogue.records import Role
from callout.dialogue.state import context
from callout.language.outcome import Ambiguous, NotPossible
from callout.language.outcome import MeaningPart as HeardPart
from callout.language.resolve import resolve_text
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock

CORRECTION = Command(command="correction")
ASKED = "not affirmed. say the part, or the callout again."


def typed(talk: Talk, *lines: str, role: Role = "measurer") -> Talk:
    for line in lines:
        talk.time += 1.0
        talk.put(Uttered(resolve_text(line, context(talk.now, role)), line, role, talk.time, True))
    return talk


def readback(feet: str, degrees: str, more: str = "") -> str:
    return f"insertion: {feet}; {degrees}{more}. over."


SIXTY, FORTY_FIVE = "sixty degrees", "forty five degrees"
ELEVEN, NINE = "one one feet, eleven feet", "nine feet"


# --- "correction", a pause, and the part


@pytest.mark.parametrize(
    ("part", "again"),
    [
        ("angle four five", readback(ELEVEN, FORTY_FIVE)),
        ("insertion nine feet", readback(NINE, SIXTY)),
        ("forty five", readback(ELEVEN, FORTY_FIVE)),
        ("insertion nine feet forty five", readback(NINE, FORTY_FIVE)),
        ("correction angle four five", readback(ELEVEN, FORTY_FIVE)),
        ("three rakers", readback(ELEVEN, SIXTY, "; three rakers")),
    ],
)
def test_the_part_after_a_bare_correction_patches_what_waited(part: str, again: str) -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", "correction")
    assert talk.said == [ASKED]
    assert typed(talk, "affirm").count("released") == 0  # it cannot be affirmed as it was
    assert typed(talk, part).said == [again]
    assert typed(talk, "affirm").count("released") == 1


def test_a_bare_correction_keeps_a_half_and_patches_it_too() -> None:
    talk = typed(Talk.new(), "insertion eleven feet two rakers", "correction", "insertion nine feet", "sixty")
    assert talk.said == [readback(NINE, SIXTY, "; two rakers")]


def test_a_bare_correction_of_a_change_stays_a_change() -> None:
    talk = typed(Talk.new().released(), "correction angle four five", "correction", "insertion nine feet")
    assert talk.said == [f"change build one. insertion: {NINE}; {FORTY_FIVE}. over."]
    typed(talk, "affirm")
    assert list(talk.now.open) == [1]


def test_a_part_in_doubt_in_a_change_stays_a_change() -> None:
    talk = typed(Talk.new().released(), "correction angle four five")
    doubt = Ambiguous((Callout(insertion=ft(9)), Callout(insertion=ft(5))), "insertion", ())
    talk.put(Uttered(doubt, "words", "measurer", talk.time + 1.0))
    talk.time += 1.0
    assert typed(talk, "insertion nine feet").said[0].startswith("change build one. ")


def test_silence_after_a_bare_correction_ends_at_the_console() -> None:
    talk, said = typed(Talk.new(), "insertion eleven feet sixty", "correction"), []
    for _ in range(4):
        talk.time += 11.0
        said += talk.put(Tick(talk.time)).said
    assert said == ["say the part, or the callout again.", "stand by for the console."]
    assert talk.state() == "idle"


def test_a_disregard_ends_a_bare_correction() -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", "correction", "disregard", "angle four five")
    assert talk.said == ["say insertion and the height."]


def test_a_restart_after_a_bare_correction_still_waits_for_the_part() -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", "correction")
    again = Talk(restore(talk.records, make_stock(), FakePlanner()))
    assert typed(again, "angle four five").said == [readback(ELEVEN, FORTY_FIVE)]


def test_a_correction_out_of_range_keeps_the_rest() -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", "correction insertion ninety feet")
    assert talk.said[0].endswith(ASKED)
    assert "ninety feet" in talk.said[0]
    assert typed(talk, "affirm").count("released") == 0
    assert typed(talk, "insertion nine feet").said == [readback(NINE, SIXTY)]


# --- what a new line voids is said


@pytest.mark.parametrize(
    "line", ["we have four six foot struts", "out of brick anchors", "wall brick", "move one brick anchor to build one"]
)
def test_a_line_that_voids_a_callout_says_so(line: str) -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", line)
    assert talk.said[0] == "the callout that waited is void. say it again after this."
    assert typed(talk, "affirm").count("released") == 0


def test_a_callout_that_voids_a_stock_line_says_so() -> None:
    talk = typed(Talk.new(), "we have four six foot struts", "insertion eleven feet sixty")
    assert talk.said == ["what waited for its answer is void.", readback(ELEVEN, SIXTY)]
    assert typed(talk, "affirm").count("stock_changed") == 0


def test_a_new_callout_needs_no_word_on_the_old_one() -> None:
    assert typed(Talk.new(), "insertion eleven feet sixty", "insertion nine feet sixty").said == [readback(NINE, SIXTY)]


def test_what_is_set_aside_and_voided_is_said_too() -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty")
    for _ in range(2):
        talk.time += 21.0
        talk.put(Tick(talk.time))
    assert talk.now.measurer.parked is not None
    assert typed(talk, "out of brick anchors").said[0].startswith("the callout that waited is void.")


@pytest.mark.parametrize("line", ["status", "how many struts", "where are the struts", "help", "list", "radio check"])
def test_questions_disturb_nothing(line: str) -> None:
    talk = typed(Talk.new(), "insertion eleven feet sixty", line)
    assert not any("void" in sentence for sentence in talk.said)
    assert typed(talk, "affirm").count("released") == 1


# --- the details of a reading that the answer rules out


def test_a_detail_of_the_rejected_reading_goes_with_it() -> None:
    """"Forty five rakers" is forty five degrees, or forty degrees and five rakers."""
    talk = typed(Talk.new(), "insertion eleven feet forty five rakers")
    assert talk.said == ["say the angle."]
    assert typed(talk, "forty five").said == [readback(ELEVEN, FORTY_FIVE)]


def test_a_detail_of_the_chosen_reading_comes_with_it() -> None:
    talk = typed(Talk.new(), "insertion eleven feet forty five rakers", "angle four zero")
    assert "four zero degrees, forty; five rakers" in talk.said[0]


def test_an_answer_that_neither_reading_holds_brings_no_detail() -> None:
    talk = typed(Talk.new(), "insertion eleven feet forty five rakers", "sixty")
    assert talk.said == [readback(ELEVEN, SIXTY)]


def test_what_one_ear_alone_heard_never_comes_along_with_an_answer() -> None:
    eight, seven = (Callout(insertion=ft(feet), angle_deg=60) for feet in (8, 7))
    parts = (HeardPart("insertion", ft(8), 0.5, "contested"), HeardPart("angle_deg", 60, 0.5, "doubtful"))
    talk = Talk.new().put(Uttered(Ambiguous((eight, seven), "insertion", (), parts), "words", "measurer", 1.0))
    talk.time = 1.0
    assert typed(talk, "insertion eight feet").said == ["say the angle."]


# --- a move that waits


def moving() -> Talk:
    talk = Talk.new().released()
    talk.stand()
    return typed(talk, "relocate", "insertion nine feet sixty")


@pytest.mark.parametrize(
    ("lines", "again"),
    [
        (("insertion twelve feet", "sixty"), "insertion: one two feet, twelve feet; sixty degrees"),
        (("angle four five",), f"insertion: {NINE}; {FORTY_FIVE}"),
        (("insertion twelve feet sixty",), "insertion: one two feet, twelve feet; sixty degrees"),
        (("correction", "angle four five"), f"insertion: {NINE}; {FORTY_FIVE}"),
        (("insertion twelve", "insertion eight feet sixty"), "insertion: eight feet; sixty degrees"),
    ],
)
def test_what_follows_the_readback_of_a_move_is_of_the_move(lines: tuple[str, ...], again: str) -> None:
    talk = typed(moving(), *lines)
    assert talk.said[0].startswith(f"relocate build one. {again}. nothing else holds the wall here")
    typed(talk, "affirm")
    assert talk.now.open[2].relocates == 1


def test_a_move_in_doubt_stays_a_move() -> None:
    talk = moving()
    doubt = Ambiguous((Callout(insertion=ft(8)), Callout(insertion=ft(5))), "insertion", ())
    talk.put(Uttered(doubt, "words", "measurer", talk.time + 1.0))
    talk.time += 1.0
    assert typed(talk, "insertion eight feet").said[0].startswith("relocate build one. insertion: eight feet")


def test_a_move_that_was_set_aside_is_corrected_as_a_move() -> None:
    talk = moving()
    for _ in range(2):
        talk.time += 41.0
        talk.put(Tick(talk.time))
    assert talk.now.measurer.parked is not None
    assert typed(talk, "correction angle four five").said[0].startswith("relocate build one. ")


def test_a_stock_line_ends_a_move_and_says_so() -> None:
    talk = typed(moving(), "out of brick anchors")
    assert talk.said[0] == "what waited for its answer is void."
    talk = typed(talk, "negative", "insertion eight feet sixty")
    assert talk.said[0].startswith("insertion:")


# --- words of the walk without a walk


def test_after_an_undo_a_word_of_the_walk_says_what_happened_and_what_to_say() -> None:
    talk = typed(Talk.new().released(), "undo", "parts list")
    assert talk.said == ["no list is open: build one was taken back. say insertion, the height, the angle."]
    assert typed(talk, "ready").said == talk.said


def test_after_an_undo_the_build_that_is_left_is_named() -> None:
    talk = typed(Talk.new().released(), "insertion nine feet sixty", "affirm", "cancel build one", "parts list")
    assert talk.said == ["no list is open. say build two."]
    assert typed(talk, "build two", "parts list").said[0].startswith("build two. ")


def test_when_the_shore_stands_the_list_is_closed() -> None:
    talk = Talk.new().released()
    talk.stand()
    assert typed(talk, "parts list").said == [
        "no list is open: build one stands. say insertion, the height, the angle."
    ]


def test_before_any_build_it_says_what_to_say() -> None:
    assert typed(Talk.new(), "skip").said == ["no build is open. say insertion, the height, the angle."]


def test_who_wants_the_whole_list_read_while_none_is_open_is_told_why_there_is_none() -> None:
    talk = typed(Talk.new().released(), "undo", "read the whole list")
    assert talk.said == ["no list is open: build one was taken back. say insertion, the height, the angle."]


def test_a_key_where_no_build_is_open_says_so_and_is_written_as_refused() -> None:
    talk = Talk.new().key("ready")
    assert talk.said == ["no build is open."]
    assert talk.events == ["refused"]


# --- waits count from the end of the voice


def waiting(voice: float | None) -> Talk:
    """A readback at 1.0, and `voice` seconds later its end, if the voice tells."""
    talk = Talk.new(seconds_a_word=0.6).say(ELEVEN_SIXTY)
    if voice is not None:
        talk.put(Spoken(talk.now.measurer.last, talk.time + voice))
    return talk


@pytest.mark.parametrize(("voice", "silent_until", "again_at"), [(30.0, 49.0, 51.0), (2.0, 21.0, 23.0)])
def test_twenty_seconds_begin_when_the_voice_ends(voice: float, silent_until: float, again_at: float) -> None:
    talk = waiting(voice)
    assert talk.put(Tick(1.0 + silent_until)).said == []
    assert talk.put(Tick(1.0 + again_at)).said[0].startswith("i say again. insertion:")


def test_without_the_voice_the_estimate_stands() -> None:
    talk = waiting(None)
    words = len(talk.now.measurer.last.split())
    assert talk.put(Tick(1.0 + 0.6 * words + 19.0)).said == []
    assert talk.put(Tick(1.0 + 0.6 * words + 21.0)).said != []


def test_an_answer_over_the_last_words_of_the_voice_is_an_answer() -> None:
    talk = waiting(10.0)
    talk.time = 5.0
    assert talk.say(AFFIRM).count("released") == 1


def test_the_end_of_other_words_moves_no_wait() -> None:
    talk = waiting(None).put(Spoken("callout ready. one source. a person relays, and keys the affirm.", 40.0))
    assert talk.put(Tick(41.0)).said != []


def test_the_repeat_counts_from_its_own_end() -> None:
    talk = waiting(2.0)
    talk.put(Tick(24.0))
    talk.put(Spoken(talk.now.measurer.last, 40.0))
    assert talk.put(Tick(59.0)).said == []
    assert talk.put(Tick(61.0)).said == ["no answer. set aside. say read back."]


# --- two people at once


def at_once(talk: Talk, line: str, role: Role, begun: float, until: float) -> Talk:
    result = resolve_text(line, context(talk.now, role))
    return talk.put(Uttered(result, line, role, begun, True, None, until))


TWO = "two at once. one, say again."


@pytest.mark.parametrize(
    ("first", "second", "answer"),
    [
        ("insertion eleven feet sixty", "insertion nine feet sixty", TWO),
        ("insertion eleven feet sixty", "out of brick anchors", TWO),
        ("wall brick", "insertion nine feet sixty", TWO),
    ],
)
def test_of_two_who_speak_at_once_the_second_is_asked_again(first: str, second: str, answer: str) -> None:
    talk = at_once(Talk.new(one_source=False), first, "measurer", 10.0, 13.0)
    before = talk.now.logistics.pending
    at_once(talk, second, "logistics", 12.0, 14.0)
    assert talk.heard_by == [("yard", answer)]
    assert talk.events == ["heard", "asked"]
    assert talk.records[-1].data["unclear"] == "two_at_once"
    assert talk.now.logistics.pending == before
    assert talk.now.measurer.pending is not None


def test_the_long_utterance_that_ends_last_overlaps_too() -> None:
    talk = at_once(Talk.new(one_source=False), "out of brick anchors", "logistics", 12.0, 13.0)
    assert at_once(talk, "insertion nine feet sixty", "measurer", 10.0, 14.0).heard_by == [("measurer", TWO)]


def test_a_readback_outlives_an_answer_that_came_at_once_with_the_yard() -> None:
    talk = at_once(Talk.new(one_source=False), "insertion eleven feet sixty", "measurer", 1.0, 3.0)
    at_once(talk, "out of brick anchors", "logistics", 20.0, 22.0)
    at_once(talk, "affirm", "measurer", 21.0, 22.5)
    assert talk.heard_by == [("measurer", "two at once. say affirm, or correction.")]
    assert talk.count("released") == 0
    assert at_once(talk, "affirm", "measurer", 25.0, 26.0).count("released") == 1


def test_the_long_yes_is_not_taken_either_where_two_spoke() -> None:
    talk = at_once(Talk.new(one_source=False), "insertion eleven feet sixty", "measurer", 1.0, 3.0)
    at_once(talk, "out of brick anchors", "logistics", 20.0, 22.0)
    assert at_once(talk, "affirm insertion", "measurer", 21.0, 22.5).count("released") == 0


@pytest.mark.parametrize("second", ["short one", "substitute"])
def test_what_the_walk_changes_is_not_taken_while_the_measurer_calls_the_next_shore(second: str) -> None:
    talk = at_once(Talk.new(one_source=False).released(), "insertion nine feet sixty", "measurer", 10.0, 13.0)
    assert at_once(talk, second, "logistics", 11.0, 12.0).heard_by == [("yard", TWO)]


@pytest.mark.parametrize("second", ["ready", "say again", "how many struts", "status"])
def test_the_walk_and_questions_go_on_while_the_measurer_speaks(second: str) -> None:
    talk = at_once(Talk.new(one_source=False).released(), "insertion nine feet sixty", "measurer", 10.0, 13.0)
    at_once(talk, second, "logistics", 11.0, 12.0)
    assert not any("two at once" in sentence for sentence in talk.said)


def test_one_after_the_other_or_one_alone_is_no_two_at_once() -> None:
    talk = at_once(Talk.new(one_source=False), "insertion eleven feet sixty", "measurer", 10.0, 13.0)
    at_once(talk, "out of brick anchors", "logistics", 13.0, 14.0)
    assert talk.said[0].startswith("stock.")
    one = at_once(Talk.new(), "insertion eleven feet sixty", "measurer", 10.0, 13.0)
    at_once(one, "out of brick anchors", "logistics", 12.0, 14.0)
    assert "two at once" not in " ".join(one.said)


def test_over_one_another_for_as_long_as_the_settings_allow_is_no_two_at_once() -> None:
    talk = at_once(Talk.new(one_source=False, at_once=0.5), "insertion eleven feet sixty", "measurer", 10.0, 13.0)
    at_once(talk, "out of brick anchors", "logistics", 12.5, 14.0)
    assert talk.said[0].startswith("stock.")


def test_a_question_in_between_hides_no_two_at_once() -> None:
    """The yard was heard while the measurer called out, and is understood only after the measurer asked something."""
    talk = at_once(Talk.new(one_source=False), "insertion eleven feet sixty", "measurer", 10.0, 13.0)
    at_once(talk, "status", "measurer", 13.5, 14.0)
    assert at_once(talk, "out of brick anchors", "logistics", 12.0, 14.5).heard_by == [("yard", TWO)]


@pytest.mark.parametrize(
    "unsure", [Ambiguous((AFFIRM,), "command", ()), NotPossible(Command(command="short"), (), "nothing is walked")]
)
def test_what_decides_nothing_on_one_side_keeps_no_callout_of_the_other_from_being_read_back(
    unsure: Ambiguous | NotPossible,
) -> None:
    """A yes that one ear alone heard, a word for which there is no build: noise on a microphone is often so."""
    talk = Talk.new(one_source=False).put(Uttered(unsure, "words", "logistics", 12.0, False, None, 13.0))
    assert at_once(talk, "insertion eleven feet sixty", "measurer", 10.0, 14.0).events == ["heard", "readback"]


def test_a_stop_word_is_heard_over_anybody() -> None:
    talk = at_once(Talk.new(one_source=False), "insertion eleven feet sixty", "measurer", 10.0, 13.0)
    assert "alarm" in at_once(talk, "evacuate", "logistics", 11.0, 12.0).events


def test_what_was_set_aside_is_told_when_somebody_asks_or_starts_again() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("evacuate")
    assert talk.say("go_ahead").said == ["going on.", "a readback was set aside. say read back."]
    assert talk.say("status").said == ["a readback was set aside. say read back."]
    talk.put(Resumed(talk.time))
    assert talk.said == ["started again. a readback was set aside. say read back."]
    assert talk.say("read_back").events == ["heard", "readback"]
