"""The large screen, driven by Textual's pilot and in a pseudo-terminal: what is shown, which keys work, and that it
never holds anybody up."""

import asyncio
import os
import pty
import re
import select
import struct
import sys
import time
from dataclasses import replace

import pytest

from callout.console.screen import ScreenConsole
from callout.console.themes import THEMES
from callout.dialogue.board import Board
from callout.dialogue.following import board
from callout.dialogue.records import Record
from callout.journal import Journal
from callout.values import Callout
from tests.board_scene import SIZES, followed, written
from tests.dialogue_kit import ELEVEN_SIXTY, Talk, ft, make_stock
from tests.test_console_views import contrast

AT = "2031-05-04T15:12:03.250+02:00"


def drive(console, script, size=(100, 36)):
    async def run():
        async with console.app.run_test(size=size) as pilot:
            await script(pilot)

    asyncio.run(run())


@pytest.mark.parametrize("size", SIZES)
def test_the_conversation_is_shown_in_three_views_a_key_apart(size):
    console = ScreenConsole(lambda: followed().board())

    async def script(pilot):
        console.show(Record(time=AT, event="said", speaker="callout", text="item four"))
        console.level("measurer", "mic", -22.0, False)
        await pilot.pause(0.25)
        assert pilot.app.text.startswith("YARD")
        assert "at rack C" in pilot.app.text
        assert "mic ###.." in pilot.app.text
        await pilot.press("tab")
        assert pilot.app.text.startswith("MEASURER")
        assert "SAY: affirm, or correction" in pilot.app.text
        await pilot.press("tab")
        assert pilot.app.text.startswith("OVERVIEW")
        await pilot.press("tab")
        assert pilot.app.text.startswith("YARD")
        assert len(pilot.app.text.splitlines()) == size[1], "the whole screen is used, and no more"

    drive(console, script, size)


def test_what_waits_is_shown_until_it_is_answered():
    talk = Talk.new(make_stock()).released(ELEVEN_SIXTY)
    talk.key("ready")
    talk.say(Callout(insertion=ft(8), angle_deg=45, position=2))
    console = ScreenConsole(lambda: board(written(talk.records), make_stock()), first="measurer")

    async def script(pilot):
        await pilot.pause(0.25)
        assert "SAY: affirm" in pilot.app.text
        assert "position 2" in pilot.app.text
        talk.say("affirm")
        await pilot.pause(0.25)
        assert "Nothing waits for an answer" in pilot.app.text

    drive(console, script)


def test_what_is_heard_so_far_gives_way_to_what_was_heard():
    shown = [Board()]
    console = ScreenConsole(lambda: shown[0])

    async def script(pilot):
        console.heard_so_far("insertion eleven")
        await pilot.pause(0.25)
        assert "... insertion eleven" in pilot.app.text
        record = Record(seq=1, time=AT, event="heard", speaker="measurer", text="insertion eleven feet sixty")
        shown[0] = board([record])
        console.show(record)
        await pilot.pause(0.25)
        assert "15:12:03 measurer: insertion eleven feet sixty" in pilot.app.text

    drive(console, script)


def test_the_colours_change_by_a_key_and_the_words_do_not():
    console = ScreenConsole(lambda: followed().board())

    async def script(pilot):
        await pilot.pause(0.25)
        seen = []
        for _ in range(3):
            seen.append((pilot.app.light, pilot.app.screen.styles.background.hex, pilot.app.text[:200]))
            await pilot.press("f3")
        assert [name for name, _, _ in seen] == ["dark", "sun", "night-red"]
        assert len({ground for _, ground, _ in seen}) == 3
        assert len({re.sub(r"\d\d:\d\d:\d\d", "", text) for _, _, text in seen}) == 1
        assert pilot.app.light == "dark"

    drive(console, script)


def test_every_letter_on_the_screen_has_seven_to_one_in_the_line_for_typing_too():
    """As it is drawn, the cursor and what stands in an empty line with it; and the night has no white."""
    console = ScreenConsole(lambda: followed().board(), typing=True)

    async def script(pilot):
        for _ in THEMES:
            await pilot.pause(0.25)
            drawn = [
                segment for line in pilot.app.screen._compositor.render_strips() for segment in line
                if segment.text.strip() and segment.style is not None
            ]  # fmt: skip
            assert any("ype as if it were said" in segment.text for segment in drawn)
            for segment in drawn:
                ink, ground = (colour.get_truecolor().hex for colour in (segment.style.color, segment.style.bgcolor))
                if segment.style.reverse:
                    ink, ground = ground, ink
                assert contrast(ink, ground) >= 7.0, (pilot.app.light, segment.text, ink, ground)
                if pilot.app.light == "night-red":
                    assert max(int(ink[at : at + 2], 16) for at in (3, 5)) < 0x80, "no white, no blue"
            await pilot.press("f3")

    drive(console, script, (80, 24))


