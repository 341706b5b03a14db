"""The walk through the parts, the assembly, and what the crew can ask on the way.

The numbers come from the stand-in planner of `dialogue_kit`: for eleven feet two six foot struts and four anchors.
"""

from __future__ import annotations

import pytest

from callout.dialogue.state import on_hand
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock


def item(number: int) -> Command:
    return Command(command="item", item=number)


def test_the_first_item_is_spoken_at_once_and_then_the_tool_waits() -> None:
    talk = Talk.new().released()
    assert talk.said[:2] == ["build one goes to the yard.", "item one. two struts, six feet. rack A."]
    assert talk.state("logistics") == "walk"
    assert talk.now.walked is not None


def test_the_cautions_are_said_once_a_build() -> None:
    talk = Talk.new().released()
    talk.say("ready").say("back").say(Command(command="build", build=1)).say("repeat_the_build")
    caution = "working estimate, not an approval"
    assert sum(caution in record.text for record in talk.records if record.event == "said") == 1


def test_ready_books_the_item_as_picked() -> None:
    talk = Talk.new().released().say("ready", "logistics")
    assert talk.events == ["heard", "picked", "said"]
    picked = next(record for record in talk.records if record.event == "picked")
    assert picked.data["pieces"] == [["six foot strut", 2]]
    assert picked.data["number"] == 1
    assert picked.speaker == "logistics"
    assert on_hand(talk.now)["six foot strut"] == 2
    assert talk.said == ["item two. four brick anchors. box two."]


def test_a_short_press_is_ready_and_a_long_press_is_say_again() -> None:
    talk = Talk.new().released()
    assert talk.key("say_again").said == ["item one. two struts, six feet. rack A."]
    assert talk.key("ready").events == ["picked", "said"]


def test_the_whole_walk() -> None:
    talk = Talk.new().released()
    said = []
    for _ in range(8):
        talk.say("ready")
        said += talk.said
    assert said == [
        "item two. four brick anchors. box two.",
        "that is all. two items, six pieces.",
        "cut one. two pieces, four by four, three feet, square.",
        "two steps. say step by step, or next for the checks.",
        "check one. all tight.",
        "check two. wall watched.",
        "all checked. say build one stands, once it does.",
        "build one stands. affirm, or negative.",
    ]
    assert talk.say("affirm").said == ["build one stands. watch the wall."]
    assert talk.count("picked") == 2
    assert talk.count("placed") == 1
    assert talk.records[-1].data["pieces"] == [["six foot strut", 2], ["brick anchor", 4]]


def test_step_by_step_gives_the_marks_and_the_steps() -> None:
    talk = Talk.new().released().say("ready").say("ready").say("step_by_step")
    said = [*talk.said]
    for _ in range(3):
        said += talk.say("next").said
    assert said == [
        "mark. insertion: on the wall, one one feet, eleven feet.",
        "step one. set the plate.",
        "step two. stand it up.",
        "check one. all tight.",
    ]
    assert talk.state("logistics") == "assembly"


def test_back_and_items_book_nothing() -> None:
    talk = Talk.new().released().say("ready").say("back")
    assert talk.said == ["item one. two struts, six feet. rack A."]
    talk.say("ready")
    assert talk.count("picked") == 1  # it was booked already
    assert talk.say(item(1)).said == ["item one. two struts, six feet. rack A."]
    assert talk.say(item(9)).events == ["heard", "refused"]


def test_skipped_items_come_round_once_more() -> None:
    talk = Talk.new().released().say("skip").say("ready")
    assert talk.said == ["back to what was skipped.", "item one. two struts, six feet. rack A."]
    talk.say("skip")
    assert talk.said == ["not all. one item not picked, four pieces picked."]


def test_negative_at_a_booked_item_puts_it_back() -> None:
    talk = Talk.new().released().say("ready").say("back").say("negative")
    assert talk.events == ["heard", "returned"]
    assert on_hand(talk.now)["six foot strut"] == 4
    assert talk.say("ready").count("picked") == 2


