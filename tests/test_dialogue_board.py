"""The board: the snapshot of a conversation for programs, screen and tablets, from written lines alone."""

import json
from datetime import datetime, timedelta, timezone

import pytest

from callout.dialogue.following import board, follow
from callout.journal.memory import MemoryJournal
from callout.values import Callout, Command
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock


def written(talk, begin=datetime(2031, 5, 4, 10, 0, tzinfo=timezone.utc)):
    """The lines of a conversation as a journal has them, one second apart."""
    clock = iter(begin + timedelta(seconds=n) for n in range(100_000))
    journal = MemoryJournal(clock=lambda: next(clock))
    return [journal.append(record) for record in talk.records]


def shown(talk, stock=None):
    return board(written(talk), stock)


def test_an_empty_journal_is_an_empty_board():
    empty = board([])
    assert (empty.seq, empty.open, empty.standing, empty.waiting, empty.stock, empty.halted) == (0, (), (), (), (), "")


def test_a_build_in_the_walk_has_all_that_an_eye_looks_for():
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY.merged(Callout(position=3, for_whom="team alpha")))
    talk.key("ready")
    build = shown(talk).walked
    assert (build.number, build.called, build.kind) == (3, "11 ft @ 60°", "raker")
    assert (build.position, build.for_whom, build.place) == (3, "team alpha", "position 3, for team alpha")
    assert (build.given_by, build.picked_by) == ("measurer", ("logistics",))
    assert (build.pieces, build.pieces_picked, build.items_left) == (6, 2, 1)
    assert [(item.quantity, item.picked, item.name, item.where, item.now) for item in build.items] == [
        (2, 2, "six foot strut", "rack A", False), (4, 0, "brick anchor", "box 2", True),
    ]
    assert build.now.name == "brick anchor"
    assert build.next is None
    assert build.card == "item two"
    assert build.says.startswith("item two. four brick anchors")
    assert build.checks == ("all tight", "wall watched")
    assert build.since is not None
    assert build.since.startswith("2031-05-04T10:00:")


def test_the_number_of_the_walk_changes_with_the_card_and_with_nothing_else():
    talk = Talk.new(make_stock()).released()
    first = shown(talk).walked.walk
    talk.say(Callout(insertion=ft(8), angle_deg=45))
    assert shown(talk).walked.walk == first, "a readback in between moves nothing"
    talk.key("ready")
    second = shown(talk).walked.walk
    assert second > first
    assert written(talk)[second - 1].data["at"][1] == 1
    talk.say("disregard").key("say_again")
    assert shown(talk).walked.walk > second, "what is said again is a new place to tap"


def test_what_waits_tells_its_figures_its_words_and_since_when():
    talk = Talk.new(make_stock()).say(ELEVEN_SIXTY)
    (wait,) = shown(talk).waiting
    assert [(f.label, f.text) for f in wait.figures] == [("height", "11 ft"), ("angle", "60°")]
    assert (wait.kind, wait.who, wait.say, wait.parked) == ("callout", "measurer", "affirm, or correction", False)
    since = wait.since
    talk.say("say_again")
    assert shown(talk).waiting[0].since == since, "said again, it waits since the first time"
    talk.say(Callout(insertion=ft(12), angle_deg=60))
    assert shown(talk).waiting[0].since > since
    talk.say("affirm")
    assert shown(talk).waiting == ()


def test_half_a_callout_tells_what_is_missing():
    talk = Talk.new(make_stock(), half_wait=1.0).say(Callout(insertion=ft(11)))
    (wait,) = shown(talk).waiting
    assert (wait.kind, [f.text for f in wait.figures]) == ("half", ["11 ft"])
    assert "angle" in wait.say or "rest" in wait.say


def test_what_is_short_is_there():
    talk = Talk.new(make_stock(anchors=1)).released()
    build = shown(talk).open[0]
    assert build.short
    assert "anchor" in build.short[0]


