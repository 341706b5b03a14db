"""A wall sized up by voice: pieces kept and read back, an estimate, and callouts that still need their affirm."""

from __future__ import annotations

from typing import Any

import pytest

from callout.dialogue import sizing, speakable, wording
from callout.dialogue.machine import restore
from callout.dialogue.records import Record, SizeUpTaken, WasSizedUp
from callout.language.outcome import Understood
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.sizeup import size_up
from callout.shoring.stock import load_stock
from callout.speaking.pacing import Pace, stretches
from callout.values import Callout, Command, Length
from callout.values.sights import Seen
from tests.dialogue_kit import Talk
from tests.test_dialogue_restart import again, through_the_journal


def ft(feet: int, inches: int = 0) -> Length:
    return Length.imperial(feet=feet, inches=inches)


#: What is said after "size up", and what it means: figures worked out by hand.
PIECES = {
    "wall forty feet long": Seen(wall_length=ft(40)),
    "wall four zero feet long": Seen(wall_length=ft(40)),
    "twelve feet high": Seen(wall_height=ft(12)),
    "twelve feet six inches high": Seen(wall_height=ft(12, 6)),
    "eight inch block": Seen(wall_thickness=ft(0, 8), wall="block"),
    "brick": Seen(wall="brick"),
    "leaning four inches": Seen(lean=ft(0, 4)),
    "damage at nine feet": Seen(damage_height=ft(9)),
    "damage at nine feet eight inch block": Seen(damage_height=ft(9), wall_thickness=ft(0, 8), wall="block"),
    "two openings": Seen(openings=2),
    "no openings": Seen(openings=0),
    "three timber floors": Seen(floors=3, floor="wood"),
    "concrete floors": Seen(floor="concrete"),
    "concrete": Seen(wall="concrete"),
    "span sixteen feet": Seen(floor_span=ft(16)),
    "on pavement": Seen(ground="pavement"),
    "ground clay": Seen(soil="clay"),
    "clear ground": Seen(before="clear"),
    "room three point five metres": Seen(room=Length.mm(3500)),
    "lean one half inch": Seen(lean=Length.imperial(sixteenths=8)),
}


@pytest.mark.parametrize("words", PIECES)
def test_a_piece_means_what_it_says(words: str) -> None:
    found = resolve_text(f"size up {words}")
    assert isinstance(found, Understood), found
    assert found.meaning == Command(command="size_up", seen=PIECES[words])


@pytest.mark.parametrize("words", ["wall forty feet long", "eight inch block", "two openings", "damage at nine feet"])
def test_without_size_up_before_it_a_piece_is_none(words: str) -> None:
    assert not isinstance(resolve_text(words), Understood)


@pytest.mark.parametrize("words", ["wall twelve feet high", "leaning four inches", "on soil"])
def test_half_a_callout_is_of_the_wall_while_one_is_sized_up_and_no_callout_is_under_way(words: str) -> None:
    called = resolve_text(words).meaning
    assert "seen" not in Talk.new().say(called).events
    talk = Talk.new().say(Command(command="size_up", seen=Seen(damage_height=ft(9)))).say(called)
    assert talk.events[-1] == "seen"
    assert talk.now.measurer.half is None
    half = Talk.new().say(Command(command="size_up", seen=Seen(damage_height=ft(9)))).say(Callout(insertion=ft(11)))
    assert half.say(called).now.measurer.half is not None


def sized(**facts: object) -> Talk:
    whole = Seen(wall_length=ft(40), wall_height=ft(12), damage_height=ft(9)).model_copy(update=facts)
    return Talk.new().say(Command(command="size_up", seen=whole)).say("work_out")


def test_the_estimate_is_kept_whole_and_is_that_of_the_library() -> None:
    talk = sized()
    what = next(record.what for record in talk.records if record.event == "sized_up")
    assert isinstance(what, WasSizedUp)
    seen = Seen(wall_length=ft(40), wall_height=ft(12), damage_height=ft(9))
    assert what.result == size_up(seen).model_dump(mode="json")
    assert all(row["sources"] for row in what.result["rows"])


def test_take_it_releases_nothing_and_each_callout_needs_its_own_affirm() -> None:
    talk = sized().say("take_it")
    assert talk.events[-2:] == ["taken", "readback"]
    assert "released" not in talk.events
    assert not talk.now.open
    talk.say("affirm")
    assert talk.events.count("released") == 1


def test_a_row_too_long_for_one_callout_comes_as_several_one_after_the_other() -> None:
    seen = Seen(
        wall_length=ft(90), wall_height=ft(20), damage_height=ft(8), wall_thickness=ft(2), wall="concrete",
        floors=0, lean=Length(0),
    )  # fmt: skip
    rows = size_up(seen).takes[0].rows
    assert rows > 1
    talk = Talk.new().say(Command(command="size_up", seen=seen)).say("work_out").say("take_it")
    what = next(record.what for record in talk.records if record.event == "taken")
    assert isinstance(what, SizeUpTaken)
    assert len(what.queued) == rows
    for count in range(1, rows + 1):
        assert len(talk.now.open) == count - 1
        talk.say("affirm")
    assert len(talk.now.open) == rows
    assert len({build.number for build in talk.now.open.values()}) == rows
    assert sum(build.request.rakers or 0 for build in talk.now.open.values()) >= rows


