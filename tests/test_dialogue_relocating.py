"""Relocation by voice: common practice, no source. The pieces move with the shore, and the sums stay right."""

from __future__ import annotations

from callout.dialogue.events import Resumed, Tick, Uttered
from callout.dialogue.machine import restore
from callout.dialogue.state import holdings, on_hand
from callout.journal.handover import handover
from callout.language.resolve import resolve_text
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, Talk, ft, make_stock

RELOCATE = Command(command="relocate")


def standing(talk: Talk) -> Talk:
    talk.released()
    talk.stand()
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
    talk = standing(Talk.new(make_stock(six=2, anchors=8))).say(RELOCATE)
    talk.say(Callout(insertion=ft(12), angle_deg=60)).say(AFFIRM)
    assert talk.events[:3] == ["heard", "affirmed", "released"]  # one line books all: a crash cannot split it
    assert not {"returned", "picked"} & set(talk.events)  # nothing was carried
    build = talk.now.open[2]
    left = [build.build.parts[line].name for line in build.open_lines]
    assert left == ["brick anchor"]  # the same struts go along; what was driven into the wall does not
    assert on_hand(talk.now)["six foot strut"] == 0
    talk.stand()
    assert list(talk.now.standing) == [2]
    assert holdings(talk.now).builds[2]["six foot strut"].placed == 2
    assert on_hand(talk.now)["six foot strut"] == 0


def test_what_is_left_over_comes_back_when_the_new_one_stands() -> None:
    talk = standing(Talk.new(make_stock(six=2))).say(RELOCATE).say(Callout(insertion=ft(14), angle_deg=60)).say(AFFIRM)
    assert on_hand(talk.now)["six foot strut"] == 0  # they stand until the new shore does
    talk.stand()
    assert "put back two struts, six feet." in talk.said
    assert on_hand(talk.now)["six foot strut"] == 2
    assert list(talk.now.standing) == [2]


def moving(six: int = 2, anchors: int = 8, feet: int = 12) -> Talk:
    """A pair of six foot struts stands for eleven feet, and is called for another place."""
    talk = standing(Talk.new(make_stock(six=six, anchors=anchors)))
    return talk.say(RELOCATE).say(Callout(insertion=ft(feet), angle_deg=60)).say(AFFIRM)


def test_taking_a_move_back_leaves_the_shore_standing() -> None:
    talk = moving()
    before = on_hand(talk.now)
    assert talk.say("undo").events == ["heard", "readback"]  # asked, though nothing was fetched: a shore hangs on it
    assert talk.said == ["undo build one. insertion: one two feet, twelve feet; sixty degrees. "
                         "affirm, or negative."]  # fmt: skip
    talk.say(AFFIRM)
    assert talk.said[:2] == ["leave build one standing.", "the move of build one is taken back."]
    assert list(talk.now.standing) == [1]
    assert talk.now.standing[1].held == {"six foot strut": 2, "brick anchor": 4}
    assert on_hand(talk.now) == before
    assert talk.say("status").said == ["build one, eleven feet, sixty, stands."]
    assert talk.say(RELOCATE).said[0].startswith("relocate build one.")


def test_what_was_fetched_for_a_move_goes_back_and_the_rest_stands() -> None:
    talk = moving(feet=14)  # eight foot struts and anchors are fetched, nothing goes along
    talk.say("ready")
    assert on_hand(talk.now)["eight foot strut"] == 0
    talk.say(Command(command="cancel", build=1)).say(AFFIRM)
    assert talk.said[:2] == ["put back two struts, eight feet.", "the move of build one is taken back."]
    assert on_hand(talk.now)["eight foot strut"] == 2
    assert talk.now.standing[1].held == {"six foot strut": 2, "brick anchor": 4}


def test_a_changed_move_leaves_standing_what_it_no_longer_takes() -> None:
    talk = moving().say(Command(command="correction", patch=Callout(insertion=ft(14)))).say(AFFIRM)
    assert "leave standing two struts, six feet." in talk.said
    assert not any(text.startswith("put back") for text in talk.said)
    assert on_hand(talk.now)["six foot strut"] == 0
    talk.stand()
    assert "put back two struts, six feet." in talk.said
    assert on_hand(talk.now)["six foot strut"] == 2


