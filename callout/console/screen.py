"""The screen: what is heard, the readback that waits, builds, parts, stock and the log, in a terminal.

It never holds up the voice: `show` and its like only put into a queue, which the screen empties ten times a second.
No mouse is needed, and hardly a key: any key is ready, held or twice it is say again, Esc silences the voice, F2 opens
a line for typing, Ctrl-Q ends.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from typing import ClassVar, Literal

from rich.text import Text
from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Digits, Input, RichLog, Static

from callout.console.keys import KeyName, Presses
from callout.console.lines import Lines
from callout.console.picture import PartRow, Picture, StockRow
from callout.dialogue.events import Record

REFRESH = 0.1
#: How long after the screen is gone the conversation may take to end, in seconds.
PATIENCE = 10.0
_Item = tuple[Literal["line", "so_far", "heard", "note"], str]

_STYLE = """
Screen { layout: vertical; }
#top { height: auto; }
#heard { height: 3; border: round $secondary; padding: 0 1; text-style: bold; }
#pending { height: auto; min-height: 3; border: heavy $warning; padding: 0 1; text-style: bold; }
#pending.calm { border: round $secondary; text-style: none; }
#pending.alarm { border: heavy $error; background: $error; color: $text; }
#middle { height: 1fr; min-height: 8; }
#left { width: 3fr; }
#right { width: 2fr; }
#item { width: auto; height: 3; margin: 0 1; text-style: bold; }
#builds { height: auto; max-height: 7; border: round $secondary; padding: 0 1; }
#parts { height: 1fr; border: round $secondary; padding: 0 1; }
#stock { height: 1fr; border: round $secondary; padding: 0 1; }
#log { height: 30%; min-height: 4; border: round $secondary; padding: 0 1; }
#typed { display: none; height: 3; }
#typed.open { display: block; }
"""


class CalloutApp(App[None]):
    """The widgets, and what changes them. Made and run by `ScreenConsole`."""

    CSS = _STYLE
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+q", "leave", "end", priority=True),
        Binding("ctrl+c", "leave", "end", priority=True),
        Binding("f2", "type", "type a line", priority=True),
        Binding("escape", "quiet", "silence", priority=True),
    ]

    def __init__(
        self,
        items: queue.SimpleQueue[_Item],
        picture: Callable[[], Picture],
        on_key: Callable[[KeyName], None],
        on_typed: Callable[[str], None],
    ) -> None:
        super().__init__()
        self.begin: Callable[[], None] = lambda: None
        self._items = items
        self._picture = picture
        self._tell_key = on_key
        self._tell_line = on_typed
        self._presses = Presses()
        self._shown: Picture | None = None

    def compose(self) -> ComposeResult:
        with Vertical(id="top"):
            yield Static("", id="heard")
            yield Static("", id="pending", classes="calm")
        with Horizontal(id="middle"):
            with Vertical(id="left"):
                yield Digits("", id="item")
                yield Static("", id="parts")
            with Vertical(id="right"):
                yield Static("", id="builds")
                yield Static("", id="stock")
        yield RichLog(id="log", wrap=True, max_lines=2000)
        yield Input(placeholder="a line, as if it were said; Enter sends, Esc closes", id="typed")

    def on_mount(self) -> None:
        for name, title in (
            ("heard", "heard"),
            ("pending", "read back"),
            ("parts", "parts"),
            ("builds", "builds"),
            ("stock", "stock: on hand (promised)"),
            ("log", "log"),
        ):
            self.query_one(f"#{name}").border_title = title
        self.query_one("#log").can_focus = False
        self.set_interval(REFRESH, self.refresh_all)
        self.refresh_all()
        self.begin()

    def refresh_all(self) -> None:
        """Empty the queue, ask for the picture, tell of a key that stayed alone."""
        while True:
            try:
                kind, text = self._items.get_nowait()
            except queue.Empty:
                break
            if kind in ("so_far", "heard"):
                self.query_one("#heard", Static).update(Text(text, style="dim" if kind == "so_far" else ""))
            else:
                self.query_one("#log", RichLog).write(Text(text, style="dim" if kind == "note" else ""))
        shown = self._picture()
        if shown != self._shown:
            self._shown = shown
            self._draw(shown)
        alone = self._presses.due(time.monotonic())
        if alone is not None:
            self._tell_key(alone)

    def _draw(self, shown: Picture) -> None:
        pending = self.query_one("#pending", Static)
        pending.set_class(bool(shown.halted), "alarm")
        pending.set_class(not shown.pending and not shown.halted, "calm")
        halted = f"SILENT SINCE: {shown.halted.upper()}" if shown.halted else ""
        pending.update(Text("\n".join(filter(None, (halted, shown.pending or shown.waiting)))))
        self.query_one("#builds", Static).update(Text("\n".join(shown.builds)))
        parts = self.query_one("#parts", Static)
        parts.border_title = shown.parts_of or "parts"
        parts.update(_parts(shown.parts, max(3, parts.size.height)))
        now = next((part for part in shown.parts if part.state == "now"), None)
        self.query_one("#item", Digits).update(f"{now.quantity} x" if now else "")
        self.query_one("#stock", Static).update(_stock(shown.stock))

    def on_key(self, event: events.Key) -> None:
        """Any key that nothing else wants."""
        if self.query_one("#typed", Input).has_class("open"):
            return
        event.stop()
        name = self._presses.press(time.monotonic())
        if name is not None:
            self._tell_key(name)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        text = event.value.strip()
        event.input.value = ""
        if text:
            self._tell_line(text)

    def action_type(self) -> None:
        typed = self.query_one("#typed", Input)
        typed.add_class("open")
        typed.focus()

    def action_quiet(self) -> None:
        """Esc closes the line for typing; without one it silences the voice."""
        typed = self.query_one("#typed", Input)
        if typed.has_class("open"):
            typed.remove_class("open")
            self.set_focus(None)
        else:
            self._tell_key("quiet")

    def action_leave(self) -> None:
        self._tell_key("quit")
        self.exit()


def _parts(rows: tuple[PartRow, ...], height: int) -> Text:
    """The list, from a little above the item that was spoken last."""
    at = next((index for index, row in enumerate(rows) if row.state == "now"), 0)
    start = max(0, min(at - 2, len(rows) - height))
    found = Text()
    for row in rows[start:]:
        style = {"now": "bold reverse", "done": "dim", "": ""}[row.state]
        mark = "x" if row.state == "done" else ">" if row.state == "now" else " "
        where = f"  ({row.where})" if row.where else ""
        found.append(f"{mark} {row.item:>2}. {row.quantity:>3} x {row.name}{where}\n", style)
    return found


def _stock(rows: tuple[StockRow, ...]) -> Text:
    """What is promised first, then the rest; a line with nothing left stands out."""
    found = Text()
    for row in sorted(rows, key=lambda row: (row.reserved == 0, row.name)):
        promised = f" ({row.reserved})" if row.reserved else ""
        found.append(f"{row.on_hand:>4}{promised:<6} {row.name}\n", "bold red" if row.on_hand <= 0 else "")
    return found


class ScreenConsole:
    """The console on a screen. `run(work)` shows it and runs `work` beside it, in a thread.

    `picture` gives what to show whenever the screen asks (see `callout.console.picture`); it must be quick and safe to
    call from another thread. Keys come to `on_key`, typed lines to `on_typed`, both from the screen's thread: put
    them into a queue.
    """

    def __init__(
        self,
        picture: Callable[[], Picture] = Picture,
        on_key: Callable[[KeyName], None] = lambda name: None,
        on_typed: Callable[[str], None] = lambda text: None,
    ) -> None:
        self._items: queue.SimpleQueue[_Item] = queue.SimpleQueue()
        self._lines = Lines()
        self.app = CalloutApp(self._items, picture, on_key, on_typed)

    def show(self, record: Record) -> None:
        if record.event == "heard":
            self._items.put(("heard", record.text))
        line = self._lines.line(record)
        if line:
            self._items.put(("line", line))

    def heard_so_far(self, text: str) -> None:
        self._items.put(("so_far", text))

    def note(self, text: str) -> None:
        self._items.put(("note", f"{'':8}  {'-':<10}  {text}"))

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
