"""The screen, driven by Textual's pilot: what is shown, which keys work, and that it never holds anybody up."""

import asyncio
import time

import pytest
from textual.widgets import Digits, RichLog, Static

from callout.console.picture import Picture, picture
from callout.console.screen import ScreenConsole
from callout.dialogue.events import Record
from callout.values import Callout
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock

AT = "2031-05-04T15:12:03.250+02:00"
SIZES = [(80, 24), (120, 40)]


def drive(console, script, size=(100, 36)):
    async def run():
        async with console.app.run_test(size=size) as pilot:
            await script(pilot)

    asyncio.run(run())


def text_of(pilot, name):
    return str(pilot.app.query_one(f"#{name}", Static).render())


def log_of(pilot):
    return [line.text.rstrip() for line in pilot.app.query_one("#log", RichLog).lines]


@pytest.mark.parametrize("size", SIZES)
def test_the_conversation_is_shown(size):
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY)
    talk.key("ready")
    talk.say(Callout(insertion=ft(8), angle_deg=45, position=2))
    console = ScreenConsole(lambda: picture(talk.now))

    async def script(pilot):
        console.show(Record(time=AT, event="heard", speaker="measurer", text="insertion eight feet"))
        console.note("voice: 1.wav")
        await pilot.pause(0.25)
        assert "insertion eight feet" in text_of(pilot, "heard")
        assert "eight feet" in text_of(pilot, "pending")
        assert "affirm" in text_of(pilot, "pending")
        assert "build 1  2 of 6 picked" in text_of(pilot, "builds")
        parts = text_of(pilot, "parts").splitlines()
        assert parts[0].startswith("x  1.   2 x six foot strut")
        assert parts[1].startswith(">  2.   4 x brick anchor")
        assert pilot.app.query_one("#item", Digits).value == "4 x"
        assert "12 (4)   brick anchor" in text_of(pilot, "stock")
        assert "15:12:03  measurer    insertion eight feet" in log_of(pilot)
        talk.say("affirm")
        await pilot.pause(0.25)
        assert text_of(pilot, "pending").strip() == ""

    drive(console, script, size)


def test_a_stop_word_cannot_be_overlooked():
    talk = Talk.new(make_stock()).say("evacuate")
    console = ScreenConsole(lambda: picture(talk.now))

    async def script(pilot):
        await pilot.pause(0.2)
        assert "SILENT SINCE: EVACUATE" in text_of(pilot, "pending")
        assert pilot.app.query_one("#pending").has_class("alarm")

    drive(console, script)


def test_keys_without_a_mouse():
    keys, typed = [], []
    console = ScreenConsole(on_key=keys.append, on_typed=typed.append)

    async def script(pilot):
        await pilot.press("space")
        await pilot.pause(1.0)
        await pilot.press("x", "x", "x")
        await pilot.pause(0.6)
        await pilot.press("escape")
        assert keys == ["ready", "say_again", "quiet"]
        await pilot.press("f2", *"affirm", "enter")
        assert typed == ["affirm"]
        await pilot.press("escape")
        await pilot.press("down")
        await pilot.pause(1.0)
        assert keys[3:] == ["ready"], "closing the line is no word to the voice"
        await pilot.press("ctrl+q")
        assert keys[4:] == ["quit"]

    drive(console, script)


def test_a_flood_of_lines_hold_nobody_up():
    console = ScreenConsole()
    record = Record(time=AT, event="said", text="item one. two strut, eight feet.")
    began = time.perf_counter()
    for _ in range(3_000):
        console.show(record)
        console.heard_so_far("insertion")
    assert time.perf_counter() - began < 2.0, "nothing is drawn by the one who speaks"

    async def script(pilot):
        await pilot.pause(0.3)
        assert len(log_of(pilot)) <= 2000

    drive(console, script)


def test_run_shows_the_screen_while_the_work_goes_on_and_ends_with_it(monkeypatch):
    done = []
    console = ScreenConsole()
    run = console.app.run
    monkeypatch.setattr(console.app, "run", lambda: run(headless=True))
    console.run(lambda: done.append(time.sleep(0.3)))
    assert done == [None]
    assert not console.app.is_running


def test_what_the_work_raises_is_raised_to_the_one_who_runs_it(monkeypatch):
    console = ScreenConsole()
    run = console.app.run
    monkeypatch.setattr(console.app, "run", lambda: run(headless=True))

    def work():
        raise ValueError("no microphone")

    with pytest.raises(ValueError, match="no microphone"):
        console.run(work)


def test_the_picture_is_a_function_of_the_state():
    talk = Talk.new(make_stock(six=0, eight=0)).released(ELEVEN_SIXTY)
    shown = picture(talk.now)
    assert shown == picture(talk.now)
    assert "SHORT" in shown.builds[0]
    assert picture(Talk.new(make_stock()).now).builds == ()
    assert isinstance(shown, Picture)
