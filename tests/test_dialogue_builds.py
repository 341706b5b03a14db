"""Undo, change orders, the stock by voice, and what touches builds that are open."""

from __future__ import annotations

import pytest

from callout.dialogue.events import Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.state import holdings, on_hand
from callout.language.outcome import Understood
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock

TO_TWELVE = Command(command="correction", patch=Callout(insertion=ft(14)))


def stock(command: str, part: str, quantity: int | None = None, feet: int | None = None) -> Command:
    return Command(command=command, part=part, quantity=quantity, length=None if feet is None else ft(feet))


# --- Undo ---


def test_undo_before_the_first_piece_takes_the_build_back() -> None:
    talk = Talk.new().released().say("undo")
    assert talk.events == ["heard", "voided"]
    assert talk.heard_by == [("both", "build one is taken back.")]
    assert talk.now.open == {}
    assert holdings(talk.now).promised == {}


def test_undo_that_only_one_ear_heard_is_read_back_first() -> None:
    talk = Talk.new().released().say("undo", certain=False)
    assert talk.events == ["heard", "readback"]
    assert talk.now.open
    assert talk.say("affirm").now.open == {}


def test_undo_after_the_first_piece_is_a_change_order_that_puts_it_back() -> None:
    talk = Talk.new().released().say("ready").say(Command(command="cancel", build=1))
    assert talk.events == ["heard", "readback"]
    assert "two pieces picked" in talk.said[0]
    assert on_hand(talk.now)["six foot strut"] == 2
    talk.say("affirm")
    assert talk.events == ["heard", "affirmed", "returned", "voided"]
    assert talk.said[0] == "put back two struts, six feet."
    assert on_hand(talk.now)["six foot strut"] == 4


def test_undo_takes_the_last_build_and_cancel_names_one() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(8), angle_deg=45))
    talk.say("undo")
    assert list(talk.now.open) == [1, 2]  # not the build in the walk: asked
    talk.say("affirm")
    assert list(talk.now.open) == [1]
    talk.say(Command(command="cancel", build=1))
    assert talk.now.open == {}
    assert talk.say("undo").said == ["nothing to undo."]


def test_the_same_callout_can_be_made_again_after_undo() -> None:
    talk = Talk.new().released().say("undo").released()
    assert list(talk.now.open) == [2]


def test_what_waits_about_a_build_is_void_with_it() -> None:
    talk = Talk.new().released(Callout(insertion=ft(11), angle_deg=60, position=2))
    talk.released(Callout(insertion=ft(8), angle_deg=45)).say(TO_TWELVE)
    assert talk.said[0].startswith("change build three.")
    talk.say(Command(command="cancel", build=3))
    assert talk.said == ["build three is taken back.", "what waited for its answer is void."]
    assert talk.say("affirm").said == ["nothing to affirm."]
    assert [build.number for build in talk.now.open.values()] == [2]


def test_what_waits_about_a_build_is_void_when_it_stands() -> None:
    talk = Talk.new(one_source=False).released().say(TO_TWELVE)
    assert talk.said[0].startswith("change build one.")
    talk.stand()
    assert ("measurer", "what waited for its answer is void.") in talk.heard_by
    assert talk.say("affirm").said == ["nothing to affirm."]
    assert talk.count("released") == 1


def test_a_callout_that_waits_stays_when_another_build_is_taken_back() -> None:
    talk = Talk.new().released().say(Callout(insertion=ft(8), angle_deg=45)).say(Command(command="cancel", build=1))
    assert talk.said == ["build one is taken back."]
    assert talk.say("affirm").events[:3] == ["heard", "affirmed", "released"]


def test_two_sides_cannot_release_one_callout_or_one_position_twice() -> None:
    talk = Talk.new(one_source=False).say(ELEVEN_SIXTY).say(ELEVEN_SIXTY, "logistics").say("affirm")
    talk.say("affirm", "logistics")
    assert talk.said == ["that is build one, not a second build. for a second, add its position."]
    nine, ten = (Callout(insertion=ft(feet), angle_deg=60, position=4) for feet in (9, 10))
    talk.say(nine).say(ten, "logistics").say("affirm").say("affirm", "logistics")
    assert talk.said == ["position four is build four. undo it, or say another position."]
    assert sorted(build.number for build in talk.now.open.values()) == [1, 4]


def test_a_new_build_does_not_take_the_number_of_one_that_stands() -> None:
    talk = Talk.new().released(Callout(insertion=ft(11), angle_deg=60, position=2))
    talk.stand()
    assert talk.released(Callout(insertion=ft(8), angle_deg=45)).said[0] == "build three goes to the yard."


# --- Change orders ---


def test_a_correction_after_release_is_read_back_as_a_change() -> None:
    talk = Talk.new().released().say(TO_TWELVE)
    assert talk.events == ["heard", "readback"]
    assert talk.said[0].startswith("change build one.")
    assert talk.now.open[1].request == ELEVEN_SIXTY  # the yard keeps the old one until it is affirmed
    talk.say("negative")
    assert talk.now.open[1].request == ELEVEN_SIXTY


def test_an_affirmed_change_says_what_to_put_back_and_what_to_fetch() -> None:
    talk = Talk.new().released().say("ready").say(TO_TWELVE).say("affirm")
    assert talk.events[:3] == ["heard", "affirmed", "released"]
    assert talk.said == [
        "build one changes in the yard.",
        "put back two struts, six feet.",
        "yard. build one changes. fetch two struts, eight feet.",
        "item one. two struts, eight feet. rack A.",
    ]
    assert on_hand(talk.now)["six foot strut"] == 4
    assert [record.build_id for record in talk.records if record.event == "released"] == [1, 1]


