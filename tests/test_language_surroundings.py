"""What stands about a shore is no part of it: the size of the wall is no height of the raker, a door beside it makes no
door shore, and the concrete of a wall is not the ground."""

from __future__ import annotations

import pytest

from callout.language.outcome import Ambiguous, NotUnderstood, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, Length
from tests.people_talk import context

ELEVEN = Callout(insertion=Length.imperial(11), angle_deg=60)
FEET_20, INCHES_8, FOOT = Length.imperial(20), Length.imperial(0, 8), Length.imperial(1)


def taken(said: str, state: str = "idle") -> Callout | None:
    """The parts that are taken, of a callout or of a correction."""
    result = resolve_text(said, context(state))
    assert isinstance(result, Understood), result
    return result.meaning if isinstance(result.meaning, Callout) else result.meaning.patch


def why_not(said: str, state: str = "idle") -> str:
    result = resolve_text(said, context(state))
    assert isinstance(result, NotUnderstood), result
    return result.reasons[0]


# --- sizes of the wall, the room, the base

SIZES_BESIDE_A_HEIGHT = {
    "insertion eleven feet eight inch wall sixty": {"wall_thickness": INCHES_8},
    "insertion eleven feet, eight inch thick wall, sixty": {"wall_thickness": INCHES_8},
    "eight inch wall, insertion eleven feet sixty": {"wall_thickness": INCHES_8},
    "insertion eleven feet sixty wall is twelve inches": {"wall_thickness": FOOT},
    "insertion eleven feet sixty, twelve inch wall": {"wall_thickness": FOOT},
    "twenty foot wall insertion eleven feet sixty": {"wall_height": FEET_20},
    "insertion eleven feet sixty wall twenty feet": {"wall_height": FEET_20},
    "insertion eleven feet sixty, the wall's twenty feet": {"wall_height": FEET_20},
    "raker eleven feet sixty degrees, a twenty foot brick wall": {"wall_height": FEET_20, "place": "brick wall"},
}


ABOVE_WHAT = ["up from the sill", "up off the ledge", "up from the second floor", "over the door", "up past the canopy",
              "off the porch roof", "above the sill", "from the second floor", "from the top of the plate"]  # fmt: skip


@pytest.mark.parametrize("above", ABOVE_WHAT)
@pytest.mark.parametrize("state", ["idle", "confirm"])
def test_a_height_above_anything_but_the_ground_is_never_taken(above: str, state: str) -> None:
    result = resolve_text(f"insertion ten feet {above} sixty", context(state))
    assert not isinstance(result, Understood), result


def test_it_says_from_where_a_height_is_measured() -> None:
    assert "from the ground at the foot of the wall" in why_not("insertion ten foot up from the sill sixty")


@pytest.mark.parametrize(
    "ground",
    ["up from the ground", "above grade", "above ground", "above the street", "up from the sidewalk", "off the deck"],
)
def test_a_height_above_the_ground_is_the_height(ground: str) -> None:
    assert taken(f"insertion eleven feet {ground} sixty") == ELEVEN


@pytest.mark.parametrize("said", SIZES_BESIDE_A_HEIGHT)
def test_the_size_of_a_wall_beside_the_height_is_its_own_part(said: str) -> None:
    assert taken(said) == ELEVEN.model_copy(update=SIZES_BESIDE_A_HEIGHT[said])


SIZES_WHILE_A_READBACK_WAITS = {
    "twenty foot wall": Callout(wall_height=FEET_20), "the wall is twenty feet": Callout(wall_height=FEET_20),
    "wall's twenty feet": Callout(wall_height=FEET_20), "it's a twenty foot wall": Callout(wall_height=FEET_20),
    "wall twenty feet": Callout(wall_height=FEET_20), "correction wall is twenty feet": Callout(wall_height=FEET_20),
    "the wall's twenty foot, insertion is fine": Callout(wall_height=FEET_20),
    "twelve inch wall": Callout(wall_thickness=FOOT), "the wall is twelve inches": Callout(wall_thickness=FOOT),
    "insertion is eleven feet and the wall is twenty feet":
        Callout(insertion=Length.imperial(11), wall_height=FEET_20),
    "the point on the wall is eleven feet": Callout(insertion=Length.imperial(11)),
}  # fmt: skip


@pytest.mark.parametrize("said", SIZES_WHILE_A_READBACK_WAITS)
def test_the_size_of_a_wall_corrects_no_height(said: str) -> None:
    assert taken(said, "confirm") == SIZES_WHILE_A_READBACK_WAITS[said]


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("idle", "eleven feet eight inch wall sixty"), ("idle", "eleven foot six inch wall sixty"),
        ("idle", "twenty foot wall, sixty"), ("idle", "wall twenty feet sixty"),
        ("idle", "the wall, eleven feet, sixty"),
        ("idle", "the wall is eleven feet, sixty degrees"),
        ("confirm", "twenty feet of wall"), ("confirm", "the north wall is twenty feet"),
        ("confirm", "the brick wall is twenty feet"), ("confirm", "two foot wall"),
    ],
)  # fmt: skip
def test_a_length_that_may_be_the_walls_is_told(state: str, said: str) -> None:
    assert why_not(said, state).startswith("a length of the wall, or the height?")