def test_questions_change_nothing() -> None:
    talk = Talk.new().released()
    before = talk.now
    assert talk.say("where").said == ["six foot struts. at rack A."]
    assert talk.say(Command(command="where", item=2)).said == ["brick anchors. at box two."]
    assert talk.say("how_many_left").said == ["build one. two items left."]
    assert talk.say(Command(command="how_many", part="anchor")).said == [
        "build one takes four brick anchors. twelve brick anchors, on hand."
    ]
    assert talk.say("status").said == ["build one, eleven feet, sixty. item one."]
    assert talk.say("parts_list").said == ["build one. item one, two struts, six feet; item two, four brick anchors."]
    assert talk.now.open == before.open
    assert talk.now.focus == before.focus


@pytest.mark.parametrize("word", ["ready", "next", "back", "skip", "short", "where", "how_many_left", "step_by_step"])
def test_walk_words_without_a_build_are_refused(word: str) -> None:
    assert Talk.new().say(word).events == ["heard", "refused"]


def test_questions_about_parts_the_callout_and_what_can_be_said() -> None:
    talk = Talk.new().released()
    assert talk.say(Command(command="where", part="strut")).said == ["struts. at rack A."]
    assert talk.say(Command(command="where", part="wedge")).events == ["heard", "refused"]
    assert talk.say(Command(command="where", item=9)).said == ["the last item is two."]
    assert talk.say(Command(command="how_many", part="wedge")).events == ["heard", "refused"]
    assert talk.say(Command(command="how_many")).said == ["build one. two items left."]
    assert "one one feet, eleven feet" in talk.say("repeat_the_build").said[0]
    assert talk.say(Command(command="repeat_the_build", build=8)).said == ["build eight is not open."]
    assert talk.say("help").said[0].startswith("you may say: ready.")
    assert talk.say(Command(command="say_again", item=2)).said == [
        "item two. four brick anchors. box two.",
        "you are at item one.",
    ]
    assert talk.say(Command(command="say_again", item=7)).said == ["the last item is two."]
    assert talk.say("back").said == ["that is the first item.", "item one. two struts, six feet. rack A."]
    assert talk.say("radio_check").said == ["callout hears you."]
    assert Talk.new().say("how_many_left").said == ["no build is open."]
    assert Talk.new().say("repeat_the_build").said == ["no build is open."]
    assert Talk.new().say("say_again").said == ["callout ready. one source. a person relays, and keys the affirm."]


# --- Short and substitute ---


def test_short_plans_again_and_says_only_the_difference() -> None:
    talk = Talk.new().released().say("short")
    assert talk.events[:2] == ["heard", "stock_changed"]
    assert on_hand(talk.now)["six foot strut"] == 0
    assert talk.said == [
        "yard. build one changes. fetch two struts, eight feet.",
        "item one. two struts, eight feet. rack A.",
    ]
    assert talk.count("released") == 1


def test_short_of_some_keeps_what_was_found() -> None:
    talk = Talk.new().released().say("ready").say(Command(command="short", quantity=1))
    assert on_hand(talk.now)["brick anchor"] == 3
    assert talk.said[-1] == "item two. three brick anchors. box two."


def test_short_with_nothing_in_its_place_says_what_is_missing() -> None:
    talk = Talk.new(make_stock(eight=0)).released().say("short")
    assert "short of two struts, five feet six inches" in talk.said[0]


def test_a_short_that_only_one_ear_heard_is_read_back_first() -> None:
    talk = Talk.new().released().say("short", certain=False)
    assert talk.events == ["heard", "readback"]
    assert talk.count("stock_changed") == 0
    talk.say("affirm")
    assert talk.count("stock_changed") == 1


def test_substitute_is_proposed_and_changes_nothing_until_affirmed() -> None:
    talk = Talk.new().released().say("substitute")
    assert talk.events == ["heard", "readback"]
    assert "fetch two struts, eight feet" in talk.said[0]
    assert ".." not in talk.said[0]
    before = talk.now.open
    talk.say("negative")
    assert talk.now.open == before
    talk.say("substitute").say("affirm")
    assert talk.said[-1] == "item one. two struts, eight feet. rack A."
    assert on_hand(talk.now)["six foot strut"] == 4  # the count stays: they lie there


