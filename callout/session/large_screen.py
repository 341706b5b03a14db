"""The conversation on the large screen: live, typed to rehearse, or the demonstration."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from callout.console.record_lines import Console
from callout.console.screen import ScreenConsole
from callout.dialogue.board import Board
from callout.dialogue.following import Followed
from callout.session.desk import Desk
from callout.session.opening import Choices, open_desk
from callout.session.sources import Hands

#: Seconds between two looks whether somebody still writes the journal that is shown.
LOOK_FOR_WRITER = 2.0


class DeskBoard:
    """The board of the desk that is open, worked out once a line; an empty one before."""

    def __init__(self) -> None:
        self.desk: Desk | None = None
        self._followed: Followed | None = None
        self._live: bool | None = None
        self._looked = -LOOK_FOR_WRITER
        self._board = Board()

    def __call__(self) -> Board:
        if self.desk is None:
            return self._board
        live, followed = self._live, self.desk.followed
        if time.monotonic() - self._looked >= LOOK_FOR_WRITER:
            self._looked, live = time.monotonic(), self.desk.live()
        if followed is not self._followed or live != self._live:
            self._followed, self._live = followed, live
            self._board = followed.board(live)
        return self._board


def show_on_screen(
    hold: Callable[[Console, Hands, DeskBoard], None], *, muted: bool, radio: str, typing: bool
) -> None:
    """Show the screen until `hold` comes back or somebody ends it. `hold` has the conversation, with what fingers do;
    it gives its desk to the board that is shown. `typing`: lines are typed on the screen too."""
    board, hands = DeskBoard(), Hands()
    console = ScreenConsole(board, hands.keys.put, hands.lines.put, typing=typing)
    console.signs(speaking=lambda: board.desk is not None and board.desk.speaking, muted=muted, radio=radio)
    console.run(lambda: hold(console, hands, board))


def demonstrate_on_screen(
    parts: list[list[dict[str, Any]]], choices: Choices, perform: Callable[[Desk, dict[str, Any]], None],
    pause: float = 1.5,
) -> None:  # fmt: skip
    """Show the acts of a demonstration, with `pause` seconds to look after each. Every part begins as a new start of
    the program on the same journal. It stays on the screen at the end, until somebody ends it."""
    board, over = DeskBoard(), threading.Event()
    console = ScreenConsole(board, on_key=lambda key: over.set() if key == "quit" else None)
    console.signs(speaking=lambda: board.desk is not None and board.desk.speaking, muted=not choices.play)

    def work() -> None:
        for number, acts in enumerate(parts):
            if number and not over.is_set():
                console.note("--- the program was ended here, and started again on its journal")
            with open_desk(choices, console) as desk:
                board.desk = desk
                for act in acts:
                    if "tell" in act:
                        console.note(f"--- {act['tell']}")
                    else:
                        perform(desk, act)
                    while desk.speaking and choices.play and not over.is_set():
                        over.wait(0.05)
                    if over.wait(pause):
                        return
        console.note("--- the end; ^Q ends, Tab turns to the other views")
        over.wait()

    console.run(work)
