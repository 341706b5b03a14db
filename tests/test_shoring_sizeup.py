"""Size-up: every figure against its source, the safer one where sources differ, and nothing said that nobody knows."""

from __future__ import annotations

import json
import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.cli import main
from callout.cli.sizeup import callout_phrase
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.sizeup import Sized, SizeUpRow, size_up
from callout.values import Callout, Length
from callout.values.sights import Seen
from tests.checks_shoring import ft

WALL = Seen(
    wall_length=ft(30), wall_height=ft(14), wall_thickness=ft(1), wall="brick", openings=2, floor="concrete", floors=2,
    floor_span=ft(16), lean=Length.imperial(inches=4), damage_height=ft(10), ground="soil", before="clear", room=ft(20),
)  # fmt: skip


def row(found: Sized, topic: str) -> SizeUpRow:
    return next(one for one in found.rows if one.topic == topic)


def seen(**more: object) -> Sized:
    return size_up(WALL.model_copy(update=more))


@pytest.mark.parametrize(
    ("floor", "below"),
    [
        ("wood", 1),  # FEMA US&R VI Module 1A: one undamaged floor holds one damaged (A)
        ("steel", 1),  # the same
        ("concrete", 3),  # the same says 2, training slides say 3: the larger
    ],
)
def test_floors_below(floor: str, below: int) -> None:
    found = row(seen(floor=floor), "floors below")
    assert found.value == below
    assert bool(found.differ) == (floor == "concrete")


@pytest.mark.parametrize(
    ("height", "out"),
    [
        (30, 45),  # article restating NIOSH: 30 ft -> 45 ft
        (50, 75),  # the same: 50 ft -> 75 ft
        (14, 21),  # 1.5 x 14
        (6, 10),  # 6 + 4 is more than 9: masonry wall safety, H + 4 ft
    ],
)
def test_the_clear_zone_is_the_larger_of_two_rules(height: int, out: int) -> None:
    assert row(seen(wall_height=ft(height), damage_height=ft(5)), "clear zone").value == ft(out)


@pytest.mark.parametrize(
    ("length", "count"),
    [
        (20, 3),  # 8 ft on centre at most (course page, metric: 2.4 m); 20 ft -> 3 (D)
        (40, 5),  # 40 ft -> 5 (D)
        (10, 2),  # a braced pair is the least (training slides)
    ],
)
def test_rakers_by_spacing(length: int, count: int) -> None:
    found = seen(wall_length=ft(length), wall_thickness=None)
    assert row(found, "rakers").value == count
    assert row(found, "rakers").differ == ""


def test_rakers_by_what_one_is_made_for() -> None:
    """By hand: 30 x 14 x 1 ft x 125 pcf = 52,500 lb; 2 floors x 16/2 x 30 ft x 100 psf = 48,000 lb; a tenth of both
    10,050 lb; the lean moves the middle out by 4 x 14/10 / 2 = 2.8 in, 100,500 x 2.8/120 = 2,345 lb; together
    12,395 lb, at 2,500 lb a raker five of them (4.96)."""
    found = size_up(WALL)
    assert row(found, "wall weight").value == pytest.approx(52_500)
    assert row(found, "carried").value == pytest.approx(48_000)
    assert row(found, "push").value == pytest.approx(12_395)
    assert row(found, "rakers").value == 5
    assert "by spacing 4, by what one is made for 5" in row(found, "rakers").differ


def test_a_tall_insertion_takes_the_value_of_the_larger_timber() -> None:
    """Over 11 ft a raker is of 6x6, made for 3,600 lb: 52,500 and no floors, 5,250 lb -> 2, spacing asks for 4."""
    found = seen(floors=0, lean=Length(0), damage_height=ft(12))
    assert "by what one is made for 2" in row(found, "rakers").differ


@pytest.mark.parametrize(
    ("room", "angle"),
    [(15, 45), (14, 60), (None, 60)],  # 10 ft out and 5 ft for the anchor; by 7 in a foot 5 ft 10 in out
)
def test_the_angle_follows_the_room(room: int | None, angle: int) -> None:
    found = seen(room=None if room is None else ft(room))
    assert row(found, "angle").value == angle
    assert all(take.callout.angle_deg == angle for take in found.takes)


@pytest.mark.parametrize(
    ("before", "sole"), [("clear", "solid"), ("debris", "split"), ("slope", "split"), (None, "solid")]
)
def test_the_type_follows_what_lies_before_the_wall(before: str | None, sole: str) -> None:
    """Clear base: solid sole; debris or uneven ground: split sole (trade article, 2009)."""
    assert row(seen(before=before), "type").value == sole
    assert (before is None) == any("the ground in front" in look for look in seen(before=before).look)


def test_a_wall_that_leans_too_far_is_left_to_the_specialist() -> None:
    """Rakers are made for a lean of up to 10 percent (training slides): 1 ft in 10 ft, and no more."""
    assert seen(lean=ft(1)).takes
    found = seen(lean=Length.imperial(feet=1, inches=1))
    assert found.takes == ()
    assert "the specialist first" in row(found, "lean").say