def test_keys_without_a_mouse():
    keys, typed, presses = [], [], []
    console = ScreenConsole(
        on_key=lambda name: (presses if name == "pressed" else keys).append(name), on_typed=typed.append
    )

    async def script(pilot):
        await pilot.press("space")
        await pilot.pause(1.0)
        await pilot.press("x", "x", "x")
        await pilot.pause(0.6)
        await pilot.press("escape")
        assert keys == ["ready", "say_again", "quiet"]
        assert len(presses) == 2, "told at once, before it is known what they mean"
        await pilot.press("f2", *"affirm", "enter")
        assert typed == ["affirm"]
        await pilot.press("enter")
        assert keys[3:] == ["ready"], "an empty line is a key"
        await pilot.press("escape")
        await pilot.press("down")
        await pilot.pause(1.0)
        assert keys[4:] == ["ready"], "closing the line is no word to the voice"
        await pilot.press("tab", "f3")
        await pilot.pause(1.0)
        assert keys[5:] == [], "turning to another view is no word to the yard"
        await pilot.press("f4", "f7")
        assert keys[5:] == ["slower", "louder"]
        await pilot.press("f8", "f8")
        assert keys[7:] == ["affirm"]
        await pilot.press("f9")
        assert keys[8:] == ["unpair"]
        await pilot.press("f12", "f2", "f12")
        assert keys[9:] == ["talk", "talk"], "also while a line is open"
        await pilot.press("ctrl+q")
        assert keys[11:] == ["quit"]

    drive(console, script)


def test_letters_beside_the_line_do_nothing_and_that_is_told():
    keys, typed = [], []
    console = ScreenConsole(on_key=keys.append, on_typed=typed.append)

    async def script(pilot):
        await pilot.press(*"short", "enter")
        await pilot.pause(0.25)
        assert "several keys at once: nothing was done" in pilot.app.text
        await pilot.pause(2.0)
        assert set(keys) <= {"pressed"}
        assert typed == []
        await pilot.press("space")
        await pilot.pause(1.0)
        assert keys[-1] == "ready"

    drive(console, script, (80, 24))


def test_the_affirm_key_twice_affirms_while_the_line_is_open_and_empty():
    """`--typed --screen` begins with the line open. With words in it somebody is about to say something else."""
    keys = []
    console = ScreenConsole(on_key=keys.append, first="measurer", typing=True)

    async def script(pilot):
        await pilot.pause(0.25)
        assert "F8 twice affirm" in pilot.app.text
        await pilot.press("f8", "f8")
        assert keys == ["affirm"]
        await pilot.pause(0.5)
        await pilot.press(*"six", "f8", "f8")
        await pilot.pause(0.25)
        assert keys == ["affirm"]
        assert "F8 affirms nothing while words stand in the line" in " ".join(pilot.app.text.split())

    drive(console, script, (80, 24))


def test_a_typed_line_is_shown_as_worked_on_until_its_record_comes():
    """The first long callout of a day takes seconds, and "heard: -" looks dead meanwhile."""
    typed = []
    console = ScreenConsole(on_typed=typed.append, typing=True)

    async def script(pilot):
        await pilot.press(*"sixty", "enter")
        await pilot.pause(0.25)
        assert typed == ["sixty"]
        assert "working on: sixty" in pilot.app.text
        console.show(Record(seq=1, time=AT, event="heard", speaker="measurer", text="sixty"))
        await pilot.pause(0.25)
        assert "working on" not in pilot.app.text

    drive(console, script, (80, 24))


@pytest.mark.parametrize("size", SIZES)
def test_the_code_for_a_board_is_shown_on_every_screen(size):
    """However much room the item takes: the log, where notes stand, may have none."""
    console = ScreenConsole(lambda: followed().board())

    async def script(pilot):
        console.notice("code for the board of logistics: 4711, once, within three minutes")
        await pilot.pause(0.3)
        text = " ".join(pilot.app.text.split())
        assert "code for the board of logistics: 4711" in text
        assert len(pilot.app.text.splitlines()) == size[1]
        console.wall.tell(lambda face: replace(face, notice_until=0.0))
        await pilot.pause(0.3)
        assert "4711" not in pilot.app.text or size[1] > 30

    drive(console, script, size)


def test_a_flood_of_lines_holds_nobody_up():
    console = ScreenConsole()
    record = Record(time=AT, event="said", text="item one. two strut, eight feet.")
    began = time.perf_counter()
    for _ in range(3_000):
        console.show(record)
        console.heard_so_far("insertion")
    assert time.perf_counter() - began < 2.0, "nothing is drawn by the one who speaks"

    async def script(pilot):
        await pilot.pause(0.3)
        assert len(console.wall.look().log) <= 400

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


