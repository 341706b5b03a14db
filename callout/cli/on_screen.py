"""The conversation on the large screen: live, typed to rehearse, or the demonstration."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from callout.console.screen import ScreenConsole
from callout.dialogue.board import Board, Followed
from callout.session.desk import Desk
from callout.session.live_ears import Ear
from callout.session.opening import Choices, open_desk
from callout.session.sources import Hands, Source, converse


class DeskBoard:
    """The board of the desk that is open, worked out once a line; an empty one before."""

    def __init__(self) -> None:
        self.desk: Desk | None = None
        self._followed: Followed | None = None
        self._board = Board()

    def __call__(self) -> Board:
        if self.desk is not None and self.desk.followed is not self._followed:
            self._followed = self.desk.followed
            self._board = self._followed.board()
        return self._board


def converse_on_screen(
    choices: Choices, sources: list[Source], ears: list[Ear], keep_audio: bool, *, view: str = "yard",
    light: str = "dark", board_at: str | None = None,
) -> None:  # fmt: skip
    """Show the screen until every source is at its end or somebody ends it."""
    board, hands = DeskBoard(), Hands()
    console = ScreenConsole(
        board, hands.keys.put, hands.lines.put, first=view, light=light,
        typing=all(source.what == "typed" for source in sources),
    )  # fmt: skip
    console.signs(speaking=lambda: board.desk is not None and board.desk.speaking, muted=choices.mute,
                  radio=choices.radio_out or "")  # fmt: skip

    def work() -> None:
        with open_desk(choices, console) as desk:
            board.desk = desk
            from callout.cli.board import board_of

            beside = choices.journal if keep_audio and desk.writes else None
            with board_of(desk, board_at, console.note, drawn=False):
                converse(desk, sources, ears, console, audio_beside=beside, hands=hands)

    console.run(work)


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
