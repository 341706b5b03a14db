"""After a shore stands: the clock of the looks, limits and trend of the marks; all of it in journal and hand-over."""

from __future__ import annotations

import json
import math
import re
from datetime import datetime, timedelta, timezone
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from callout.cli.inspect import inspect
from callout.cli.log import log
from callout.dialogue.watch import watch
from callout.errors import BadInput
from callout.journal import Journal
from callout.shoring.aftercare import LOOK_AT, Happening, Inspection, due, movements
from callout.values import Length
from callout.values.sights import MarkReading
from tests.dialogue_kit import Talk, make_stock

STOOD = datetime(2026, 11, 29, 10, 0, tzinfo=timezone.utc)


def minutes(n: float) -> datetime:
    return STOOD + timedelta(minutes=n)


def look(at: float, *readings: tuple[str, str, Length], **more: object) -> Inspection:
    read = tuple(MarkReading.model_validate({"kind": k, "mark": m, "value": v, **_over(k)}) for k, m, v in readings)
    return Inspection.model_validate({"at": minutes(at), "readings": read, **more})


def _over(kind: str) -> dict[str, Length]:
    return {} if kind == "crack" else {"over": Length.imperial(feet=10)}


def inch(sixteenths: int) -> Length:
    return Length.imperial(sixteenths=sixteenths)


@pytest.mark.parametrize(
    ("looks", "happened", "now", "reason", "wait"),
    [
        ([], [], 0, "clock", 60),  # re-tightened after its first hour (from memory, ours)
        ([], [], 75, "clock", -15),
        ([look(60)], [], 60, "clock", 480),  # each shift: US Army safety manual, restated; a shift of 8 hours is ours
        ([look(60), look(540)], [], 600, "clock", 420),
        # after any event that may affect it (the same); earthquake and wind stand in OSHA's manual on 1926.651(k)
        ([look(60)], [Happening(at=minutes(90), reason="aftershock")], 100, "aftershock", -10),
        ([look(60), look(120)], [Happening(at=minutes(90), reason="aftershock")], 130, "clock", 470),
        ([look(60)], [Happening(at=minutes(90), reason="wind", speed=26)], 91, "wind", -1),
        ([look(60)], [Happening(at=minutes(90), reason="wind", speed=12)], 91, "clock", 449),  # 20 mph is the limit
        ([], [Happening(at=minutes(-30), reason="aftershock")], 0, "clock", 60),  # before it stood
        ([look(60)], [Happening(at=minutes(70), reason="change")], 70, "change", 0),
    ],
)
def test_when_the_next_look_is(
    looks: list[Inspection], happened: list[Happening], now: float, reason: str, wait: int
) -> None:
    found = due(STOOD, looks, happened, minutes(now))
    assert (found.reason, found.minutes) == (reason, wait)
    assert ("look at it now" in found.say) == (wait <= 0)


def test_a_look_that_is_not_due_yet_is_never_told_as_if_it_were() -> None:
    """"Next look 18:31: it is time", shown at 17:31, reads as due now."""
    for now in (0, 30, 59):
        assert due(STOOD, [], [], minutes(now)).why == "when its first hour is over"
    assert due(STOOD, [], [], minutes(60)).why == "its first hour is over"
    assert due(STOOD, [look(60)], [], minutes(70)).why == "once a shift"
    assert due(STOOD, [look(60)], [], minutes(5000)).why == "it is time"


@pytest.mark.parametrize(
    ("kind", "readings", "level"),
    [
        # No print gives limits for rescue work; the start is 1/8 in or 0.1 degree to look, doubling out (ours).
        ("crack", [3], "steady"),
        ("crack", [3, 4], "steady"),
        ("crack", [3, 5], "look"),
        ("crack", [3, 4, 5], "out"),  # from 1/16 to 1/8 in between two looks
        ("crack", [3, 5, 6], "look"),  # from 2/16 to 3/16
        ("crack", [3, 7], "out"),  # twice the limit at once
        ("crack", [5, 3], "look"),  # closing is movement, too
        ("plumb", [0, 3], "steady"),  # 0.1 degree at 10 ft is 0.209 in (D): 3/16 in is under it
        ("plumb", [0, 4], "look"),
        ("level", [0, 7], "out"),
    ],
)
def test_what_a_mark_calls_for(kind: str, readings: list[int], level: str) -> None:
    looks = [look(60 * n, (kind, "north", inch(value))) for n, value in enumerate(readings)]
    (found,) = movements(looks[::-1])
    assert found.level == level
    assert ("everybody out" in found.say) == (level == "out")


def test_the_limit_of_a_tilt_is_the_tangent_of_its_height() -> None:
    """0.1 degree: 0.168 in at 8 ft, 0.209 in at 10 ft (D); so 0.209 in at 10 ft is at the limit."""
    assert 120 * math.tan(math.radians(0.1)) == pytest.approx(0.209, abs=0.0005)
    at = Length.nearest(0.2095)
    (found,) = movements([look(0, ("plumb", "wall", Length(0))), look(60, ("plumb", "wall", at))])
    assert found.level == "look"


