"""The large screen: one state in three views, a key apart, in a terminal of 40 by 20 or more.

It never holds up the voice: `show` and its like only put into a queue, which the screen empties ten times a second.
No mouse is needed, and hardly a key: any key is ready, held or twice it is say again, Tab turns to the next view, Esc
silences the voice, F2 opens a line for typing, F3 changes the colours, Ctrl-Q ends.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import ClassVar

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, Static

from callout.console.frame import EarSign, Face
from callout.console.keys import AFFIRM_KEY, ROW_SAYS, TALK_KEY, UNPAIR_KEY, VOICE_KEYS, KeyName, Presses
from callout.console.record_lines import Lines
from callout.console.themes import NAMES, THEMES, Line, Theme, paint, plain
from callout.console.views import VIEWS, view
from callout.dialogue.board import Board
from callout.dialogue.records import Record

REFRESH = 0.1
#: How long after the screen is gone the conversation may take to end, in seconds.
PATIENCE = 10.0
LOG_LINES = 400

KEYS = (
    ("any key", "ready"), ("twice", "again"), ("Tab", "view"), ("F2", "type"), ("F3", "light"), ("Esc", "hush"),
    ("^Q", "end"), ("F4 to F7", "slower faster softer louder"), ("F9", "tablets may not press any more"),
)  # fmt: skip
#: For a measurer who is relayed: only this key affirms, and only what was read back last.
MEASURER_KEYS = (("F8 twice", "affirm"), *KEYS[2:])
TYPING = (
    ("Enter", "send"), ("empty Enter", "ready"), ("Tab", "view"), ("F3", "light"), ("Esc", "close"), ("^Q", "end"),
)  # fmt: skip
MEASURER_TYPING = (("F8 twice", "affirm"), *TYPING)
#: What F8 says while words stand in the line: whoever writes a correction must not affirm what it corrects.
WORDS_FIRST = "F8 affirms nothing while words stand in the line: send them with Enter, or clear the line"
#: How long a hint stands, in seconds.
HINT = 5.0
#: How long a notice stands: as long as a code holds.
NOTICE = 180.0

#: Keys that mean the same whatever is shown.
_NAMED: dict[str, KeyName] = {UNPAIR_KEY: "unpair", TALK_KEY: "talk", **VOICE_KEYS}

_STYLE = """
Screen { layout: vertical; overflow: hidden; }
#view { width: 100%; height: 1fr; }
#typed { display: none; height: 1; border: none; padding: 0; background-tint: transparent; }
#typed.open { display: block; }
""" + "".join(
    f"""
#typed.{theme.name} > .input--placeholder {{ color: {theme.quiet}; }}
#typed.{theme.name} > .input--cursor {{ color: {theme.ground}; background: {theme.ink}; text-style: none; }}
"""
    for theme in THEMES
)


class Wall:
    """What the console was told and the screen shows; safe to be told from any thread."""

    def __init__(self) -> None:
        self._items: queue.SimpleQueue[Callable[[Face], Face]] = queue.SimpleQueue()
        self._log: deque[str] = deque(maxlen=LOG_LINES)
        self._face = Face()

    def tell(self, change: Callable[[Face], Face]) -> None:
        """Have `change` made when the screen looks next."""
        self._items.put(change)

    def line(self, text: str) -> Callable[[Face], Face]:
        """The change that adds a line to the log."""

        def add(face: Face) -> Face:
            self._log.append(text)
            return face

        return add

    def look(self) -> Face:
        """Everything told so far. From the screen's thread only."""
        while True:
            try:
                self._face = self._items.get_nowait()(self._face)
            except queue.Empty:
                return replace(self._face, log=tuple(self._log))


