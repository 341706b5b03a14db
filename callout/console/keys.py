"""Keys for gloves: any key or a pedal, pressed once, means ready; held, or pressed twice, means say again.

Two keys are not any key. F8, held or pressed twice, affirms the latest readback for a measurer who is relayed. Pressed
once it means nothing, and it is never ready, so that no glove that hits it affirms or books by mistake. F9 ends what
paired tablets may do. F12 is the key to talk (push to talk), where one is asked for.

Letters in a row are somebody who types beside the line, or a fist on the keyboard, and nobody's "ready": as soon as
another key comes within `HOLD` of the first, none of them means anything, until no key has come for `ROW`. That is
told.

A terminal tells of a held key only by repeating it, after a delay that the system sets (0.25 to 0.66 s, common
practice, no source). So a single press counts once that long has passed without another.
"""

from __future__ import annotations

import contextlib
import os
import select
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Literal, TextIO

#: `pressed` comes at once, before it is known which of ready and say again a press is: both end what is being said.
#: `row` is several keys of which none means anything; `quiet` stops the voice, `quit` ends the program.
VoiceKey = Literal["slower", "faster", "softer", "louder"]
KeyName = Literal["pressed", "ready", "say_again", "affirm", "row", "quiet", "quit", "unpair", "talk", VoiceKey]

#: Keys that change the voice, by the name that a screen gives them.
VOICE_KEYS: dict[str, VoiceKey] = {"f4": "slower", "f5": "faster", "f6": "softer", "f7": "louder"}
#: What terminals send for them (xterm, its older form, and the Linux console).
_VOICE: dict[str, VoiceKey] = {
    "\x1bOS": "slower", "\x1b[14~": "slower", "\x1b[[D": "slower", "\x1b[15~": "faster", "\x1b[[E": "faster",
    "\x1b[17~": "softer", "\x1b[18~": "louder",
}  # fmt: skip

#: The key of its own that affirms, by the name that a screen gives it and by what a terminal sends for it (xterm, and
#: the Linux console).
AFFIRM_KEY = "f8"
_AFFIRM = "\x1b[19~"

#: The key that ends every pairing of a board, likewise.
UNPAIR_KEY = "f9"
_UNPAIR = "\x1b[20~"

#: The key to talk, likewise.
TALK_KEY = "f12"
_TALK = "\x1b[24~"
#: A key to talk that was pressed once and forgotten lets go by itself after so many seconds.
LONGEST_TALK = 30.0

#: Seconds within which a second press, or the repetition of a held one, makes it "say again".
HOLD = 0.7
#: Seconds without a key after which a row of different keys is over: whoever seeks the letters has found the next by
#: then, and Enter.
ROW = 1.5
#: What is shown of a row.
ROW_SAYS = "several keys at once: nothing was done. One key is ready; F2 opens a line for typing"
#: A held key repeats faster than this; so long after the last repetition it has been let go.
LET_GO = 0.3
#: The same of a key to talk that is held: where the machine is busy its repetitions are late, and a callout that is cut
#: is worse than half a second more of the microphone.
LET_GO_OF_TALK = 0.6

_ESCAPE, _END = "\x1b", "\x04"


class Presses:
    """Turns presses with their times (seconds on any one clock) into what they mean."""

    def __init__(self, hold: float = HOLD) -> None:
        self._hold = hold
        self._first: float | None = None
        self._last = 0.0
        self._told = False
        self._affirms = False  # it is the affirm key that was pressed first
        self._key = ""
        self._row = False

    def press(self, now: float, key: str = "", *, affirms: bool = False) -> KeyName | None:
        """A press of `key` at `now`. -> what it means at the second one; the rest of a long press means nothing more.
        Only the affirm key twice affirms: another key after it, or before it, does not."""
        if self._row and now - self._last < ROW:
            self._last = now
            return None
        if self._row or self._first is None or (affirms != self._affirms and now - self._last >= LET_GO):
            self._first, self._last, self._told, self._affirms = now, now, False, affirms
            self._key, self._row = key, False
            return None
        self._last = now
        if affirms != self._affirms:
            self._told = True
            return None  # two keys at once: nobody can mean both
        if key != self._key:
            self._told = self._row = True
            return "row"
        if self._told:
            return None
        self._told = True
        return "affirm" if affirms else "say_again"

    def tell(self, now: float, *keys: str, affirms: bool = False) -> list[KeyName]:
        """Presses at once. -> what is told of them: that one was pressed comes first, as soon as it is."""
        waited = self.waits
        meant = [self.press(now, key, affirms=affirms) for key in keys]
        first: list[KeyName] = ["pressed"] if self.waits and not waited else []
        return [*first, *(name for name in meant if name is not None)]

    @property
    def waits(self) -> bool:
        """Whether a first press, not of the affirm key, waits to be known for ready or say again."""
        return self._first is not None and not self._told and not self._affirms

    def due(self, now: float) -> KeyName | None:
        """Ask this often: "ready" once a single press has stayed alone."""
        if self._first is None:
            return None
        if self._told:
            if now - self._last >= (ROW if self._row else LET_GO):
                self._first, self._row = None, False
            return None
        if now - self._first < self._hold:
            return None
        self._first = None
        return None if self._affirms else "ready"


