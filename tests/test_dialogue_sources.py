"""Who speaks: two sources, two seats. And the stop words of the field."""

from __future__ import annotations

import pytest

from callout.dialogue.events import Fault, Listen, LookDue, Say, Silence, Tick, Uttered
from callout.dialogue.records import Role
from callout.dialogue.state import context
from callout.language.outcome import Near, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, Talk, ft


def two() -> Talk:
    return Talk.new(one_source=False)


def test_one_source_is_said_at_the_start() -> None:
    talk = Talk.new()
    assert talk.heard_by == [("both", "callout ready. one source. a person relays, and keys the affirm.")]
    assert two().said == ["callout ready."]


def test_the_readback_goes_to_the_measurer_and_the_walk_to_the_yard_alone() -> None:
    talk = two().say(ELEVEN_SIXTY)
    assert [to for to, _ in talk.heard_by] == ["measurer"]
    talk.say(AFFIRM)
    assert talk.heard_by[0] == ("measurer", "build one goes to the yard.")
    assert {to for to, _ in talk.heard_by[1:]} == {"yard"}


def test_a_yes_in_the_yard_releases_nothing() -> None:
    talk = two().say(ELEVEN_SIXTY).say(AFFIRM, "logistics")
    assert talk.said == ["only the measurer affirms that."]
    assert talk.count("released") == 0
    assert talk.say(AFFIRM).count("released") == 1


def test_a_yes_from_the_measurer_changes_no_stock_of_the_yard() -> None:
    talk = two().say(Command(command="stock_out", part="anchor"), "logistics").say(AFFIRM)
    assert talk.said == ["only logistics affirms that."]
    assert talk.count("stock_changed") == 0
    assert talk.say(AFFIRM, "logistics").count("stock_changed") == 1


def test_with_one_source_a_person_relays_and_either_role_affirms() -> None:
    assert Talk.new().say(ELEVEN_SIXTY).say(AFFIRM, "logistics").count("released") == 1


def test_the_walk_goes_on_while_a_readback_waits() -> None:
    talk = two().released().say(Callout(insertion=ft(8), angle_deg=45))
    assert (talk.state("measurer"), talk.state("logistics")) == ("confirm", "walk")
    assert talk.say("ready", "logistics").events == ["heard", "picked", "said"]
    assert talk.say(AFFIRM).count("released") == 2


def test_words_of_the_walk_from_the_measurer_book_nothing() -> None:
    talk = two().released().say("ready")
    assert talk.said == ["that word is for the yard."]
    assert talk.count("picked") == 0


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("team alpha insertion eleven feet sixty", "team alpha"),
        ("insertion eleven feet sixty this is team alpha", "team alpha"),
        ("this is alice brown insertion eleven feet sixty", "alice brown"),  # no callsign: two words
        ("insertion eleven feet sixty this is", None), ("team alpha", None), ("insertion eleven feet sixty", None),
    ],
)  # fmt: skip
def test_a_name_is_more_than_this_is_and_less_than_all_that_was_said(line: str, name: str | None) -> None:
    talk = two().put(Uttered(Understood(ELEVEN_SIXTY, tuple(line.split())), line, "measurer", 1.0, True))
    assert talk.now.measurer.pending is not None
    assert talk.now.measurer.pending.name == name


def test_each_side_hears_its_own_words_again() -> None:
    talk = two().released().say("say_again")
    assert talk.heard_by == [("measurer", "build one goes to the yard.")]
    assert talk.say("say_again", "logistics").heard_by == [("yard", "item one. two struts, six feet. rack A.")]


def test_the_yard_cannot_take_back_the_measurers_build() -> None:
    talk = two().released().say(Command(command="cancel", build=1), "logistics")
    assert talk.said == ["only the measurer takes that back."]
    assert talk.now.open


def test_two_measurers_keep_their_names() -> None:
    talk = two().say(ELEVEN_SIXTY, name="alice")
    assert talk.records[-2].speaker == "alice"
    talk.say(AFFIRM, name="bob")
    assert talk.said == ["only alice affirms that."]
    assert talk.count("released") == 0
    assert talk.say(AFFIRM, name="alice").count("released") == 1
    assert talk.now.open[1].name == "alice"