class CalloutApp(App[None]):
    """The widgets, and what changes them. Made and run by `ScreenConsole`."""

    CSS = _STYLE
    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "end", priority=True),
        Binding("ctrl+c", "leave", "end", priority=True),
        Binding("tab", "next_view(1)", "next view", priority=True),
        Binding("shift+tab", "next_view(-1)", "view before", priority=True),
        Binding("f2", "type", "type a line", priority=True),
        Binding("f3", "light", "colours", priority=True),
        Binding("escape", "quiet", "silence", priority=True),
    ]

    def __init__(
        self,
        wall: Wall,
        board: Callable[[], Board],
        on_key: Callable[[KeyName], None],
        on_typed: Callable[[str], None],
        first: str,
        light: str,
        typing: bool,
    ) -> None:
        super().__init__()
        self.begin: Callable[[], None] = lambda: None
        self.speaking: Callable[[], bool] = lambda: False
        self.view = first
        self.light = light
        self._wall = wall
        self._board = board
        self._tell_key = on_key
        self._tell_line = on_typed
        self._typing = typing
        self._presses = Presses()
        self._hint, self._hint_until = "", 0.0
        self.lines: list[Line] = []

    @property
    def colours(self) -> Theme:
        return THEMES[NAMES.index(self.light)]

    def compose(self) -> ComposeResult:
        yield Static("", id="view")
        yield Input(placeholder="type as if it were said", id="typed")

    def on_mount(self) -> None:
        if self._typing:
            self.action_type()
        self._colour()
        self.set_interval(REFRESH, self.refresh_all)
        self.call_after_refresh(self.refresh_all)
        self.begin()

    def on_resize(self) -> None:
        self.call_after_refresh(self.refresh_all)

    def refresh_all(self) -> None:
        """Empty the queue, ask for the board, draw what changed, tell of a key that stayed alone."""
        if not self.query("#view"):  # not there yet, or no more
            return
        alone = self._presses.due(time.monotonic())
        if alone is not None:
            self._tell_key(alone)
        keys = {False: (KEYS, MEASURER_KEYS), True: (TYPING, MEASURER_TYPING)}[self._line.has_class("open")]
        face = replace(
            self._wall.look(), speaking=self.speaking(), clock=datetime.now().astimezone(),
            keys=keys[self.view == "measurer"], hint=self._hint if time.monotonic() < self._hint_until else "",
            now=time.monotonic(),
        )  # fmt: skip
        shown = self.query_one("#view", Static)
        columns, height = shown.size
        if columns < 1 or height < 1:
            return
        lines = view(self.view, self._board(), face, columns, height)
        if lines != self.lines:
            self.lines = lines
            shown.update(paint(lines, self.colours))

    @property
    def text(self) -> str:
        """What the view shows, without its colours."""
        return plain(self.lines)

    @property
    def _line(self) -> Input:
        return self.query_one("#typed", Input)

    def _colour(self) -> None:
        colours = self.colours
        for widget in (self.screen, self.query_one("#view"), self._line):
            widget.styles.background = colours.ground
            widget.styles.color = colours.ink
        self._line.set_classes([*(self._line.classes - set(NAMES)), colours.name])
        self.lines = []

    def on_key(self, event: events.Key) -> None:
        """Any key that nothing else wants."""
        named: KeyName | None = _NAMED.get(event.key)
        if named is not None:
            event.stop()
            self._tell_key(named)
            return
        affirms = event.key == AFFIRM_KEY
        if self._line.has_class("open"):
            if not affirms:
                return
            if self._line.value.strip():
                event.stop()
                self._say(WORDS_FIRST)
                return
        event.stop()
        for name in self._presses.tell(time.monotonic(), event.key, affirms=affirms):
            if name == "row":
                self._say(ROW_SAYS)
            else:
                self._tell_key(name)

    def _say(self, hint: str) -> None:
        """A hint over the keys, for a moment."""
        self._hint, self._hint_until = hint, time.monotonic() + HINT

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """A line as if it were said; an empty one is a key: ready."""
        text = event.value.strip()
        event.input.value = ""
        if text:
            self._wall.tell(lambda face: replace(face, working=text))  # the first may take seconds
            self._tell_line(text)
        else:
            self._tell_key("ready")

    def action_next_view(self, step: int) -> None:
        names = list(VIEWS)
        self.view = names[(names.index(self.view) + step) % len(names)]
        self.refresh_all()

    def action_light(self) -> None:
        self.light = NAMES[(NAMES.index(self.light) + 1) % len(NAMES)]
        self._colour()
        self.refresh_all()

    def action_type(self) -> None:
        self._line.add_class("open")
        self._line.focus()

    def action_quiet(self) -> None:
        """Esc closes the line for typing; without one it silences the voice."""
        if self._line.has_class("open"):
            self._line.remove_class("open")
            self.set_focus(None)
        else:
            self._tell_key("quiet")

    def action_leave(self) -> None:
        self._tell_key("quit")
        self.exit()


