"""A board's server in a thread of its own, and the address at which people find it."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import segno
import uvicorn

from callout.dialogue.following import Followed, follow
from callout.errors import BadInput, CalloutError
from callout.journal import Journal
from callout.shoring.stock import Stock
from callout.web.app import SCHEME, Doer, Hub, Shower, make_app
from callout.web.pairing import Pairing

PORT = 8040
LOOPBACK = "127.0.0.1"
#: How long the server may take to start, and to end, in seconds.
START, END = 5.0, 1.0

#: Two colours of the 256 that no theme of a terminal changes.
_BLACK_ON_WHITE, _AS_BEFORE = "\x1b[38;5;16;48;5;231m", "\x1b[0m"

PLAIN = "plain HTTP: whoever is on this network can read along"


def address_of(text: str) -> tuple[str, int]:
    """"ADDRESS", "ADDRESS:PORT" or "PORT" -> address and port. Raises BadInput for what is neither."""
    host, colon, port = text.strip().rpartition(":")
    if not colon:
        host, port = (LOOPBACK, text.strip()) if text.strip().isdecimal() else (text.strip(), str(PORT))
    try:
        number = int(port)
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        raise BadInput(f"--board {text}: write an address of this machine, as 192.0.2.7 or 0.0.0.0:{PORT}") from None
    if not 1 <= number <= 65535:
        raise BadInput(f"--board {text}: a port is a number from 1 to 65535")
    return host.strip("[]"), number


class Server:
    """Serves until `stop`, which ends it within a second whatever streams are open."""

    def __init__(
        self, look: Callable[[], Followed], address: str = LOOPBACK, port: int = PORT, *, do: Doer | None = None,
        show_code: Shower | None = None, title: str = "", live: Callable[[], bool | None] = lambda: None,
    ) -> None:  # fmt: skip
        """`live`: whether somebody writes what `look` follows (`Board.live`)."""
        self.pairing = Pairing()
        self.address, self.port = address, port
        self._hub = Hub(look, live)
        app = make_app(self._hub, self.pairing, port=port, do=do, show_code=show_code, title=title)
        config = uvicorn.Config(
            app, host=address, port=port, log_config=None, access_log=False, server_header=False, date_header=False,
            lifespan="on", timeout_graceful_shutdown=1, ws="none", timeout_keep_alive=5,
        )  # fmt: skip
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._serve, name="board", daemon=True)
        self._socket: socket.socket | None = None

    def start(self) -> None:
        """Raises BadInput where the address is not this machine's, or the port is taken."""
        family = socket.AF_INET6 if ":" in self.address else socket.AF_INET
        listener = socket.socket(family, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((self.address, self.port))
            listener.listen(128)
        except OSError as failed:
            listener.close()
            raise BadInput(
                f"no board at {self.address} port {self.port} ({failed.strerror}); choose another --port or --address"
            ) from failed
        self._socket = listener
        self._thread.start()
        began = time.monotonic()
        while not self._server.started:
            if not self._thread.is_alive() or time.monotonic() - began > START:
                raise CalloutError("the board's server did not start; run: callout check")
            time.sleep(0.01)

    def _serve(self) -> None:
        assert self._socket is not None
        self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """End every stream, then the server."""
        self._hub.closing = True
        self._server.should_exit = True
        self._thread.join(END)
        self._server.force_exit = True
        if self._socket is not None:
            self._socket.close()

    @property
    def url(self) -> str:
        """Where people find it: a number of this machine, where it listens on every one."""
        host = self.address
        if ipaddress.ip_address(host).is_unspecified:
            host = _own_number()
        return f"{SCHEME}://[{host}]:{self.port}/" if ":" in host else f"{SCHEME}://{host}:{self.port}/"


def _own_number() -> str:
    """The address by which others reach this machine. Nothing is sent: a datagram socket only chooses its way."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(("192.0.2.1", 9))  # RFC 5737: an address that is nobody's
        return str(asking.getsockname()[0])
    return LOOPBACK


def is_loopback(url: str) -> bool:
    return ipaddress.ip_address(url.partition("://")[2].rpartition(":")[0].strip("[]")).is_loopback


def invitation(url: str) -> str:
    """The address, with what has to be known of it."""
    if is_loopback(url):
        return f"board: {url}\non this machine only; for tablets give an address: --address 0.0.0.0"
    return f"board: {url}\n{PLAIN}"


def qr_lines(url: str) -> list[str]:
    """An address as QR code for a terminal, two modules a sign, black on white whatever the terminal's colours are, in
    a quiet zone of four modules (ISO/IEC 18004); none for one that no other device reaches."""
    if is_loopback(url):
        return []
    matrix = [tuple(row) for row in segno.make(url, micro=False).matrix_iter(border=4)]
    if len(matrix) % 2:
        matrix.append((0,) * len(matrix[0]))
    signs = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}
    return [
        f"{_BLACK_ON_WHITE}{''.join(signs[pair] for pair in zip(top, bottom, strict=True))}{_AS_BEFORE}"
        for top, bottom in zip(matrix[::2], matrix[1::2], strict=True)
    ]


class JournalFollower:
    """What the lines of a journal add up to, as another process goes on writing them."""

    def __init__(self, path: Path, stock: Stock | None) -> None:
        self._journal = Journal.open(path, writer=False)
        self._followed = follow((), stock)

    def __call__(self) -> Followed:
        for record in self._journal.records(self._followed.seq):
            self._followed = self._followed.after(record)
        return self._followed

    def live(self) -> bool | None:
        """Whether that process still has the journal."""
        return self._journal.somebody_writes()

    def close(self) -> None:
        self._journal.close()


@contextlib.contextmanager
def serving(server: Server) -> Iterator[Server]:
    """Started inside, ended at the end."""
    server.start()
    try:
        yield server
    finally:
        server.stop()