@pytest.mark.parametrize(
    "said",
    ["the base is eight feet out", "eight feet at the base", "ten feet of room", "there's only ten feet of room",
     "the room is ten feet", "base is eight feet", "no, eight feet to the base"],
)  # fmt: skip
def test_a_length_of_the_room_or_the_base_is_told(said: str) -> None:
    assert why_not(said, "confirm").startswith("the room and the base are no part of a callout")


@pytest.mark.parametrize(
    "said",
    ["raker on the wall eleven feet sixty", "the west wall is eleven feet and the angle is sixty",
     "eleven feet, wall leaning two inches, sixty", "raker insertion eleven feet wall sixty"],
)  # fmt: skip
def test_a_height_said_of_a_named_wall_stays_one(said: str) -> None:
    callout = taken(said)
    assert callout is not None
    assert (callout.insertion, callout.wall_height) == (ELEVEN.insertion, None)


# --- doors and windows

LANDMARKS = [
    "next to the door", "right of the window", "to the left of the window", "above the window", "beside the window",
    "under the window", "opposite the window", "just over the door", "by the garage door",
    "in front of the door", "in the doorway", "between the door and the window",
    "between the windows", "by the front door", "right of the window opening",
]  # fmt: skip


@pytest.mark.parametrize("place", LANDMARKS)
def test_a_door_or_a_window_beside_a_raker_is_its_place(place: str) -> None:
    assert taken(f"insertion eleven feet sixty {place}") == ELEVEN.model_copy(update={"place": place})


@pytest.mark.parametrize(
    ("said", "place"),
    [("insertion eleven feet sixty on both sides of the door", "on both sides of the door"),
     ("two rakers either side of the doorway eleven feet sixty", "either side of the doorway")],
)  # fmt: skip
def test_on_both_sides_of_a_door_the_rakers_are_asked_for(said: str, place: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Ambiguous), result
    assert isinstance(result.meaning, Callout)
    assert (result.ask, result.meaning.kind, result.meaning.place) == ("rakers", "raker", place)


@pytest.mark.parametrize(
    "said",
    ["there's a door in the way, insertion eleven feet sixty",
     "window opening in the wall, insertion eleven feet sixty"],
)  # fmt: skip
def test_a_door_that_is_only_told_of_is_left_out_and_told(said: str) -> None:
    result = resolve_text(said, context("idle"))
    assert isinstance(result, Understood), result
    assert result.meaning == ELEVEN
    assert result.reasons[-1].startswith("left out: ")


@pytest.mark.parametrize(
    ("said", "state"),
    [("there's a door there", "confirm"), ("six foot door", "confirm"), ("window is at six feet", "confirm"),
     ("door, eleven feet sixty", "idle"), ("prop the window eleven feet sixty", "idle")],
)  # fmt: skip
def test_a_door_that_may_be_the_kind_or_a_place_is_told(said: str, state: str) -> None:
    assert why_not(said, state).startswith("a door or a window")


@pytest.mark.parametrize("said", ["at the garage door", "next to the door", "the raker is at the window"])
def test_a_place_at_a_door_alone_makes_no_door_shore_of_what_waits(said: str) -> None:
    assert not isinstance(resolve_text(said, context("confirm")), Understood)


@pytest.mark.parametrize(
    ("said", "callout"),
    [
        ("door shore", Callout(kind="door")), ("window shore", Callout(kind="window")),
        ("shore up the window", Callout(kind="window")), ("prop up the window", Callout(kind="window")),
        ("a door, width three feet", Callout(kind="door", span=Length.imperial(3))),
        ("shore at the door", Callout(kind="door")),
        ("hey we need a window shore above the door", Callout(kind="window", place="above the door")),
    ],
)  # fmt: skip
def test_a_door_or_a_window_that_is_shored_stays_the_kind(said: str, callout: Callout) -> None:
    assert taken(said) == callout


# --- what the wall and the ground are made of


@pytest.mark.parametrize(
    "wall", ["concrete wall", "on a concrete wall", "concrete block wall", "brick wall", "timber wall"]
)
def test_what_a_wall_is_made_of_names_it_and_is_no_ground(wall: str) -> None:
    place = wall.removeprefix("on a ")
    assert taken(f"insertion eleven feet sixty {wall}") == ELEVEN.model_copy(update={"place": place})


@pytest.mark.parametrize(
    ("beside", "why"),
    [
        ("wall is concrete", "what a wall is made of"), ("the wall is made of concrete", "what a wall is made of"),
        ("kitchen wall is only concrete", "what a wall is made of"), ("the wall's brick", "what a wall is made of"),
        ("wall is block", "what a wall is made of"), ("concrete wall eight inches thick", "what a wall is made of"),
        ("next to the concrete column", "what a wall is made of"),
        ("on gravel", "the kind of soil"), ("ground is soft clay", "the kind of soil"),
    ],
)  # fmt: skip
def test_what_a_callout_cannot_carry_is_told(beside: str, why: str) -> None:
    assert why_not(f"insertion eleven feet sixty {beside}").startswith(why)


@pytest.mark.parametrize("beside", ["on concrete", "on the concrete please", "on concrete, wall eight inches thick"])
def test_concrete_under_the_heel_is_the_ground(beside: str) -> None:
    callout = taken(f"insertion eleven feet sixty {beside}")
    assert callout is not None
    assert callout.ground == "pavement"