class ScreenConsole:
    """The console on a screen. `run(work)` shows it and runs `work` beside it, in a thread.

    `board` gives what to show whenever the screen asks; it must be quick and safe to call from another thread. Keys
    come to `on_key`, typed lines to `on_typed`, both from the screen's thread: put them into a queue.
    """

    def __init__(
        self,
        board: Callable[[], Board] = Board,
        on_key: Callable[[KeyName], None] = lambda name: None,
        on_typed: Callable[[str], None] = lambda text: None,
        *,
        first: str = "yard",
        light: str = "dark",
        typing: bool = False,
    ) -> None:
        self.wall = Wall()
        self._lines = Lines()
        self.app = CalloutApp(self.wall, board, on_key, on_typed, first, light, typing)

    def show(self, record: Record) -> None:
        if record.event == "heard" and record.text:
            text = record.text
            self.wall.tell(lambda face: replace(face, heard=text, sure=True))
        self.wall.tell(lambda face: replace(face, working=""))
        line = self._lines.line(record)
        if line:
            self.wall.tell(self.wall.line(line))

    def heard_so_far(self, text: str) -> None:
        self.wall.tell(lambda face: replace(face, heard=text, sure=False))

    def note(self, text: str) -> None:
        self.wall.tell(self.wall.line(f"{'':8}  {'-':<10}  {text}"))

    def notice(self, text: str) -> None:
        """A note that must not be overlooked, nor pushed out by what is large: a code."""
        self.note(text)
        until = time.monotonic() + NOTICE
        self.wall.tell(lambda face: replace(face, notice=text, notice_until=until))

    def level(self, role: str, what: str, decibels: float, is_open: bool) -> None:
        """How loud a side's microphone or line is now."""

        def change(face: Face) -> Face:
            ears = {ear.role: ear for ear in face.ears}
            ears[role] = EarSign(role, what, decibels, is_open)
            return replace(face, ears=tuple(ears.values()))

        self.wall.tell(change)

    def signs(self, *, speaking: Callable[[], bool], muted: bool = False, radio: str = "") -> None:
        """How to tell whether the voice speaks; whether it is muted, and on which output the radio is."""
        self.app.speaking = speaking
        self.wall.tell(lambda face: replace(face, muted=muted, radio=radio))

    def close(self) -> None:
        """Take the screen away; `run` returns."""
        if self.app.is_running:
            self.app.call_later(self.app.exit)

    def run(self, work: Callable[[], None]) -> None:
        """Show the screen until `work` returns or somebody ends it. What `work` raises is raised here.

        After Ctrl-Q `on_key("quit")` has been called and `work` is expected to return soon.
        """
        failed: list[BaseException] = []

        def both() -> None:
            try:
                work()
            except BaseException as problem:
                failed.append(problem)
            finally:
                self.close()

        thread = threading.Thread(target=both, name="conversation", daemon=True)
        self.app.begin = thread.start
        self.app.run()
        if thread.is_alive():
            thread.join(PATIENCE)
        if failed:
            raise failed[0]
