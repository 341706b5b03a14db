"""The web side of the board: pages, one stream of snapshots a visitor, and the few acts of a paired one.

Nobody else's page may use it (Host and Origin are checked), it loads nothing from elsewhere (a strict content policy),
and nothing secret stands in an address or a log. A stream ends as soon as the server is told to end.
"""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import json
import socket
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import asdict
from datetime import datetime
from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from callout.dialogue.following import Followed
from callout.dialogue.records import Role
from callout.errors import CalloutError
from callout.pages import render
from callout.web.pairing import ACTIONS, Pairing, Refusal, Tap, TapOutcome

LOOK = 0.1  # seconds between two looks at the journal
BEAT = 2.0  # seconds between two signs of life on a stream that has nothing new
MOST_STREAMS = 64
MOST_BYTES = 2_000  # of what a page may send
COOKIE = "callout_pair"
SCHEME = "http"

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
#: A drawing carries its own style attributes and nothing else.
_DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"
_TYPES = {"board.js": "text/javascript", "board.css": "text/css"}

Doer = Callable[[Tap], TapOutcome]
Shower = Callable[[str, Role], None]  # how a code reaches the people in the yard


class Hub:
    """What every stream sends. It looks at the journal's fold ten times a second, whoever watches, and every `BEAT`
    whether somebody writes it still."""

    def __init__(self, look: Callable[[], Followed], live: Callable[[], bool | None] = lambda: None) -> None:
        self._look = look
        self._somebody_writes = live
        self._looked_for_writer = -BEAT
        self._live: bool | None = None
        self._followed: Followed | None = None
        self.text = "{}"  # the board as JSON
        self.broken = ""
        self.version = 0
        self.streams = 0
        self.closing = False
        self.halted = ""
        self.on_halt: Callable[[], object] = lambda: None

    @property
    def followed(self) -> Followed | None:
        return self._followed

    def refresh(self) -> None:
        try:
            followed, live = self._look(), self._is_live()
            if followed is not self._followed or live != self._live:
                board = followed.board(live)
                self.text = json.dumps(board.to_json(), ensure_ascii=False)
                self._followed, self._live = followed, live
                self.version += 1
                if board.halted and board.halted != self.halted:
                    self.on_halt()
                self.halted = board.halted
            broken = ""
        except CalloutError as failed:
            broken = str(failed)
        except Exception as bug:  # a board that cannot be made must not look as if nothing had happened
            broken = f"the board cannot be made ({type(bug).__name__})"
        if broken != self.broken:
            self.broken = broken
            self.version += 1

    def _is_live(self) -> bool | None:
        if time.monotonic() - self._looked_for_writer < BEAT:
            return self._live
        self._looked_for_writer = time.monotonic()
        return self._somebody_writes()

    async def run(self) -> None:
        """Until told to end."""
        while not self.closing:
            self.refresh()
            await asyncio.sleep(LOOK)


