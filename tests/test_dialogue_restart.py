"""A conversation comes back from its records alone: what was confirmed is confirmed, what waited still waits."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from callout.dialogue.events import Resumed, Tick
from callout.dialogue.machine import restore
from callout.dialogue.records import Record
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock
from tests.timing import WATCHED, paces


def through_the_journal(records: list[Record]) -> list[Record]:
    """As the journal gives them back: JSON on disk in between."""
    return [Record.model_validate_json(record.model_dump_json()) for record in records]


def again(talk: Talk) -> Talk:
    now = restore(through_the_journal(talk.records), make_stock(), FakePlanner(), talk.now.settings)
    fresh = Talk(now, time=0.0, records=list(talk.records))
    return fresh.put(Resumed(0.0))


SCENES: dict[str, tuple[Callable[[Talk], object], str]] = {
    "idle": (lambda t: None, "nothing open"),
    "gather": (lambda t: t.say(Callout(insertion=ft(11))), "waiting for the angle"),
    "walk": (lambda t: t.released().say("ready"), "we were at item two of build one, eleven feet, sixty"),
    "assembly": (
        lambda t: t.released().say("step_by_step").say("next").say("next"),
        "we were at step two of build one, eleven feet, sixty",
    ),
    "halted": (lambda t: t.say("evacuate"), "silent since evacuate. say go ahead"),
    "two builds": (
        lambda t: t.released().say("ready").released(Callout(insertion=ft(8), angle_deg=45)),
        "we were at item two of build one, eleven feet, sixty. build two, eight feet, forty five, is open",
    ),
}


@pytest.mark.parametrize("scene", SCENES)
def test_the_state_comes_back_and_is_spoken(scene: str) -> None:
    play, where = SCENES[scene]
    talk = Talk.new()
    play(talk)
    fresh = again(talk)
    assert fresh.now == talk.now
    assert fresh.records[-1].text == f"started again. {where}."
    assert fresh.said == ([] if scene == "halted" else [f"started again. {where}."])
    assert fresh.events == ["resumed"]
    assert fresh.state() == talk.state()


def test_what_waited_for_an_affirmative_is_read_back_again_and_released_by_it_after_a_restart() -> None:
    before = Talk.new().say(ELEVEN_SIXTY)
    readback = before.said[-1]
    fresh = again(before)
    assert fresh.events == ["resumed", "readback"]
    assert fresh.said == ["started again. waiting for an answer to the readback.", f"i say again. {readback}"]
    assert fresh.say(AFFIRM).count("released") == 1


def test_an_affirmative_whose_build_did_not_reach_the_disk_is_carried_out_after_the_restart() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(AFFIRM)
    cut = next(at for at, record in enumerate(talk.records, 1) if record.event == "affirmed")
    talk.records = talk.records[:cut]
    fresh = again(talk)
    assert fresh.events[:2] == ["resumed", "released"]
    assert fresh.now.open[1].request == ELEVEN_SIXTY


def test_new_content_voids_even_when_its_voiding_did_not_reach_the_disk() -> None:
    for word in (Callout(rakers=2), Command(command="disregard"), Command(command="cancel"), Command(command="undo")):
        talk = Talk.new().say(ELEVEN_SIXTY).say(word)
        cut = max(at for at, record in enumerate(talk.records, 1) if record.event == "heard")
        talk.records = talk.records[:cut]
        assert again(talk).say(AFFIRM).count("released") == 0


def test_nothing_that_was_confirmed_is_asked_again() -> None:
    fresh = again(Talk.new().released().say("ready"))
    assert fresh.say("ready").said == ["that is all. two items, six pieces."]
    assert fresh.say(AFFIRM).said == ["nothing to affirm."]
    assert fresh.count("released") == 1


def test_what_other_rooms_add_to_a_line_does_no_harm() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY)
    more = [r.model_copy(update={"data": {**r.data, "audio": "ab12.flac"}}) for r in talk.records]
    assert restore(more, make_stock(), FakePlanner()) == talk.now


def test_both_sides_hear_where_we_were_and_without_a_voice_the_crew_goes_on_at_once() -> None:
    """With a voice nobody knows what was said before the end; what stands on the screen was read."""
    fresh = again(Talk.new(one_source=False).released())
    assert [to for to, _ in fresh.heard_by] == ["both"]
    assert fresh.key("ready").events == ["picked", "said"]


def test_the_time_outs_start_anew() -> None:
    fresh = again(Talk.new().say(ELEVEN_SIXTY))
    fresh.time += 19
    assert fresh.put(Tick(fresh.time)).said == []
    fresh.time += 2
    assert fresh.put(Tick(fresh.time)).events == ["readback"]


def test_half_a_callout_is_not_asked_for_in_the_moment_of_a_restart() -> None:
    """Who is to answer has the same time as before it."""
    talk = Talk.new().say(Callout(insertion=ft(11)))
    assert talk.said == ["say the angle."]
    now = restore(talk.records, make_stock(), FakePlanner(), talk.now.settings)
    fresh = Talk(now, time=5000.0).put(Resumed(5000.0))
    assert fresh.put(Tick(5009.9)).said == []
    assert fresh.put(Tick(5010.1)).said == ["say the angle."]


def test_a_count_that_was_kept_without_what_follows_from_it_is_gone_on_from() -> None:
    """The line of the count is on the disk, the build that it makes possible is not."""
    talk = Talk.new(make_stock(six=0, eight=0)).released()
    talk.say(Command(command="stock_set", part="strut", length=ft(8), quantity=2)).say(AFFIRM)
    assert not talk.now.open[1].plan["missing"]
    cut = next(at for at, record in enumerate(talk.records, 1) if record.event == "stock_changed")
    now = restore(talk.records[:cut], make_stock(six=0, eight=0), FakePlanner(), talk.now.settings)
    assert now.open[1].plan["missing"]
    assert not Talk(now).put(Resumed(0.0)).now.open[1].plan["missing"]


def test_who_affirmed_last_is_answered_after_the_restart_as_before_it() -> None:
    talk = Talk.new(one_source=False).say(ELEVEN_SIXTY).say(AFFIRM)
    live = [(to, text) for to, text in talk.heard_by if to == "measurer"]
    assert live == [("measurer", "build one goes to the yard.")]
    cut = next(at for at, record in enumerate(talk.records, 1) if record.event == "affirmed")
    now = restore(talk.records[:cut], make_stock(), FakePlanner(), talk.now.settings)
    assert live[0] in Talk(now).put(Resumed(0.0)).heard_by


def test_what_the_yard_affirmed_last_is_answered_to_the_yard_after_the_restart() -> None:
    talk = Talk.new(one_source=False)
    talk.say(Command(command="stock_set", part="strut", length=ft(8), quantity=2), "logistics").say(AFFIRM, "logistics")
    counted = ("yard", "counted. two struts, eight feet, on hand.")
    assert talk.heard_by == [counted]
    cut = next(at for at, record in enumerate(talk.records, 1) if record.event == "affirmed")
    now = restore(talk.records[:cut], make_stock(), FakePlanner(), talk.now.settings)
    assert counted in Talk(now).put(Resumed(0.0)).heard_by


def test_a_restart_at_every_record_of_a_long_talk_gives_what_the_live_one_had() -> None:
    """The records of one step are written one by one: a crash may fall between any two of them."""
    talk = Talk.new()
    talk.say(Callout(insertion=ft(11))).say(Callout(angle_deg=60)).say(AFFIRM).say("ready").say("short").say("skip")
    talk.released(Callout(insertion=ft(8), angle_deg=45)).say(Command(command="build", build=2)).say("ready")
    talk.say(Command(command="correction", patch=Callout(angle_deg=60))).say(AFFIRM).say("undo").say(AFFIRM)
    for cut in range(len(talk.records) + 1):
        now = restore(through_the_journal(talk.records[:cut]), make_stock(), FakePlanner())
        fresh = Talk(now, time=100.0).put(Resumed(100.0))
        released = sum(record.event == "released" for record in talk.records[:cut])
        assert fresh.say(AFFIRM).count("released") + released <= released + 1
        assert len(fresh.said) >= 1


def test_a_hundred_thousand_records_are_folded_in_about_a_second() -> None:
    """Measured here it is about 35 paces, 0.9 s; in seconds and among all of a start: tests/bench_journal.py."""
    talk = Talk.new(make_stock(six=100_000, anchors=100_000))
    while len(talk.records) < 2_000:
        talk.released()
        talk.stand()
    records = talk.records * (100_000 // len(talk.records) + 1)
    assert paces(lambda: restore(records, make_stock(), FakePlanner())) < 70 * WATCHED


def test_what_a_stop_word_was_to_set_aside_is_set_aside_though_a_crash_came_between() -> None:
    """The stop word is on the disk, and the line after it is not: a yes answers words that were heard since."""
    talk = Talk.new().say(ELEVEN_SIXTY).say("evacuate")
    assert talk.records.pop().event == "parked"
    fresh = again(talk).say("status")
    assert fresh.events == ["heard", "parked", "said", "said"]
    assert fresh.say(AFFIRM).count("released") == 0
    assert fresh.said == ["that callout was set aside. say read back first."]
    assert fresh.say("read_back").say(AFFIRM).count("released") == 1