def test_the_stock_is_told_apart_and_unknown_without_a_file():
    stock = make_stock()
    talk = Talk.new(stock).released()
    talk.key("ready")
    rows = {row.name: row for row in shown(talk, stock).stock}
    assert (rows["six foot strut"].on_hand, rows["six foot strut"].promised, rows["six foot strut"].out) == (2, 0, 2)
    assert (rows["brick anchor"].on_hand, rows["brick anchor"].promised, rows["brick anchor"].free) == (12, 4, 8)
    assert rows["four foot strut"].free == 4
    unknown = {row.name: row for row in shown(talk).stock}
    assert unknown["brick anchor"].on_hand is None
    assert unknown["brick anchor"].free is None
    assert unknown["brick anchor"].promised == 4
    assert "four foot strut" not in unknown, "nobody told of it"


def test_a_stop_word_and_a_standing_build():
    talk = Talk.new(make_stock()).released()
    talk.stand()
    now = shown(talk)
    assert [build.state for build in now.builds] == ["stands"]
    assert now.standing[0].checks == ()
    assert now.standing[0].walk is None
    assert now.standing[0].next_look > now.standing[0].since, "the first look comes after it stood"
    assert now.standing[0].look_why
    talk.say("evacuate")
    now = shown(talk)
    assert now.halted == "evacuate"
    assert now.halted_since is not None
    talk.say("go_ahead")
    assert shown(talk).halted == ""


@pytest.mark.parametrize("one_source", [True, False])
def test_the_fold_agrees_with_the_conversation_itself(one_source):
    """What is read from the lines is what the conversation knows, whoever spoke."""
    talk = Talk.new(make_stock(), one_source=one_source).released()
    talk.say(Callout(insertion=ft(8), angle_deg=45))
    talk.say(Command(command="stock_set", part="anchor", quantity=9), role="logistics")
    followed = follow(written(talk), make_stock())
    assert followed.now.open == talk.now.open
    assert followed.now.measurer.pending == talk.now.measurer.pending
    assert followed.now.logistics.pending == talk.now.logistics.pending
    assert followed.now.changes == talk.now.changes


def test_line_by_line_is_the_same_as_at_once_and_json_goes_out_and_comes_back():
    talk = Talk.new(make_stock(anchors=1)).released()
    talk.say(Callout(insertion=ft(8), angle_deg=45))
    step = follow()
    for record in written(talk):
        step = step.after(record)
        again = type(step.board()).model_validate(json.loads(json.dumps(step.board().to_json())))
        assert again == step.board()
    assert step.board() == shown(talk)


def test_lines_of_other_programs_and_broken_names_do_no_harm():
    from callout.dialogue.records import Record

    strange = [
        Record(seq=1, time=None, event="heard", speaker=None, text="<script>\x1b[2J"),
        Record(seq=2, event="picked", build_id=99, data={"pieces": [["x", 1]]}),
        Record(seq=3, event="released", build_id=7),
        Record(seq=4, event="said", data={"at": [12, 3]}),
    ]
    now = board(strange)
    assert now.open == ()
    assert now.seq == 4


def test_the_snapshot_is_what_its_schema_says():
    """Checked by jsonschema, a validator of others."""
    import jsonschema

    from callout.schemas import schema_of

    talk = Talk.new(make_stock(anchors=1)).released().say(Callout(insertion=ft(8), angle_deg=45))
    jsonschema.Draft202012Validator(schema_of("board")).validate(shown(talk, make_stock()).to_json())


def test_the_same_thing_short_for_several_uses_is_said_once():
    """As a plan tells it, one line a use; a text of an older journal stays as it was written."""
    from callout.dialogue.following import _short

    def lack(quantity, need, why="none left"):
        return {"part": "coupler", "quantity": quantity, "need": need, "name": "strut coupler", "length": None,
                "text": f"{quantity} strut coupler for {need}: {why}"}  # fmt: skip

    assert _short([lack(1, "raker 1"), lack(1, "raker 2"), lack(2, "raker 3", "5 wanted, 3 left to take")]) == (
        "2 strut coupler for rakers 1, 2: none left", "2 strut coupler for raker 3: 5 wanted, 3 left to take",
    )  # fmt: skip
    assert _short([{"part": "picket", "quantity": 4, "text": "4 pickets short"}]) == ("4 pickets short",)
    assert _short([{"part": "picket", "quantity": 4}]) == ("4 picket",)