def test_a_change_keeps_what_is_picked_and_still_wanted() -> None:
    talk = Talk.new().released().say("ready").say("ready")
    talk.say(Command(command="correction", patch=Callout(insertion=ft(12)))).say("affirm")
    assert talk.count("returned") == 0
    assert talk.now.open[1].open_lines == ()
    assert talk.said[-1] == "that is all. two items, six pieces."


def test_a_change_of_position_changes_the_number_and_takes_none_that_is_taken() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(8), angle_deg=45))
    talk.say(Command(command="correction", patch=Callout(position=1)))
    assert talk.events == ["heard", "refused"]
    talk.say(Command(command="correction", patch=Callout(position=4))).say("affirm")
    assert [build.number for build in talk.now.open.values()] == [1, 4]


def test_a_correction_with_the_number_of_a_build_changes_that_one_whatever_was_released_last() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(8), angle_deg=45))
    talk.say(TO_TWELVE.model_copy(update={"build": 1}))
    assert talk.said == ["change build one. insertion: one four feet, fourteen feet; sixty degrees. over."]
    talk.say("affirm")
    assert [build.request.insertion for build in talk.now.open.values()] == [ft(14), ft(8)]


def test_after_an_undo_the_yard_hears_which_build_waits() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(8), angle_deg=45))
    talk.say(Command(command="cancel", build=1))
    assert talk.heard_by[-1] == ("yard", "yard. build two is open. say build two.")


# --- The stock by voice ---


def test_a_stock_line_changes_nothing_before_its_affirmative() -> None:
    talk = Talk.new().say(stock("stock_set", "strut", 1, 6))
    assert talk.events == ["heard", "readback"]
    assert talk.said == ["stock. one strut, six feet, on hand. affirm, or negative."]
    assert on_hand(talk.now)["six foot strut"] == 4
    talk.say("affirm")
    assert talk.events == ["heard", "affirmed", "stock_changed"]
    assert on_hand(talk.now)["six foot strut"] == 1


def test_more_that_came_in_is_added_and_out_is_none() -> None:
    talk = Talk.new().say(stock("stock_add", "strut", 2, 4)).say("affirm")
    assert on_hand(talk.now)["four foot strut"] == 6
    talk.say(stock("stock_out", "anchor")).say("affirm")
    assert on_hand(talk.now)["brick anchor"] == 0


def test_counts_are_of_what_lies_there_not_of_what_was_picked() -> None:
    talk = Talk.new().released().say("ready")
    talk.say(stock("stock_set", "strut", 2, 6)).say("affirm")
    assert on_hand(talk.now)["six foot strut"] == 2
    talk.say("back").say("negative")  # two come back
    assert on_hand(talk.now)["six foot strut"] == 4


def test_a_part_without_its_length_is_asked_for_and_an_unknown_one_refused() -> None:
    talk = Talk.new().say(stock("stock_set", "strut", 4))
    assert talk.events == ["heard", "asked"]
    assert talk.say(stock("stock_set", "wedge", 4)).events == ["heard", "refused"]


def test_a_stock_line_and_a_callout_void_one_another() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY).say(stock("stock_set", "strut", 1, 6)).say("affirm")
    assert talk.count("released") == 0
    assert talk.count("stock_changed") == 1


def test_pieces_that_come_in_mend_a_build_that_was_short() -> None:
    talk = Talk.new(make_stock(six=0, eight=0)).released()
    assert talk.now.open[1].plan["missing"]
    talk.say(stock("stock_add", "strut", 2, 6)).say("affirm")
    assert talk.said[-2:] == [
        "yard. build one changes. fetch two struts, six feet.", "item one. two struts, six feet. rack A."
    ]
    assert not talk.now.open[1].plan["missing"]


def test_a_count_below_what_is_promised_plans_again() -> None:
    talk = Talk.new().released().say(stock("stock_set", "strut", 1, 6)).say("affirm")
    assert "fetch two struts, eight feet" in talk.said[-2]
    assert talk.said[-1] == "item one. two struts, eight feet. rack A."


def test_what_stands_no_longer_lies_in_the_yard() -> None:
    talk = Talk.new().released()
    talk.stand()
    assert on_hand(talk.now)["six foot strut"] == 2
    assert holdings(talk.now).builds[1]["six foot strut"].placed == 2


def test_what_was_not_booked_is_asked_about_before_a_build_stands() -> None:
    for word, left in (("next", 2), ("skip", 4)):
        talk = Talk.new().released().say("step_by_step")
        while "two items not booked" not in talk.said[0]:
            talk.say("next")
        talk.say(word)
        assert list(talk.now.open) == [1]  # asked, never booked by the key that ticked the last check
        talk.say("affirm")
        assert talk.now.open == {}
        assert on_hand(talk.now)["six foot strut"] == left


# --- What cannot be built ---


@pytest.mark.parametrize("angle", [45, 60])
def test_the_readback_refuses_what_the_plan_refuses_and_nothing_else(angle: int) -> None:
    """Struts with their extensions too: nothing in the conversation asks a narrower question than the plan."""
    depot, planner = load_stock(), ShorePlanner()
    extended = 0
    for feet in range(4, 18):
        request = Callout(insertion=ft(feet), angle_deg=angle)
        build = planner.plan(1, request, depot, holdings(start(depot, planner)))
        extended += any(part.part == "extension" for part in build.parts) and build.refused is None
        now, _ = step(start(depot, planner), Uttered(Understood(request, ()), "words", "measurer", 1.0, True))
        waits = now.measurer.pending
        assert waits is not None
        assert waits.shape.cannot is (build.refused is not None), feet
        assert ("it cannot be built" in waits.text) is waits.shape.cannot
    assert extended > 2