def test_what_nobody_knows_is_asked_for_and_not_guessed() -> None:
    found = size_up(Seen())
    assert found.takes == ()
    assert len(found.look) >= 8
    assert {one.topic for one in found.rows} == {"first", "angle", "type", "wind"} - {"angle"}


def test_a_height_above_the_wall_is_not_taken() -> None:
    found = seen(damage_height=ft(15))
    assert found.takes == ()
    assert "above the wall" in row(found, "insertion").say


@pytest.mark.parametrize(
    ("name", "size", "bound"),
    [("wall_thickness", ft(11), "10 ft"), ("wall_length", ft(130), "120 ft"), ("wall_height", ft(201), "200 ft")],
)
def test_a_size_that_nobody_can_mean_is_told_of_and_counts_for_nothing(name: str, size: Length, bound: str) -> None:
    """The bounds are ours, no source: no wall is eleven feet thick, and no thousands of pounds come of it."""
    found = seen(**{name: size})
    assert f"cannot be meant: say one from 1 {'in' if name == 'wall_thickness' else 'ft'} to {bound}" in (
        row(found, "measure").say
    )
    without = seen(**{name: None})
    assert (found.takes, found.look) == (without.takes, without.look)
    assert [one for one in found.rows if one.topic != "measure"] == list(without.rows)


def test_a_metric_wall_is_answered_in_metres() -> None:
    found = seen(wall_length=Length.mm(9100), wall_height=Length.mm(4300), damage_height=Length.mm(3000), floors=0)
    said = " ".join(one.say + one.differ for one in found.rows)
    assert not re.search(r"\d (?:ft|lb)\b", said)
    assert row(found, "clear zone").value == Length.mm(6450)
    assert found.takes[0].callout.spacing is not None
    assert found.takes[0].callout.spacing.millimetres % 100 == 0
    shown = " ".join([said, *found.look])
    assert not re.search(r"\d\.\d\d[1-9] m\b|\b\d\d[1-9] mm", shown), shown  # not 1.219 m, which are 4 ft
    assert "32 kilometres an hour" in said
    assert "miles" not in said


LENGTHS = st.one_of(st.none(), st.integers(8, 720).map(lambda inches: Length.imperial(inches=inches)))


@settings(max_examples=150, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "wall_length": LENGTHS, "wall_height": LENGTHS, "wall_thickness": LENGTHS, "damage_height": LENGTHS,
            "room": LENGTHS, "floor_span": LENGTHS,
            "lean": st.one_of(st.none(), st.integers(0, 30).map(lambda inches: Length.imperial(inches=inches))),
            "wall": st.sampled_from([None, "brick", "block", "concrete", "timber"]),
            "floor": st.sampled_from([None, "wood", "steel", "concrete"]), "floors": st.sampled_from([None, 0, 1, 3]),
            "openings": st.sampled_from([None, 0, 1, 4]), "ground": st.sampled_from([None, "soil", "pavement"]),
            "before": st.sampled_from([None, "clear", "debris", "slope"]),
        }
    )
)  # fmt: skip
def test_whatever_is_seen_what_can_be_taken_exists_and_what_is_said_may_be_spoken(given_: dict[str, object]) -> None:
    found = size_up(Seen.model_validate(given_))
    for take in found.takes:
        assert ShorePlanner(sites={1: take.site}).refusal(1, take.callout) is None
        assert take.callout.insertion is not None
    for one in found.rows:
        assert not re.search(r"[()\[\]{}+*=<>&%@#_|]", one.say + one.differ), one.say
        assert one.sources or "measure again" in one.say or one.topic == "no shore"
        if one.topic == "no shore":  # the planner's own reason; the rules it stands on have their sources in a plan
            assert not any(one.say.startswith(f"no {take.title}") for take in found.takes)
    count = next((one.value for one in found.rows if one.topic == "rakers"), None)
    length = given_["wall_length"]
    if isinstance(count, int) and isinstance(length, Length):
        assert count >= max(2, math.ceil(length.inches / 96))


def test_the_words_of_a_take_mean_that_very_callout() -> None:
    for take in (*size_up(WALL).takes, *seen(lean=Length(0), ground="pavement", before="slope").takes):
        assert resolve_text(callout_phrase(take.callout)).meaning == take.callout
    flying = Callout(kind="flying_raker", insertion=ft(8), angle_deg=45, rakers=1)
    assert resolve_text(callout_phrase(flying)).meaning == flying


def test_the_command_prints_rows_sources_and_what_to_say(capsys: pytest.CaptureFixture[str]) -> None:
    said = ["sizeup", "--wall-height", "14 ft", "--wall-length", "30 ft", "--damage-height", "10 ft"]
    with pytest.raises(SystemExit) as end:
        main(said)
    out, _ = capsys.readouterr()
    assert end.value.code == 0
    assert out.startswith("This is an estimate for the structures specialist.")
    assert "STILL TO BE SEEN" in out
    assert "TAKE IT" in out
    assert max(map(len, out.splitlines())) <= 80
    with pytest.raises(SystemExit):
        main([*said, "--json"])
    found = json.loads(capsys.readouterr().out)["sizeup"]
    assert found["takes"][0]["callout"]["insertion"]["text"] == "10 ft"
    assert Sized.model_validate(found).caution == found["caution"]
