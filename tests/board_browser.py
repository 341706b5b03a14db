"""What the tests of the board in a browser share: a conversation with a board beside it, and Debian's Chromium."""

from __future__ import annotations

import contextlib
import shutil
import socket
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from callout.dialogue.events import Opened
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.journal.memory import MemoryJournal
from callout.session.desk import Desk, Mouths
from callout.shoring.plan import ShorePlanner
from callout.values import Callout
from callout.web.pairing import act
from callout.web.server import Server
from tests.board_scene import morning, shed_stock
from tests.dialogue_kit import FakePlanner, make_stock

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PHONE, TABLET = (360, 740), (1180, 820)


def free_port() -> int:
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        return int(asking.getsockname()[1])


@dataclass
class Yard:
    """A desk with a board beside it. `codes` are those that were shown."""

    desk: Desk
    port: int = field(default_factory=free_port)
    codes: list[str] = field(default_factory=list)
    server: Server | None = None
    live: bool | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    @property
    def origin(self) -> str:
        return self.url.rstrip("/")

    def begin(self, *, read_only: bool = False) -> Yard:
        more: dict[str, Any] = {"live": lambda: self.live}
        if not read_only:
            more["do"] = lambda wanted: act(self.desk, wanted)
            more["show_code"] = lambda code, role: self.codes.append(code)
        self.server = Server(lambda: self.desk.followed, port=self.port, title="test yard", **more)
        self.server.start()
        return self

    def end(self) -> None:
        if self.server is not None:
            self.server.stop()
            self.server = None

    def say(self, meaning: Any, role: str = "measurer") -> None:
        from callout.dialogue.events import Uttered
        from callout.language.outcome import Understood
        from callout.values import Command

        meant = Command(command=meaning) if isinstance(meaning, str) else meaning
        self.desk.feed(Uttered(Understood(meant, ()), "words", role, 1.0, True))  # type: ignore[arg-type]


@contextlib.contextmanager
def yard(request: Callout | None = None, *, read_only: bool = False) -> Iterator[Yard]:
    """A small conversation with a build in the walk; the planner is a stand-in."""
    settings = load_settings(seconds_a_word=0.0, one_source=False)
    desk = Desk(start(make_stock(), FakePlanner(), settings), MemoryJournal(), Mouths(), lambda r: None, lambda n: None)
    desk.feed(Opened(0.0))
    there = Yard(desk)
    if request is not None:
        there.say(request)
        there.say("affirm")
    there.begin(read_only=read_only)
    try:
        yield there
    finally:
        there.end()


@contextlib.contextmanager
def morning_yard(*, read_only: bool = True) -> Iterator[Yard]:
    """The morning of `tests.board_scene` on a board."""
    from callout.dialogue.machine import restore

    stock, lines = shed_stock(), morning(planned=True)
    now = restore(list(lines), stock, ShorePlanner(), load_settings(one_source=False))
    desk = Desk(now, MemoryJournal(lines), Mouths(), lambda r: None, lambda n: None)
    there = Yard(desk).begin(read_only=read_only)
    try:
        yield there
    finally:
        there.end()


@contextlib.contextmanager
def browser() -> Iterator[Any]:
    """Chromium without a window; the test is skipped where it, or Playwright, is not there."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install playwright")
    if CHROMIUM is None:
        pytest.skip("no chromium here; on Debian: apt-get install chromium")
    with sync_api.sync_playwright() as play:
        window = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield window
        finally:
            window.close()
