"""Relocation by voice: common practice, no source. The pieces move with the shore, and the sums stay right."""

from __future__ import annotations

from callout.dialogue.inputs import Heard, Tick
from callout.dialogue.ledger import holdings, on_hand
from callout.language.resolve import resolve_text
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, Talk, ft, make_stock

RELOCATE = Command(command="relocate")


def standing(talk: Talk) -> Talk:
    talk.released()
    while talk.now.open:
        talk.say("ready")
    return talk


def test_nothing_stands_nothing_moves() -> None:
    assert Talk.new().released().say(RELOCATE).said == ["no build stands yet."]


def test_the_new_callout_is_asked_for_and_read_back_with_what_holds_the_wall() -> None:
    talk = standing(Talk.new()).say(RELOCATE)
    assert talk.said == ["relocate build one. say insertion, the height, the angle of the new place."]
    talk.say(Callout(insertion=ft(12))).say(Callout(angle_deg=60))
    assert talk.events == ["heard", "readback"]
    assert talk.said[0].startswith("relocate build one. insertion: one two feet")
    assert "new support comes first" in talk.said[0]
    assert talk.count("released") == 1


def test_affirmed_it_is_a_build_that_takes_what_it_can_from_the_old_one() -> None:
    talk = standing(Talk.new(make_stock(six=2, anchors=4))).say(RELOCATE)
    talk.say(Callout(insertion=ft(12), angle_deg=60)).say(AFFIRM)
    assert talk.events[:5] == ["heard", "affirmed", "released", "returned", "picked"]
    assert talk.now.open[2].open_lines == ()  # the same struts and anchors go along
    assert on_hand(talk.now)["six foot strut"] == 0
    while talk.now.open:
        talk.say("next")
    assert list(talk.now.standing) == [2]
    assert holdings(talk.now).builds[2]["six foot strut"].placed == 2
    assert on_hand(talk.now)["six foot strut"] == 0


def test_what_is_left_over_comes_back_when_the_new_one_stands() -> None:
    talk = standing(Talk.new(make_stock(six=2))).say(RELOCATE).say(Callout(insertion=ft(14), angle_deg=60)).say(AFFIRM)
    assert on_hand(talk.now)["six foot strut"] == 0  # they stand until the new shore does
    while talk.now.open:
        talk.say("next")
    assert "put back two six foot struts." in talk.said
    assert on_hand(talk.now)["six foot strut"] == 2
    assert list(talk.now.standing) == [2]


def test_what_cannot_be_built_there_leaves_the_shore_alone() -> None:
    talk = standing(Talk.new(make_stock(eight=0))).say(RELOCATE).say(Callout(insertion=ft(14), angle_deg=60))
    assert talk.events[:2] == ["heard", "voided"]
    assert "build one cannot go there. leave it standing." in talk.said
    assert talk.say(AFFIRM).count("released") == 1


def test_planning_again_keeps_the_order_of_the_move() -> None:
    talk = standing(Talk.new(make_stock(six=4))).say(RELOCATE).say(Callout(insertion=ft(14), angle_deg=60)).say(AFFIRM)
    steps = [step["text"] for step in talk.now.open[2].plan["steps"]]
    assert "look at the new support: it bears on its own" in steps
    assert steps.index("set the plate") < len(steps) - 1  # the shore's own steps stand inside the order
    talk.say(Command(command="correction", patch=Callout(insertion=ft(12)))).say(AFFIRM)
    assert talk.now.open[2].relocates == 1
    assert "look at the new support: it bears on its own" in [step["text"] for step in talk.now.open[2].plan["steps"]]


def test_a_relocation_without_its_callout_is_set_aside() -> None:
    talk = standing(Talk.new()).say(RELOCATE)
    talk.time += 41
    talk.put(Tick(talk.time))
    assert talk.said == ["relocation set aside."]
    assert talk.say(Callout(insertion=ft(8), angle_deg=45)).said[0].startswith("read back.")


def test_while_another_build_is_walked_the_move_waits_its_turn() -> None:
    talk = standing(Talk.new()).released(Callout(insertion=ft(8), angle_deg=45))
    talk.say(RELOCATE).say(Callout(insertion=ft(12), angle_deg=60)).say(AFFIRM)
    assert talk.said[-1] == "yard. build one is open. say build one."


def test_a_correction_and_a_disregard_reach_it() -> None:
    talk = standing(Talk.new()).say(RELOCATE).say(ELEVEN_SIXTY)
    talk.say(Command(command="correction", patch=Callout(insertion=ft(10))))
    assert talk.said[0].startswith("relocate build one. insertion: one zero feet")
    talk.say("disregard").say(AFFIRM)
    assert list(talk.now.standing) == [1]
    talk.say(RELOCATE).say("disregard").say(Callout(insertion=ft(8), angle_deg=45))
    assert talk.said[0].startswith("read back.")


def test_a_relocation_outlives_a_callout_without_its_lead_in() -> None:
    talk = standing(Talk.new()).say(RELOCATE)
    talk.put(Heard(resolve_text("twelve feet sixty"), "twelve feet sixty", "measurer", talk.time, True))
    assert talk.said[-1] == "say insertion, the height, the angle."
    assert talk.say(Callout(insertion=ft(12), angle_deg=60)).said[0].startswith("relocate build one.")