class _Site:
    """What is answered at each address."""

    def __init__(self, hub: Hub, pairing: Pairing, do: Doer | None, show_code: Shower | None, title: str) -> None:
        self._hub, self._pairing, self._do, self._show_code, self._title = hub, pairing, do, show_code, title

    @property
    def routes(self) -> list[Route]:
        return [
            Route("/", self.page), Route("/{name:str}", self.asset), Route("/events/stream", self.stream),
            Route("/drawing/{build_id:int}.svg", self.drawing),
            Route("/pair/ask", self.ask_code, methods=["POST"]), Route("/pair/code", self.pair, methods=["POST"]),
            Route("/act/press", self.press, methods=["POST"]),
        ]  # fmt: skip

    async def page(self, request: Request) -> Response:
        pairs = self._do is not None and self._show_code is not None
        text = render(Path(__file__).parent / "pages" / "board.html", title=self._title, pairs=pairs)
        return Response(text, media_type="text/html")

    async def asset(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name == "favicon.ico":
            return Response(status_code=204)
        if name not in _TYPES:
            return Response("no such page", 404)
        text = files("callout.web").joinpath("pages").joinpath(name).read_text(encoding="utf-8")
        return Response(text, media_type=_TYPES[name])

    async def stream(self, request: Request) -> Response:
        if self._hub.streams >= MOST_STREAMS:
            return Response("too many boards look on; close one", 503)
        token = request.cookies.get(COOKIE)
        lines = _lines(self._hub, lambda: self._pairing.role_of(token))
        return StreamingResponse(lines, media_type="text/event-stream")

    async def drawing(self, request: Request) -> Response:
        from callout.shoring.drawing import svg_drawing

        followed, number = self._hub.followed, request.path_params["build_id"]
        build = None
        if followed is not None:
            build = followed.now.open.get(number) or followed.now.standing.get(number)
        if build is None:
            return Response("no such build", 404)
        headers = {"Content-Security-Policy": _DRAWING_POLICY}
        drawn = await asyncio.to_thread(svg_drawing, build.build)
        return Response(drawn, media_type="image/svg+xml", headers=headers)

    async def ask_code(self, request: Request) -> Response:
        role: Role = "logistics"
        if self._show_code is None or self._do is None:
            return _no("this board only reads; start it with the conversation: callout listen --board", 409)
        code = self._pairing.offer(role)
        if isinstance(code, Refusal):
            return _no(code.reason, 429)
        await asyncio.to_thread(self._show_code, code, role)
        return JSONResponse({"done": True, "why": ""})

    async def pair(self, request: Request) -> Response:
        shape = await _json(request)
        digits = shape.get("code") if isinstance(shape, dict) else None
        if not isinstance(digits, str):
            return _no("no code was sent", 400)
        made = self._pairing.redeem("".join(digits.split()))
        if isinstance(made, Refusal):
            await asyncio.sleep(0.5)  # nobody tries codes fast
            return _no(made.reason, 403)
        answer = JSONResponse({"done": True, "why": "", "role": made[1]})
        answer.set_cookie(COOKIE, made[0], max_age=12 * 3600, httponly=True, samesite="strict", path="/")
        return answer

    async def press(self, request: Request) -> Response:
        if self._do is None:
            return _no("this board only reads", 409)
        try:
            wanted = Tap.model_validate(await _json(request))
        except ValidationError:
            return _no("not an act of a board", 400)
        token = request.cookies.get(COOKIE)
        if self._pairing.role_of(token) is None:
            return _no("not paired, or no longer; pair it again", 401)
        if not self._pairing.may(token, wanted.action):
            return _no("not for this side", 403)
        outcome = await asyncio.to_thread(self._do, wanted)
        return JSONResponse(asdict(outcome), 200 if outcome.done else 409)


def make_app(hub: Hub, pairing: Pairing, *, port: int, do: Doer | None = None, show_code: Shower | None = None,
             title: str = "") -> ASGIApp:  # fmt: skip
    """The application. Without `do` it is read-only, and there is nothing to pair for."""
    hub.on_halt = pairing.revoke  # a stop word of the field, by voice, ends every pairing

    @contextlib.asynccontextmanager
    async def looking(app: Starlette) -> AsyncIterator[None]:
        task = asyncio.create_task(hub.run())
        yield
        hub.closing = True
        task.cancel()

    return Guard(Starlette(routes=_Site(hub, pairing, do, show_code, title).routes, lifespan=looking), port)


async def _lines(hub: Hub, role: Callable[[], Role | None]) -> AsyncIterator[str]:
    """The events of one stream: the whole state at once, again whenever it changes, and signs of life."""
    hub.streams += 1
    try:
        sent, beat, was = -1, 0.0, ""
        clock = asyncio.get_running_loop().time
        yield "retry: 1000\n\n"
        while not hub.closing:
            mine = role()
            if (hub.version, mine or "") != (sent, was):
                sent, was, beat = hub.version, mine or "", clock()
                yield f"event: board\ndata: {_state(hub, mine)}\n\n"
            elif clock() - beat >= BEAT:
                beat = clock()
                yield f"event: beat\ndata: {json.dumps({'now': _now()})}\n\n"
            await asyncio.sleep(LOOK)
    finally:
        hub.streams -= 1


def _state(hub: Hub, role: Role | None) -> str:
    may = [] if role is None else list(ACTIONS[role])
    head = json.dumps({"now": _now(), "role": role, "may": may, "broken": hub.broken}, ensure_ascii=False)
    return f'{head[:-1]}, "board": {hub.text}}}'


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


def _no(why: str, status: int) -> JSONResponse:
    return JSONResponse({"done": False, "why": why}, status)


async def _json(request: Request) -> object:
    """The JSON that was sent; None for what is none, or too much."""
    text = b""
    async for piece in request.stream():
        text += piece
        if len(text) > MOST_BYTES:
            return None
    try:
        value: object = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return value


class Guard:
    """Before anything is answered: the Host must be an address or a name of this machine, and what changes something
    must come from a page of this board (Origin), as JSON. It also puts the policy on every answer."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._port = port
        self._names = {"localhost", *_own_names()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get("host", "")
        reason = ""
        if not self._ours(host):
            reason = "this board is not called so"
        elif scope["method"] not in ("GET", "HEAD"):
            if headers.get("origin") != f"{SCHEME}://{host}":
                reason = "only a page of this board may do that"
            elif headers.get("content-type", "").partition(";")[0].strip() != "application/json":
                reason = "only JSON is taken"
        if reason:
            await Response(reason, 403)(scope, receive, send)
            return

        async def with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name.lower() for name, _ in message["headers"]}
                more = {
                    b"content-security-policy": _POLICY.encode(), b"x-content-type-options": b"nosniff",
                    b"referrer-policy": b"no-referrer", b"cache-control": b"no-store",
                    b"cross-origin-resource-policy": b"same-origin", b"cross-origin-opener-policy": b"same-origin",
                }  # fmt: skip
                message["headers"] = [*message["headers"], *((k, v) for k, v in more.items() if k not in given)]
            await send(message)

        await self._app(scope, receive, with_policy)

    def _ours(self, host: str) -> bool:
        """A number is nobody's name and cannot be turned to another machine behind our back; a name must be ours."""
        name, colon, port = host.rpartition(":")
        if not colon or port != str(self._port):
            return False
        name = name.strip("[]").lower()
        if name in self._names:
            return True
        with contextlib.suppress(ValueError):
            ipaddress.ip_address(name)
            return True
        return False


def _own_names() -> set[str]:
    own = socket.gethostname().lower()
    return {own, f"{own}.local"}