class TalkKey:
    """A key to talk: held, it is down until it is let go; pressed once, until it is pressed again.

    A terminal tells of a held key by repeating it: the repetitions say that it is held, their end that it was let go.
    Safe to be pressed from one thread and looked at from another."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since: float | None = None  # it is down since then
        self._last = -LONGEST_TALK  # the last press or repetition
        self._held = False

    def press(self, now: float) -> None:
        """A press, or the repetition of a held one, at `now`."""
        with self._lock:
            let_go = LET_GO_OF_TALK if self._held else LET_GO
            repeats = now - self._last < let_go or (self._since is not None and now - self._since < HOLD)
            self._last = now
            if self._since is not None and self._is_down(now):
                if repeats:
                    self._held = True
                else:
                    self._since = None
            elif not repeats:
                self._since, self._held = now, False

    def down(self, now: float) -> bool:
        """Whether it is down at `now`."""
        with self._lock:
            if not self._is_down(now):
                self._since = None
            return self._since is not None

    def _is_down(self, now: float) -> bool:
        if self._since is None:
            return False
        return now - self._last < LET_GO_OF_TALK if self._held else now - self._since < LONGEST_TALK


def names(chunk: str, presses: Presses, now: float) -> list[KeyName]:
    """What a read from the terminal means. An arrow or function key comes as several letters and counts once."""
    if chunk == _ESCAPE:
        return ["quiet"]
    if _END in chunk:
        return ["quit"]
    if chunk in _VOICE:
        return [_VOICE[chunk]]
    if chunk == _UNPAIR:
        return ["unpair"]
    if talks := chunk.count(_TALK):
        return ["talk"] * talks
    affirms = chunk.count(_AFFIRM)
    keys = [_AFFIRM] * affirms or ([chunk] if chunk.startswith(_ESCAPE) else list(chunk))
    return presses.tell(now, *keys, affirms=affirms > 0)


@contextlib.contextmanager
def read_keys(on_key: Callable[[KeyName], None], stream: TextIO | None = None, hold: float = HOLD) -> Iterator[bool]:
    """While inside, keys pressed on the terminal are told to `on_key`, from a thread of its own.

    Gives False, and reads nothing, when `stream` (standard input) is no terminal, or the system knows no such. Esc is
    `quiet`, Ctrl-D is `quit`; Ctrl-C interrupts as always. The terminal is put back as it was.
    """
    stream = stream or sys.stdin
    try:
        import termios
        import tty
    except ImportError:  # a system of another kind: words and the screen do without keys
        yield False
        return
    try:
        file = stream.fileno()
        before = termios.tcgetattr(file)
    except (OSError, ValueError, termios.error):
        yield False
        return
    done = threading.Event()
    thread = threading.Thread(target=_watch, args=(file, Presses(hold), on_key, done), name="keys", daemon=True)
    tty.setcbreak(file)
    try:
        thread.start()
        yield True
    finally:
        done.set()
        thread.join(1)
        termios.tcsetattr(file, termios.TCSADRAIN, before)


def _watch(file: int, presses: Presses, on_key: Callable[[KeyName], None], done: threading.Event) -> None:
    while not done.is_set():
        if select.select([file], [], [], 0.05)[0]:
            chunk = os.read(file, 64).decode("utf-8", "replace")
            if not chunk:
                return
            for name in names(chunk, presses, time.monotonic()):
                on_key(name)
        waited = presses.due(time.monotonic())
        if waited is not None:
            on_key(waited)