class Terminal:
    """`callout` in a pseudo-terminal of the system, driven by keys alone."""

    def __init__(self, arguments, columns, lines, folder):
        import fcntl
        import termios

        self.child, self.file = pty.fork()
        if self.child == 0:
            os.chdir(folder)
            os.environ.update(TERM="xterm-256color", COLORTERM="truecolor")
            os.execv(sys.executable, [sys.executable, "-m", "callout", *arguments])
        fcntl.ioctl(self.file, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        self.seen = ""

    def press(self, keys):
        os.write(self.file, keys.encode())

    def read(self, seconds):
        end = time.monotonic() + seconds
        while time.monotonic() < end and select.select([self.file], [], [], 0.05)[0]:
            try:
                self.seen += os.read(self.file, 65536).decode("utf-8", "replace")
            except OSError:
                return

    def wait_for(self, words, seconds=20.0):
        end = time.monotonic() + seconds
        while words not in self.seen:
            assert time.monotonic() < end, f"{words!r} was never shown"
            self.read(0.2)

    def end(self):
        self.press("\x11")
        end = time.monotonic() + 15
        while time.monotonic() < end:
            self.read(0.1)
            time.sleep(0.02)  # once it has gone there is nothing to wait for
            pid, status = os.waitpid(self.child, os.WNOHANG)
            if pid:
                os.close(self.file)
                return os.waitstatus_to_exitcode(status)
        os.kill(self.child, 9)
        os.waitpid(self.child, 0)
        raise AssertionError("it did not end by Ctrl-Q")


def test_from_the_callout_to_standing_by_keys_alone(tmp_path):
    """A real terminal: the callout and its affirm are typed, everything else is a press of Enter."""
    path = tmp_path / "yard.journal"
    terminal = Terminal(["listen", "--typed", "--screen", "--mute", "--journal", str(path)], 100, 36, tmp_path)
    try:
        terminal.wait_for("No build to fetch for", 30)
        terminal.press("insertion eight feet forty five position two\r")
        terminal.wait_for("affirm, or correction")
        terminal.press("\t")
        terminal.wait_for("SAY: affirm")
        terminal.press("\taffirm\r\t")  # to the overview, and back to the yard
        terminal.wait_for("item 1 of")
        reader = Journal.open(path, writer=False)
        end = time.monotonic() + 60
        while not any(record.event == "placed" for record in reader.records()):
            assert time.monotonic() < end
            said = reader.last_seq
            asked = next(reader.records(said - 1))
            terminal.press("affirm\r" if asked.event == "readback" else "\r")  # it stands? only a yes books that
            while reader.last_seq == said and time.monotonic() < end:
                terminal.read(0.02)
        terminal.wait_for("STANDS")
        picked = [record.speaker for record in reader.records() if record.event == "picked"]
        assert set(picked) == {"logistics"}
        reader.close()
    finally:
        code = terminal.end()
    assert code in (0, 130)


def test_the_demonstration_on_the_screen(tmp_path, monkeypatch):
    """Two parts, the second after a new start on the same journal; it stays until somebody ends it."""
    from callout.session.large_screen import demonstrate_on_screen
    from callout.session.opening import Choices

    seen = []
    run = ScreenConsole.run

    def headless(console, work):
        app_run = console.app.run
        monkeypatch.setattr(console.app, "run", lambda: app_run(headless=True, size=(100, 36)))
        note = console.note

        def told(text):
            note(text)
            if text.startswith("--- the end"):
                console.app.call_later(console.app.action_leave)

        monkeypatch.setattr(console, "note", told)
        run(console, work)

    def perform(desk, act):
        from callout.session.sources import take_line

        take_line(desk, act["typed"], "measurer")
        seen.append((act["typed"], len(desk.followed.board().open)))

    monkeypatch.setattr(ScreenConsole, "run", headless)
    parts = [
        [{"tell": "a callout"}, {"typed": "insertion eleven feet sixty"}], [{"typed": "affirm"}],
    ]  # fmt: skip
    choices = Choices(journal=tmp_path / "demo.journal", mute=True, play=False)
    demonstrate_on_screen(parts, choices, perform, pause=0.01)
    assert seen == [("insertion eleven feet sixty", 0), ("affirm", 1)]


def test_with_one_keyboard_who_picks_is_the_yard():
    from callout.dialogue.events import Opened
    from callout.dialogue.machine import start
    from callout.dialogue.settings import load_settings
    from callout.journal.memory import MemoryJournal
    from callout.session.desk import Desk, Mouths
    from callout.session.sources import take_line
    from tests.dialogue_kit import FakePlanner

    talk = start(make_stock(), FakePlanner(), load_settings())
    desk = Desk(talk, MemoryJournal(), Mouths(), lambda record: None, lambda note: None)
    desk.feed(Opened(0.0))
    for line in ("insertion eleven feet sixty", "affirm", "ready", "next"):
        take_line(desk, line, "measurer")
    records = list(desk._store.records())
    assert [record.speaker for record in records if record.event == "picked"] == ["logistics"] * 2
    assert [record.speaker for record in records if record.event == "affirmed"] == ["measurer"]