def test_a_name_that_is_given_is_kept() -> None:
    line = "this is team alpha insertion eleven feet sixty"
    talk = two().put(Uttered(Understood(ELEVEN_SIXTY, tuple(line.split())), line, "measurer", 1.0, True))
    assert next(record for record in talk.records if record.event == "heard").speaker == "team alpha"
    talk.time = 1.0
    talk.say(AFFIRM)
    assert talk.now.open[1].name == "team alpha"


def test_a_key_in_the_yard_is_the_yards_and_with_one_source_it_affirms_what_was_relayed() -> None:
    assert two().released().key("ready").events == ["picked", "said"]
    assert two().say(ELEVEN_SIXTY).key("affirm").count("released") == 0
    talk = Talk.new().say(ELEVEN_SIXTY).key("affirm")
    assert talk.count("released") == 1
    assert talk.now.measurer.pending is None  # it was the measurer's to answer, and is answered


def test_what_is_told_to_the_yard_is_the_last_that_the_yard_heard() -> None:
    """Say again repeats it there, and there alone."""
    talk = two().released().put(LookDue(1, "an hour went by", 5.0))
    look = "look at build one, an hour went by. tighten its wedges and screws, and read every mark."
    assert talk.heard_by == [("yard", look)]
    talk.time = 5.0
    assert talk.say("radio_check").heard_by[0][0] == "measurer"
    talk.put(LookDue(1, "an hour went by", 7.0))
    assert talk.now.logistics.last == look
    assert talk.now.measurer.last != look
    talk.put(Fault("the second ear stopped", 8.0, "ear_lost"))
    assert {talk.now.measurer.last, talk.now.logistics.last} >= {"one ear is lost. affirm by key."}
    assert [effect.kind for effect in talk.effects if isinstance(effect, Say)] == ["warning"]


def test_the_ears_of_a_side_are_told_what_it_may_say_when_that_changes_and_only_then() -> None:
    talk = two().say(ELEVEN_SIXTY)
    assert talk.listens == [Listen("measurer", context(talk.now, "measurer"))]
    assert talk.say("radio_check").listens == []
    talk.say(AFFIRM)
    assert talk.listens == [Listen(role, context(talk.now, role)) for role in ("measurer", "logistics")]


def test_what_is_near_to_a_word_of_the_yard_is_asked_there_while_the_measurer_has_to_answer() -> None:
    near = Near(("sort", "one"), likely=Command(command="short", quantity=1), sentence="short one")
    talk = two().released().say(Callout(insertion=ft(8), angle_deg=45))
    talk.put(Uttered(near, "sort one", "measurer", talk.time, True))
    assert "short one, of the six foot struts?" not in talk.said
    talk.put(Uttered(near, "sort one", "logistics", talk.time, True))
    assert talk.heard_by == [("yard", "short one, of the six foot struts?")]
    talk.say(AFFIRM)
    assert (talk.count("released"), talk.count("stock_changed")) == (2, 0)


def test_a_no_of_the_measurer_puts_back_nothing_that_the_yard_has_fetched() -> None:
    talk = two().released().say("ready", "logistics").say("back", "logistics")
    assert talk.say("negative").count("returned") == 0
    assert talk.say("negative", "logistics").count("returned") == 1


def test_a_stop_word_sets_aside_what_waits_on_both_sides_and_each_is_told_of_its_own() -> None:
    talk = two().say(ELEVEN_SIXTY).say(Command(command="stock_out", part="anchor"), "logistics")
    talk.say("evacuate", "logistics")
    assert [record.data["seat"] for record in talk.records if record.event == "parked"] == ["measurer", "logistics"]
    talk.say("go_ahead", "logistics")
    assert "a readback was set aside. say read back." in talk.said
    assert talk.say("read_back").say(AFFIRM).count("released") == 1
    talk.say("disregard", "logistics").say("hold")
    assert talk.say("go_ahead").said == ["go ahead."]