def test_negative_at_what_goes_along_leaves_it_standing() -> None:
    talk = moving().say(Command(command="item", item=1)).say("negative")
    assert talk.said == ["item one stays where it stands."]
    assert on_hand(talk.now)["six foot strut"] == 0
    assert talk.now.standing[1].held == {"six foot strut": 2, "brick anchor": 4}


def test_the_old_shore_is_known_to_stand_until_the_new_one_does() -> None:
    talk = moving()
    assert list(talk.now.standing) == [1]  # though all its pieces are spoken for
    assert talk.say("status").said[0].endswith("build one, eleven feet, sixty, stands.")
    assert talk.say(RELOCATE).said == ["build one is being moved already."]
    talk.stand()
    assert "the old shore of build one is down, nothing left over." in talk.said
    assert list(talk.now.standing) == [2]


def test_the_next_shift_reads_that_the_shore_stands_and_that_nothing_came_back() -> None:
    talk = moving()
    assert [build["build"] for build in handover(talk.now, talk.records, counted=True)["standing"]] == [1]
    talk.say("undo").say(AFFIRM)
    sheet = handover(talk.now, talk.records, counted=True)
    struts = next(row for row in sheet["stock"] if row["name"] == "six foot strut")
    assert (struts["on_hand"], struts["placed"], struts["returned"]) == (0, 2, 0)


def test_a_crash_while_the_new_shore_is_booked_leaves_nothing_over() -> None:
    talk = moving(feet=14)
    talk.stand()
    last = max(at for at, record in enumerate(talk.records) if record.event == "placed")
    cut = talk.records[: last + 1]
    talk.now = restore(cut, talk.now.stock, talk.now.planner, talk.now.settings)
    assert on_hand(talk.now)["six foot strut"] == 0
    talk.put(Resumed(talk.time))
    assert on_hand(talk.now)["six foot strut"] == 2
    assert list(talk.now.standing) == [2]


def test_a_move_that_is_no_longer_possible_is_not_released() -> None:
    talk = standing(Talk.new(make_stock(), one_source=False))
    talk.say(RELOCATE).say(Callout(insertion=ft(14), angle_deg=60))
    talk.say(Command(command="stock_out", part="strut", length=ft(8)), "logistics").say(AFFIRM, "logistics")
    talk.say(AFFIRM)
    assert talk.said[0] == "build one cannot go there. leave it standing."
    assert not talk.now.open


def test_no_two_open_builds_go_by_one_number() -> None:
    talk = standing(Talk.new()).released(Callout(insertion=ft(8), angle_deg=45, position=1))
    talk.say(RELOCATE).say(Callout(insertion=ft(12), angle_deg=60, position=1))
    assert talk.said == ["position one is build one. undo it, or say another position."]
    talk.say(RELOCATE).say(Callout(insertion=ft(12), angle_deg=60)).say(AFFIRM)
    assert talk.said[0] == "build two goes to the yard."
    assert sorted(build.number for build in talk.now.open.values()) == [1, 2]


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
    talk.time += 39
    assert talk.put(Tick(talk.time)).said == []
    talk.time += 1
    assert talk.put(Tick(talk.time)).said == ["relocation set aside."]
    assert talk.say(Callout(insertion=ft(8), angle_deg=45)).said[0].startswith("insertion:")


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
    assert talk.said[0].startswith("insertion:")


def test_a_relocation_outlives_a_callout_without_its_lead_in() -> None:
    talk = standing(Talk.new()).say(RELOCATE)
    talk.put(Uttered(resolve_text("twelve sixty"), "twelve sixty", "measurer", talk.time, True))
    assert talk.said[-1] == "say insertion, the height, the angle."
    assert talk.say(Callout(insertion=ft(12), angle_deg=60)).said[0].startswith("relocate build one.")