def test_a_new_piece_makes_the_estimate_old() -> None:
    talk = sized().say(Command(command="size_up", seen=Seen(lean=ft(0, 4)))).say("take_it")
    assert talk.said[-1] == "work it out first."
    assert "taken" not in talk.events


@pytest.mark.parametrize("steps", [1, 2, 3, 4])
def test_a_restart_after_any_step_goes_on_from_there(steps: int) -> None:
    talk = Talk.new()
    for said in (Command(command="size_up", seen=Seen(wall_length=ft(40), damage_height=ft(9))), "work_out", "take_it",
                 "affirm")[:steps]:  # fmt: skip
        talk.say(said)
    fresh = again(talk)
    assert (fresh.now.seen, fresh.now.sized) == (talk.now.seen, talk.now.sized)
    assert fresh.now.measurer.queue == talk.now.measurer.queue


def test_the_facts_of_the_wall_are_of_the_shore_that_comes_of_it_and_of_no_other() -> None:
    talk = sized(wall="block", wall_thickness=ft(0, 8)).say("take_it").say("affirm")
    (build,) = talk.now.open.values()
    assert build.plan["site"]["wall"] == "block"
    assert not talk.now.site


def test_nothing_that_is_said_is_longer_than_twenty_words() -> None:
    whole = Seen(
        wall_length=ft(40), wall_height=ft(12), damage_height=ft(9), wall_thickness=ft(0, 8), wall="block",
        openings=2, floor="concrete", floors=3, floor_span=ft(16), lean=ft(0, 4), ground="soil", soil="clay",
        before="debris", room=ft(10),
    )  # fmt: skip
    talk = Talk.new()
    for said in (Command(command="size_up", seen=whole), "size_up", "work_out", "work_out", "size_up_new", "size_up"):
        talk.say(said)
    sentences = [one for text in talk.said for one in text.split(". ")]
    assert max(len(one.split()) for one in sentences) <= 20


def seconds(words: str) -> float:
    found = stretches(words)
    return sum(len(one.words) * 60 / (Pace().figures if one.figures else Pace().words) + one.pause for one in found)


#: Walls with a shore and without: too far out, above the wall, too heavy for any row, the nearest that fits, a slip.
WALLS: list[dict[str, Any]] = [
    {}, {"floor": "concrete", "floors": 2, "room": ft(30)}, {"lean": ft(4)}, {"damage_height": None},
    {"damage_height": ft(20)}, {"wall_length": Length.mm(12345)}, {"before": "debris", "wall_height": None},
    {"damage_height": ft(60), "wall_height": ft(70)}, {"damage_height": ft(1)}, {"wall_length": None},
    {"wall_length": ft(9), "wall_thickness": ft(6), "wall": "concrete", "wall_height": ft(60), "floors": 0},
    {"lean": ft(4), "damage_height": ft(11), "floor": "concrete", "floors": 3},
]  # fmt: skip


@pytest.mark.parametrize("facts", WALLS)
def test_the_answer_is_said_first_within_eight_seconds_and_the_rest_when_it_is_asked_for(facts: dict[str, Any]) -> None:
    """As long as the voice takes at its own pace, pauses included."""
    talk = sized(**facts)
    (first,) = talk.said
    found = size_up(Seen.model_validate(talk.now.seen))
    answer = first.split(". ")[: 1 if found.takes else 2]
    assert seconds(". ".join(answer) + ".") < 8
    assert seconds(first.replace(" the nearest that fits.", "")) < 20
    assert first.startswith("nothing to take") == (not found.takes)
    assert found.caution.startswith("This is an estimate for the structures specialist")
    assert "an estimate for the specialist" in first
    if found.takes:
        assert f"{wording.count(found.takes[0].callout.rakers or 0)} timber rakers" in first.partition(".")[0]
    talk.say("work_out")
    (rest,) = talk.said
    assert "sized_up" not in talk.events
    assert rest != first
    assert "an estimate for the specialist" in rest  # on demand, whenever the rest is asked for
    against = [row for row in found.rows if "specialist first" in row.say or "above the wall" in row.say]
    for row in against:
        assert speakable.text(row.say.partition(";")[0]).partition(",")[0] in rest
    if found.look and not against and "no shore" not in {row.topic for row in found.rows}:
        assert "still to be seen" in rest
    talk.say(Command(command="size_up", seen=Seen(openings=1))).say("work_out")
    assert talk.said[-1].partition(".")[0] == first.partition(".")[0]
    assert "an estimate for the specialist" not in talk.said[-1]  # it was said in this shift


def test_every_reason_against_a_shore_has_its_few_words() -> None:
    """The topics that the size-up itself gives as reasons."""
    for facts in WALLS:
        found = size_up(Seen.model_validate(sized(**facts).now.seen))
        if not found.takes:
            assert {row.topic for row in sizing.against(found)} <= set(sizing.NONE)


def test_the_lines_of_the_journal_give_the_same_conversation() -> None:
    talk = sized().say("take_it")
    records: list[Record] = through_the_journal(talk.records)
    now = restore(records, load_stock(None), ShorePlanner(), talk.now.settings)
    assert now.seen == talk.now.seen
    assert now.measurer.pending == talk.now.measurer.pending
    assert not [one for one in records if one.event == "sized_up" and not one.data]