def test_the_trend_is_of_the_last_two_looks() -> None:
    """1/16 in in six hours is 1/4 in a day."""
    (found,) = movements([look(0, ("crack", "n", inch(2))), look(360, ("crack", "n", inch(3)))])
    assert found.per_day == inch(4)


def test_a_sound_calls_everybody_out_and_comes_first() -> None:
    found = movements([look(0, ("crack", "n", inch(2))), look(60, ("crack", "n", inch(2)), sounds=True)])
    assert [one.level for one in found] == ["out", "steady"]


@given(st.lists(st.integers(-40, 40), min_size=2, max_size=6))
def test_no_movement_over_the_limit_is_called_steady(values: list[int]) -> None:
    (found,) = movements([look(n, ("crack", "n", inch(value))) for n, value in enumerate(values)])
    assert found.moved == inch(abs(values[-1] - values[0]))
    assert (found.level == "steady") == (abs(values[-1] - values[0]) < 2)


def test_what_is_said_may_be_spoken() -> None:
    looks = [look(0, ("plumb", "wall top", inch(0))), look(60, ("plumb", "wall top", inch(9)))]
    said = [one.say for one in movements(looks)] + [due(STOOD, [], [], minutes(n)).say for n in (0, 61)] + [*LOOK_AT]
    assert not any(re.search(r"[()\[\]{}+*=<>&%@#_|]", one) for one in said)


# --- in the journal ------------------------------------------------------------------------------------------------


@pytest.fixture
def standing(tmp_path: Path) -> Path:
    """A yard in which build one stands."""
    talk = Talk.new(make_stock())
    talk.released()
    while "placed" not in talk.events and len(talk.events) < 400:
        talk.key("ready")
        if talk.state("logistics") in ("confirm", "confirm_walk"):
            talk.say("affirm", role="logistics")
    path = tmp_path / "yard.journal"
    with Journal.open(path) as journal:
        for record in talk.records:
            journal.append(record)
    assert watch(talk_records(path)).shores
    return path


def talk_records(path: Path) -> list[object]:
    with Journal.open(path, writer=False) as journal:
        return list(journal.records())  # type: ignore[return-value]


def run(*arguments: object) -> str:
    done = CliRunner().invoke(inspect, [str(one) for one in arguments], catch_exceptions=False, standalone_mode=False)
    return done.stdout


def test_a_look_is_written_down_and_shown_again(standing: Path) -> None:
    assert "the next look is in" in run(standing)
    run(standing, "--build", "1", "--tight", "--signed", "R. Vega", "--reading", "crack north corner = 3/16 in")
    printed = run(standing, "--build", "1", "--loose", "--reading", "crack north corner = 1/2 in")
    assert "OUT" in printed
    shore = json.loads(run(standing, "--json"))["inspect"]["shores"][0]
    assert (shore["looks"], shore["tight"], shore["signed"]) == (2, False, None)
    assert shore["movements"][0]["moved"]["text"] == "5/16 in"
    with Journal.open(standing, writer=False) as journal:
        assert journal.verify().ok
        last = list(journal.records())[-1]
    assert last.to_json()["happened"]["look"]["readings"][0]["mark"] == "north corner"


def test_an_aftershock_makes_every_shore_due_until_somebody_looks(standing: Path) -> None:
    assert "look at it now, after an aftershock" in run(standing, "--after", "aftershock")
    assert "look at it now" not in run(standing, "--build", "1", "--tight", "--signed", "R. Vega")
    assert "look at it now, after wind over the limit" in run(standing, "--wind", "31")


def test_the_hand_over_has_the_looks(standing: Path) -> None:
    run(standing, "--build", "1", "--signed", "R. Vega", "--reading", "plumb wall top = 1/4 in over 10 ft")
    printed = (
        CliRunner().invoke(log, [str(standing), "--handover"], catch_exceptions=False, standalone_mode=False).stdout
    )
    assert "AFTER THEY STAND" in printed
    assert "signed R. Vega; the next look is in 8 hours" in printed
    assert "STEADY wall top: first reading" in printed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--build", "7", "--tight"], "no shore stands as build 7; standing: 1"),
        (["--tight"], "name the shore"),
        (["--build", "1", "--reading", "crack = 3"], "write a reading like"),
        (["--build", "1", "--reading", "crack n = wide"], "crack n = wide"),
    ],
)
def test_a_faulty_look_is_one_line_and_writes_nothing(standing: Path, arguments: list[str], says: str) -> None:
    before = len(talk_records(standing))
    with pytest.raises(BadInput, match=re.escape(says)):
        run(standing, *arguments)
    assert len(talk_records(standing)) == before


@pytest.mark.parametrize("wind", ["nan", "inf", "-1"])
def test_a_wind_that_no_anemometer_shows_is_refused_and_writes_nothing(standing: Path, wind: str) -> None:
    before = len(talk_records(standing))
    with pytest.raises(click.BadParameter):
        run(standing, "--wind", wind)
    assert len(talk_records(standing)) == before
