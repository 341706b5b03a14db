"""Who may press a button on a board, and what a paired one may do at the desk.

A short code, shown and spoken once, becomes one token for one role. Codes and tokens are kept in memory only,
tokens as their digests; a new start of the program knows none of them. Nothing here affirms anything. Each act names
the build, the card and the line of the journal that it was pressed for: what is late, or pressed twice, does nothing
and says so.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.dialogue.events import Input, Key, Uttered
from callout.dialogue.following import Followed
from callout.dialogue.records import Role, WasSaid
from callout.language.outcome import Understood
from callout.session.desk import Desk
from callout.values import Command

CODE_DIGITS = 4
CODE_SECONDS = 180.0
TRIES = 5  # wrong codes until the code is void
ASK_AGAIN = 30.0  # seconds between two codes: nobody makes the voice chatter
TOKEN_SECONDS = 12 * 3600.0  # a shift
MOST_TOKENS = 16

#: What each side may do. No row holds a yes to a readback, and none ever will: a callout is affirmed by voice.
ACTIONS: dict[Role, tuple[str, ...]] = {
    "logistics": ("ready", "say_again", "back", "short", "silence"),
    "measurer": ("silence",),
}


@dataclass(frozen=True)
class _Code:
    digits: str
    role: Role
    until: float
    wrong: int = 0


@dataclass(frozen=True)
class Refusal:
    """Why there is no code or token, in plain words."""

    reason: str


class Pairing:
    """Codes that wait and tokens that hold; safe to use from several threads. `clock` is in seconds."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._code: _Code | None = None
        self._asked: float | None = None
        self._tokens: dict[str, tuple[Role, float]] = {}

    def offer(self, role: Role) -> str | Refusal:
        """A new code for `role`, to be shown and spoken once; the one before it is void."""
        with self._lock:
            now = self._clock()
            if self._asked is not None and now - self._asked < ASK_AGAIN:
                return Refusal(f"a code was given just now; ask again in {ASK_AGAIN - (now - self._asked):.0f} s")
            self._asked = now
            digits = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
            self._code = _Code(digits, role, now + CODE_SECONDS)
            return digits

    def redeem(self, digits: str) -> tuple[str, Role] | Refusal:
        """The token for a code, which is used up by it."""
        with self._lock:
            now, code = self._clock(), self._code
            if code is None or now >= code.until:
                self._code = None
                return Refusal("no code waits; ask for a new one")
            if not hmac.compare_digest(digits.encode(), code.digits.encode()):
                wrong = code.wrong + 1
                self._code = None if wrong >= TRIES else _Code(code.digits, code.role, code.until, wrong)
                void = "" if self._code else ", and it is void now; ask for a new one"
                return Refusal(f"not that code{void}")
            self._code = None
            token = secrets.token_urlsafe(32)
            while len(self._tokens) >= MOST_TOKENS:
                self._tokens.pop(next(iter(self._tokens)))
            self._tokens[_digest(token)] = (code.role, now + TOKEN_SECONDS)
            return token, code.role

    def role_of(self, token: str | None) -> Role | None:
        """Whose token it is; None for one that is unknown, too old or revoked."""
        if not token:
            return None
        with self._lock:
            role, until = self._tokens.get(_digest(token), (None, 0.0))
            return role if self._clock() < until else None

    def may(self, token: str | None, action: str) -> bool:
        """Whether the holder of a token may do this."""
        role = self.role_of(token)
        return role is not None and action in ACTIONS[role]

    def revoke(self) -> int:
        """End every pairing and the code that waits. -> how many there were."""
        with self._lock:
            ended, self._tokens, self._code = len(self._tokens), {}, None
            return ended


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


Action = Literal["ready", "say_again", "back", "short", "silence"]


class Tap(BaseModel):
    """What comes from a button. `card` and `walk` are those of the build as it was shown; `silence` needs neither."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    action: Action
    build: int = 0
    card: str = Field(default="", max_length=40)
    walk: int = 0
    sure: bool = False  # "short" was asked once more, and answered


@dataclass(frozen=True)
class TapOutcome:
    """`done`, or why nothing was done. `said`: what was answered beside the card that is shown then; `seq`:
    the last line that was written for it."""

    done: bool
    why: str = ""
    said: str = ""
    seq: int = 0


def act(desk: Desk, wanted: Tap) -> TapOutcome:
    """Do what a board's button asks for, if what it was pressed for still is so."""
    if not desk.writes:
        return TapOutcome(False, "this callout only reads; press it there where the conversation is held")
    if wanted.action == "silence":
        desk.hush()
        return TapOutcome(True)
    if wanted.action == "short" and not wanted.sure:
        return TapOutcome(False, "short is asked once more first")

    def why_not(followed: Followed) -> str:
        return _too_late(followed, wanted)

    if reason := why_not(desk.followed):
        return TapOutcome(False, reason)
    desk.give_way("logistics")
    reason, written = desk.feed_if(why_not, _input(wanted))
    seq = max((record.seq or 0 for record in written), default=0)
    refused = [record.text for record in written if record.event == "refused"]
    if reason or refused:
        return TapOutcome(False, reason or " ".join(refused), seq=seq)
    said = [record.text for record in written if isinstance(record.what, WasSaid) and record.what.at is None]
    return TapOutcome(True, said=" ".join(said), seq=seq)


def _input(wanted: Tap) -> Input:
    now = time.monotonic()
    if wanted.action in ("ready", "say_again"):
        return Key(wanted.action, "logistics", now)
    command = Command(command=wanted.action)
    return Uttered(Understood(command, (wanted.action,)), wanted.action, "logistics", now, certain=True)


def _too_late(followed: Followed, wanted: Tap) -> str:
    """Why an act is not about what is so now; "" where it is."""
    now = followed.now
    if now.halted:
        return f"silent since {now.halted.replace('_', ' ')}; go on by voice"
    build = now.walked or min(now.open.values(), key=lambda one: one.build_id, default=None)
    if build is None:
        return "no build is in the walk"
    board = followed.board()
    shown = next(one for one in board.open if one.build_id == build.build_id)
    if (shown.build_id, shown.card, shown.walk) != (wanted.build, wanted.card, wanted.walk):
        return f"too late: build {shown.number} is at {shown.card or 'its beginning'}"
    if wanted.action in ("back", "short") and not build.begun:
        return "the walk has not begun"
    return ""
