"""`callout board`: the board in a browser, beside a conversation that runs or after one."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import click

from callout.console.output import draw, emit, say
from callout.errors import BadInput
from callout.session.desk import Desk

if TYPE_CHECKING:
    from callout.web.pairing import Tap, TapOutcome


@click.command()
@click.argument("journal", required=False, type=click.Path(path_type=Path, dir_okay=False), metavar="[JOURNAL]")
@click.option("--port", type=click.IntRange(1, 65535), default=8040, show_default=True, help="Where it listens.")
@click.option("--address", default="127.0.0.1", show_default=True,
              help="An address of this machine; 0.0.0.0 is every one, for tablets on its network.")
@click.option("--stock", type=click.Path(path_type=Path), help="The yard's stock file, to tell what lies on hand.")
@click.option("--json", "as_json", is_flag=True, help="Print the snapshot once as one JSON object, and end.")
def board(journal: Path | None, port: int, address: str, stock: Path | None, as_json: bool) -> None:
    """Show a conversation on tablets, phones and laptops: yard, measurer, overview, and each drawing a tap away.

    \b
    callout board yard.journal                     in a browser on this machine
    callout board yard.journal --address 0.0.0.0   for tablets on the same network
    callout listen --board 0.0.0.0                 the same, and the yard may pair a tablet

    JOURNAL is what `callout listen` writes; it may go on writing. From here it is read-only: only a board started with
    the conversation can be paired. Nothing is loaded from elsewhere, and no other page can use it. It is plain HTTP:
    whoever is on the network can read along. Ctrl-C ends it within a second.
    """
    from callout.dialogue.following import board as snapshot
    from callout.journal import Journal
    from callout.journal.store import default_path
    from callout.shoring.stock import load_stock

    path = journal or default_path()
    known = load_stock(stock) if stock is not None else None
    if as_json:
        with Journal.open(path, writer=False) as lines:
            emit(snapshot(lines.records(), known, live=lines.somebody_writes()).to_json())
        return
    web = web_side()
    follower = web.JournalFollower(path, known)
    try:
        server = web.Server(follower, address, port, title=path.name, live=follower.live)
        with web.serving(server):
            say(web.invitation(server.url))
            draw(web.qr_lines(server.url))
            _wait()
    finally:
        follower.close()


@contextlib.contextmanager
def board_of(
    desk: Desk, address: str | None, note: Callable[[str], None], notice: Callable[[str], None] | None = None, *,
    drawn: bool = True,
) -> Iterator[None]:  # fmt: skip
    """A board beside the conversation of `desk`, where `address` asks for one. The yard may pair it. `notice` shows the
    code where a note could be overlooked. `drawn`: its address is drawn as a QR code too, where the notes go to a
    terminal."""
    if address is None:
        yield
        return
    from callout.language.numerals import digit_words

    web = web_side()
    host, port = web.address_of(address)

    def show_code(code: str, role: str) -> None:
        (notice or note)(f"code for the board of {role}: {code}, once, within three minutes")
        spoken = ". ".join(digit_words(int(digit))[0] for digit in code)
        desk.announce("a board may be paired; its code was spoken.", f"code for the board. {spoken}.")

    def do(wanted: Tap) -> TapOutcome:
        from callout.web.pairing import act

        return act(desk, wanted)

    server = web.Server(lambda: desk.followed, host, port, do=do, show_code=show_code, live=desk.live)
    desk.on_unpair = server.pairing.revoke
    with web.serving(server):
        for line in web.invitation(server.url).splitlines():
            note(line)
        if drawn:
            draw(web.qr_lines(server.url))
        yield


def web_side() -> ModuleType:
    """The room that serves pages, where its libraries are installed."""
    try:
        from callout.web import server
    except ImportError as missing:
        raise BadInput(
            f"the board needs {missing.name}, which is not installed: pip install 'callout[board]'"
        ) from None
    return server


def _wait() -> None:
    ended = threading.Event()
    before = signal.signal(signal.SIGTERM, lambda *_: ended.set())
    try:
        while not ended.wait(0.5):
            pass
    finally:
        signal.signal(signal.SIGTERM, before)