def test_with_no_build_in_the_walk_a_word_of_the_yard_is_of_the_build_that_was_called_first() -> None:
    """Build one was fetched and stood, and was taken back since: it is the first still, though it came back last."""
    talk = two().released(Callout(insertion=ft(8), angle_deg=60))
    talk.stand().released(Callout(insertion=ft(8), angle_deg=45)).released(Callout(insertion=ft(7), angle_deg=60))
    talk.say("undo", "logistics").say(AFFIRM, "logistics")
    assert list(talk.now.open) == [2, 3, 1]
    talk.say(Command(command="build", build=2), "logistics").say(Command(command="cancel", build=2)).say(AFFIRM)
    assert (list(talk.now.open), talk.now.walked) == ([3, 1], None)
    assert talk.say("ready", "logistics").heard_by == [("yard", "build one stands. affirm, or negative.")]


def test_each_seat_has_its_own_time_outs() -> None:
    talk = two().say(ELEVEN_SIXTY)
    talk.time += 15
    talk.say(Command(command="stock_out", part="anchor"), "logistics")
    talk.put(Tick(talk.time + 6))
    assert [to for to, _ in talk.heard_by] == ["measurer"]


def typed_by(talk: Talk, role: Role, line: str) -> Talk:
    """A typed line through the resolver, in the context of that side."""
    talk.time += 1.0
    return talk.put(Uttered(resolve_text(line, context(talk.now, role)), line, role, talk.time, True))


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("this is rescue two insertion eleven feet sixty", "rescue two"),
        ("this is rescue 2 insertion 11 ft @60", "rescue two"),
        ("logistics this is team alpha insertion eleven feet sixty", "team alpha"),
        ("this is task force one insertion eleven feet sixty", "task force one"),
        ("team twenty one, insertion eleven feet sixty", "team twenty one"),
        ("this is engine 25, insertion 11 ft @60", "engine twenty five"),
        ("battalion one, insertion eleven feet sixty", "battalion one"),
    ],
)
def test_a_name_that_is_typed_is_kept_to_the_build(line: str, name: str) -> None:
    talk = typed_by(two(), "measurer", line)
    assert talk.records[-2].speaker == name
    typed_by(talk, "logistics", "affirm")
    assert talk.count("released") == 0
    typed_by(talk, "measurer", "affirm")
    assert talk.now.open[1].name == name


@pytest.mark.parametrize(("called", "other"), [("twenty", "twenty one"), ("twenty one", "twenty"), ("two", "twenty")])
def test_a_yes_of_one_team_is_none_of_another_whose_name_begins_alike(called: str, other: str) -> None:
    talk = typed_by(two(), "measurer", f"team {called}, insertion eleven feet sixty")
    assert talk.records[-1].event == "readback"
    typed_by(talk, "measurer", f"team {other}, affirm")
    assert talk.count("affirmed") == 0
    assert talk.said == [f"the readback is not for team {other}."]
    typed_by(talk, "measurer", f"team {called}, affirm")
    assert talk.now.open[1].name == f"team {called}"


# --- One source: the crew walks on while somebody else's readback waits ---


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("ready", "item two. four brick anchors. box two."),
        ("next", "item two. four brick anchors. box two."),
        ("skip", "item two. four brick anchors. box two."),
        ("back", "item one. two struts, six feet. rack A."),
        ("item two", "item two. four brick anchors. box two."),
        ("say again item two", "you are at item one."),
        ("how many left", "build one. two items left."),
        ("where", "six foot struts. at rack A."),
        ("parts list", "build one. item one, two struts, six feet; item two, four brick anchors."),
        ("short", "item one. two struts, eight feet. rack A."),
        ("substitute", "answer the readback first. affirm, or negative."),
    ],
)
def test_a_word_of_the_walk_neither_releases_nor_voids_the_readback_that_waits(line: str, said: str) -> None:
    talk = Talk.new().released().say(Callout(insertion=ft(8), angle_deg=45))
    assert talk.state() == "confirm_walk"
    waiting = talk.now.measurer.pending
    typed_by(talk, "measurer", line)
    assert talk.said[-1] == said
    assert talk.now.measurer.pending == waiting
    assert (talk.count("released"), talk.count("voided")) == (1, 0)
    assert talk.say(AFFIRM).count("released") == 2


