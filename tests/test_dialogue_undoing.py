"""One step back from the last act, whatever it was: said, read back where it moves anything, kept by the journal.

Every case acts, takes it back and affirms that. The stock, the plans, what is known of the place and what stands must
then be as before the act, and a restart from the lines must agree.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from callout.dialogue.machine import restore
from callout.dialogue.state import Conversation, changed, holdings, on_hand
from callout.values import Callout, Command
from tests.dialogue_kit import AFFIRM, ELEVEN_SIXTY, FakePlanner, Talk, ft, make_stock

NINE = Callout(insertion=ft(9), angle_deg=60)


def one_released(**stock: int) -> Talk:
    return Talk.new(make_stock(**stock)).released()


def two_released() -> Talk:
    """Build one has the two six foot struts; build two made do with eight foot ones, or is short."""
    return Talk.new(make_stock(six=2, eight=0)).released().released(NINE)


def one_stands() -> Talk:
    talk = one_released()
    for _ in range(2):
        talk.say("ready")
    return talk.say(Command(command="stands", build=1)).say(AFFIRM)


def site(command: str, **fields: Any) -> Command:
    return Command(command=command, **fields)


#: what has gone before, the act, the readback of its undo
CASES: list[tuple[str, Callable[[], Talk], list[Command], str]] = [
    ("ready", one_released, [Command(command="ready")],
     "undo item one. put back two struts, six feet. affirm, or negative."),
    ("substitute", one_released, [Command(command="substitute"), AFFIRM],
     "undo the substitute. build one with six foot struts. "
     "fetch two struts, six feet. leave two struts, eight feet. affirm, or negative."),
    ("a wall for what is called next", Talk.new, [site("site_wall", part="brick"), AFFIRM],
     "undo site. wall, not known, for what is called next. affirm, or negative."),
    ("a curb at a build", one_released, [site("site_curb", length=ft(0, 6), build=1), AFFIRM],
     "undo site. curb, not known, at build one. affirm, or negative."),
    ("soil at a build", one_released, [site("site_soil", part="clay", build=1), AFFIRM],
     "undo site. ground, not known, at build one. affirm, or negative."),
    ("uneven ground", Talk.new, [site("site_uneven", length=ft(0, -4)), AFFIRM],
     "undo site. level of the ground, not known, for what is called next. affirm, or negative."),
    ("a count", one_released, [site("stock_set", part="anchor", quantity=9), AFFIRM],
     "undo the count. twelve brick anchors, on hand. affirm, or negative."),
    ("build one stands", one_released, [site("stands", build=1), AFFIRM],
     "build one does not stand yet. affirm, or negative."),
    ("build one is down", one_stands, [site("take_down", build=1), AFFIRM],
     "build one stands still. six pieces, not back in the stock. affirm, or negative."),
]  # fmt: skip


def known(now: Conversation) -> dict[str, Any]:
    """What a crew would look at to see that nothing has changed."""
    return {
        "on hand": on_hand(now),
        "promised": holdings(now).promised,
        "site": {name: fact for name, fact in now.site.items() if fact is not None},
        "open": {b.build_id: (b.plan["parts"], b.plan["site"], dict(b.held), b.without) for b in now.open.values()},
        "standing": {b.build_id: dict(b.held) for b in now.standing.values()},
        "acts": now.done,
    }


@pytest.mark.parametrize(("before", "acts", "readback"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_one_step_back_from_an_act(before: Callable[[], Talk], acts: list[Command], readback: str) -> None:
    talk = before()
    was = known(talk.now)
    for act in acts:
        talk.say(act)
    acted = known(talk.now)
    assert acted != was
    talk.say("undo")
    assert talk.said == [readback]
    assert known(talk.now) == acted  # not before the yes
    talk.say(AFFIRM)
    assert known(talk.now) == was
    restored = restore(talk.records, talk.now.stock, FakePlanner(), talk.now.settings)
    assert restored == talk.now


@pytest.mark.parametrize(("before", "acts"), [c[1:3] for c in CASES], ids=[c[0] for c in CASES])
def test_no_to_the_undo_leaves_the_act(before: Callable[[], Talk], acts: list[Command]) -> None:
    talk = before()
    for act in acts:
        talk.say(act)
    acted = known(talk.now)
    talk.say("undo").say("negative")
    assert known(talk.now) == acted


def test_a_move_is_taken_back() -> None:
    talk = two_released()
    was = {b.build_id: b.plan["parts"] for b in talk.now.open.values()}
    move = Command(command="move", part="strut", length=ft(6), quantity=2, build=2)
    talk.say(move).say(AFFIRM)
    assert {b.build_id: b.plan["parts"] for b in talk.now.open.values()} != was
    talk.say("undo")
    assert talk.said == [
        "undo the move. two struts, six feet, from build two to build one. "
        "build two is then short of two struts, four feet six inches. affirm, or negative."
    ]
    talk.say(AFFIRM)
    assert "the move is taken back." in talk.said
    assert {b.build_id: b.plan["parts"] for b in talk.now.open.values()} == was
    assert talk.now.done[-1].kind == "released"
    assert restore(talk.records, talk.now.stock, FakePlanner(), talk.now.settings) == talk.now


def test_a_new_site_is_taken_back_with_all_that_was_known() -> None:
    talk = Talk.new().say(site("site_wall", part="brick")).say(AFFIRM).say(site("site_timber")).say(AFFIRM)
    was = dict(talk.now.site)
    talk.say(site("site_new")).say(AFFIRM)
    assert talk.now.site == {}
    talk.say("undo").say(AFFIRM)
    assert talk.now.site == was


def test_steps_back_one_after_the_other_reach_the_release() -> None:
    talk = one_stands().say(site("take_down", build=1)).say(AFFIRM)
    said = []
    for _ in range(5):
        talk.say("undo")
        said += talk.said[-1:]
        talk.say(AFFIRM)
    assert [words.split(".")[0] for words in said] == [
        "build one stands still", "build one does not stand yet", "undo item two", "undo item one",
        "build one is taken back",
    ]  # fmt: skip
    assert on_hand(talk.now) == on_hand(Talk.new().now)


def test_a_shore_whose_pieces_were_used_since_does_not_stand_again_by_a_word() -> None:
    talk = Talk.new(make_stock(six=2), one_source=False).released().say("ready", "logistics").say("ready", "logistics")
    for claim in ("stands", "take_down"):
        talk.say(site(claim, build=1), "logistics").say(AFFIRM, "logistics")
    talk.say(Command(command="stock_set", part="strut", length=ft(6), quantity=0)).say(AFFIRM)
    assert talk.say("undo", "logistics").said == ["build one is down. used since then: two struts, six feet."]


def test_an_undo_without_a_name_leaves_the_readback_of_a_named_caller() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY, name="team two")
    talk.say("undo")
    assert talk.said == ["team two has to answer first. to take that back, say team two, undo."]
    talk.say(AFFIRM, name="team two")
    assert [build.number for build in talk.now.open.values()] == [1]


def test_an_undo_of_the_named_caller_is_of_that_readback() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY, name="team two").say("undo", name="team two")
    assert talk.said == ["disregarded."]
    assert talk.now.measurer.pending is None


def test_an_undo_of_another_caller_leaves_the_readback() -> None:
    talk = Talk.new().say(ELEVEN_SIXTY, name="team two").say("undo", name="team three")
    assert talk.said == ["team two has to answer first. to take that back, say team two, undo."]
    assert talk.now.measurer.pending is not None


@pytest.mark.parametrize("word", ["cancel", "negative"])
def test_right_after_an_act_a_no_is_asked_of_that_act_and_not_once_something_is_set_aside(word: str) -> None:
    assert one_released().say(word).said == ["build one is taken back."]
    talk = one_released().say(NINE).say("evacuate").say("go_ahead").say(word)
    assert "undo" not in " ".join(talk.said)
    assert list(talk.now.open) == [1]


def at_another_line(talk: Talk, line: int) -> Talk:
    """As where the list was made anew since: the last pick was of another line than where its pieces stand now."""
    *before, pick = talk.now.done
    talk.now = changed(talk.now, done=(*before, replace(pick, line=line)))
    return talk


@pytest.mark.parametrize("line", [1, 99])
def test_pieces_go_back_from_where_the_list_has_them_now(line: int) -> None:
    talk = one_released()
    lying = on_hand(talk.now)
    at_another_line(talk.say("ready"), line).say("undo")
    assert talk.said == ["undo item one. put back two struts, six feet. affirm, or negative."]
    talk.say(AFFIRM)
    assert on_hand(talk.now) == lying
    assert talk.now.open[1].got[0] == 0


def test_pieces_that_no_list_has_any_more_are_not_undone_and_what_was_before_is() -> None:
    talk = at_another_line(one_released().say("ready"), 99)
    *before, pick = talk.now.done
    talk.now = changed(talk.now, done=(*before, replace(pick, pieces=(("dolly", 2),))))
    talk.say("undo")
    assert talk.said[0].startswith("undo build one.")
