"""Where words come from: a keyboard, a microphone, a line, a recording. Each in a thread, all into one queue."""

from __future__ import annotations

import queue
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from callout.cli.desk import Desk
from callout.cli.opening import tell_faults
from callout.console import Console
from callout.console.keys import KeyName, read_keys
from callout.dialogue.inputs import Key, Role, Tick
from callout.errors import BadInput, CalloutError

TICK = 1.0

Work = Callable[[], None]


@dataclass(frozen=True)
class Source:
    """One side's ear: `what` is "typed", "mic" or a recording; `name` the device's name or the file's."""

    what: Literal["typed", "mic", "file"]
    name: str
    role: Role


def name_source(text: str, role: Role) -> Source:
    """`text` as it stands on the command line: typed, mic, mic:NAME or a file. Raises BadInput for a missing file."""
    if text == "typed":
        return Source("typed", "", role)
    if text == "mic" or text.startswith("mic:"):
        return Source("mic", text[4:], role)
    if not Path(text).is_file():
        raise BadInput(f"{text}: no such recording; a source is mic, mic:NAME, a file, or typed")
    return Source("file", text, role)


def converse(
    desk: Desk, sources: list[Source], console: Console, *, model: Path | None = None, audio_beside: Path | None = None
) -> None:
    """Run until every source is at its end or somebody ends it. Typed alone, time stands still."""
    if [source.what for source in sources] == ["typed"]:
        _typed_alone(desk, sources[0].role)
        return
    from callout.cli.ears_at_work import hear_source

    inbox: queue.SimpleQueue[Work | None] = queue.SimpleQueue()
    stop = threading.Event()
    threads = [
        threading.Thread(
            target=_guarded,
            args=(inbox, _reader(desk, source, console, inbox, stop, hear_source, model, audio_beside)),
            name=f"source {source.role}",
            daemon=True,
        )
        for source in sources
    ]
    keys_free = all(source.what != "typed" for source in sources)
    on_key = _on_key(desk, inbox)
    try:
        if keys_free:
            with read_keys(on_key):
                _run(desk, inbox, threads)
        else:
            _run(desk, inbox, threads)
    except KeyboardInterrupt:
        desk.hush()
        raise
    finally:
        stop.set()


def _run(desk: Desk, inbox: Any, threads: list[threading.Thread]) -> None:
    for thread in threads:
        thread.start()
    open_sources = len(threads)
    ticked = time.monotonic()
    while open_sources:
        try:
            work = inbox.get(timeout=TICK)
            if work is None:
                open_sources -= 1
            else:
                work()
        except queue.Empty:
            pass
        if time.monotonic() - ticked >= TICK:
            ticked = time.monotonic()
            desk.feed(Tick(ticked))
        tell_faults(desk)



def _on_key(desk: Desk, inbox: Any) -> Callable[[KeyName], None]:
    def told(name: KeyName) -> None:
        if name == "quiet":
            desk.hush()  # at once, whatever waits in the queue
        elif name == "quit":
            inbox.put(_end)
        else:
            inbox.put(lambda: desk.feed(Key(name, "logistics", time.monotonic())) and None)

    return told


def _end() -> None:
    raise KeyboardInterrupt


def _guarded(inbox: Any, work: Work) -> None:
    """A source that breaks ends the conversation with its own error, not in silence."""
    try:
        work()
    except CalloutError as broken:
        failure = broken

        def fail() -> None:
            raise failure

        inbox.put(fail)
    inbox.put(None)


def _reader(
    desk: Desk, source: Source, console: Console, inbox: Any, stop: threading.Event, hear_source: Any,
    model: Path | None, audio_beside: Path | None,
) -> Work:  # fmt: skip
    if source.what == "typed":
        return lambda: _typed_beside(desk, source.role, inbox)
    return lambda: hear_source(desk, source, console, inbox.put, stop, model, audio_beside)


def _typed_alone(desk: Desk, role: Role) -> None:
    for line in sys.stdin:
        take_line(desk, line, role)
        tell_faults(desk)


def _typed_beside(desk: Desk, role: Role, inbox: Any) -> None:
    for line in sys.stdin:
        inbox.put(lambda line=line: take_line(desk, line, role))


def take_line(desk: Desk, line: str, role: Role) -> None:
    """One typed utterance. At a terminal an empty line is a key press: ready."""
    from callout.language.resolve import resolve_text

    role, line = _who(line.strip("\r\n"), role, desk)
    if not line.strip():
        if sys.stdin.isatty():
            desk.feed(Key("ready", role, time.monotonic()))
        return
    resolution = resolve_text(line, desk.contexts[role])
    desk.heard(resolution, line.strip(), role, certain=True)


def _who(line: str, role: Role, desk: Desk) -> tuple[Role, str]:
    """"logistics: ready" is said by logistics, where one keyboard serves everyone."""
    head, colon, rest = line.partition(":")
    name = head.strip().lower()
    if colon and desk.conversation.settings.one_source and name in ("measurer", "logistics"):
        return ("measurer" if name == "measurer" else "logistics"), rest
    return role, line