def test_an_unsure_short_voids_no_readback() -> None:
    talk = Talk.new().released().say(Callout(insertion=ft(8), angle_deg=45)).say("short", certain=False)
    assert talk.said == ["answer the readback first. affirm, or negative."]
    assert talk.say(AFFIRM).count("released") == 2


def test_the_crew_walks_on_while_half_a_callout_waits() -> None:
    talk = Talk.new().released().say(Callout(insertion=ft(8)))
    assert talk.state() == "gather_walk"
    assert typed_by(talk, "measurer", "ready").said == ["item two. four brick anchors. box two."]
    assert typed_by(talk, "measurer", "substitute").said == ["finish the callout first, or say disregard."]
    assert typed_by(talk, "measurer", "forty five").events == ["heard", "readback"]


# --- Stop words ---


@pytest.mark.parametrize("word", ["evacuate", "cease_operations"])
@pytest.mark.parametrize("state", ["idle", "gather", "confirm", "walk"])
def test_a_stop_word_silences_at_once_in_every_state(word: str, state: str) -> None:
    talk = Talk.new()
    if state == "walk":
        talk.released()
    elif state != "idle":
        talk.say(ELEVEN_SIXTY if state == "confirm" else Callout(insertion=ft(11)))
    assert talk.state() == state
    talk.say(word, certain=False)
    assert any(isinstance(effect, Silence) for effect in talk.effects)
    assert "alarm" in talk.events
    assert talk.said == []  # the tool never pretends to be the alarm
    assert talk.state() == "halted"


def test_after_a_stop_word_nothing_is_spoken_booked_or_released_until_go_ahead() -> None:
    talk = Talk.new().released().say(Callout(insertion=ft(8), angle_deg=45)).say("evacuate")
    for word in ("affirm", "ready", "say_again", "skip"):
        assert talk.say(word).said == []
    talk.key("ready")
    talk.put(Tick(talk.time + 1000))
    assert talk.said == []
    assert (talk.count("released"), talk.count("picked")) == (1, 0)
    talk.say("go_ahead")
    item = "item one. two struts, six feet. rack A."
    assert talk.said == ["going on.", "a readback was set aside. say read back.", item]
    assert talk.state() == "walk"
    assert talk.say(AFFIRM).count("released") == 1  # what waited was parked
    assert talk.say("read_back").say(AFFIRM).count("released") == 2


def test_a_whole_callout_wakes_the_voice_and_a_half_does_not() -> None:
    talk = Talk.new().say("evacuate").say(Callout(insertion=ft(11)))
    assert talk.said == []
    assert talk.say(ELEVEN_SIXTY).events == ["heard", "said", "readback"]


@pytest.mark.parametrize("typed", [True, False])
def test_while_the_voice_is_silent_what_means_nothing_is_answered_only_where_it_was_typed(typed: bool) -> None:
    talk = Talk.new().released().say("evacuate")
    talk.put(Uttered(resolve_text("next", context(talk.now, "logistics")), "next", "logistics", talk.time + 1, typed))
    assert talk.said == []
    assert talk.events[1:] == (["refused"] if typed else [])
    assert talk.state() == "halted"


def test_stop_cuts_the_voice_and_stops_the_clock_only() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say("stop")
    assert [effect for effect in talk.effects if isinstance(effect, Silence)] == [Silence("both")]
    assert talk.events == ["heard"]
    assert talk.put(Tick(talk.time + 1000)).said == []
    assert talk.count("voided") == 0


def test_a_fault_is_written_and_not_spoken() -> None:
    talk = Talk.new().put(Fault("the voice stopped; run callout check", 1.0))
    assert talk.events == ["error"]
    assert talk.said == []