def test_short_and_substitute_can_name_a_part_or_an_item() -> None:
    talk = Talk.new().released().say(Command(command="short", part="anchor", quantity=1))
    assert on_hand(talk.now)["brick anchor"] == 3
    talk = Talk.new().released().say(Command(command="short", part="strut", length=ft(6)))
    assert on_hand(talk.now)["six foot strut"] == 0
    talk = Talk.new().released().say(Command(command="substitute", item=1))
    assert talk.events == ["heard", "readback"]
    assert Talk.new().released().say(Command(command="substitute", part="wedge")).events == ["heard", "refused"]
    assert Talk.new().released().say(Command(command="substitute", item=2)).said == [
        "there is no substitute for brick anchors."
    ]


def test_short_of_a_booked_item_is_refused_until_it_is_put_back() -> None:
    talk = Talk.new().released().say("ready").say("back").say("short")
    assert talk.said == ["item one is booked as picked. say negative there first."]
    assert on_hand(talk.now)["six foot strut"] == 2


def test_short_of_what_another_build_is_promised_plans_that_one_too() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(12), angle_deg=60))
    assert [build.plan["parts"][0]["name"] for build in talk.now.open.values()] == ["six foot strut"] * 2
    talk.say("short")
    plans = {build.number: build.plan for build in talk.now.open.values()}
    assert plans[1]["parts"][0]["name"] == "eight foot strut"
    assert plans[2]["missing"]
    assert any(text.startswith("yard. build two changes.") for text in talk.said)


# --- Several builds ---


def test_a_second_build_does_not_disturb_the_walk() -> None:
    talk = Talk.new().released().released(Callout(insertion=ft(8), angle_deg=45))
    assert talk.said[-1] == "yard. build two is open. say build two."
    assert talk.say("say_again").said == ["item one. two struts, six feet. rack A."]


def test_build_two_switches_and_each_keeps_its_place() -> None:
    talk = Talk.new().released().say("ready").released(Callout(insertion=ft(8), angle_deg=45))
    talk.say(Command(command="build", build=2))
    assert talk.said[0] == "yard. build two. item one. two struts, four feet. rack A."
    talk.say(Command(command="build", build=1))
    assert talk.said == ["build one. item two. four brick anchors. box two."]


def test_a_build_that_is_not_open_is_refused() -> None:
    assert Talk.new().released().say(Command(command="build", build=7)).said == ["build seven is not open."]


def test_two_builds_are_never_promised_the_same_piece() -> None:
    talk = Talk.new(make_stock(six=2)).released().released(Callout(insertion=ft(12), angle_deg=60))
    names = [[part["name"] for part in build.plan["parts"]] for build in talk.now.open.values()]
    assert names == [["six foot strut", "brick anchor"], ["eight foot strut", "brick anchor"]]


def test_what_the_stock_lacks_is_said_and_the_build_is_released_all_the_same() -> None:
    talk = Talk.new(make_stock(six=1, eight=1)).released()
    assert talk.count("released") == 1
    assert any("short of two struts, five feet six inches" in text for text in talk.said)


@pytest.mark.parametrize(("have", "found"), [(1, 1), (0, 0)])
def test_so_many_that_were_found_are_counted_as_found(have: int, found: int) -> None:
    """ "We only found one" of two: one is there, and what lacks is the rest."""
    talk = Talk.new(make_stock(six=4, eight=2)).released(ELEVEN_SIXTY)
    assert talk.now.open[1].build.parts[0].quantity == 2
    talk.say(Command(command="short", have=have), "logistics")
    counted = next(record for record in talk.records if record.event == "stock_changed")
    assert [(change.item, change.quantity) for change in counted.changes] == [("six foot strut", found)]


def test_all_that_is_wanted_was_found_and_nothing_is_short() -> None:
    talk = Talk.new(make_stock(six=4)).released(ELEVEN_SIXTY)
    talk.say(Command(command="short", have=2), "logistics")
    assert talk.count("stock_changed") == 0
    assert talk.said == ["that is all of item one. say ready."]
