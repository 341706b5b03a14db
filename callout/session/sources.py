"""Where words come from: a keyboard, a microphone, a line, a recording. Each in a thread, all into one queue.

At a keyboard Tab completes what is typed: the words that the grammar allows next, in the state of the conversation.
"""

from __future__ import annotations

import contextlib
import io
import queue
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeAlias

from callout.console import typed_input
from callout.console.keys import HOLD, ROW_SAYS, KeyName, TalkKey, read_keys
from callout.console.record_lines import Console
from callout.dialogue.events import Key, Tick
from callout.dialogue.records import Role
from callout.errors import BadInput
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.outcome import Resolution, Understood
from callout.session.desk import Desk
from callout.session.opening import tell_faults
from callout.session.reading_ahead import read_ahead
from callout.values import Command

if TYPE_CHECKING:
    from callout.session.live_ears import Ear

def completions(line: str, context: Context) -> list[str]:
    """The words that may stand in place of the last, unfinished word of `line` (empty after a space)."""
    from callout.language.automaton import next_words

    *words, begun = line.lower().split(" ")
    return [word for word in next_words([w for w in words if w], context) if word.startswith(begun)]


def typed_lines(context: Callable[[], Context]) -> Iterator[str]:
    """Lines from standard input; at a terminal with history and completion. A letter that is no UTF-8 comes as U+FFFD:
    it makes one line not understood, and never ends a conversation."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    if not sys.stdin.isatty():
        yield from typed_input.lines()
        return
    try:
        import readline
    except ImportError:
        yield from typed_input.lines()
        return

    def complete(_: str, number: int) -> str | None:
        line = readline.get_line_buffer()[: readline.get_endidx()]
        found = completions(line, context())
        return f"{found[number]} " if number < len(found) else None

    readline.set_completer_delims(" ")
    readline.set_completer(complete)
    readline.parse_and_bind("tab: complete")
    while True:
        try:
            yield input("> ")
        except EOFError:
            return


TICK = 1.0

Work = Callable[[], object]
Inbox: TypeAlias = "queue.SimpleQueue[Work | None]"


@dataclass(frozen=True)
class Source:
    """One side's ear: `what` is "typed", "mic" or a recording; `name` the device's name or the file's. With a `key` to
    talk only what is said while it is down is heard."""

    what: Literal["typed", "mic", "file"]
    name: str
    role: Role
    key: TalkKey | None = None


def name_source(text: str, role: Role) -> Source:
    """`text` as it stands on the command line: typed, mic, mic:NAME or a file. Raises BadInput for a missing file."""
    if text == "typed":
        return Source("typed", "", role)
    if text == "mic" or text.startswith("mic:"):
        return Source("mic", text[4:], role)
    if not Path(text).is_file():
        raise BadInput(f"{text}: no such recording; a source is mic, mic:NAME, a file, or typed")
    return Source("file", text, role)


@dataclass(frozen=True)
class Hands:
    """What fingers do on a screen: keys, and lines that are typed into it."""

    keys: queue.SimpleQueue[KeyName] = field(default_factory=queue.SimpleQueue)
    lines: queue.SimpleQueue[str] = field(default_factory=queue.SimpleQueue)


@contextlib.contextmanager
def listening(sources: list[Source], model: Path | None, voices: str = "") -> Iterator[list[Ear]]:
    """The ears of `sources`, open; closed at the end. Where all is typed no ear is loaded, and there are none.
    `voices` names the talkers (`live_ears.voice_of`)."""
    if all(source.what == "typed" for source in sources):
        yield []
        return
    from callout.session.live_ears import open_ears_of

    ears = open_ears_of(sources, model, voices)
    try:
        yield ears
    finally:
        for ear in ears:
            ear.close()


def converse(
    desk: Desk, sources: list[Source], ears: list[Ear], console: Console, *, audio_beside: Path | None = None,
    hands: Hands | None = None,
) -> None:  # fmt: skip
    """Run until every source is at its end or somebody ends it. Typed alone, time stands still. `ears`: see
    `listening`.

    Without `hands` keys are read from the terminal, where no source is typed.
    """
    if somebody_types(sources, hands):
        read_ahead()
    if hands is None and [source.what for source in sources] == ["typed"]:
        try:
            _typed_alone(desk, sources[0].role)
        except KeyboardInterrupt:
            desk.hush()  # nobody waits for the end of a long list
            raise
        return
    from callout.session.live_ears import hear_source

    inbox: Inbox = queue.SimpleQueue()
    stop = threading.Event()
    alone = [source.what for source in sources] == ["file"]

    def reader(source: Source) -> Work:
        if source.what == "typed" and hands is not None:
            return stop.wait  # its lines come from the screen, until somebody ends it
        if source.what == "typed":
            return lambda: _typed_beside(desk, source.role, inbox)
        ear = next(ear for ear in ears if ear.source is source)
        return lambda: hear_source(desk, ear, console, inbox.put, stop, audio_beside)

    threads = [
        threading.Thread(target=_guarded, args=(inbox, reader(source)), name=f"source {source.role}", daemon=True)
        for source in sources
    ]
    talk = next((source.key for source in sources if source.key is not None), None)
    on_key = _on_key(desk, inbox, console.note, talk)
    try:
        with contextlib.ExitStack() as open_keys:
            if hands is not None:
                _hands_into(inbox, hands, on_key, desk, sources[0].role)
            elif all(source.what != "typed" for source in sources):
                open_keys.enter_context(read_keys(on_key))
            _run(desk, inbox, threads, by_the_clock=not alone)
    except KeyboardInterrupt:
        desk.hush()
        raise
    finally:
        stop.set()


def somebody_types(sources: Iterable[Source], hands: Hands | None) -> bool:
    """Whether a person sits at the keys, and nobody is listened to: sound must be taken in without a pause. Lines that
    lie there already wait for nobody."""
    return all(source.what == "typed" for source in sources) and (hands is not None or sys.stdin.isatty())


def _run(desk: Desk, inbox: Inbox, threads: list[threading.Thread], by_the_clock: bool) -> None:
    for thread in threads:
        thread.start()
    open_sources = len(threads)
    ticked = time.monotonic()
    while open_sources:
        with contextlib.suppress(queue.Empty):
            work = inbox.get(timeout=TICK)
            if work is None:
                open_sources -= 1
            else:
                work()
        if by_the_clock and time.monotonic() - ticked >= TICK:
            ticked = time.monotonic()
            desk.feed(Tick(ticked))
        tell_faults(desk)


def _on_key(
    desk: Desk, inbox: Inbox, note: Callable[[str], object], talk: TalkKey | None = None
) -> Callable[[KeyName], None]:
    def told(name: KeyName) -> None:
        if name == "talk":
            if talk is not None:
                talk.press(time.monotonic())
        elif name == "pressed":
            desk.give_way("logistics", pause=HOLD)  # at once: only what it means is known later
        elif name == "row":
            note(ROW_SAYS)
        elif name == "quiet":
            desk.hush()  # at once, whatever waits in the queue
        elif name == "unpair":
            command = Understood(Command(command="unpair"), ())
            inbox.put(partial(desk.heard, command, "cancel all pairs", "logistics", certain=True))
        elif name == "quit":
            inbox.put(_end)
        elif name == "slower" or name == "faster" or name == "softer" or name == "louder":
            desk.change_voice(name)
        else:
            if name != "affirm":
                desk.give_way("logistics")  # at once, whatever waits in the queue, and only what is being said now
            inbox.put(partial(desk.feed, Key(name, "logistics", time.monotonic())))

    return told


def _hands_into(inbox: Inbox, hands: Hands, on_key: Callable[[KeyName], None], desk: Desk, role: Role) -> None:
    def keys() -> None:
        while True:
            on_key(hands.keys.get())

    def lines() -> None:
        while True:
            line = hands.lines.get()
            inbox.put(partial(take_line, desk, line, role))

    for work in (keys, lines):
        threading.Thread(target=work, name=work.__name__, daemon=True).start()


def _end() -> None:
    raise KeyboardInterrupt


def _guarded(inbox: Inbox, work: Work) -> None:
    """A source that breaks, whatever breaks it, ends the conversation with its own error, not in silence."""
    try:
        work()
    except Exception as broken:
        failure = broken

        def fail() -> None:
            raise failure

        inbox.put(fail)
    inbox.put(None)


def _typed_alone(desk: Desk, role: Role) -> None:
    for line in typed_lines(lambda: desk.contexts[role]):
        take_line(desk, line, role)
        tell_faults(desk)


def _typed_beside(desk: Desk, role: Role, inbox: Inbox) -> None:
    for line in typed_lines(lambda: desk.contexts[role]):
        inbox.put(partial(take_line, desk, line, role))


def take_line(desk: Desk, line: str, role: Role) -> None:
    """One typed utterance. At a terminal an empty line is a key press: ready."""
    typed = line.strip("\r\n")
    role, line = _who(typed, role, desk)
    if not line.strip():
        if sys.stdin.isatty():
            desk.press("ready", "logistics" if desk.conversation.settings.one_source else role)
        return
    resolution = desk.understand(line, role)
    if resolution is not None:
        named = line != typed
        who = role if named else _whose(resolution, role, desk)
        over = sys.stdin.isatty() and desk.speaking  # lines from a file are all said, one after the other
        desk.heard(resolution, line.strip(), who, certain=True, over=over, names_side=named)


def _whose(resolution: Resolution, role: Role, desk: Desk) -> Role:
    """With one keyboard for everyone a word of the walk is the yard's: who picked is logistics, whoever typed it."""
    meaning = resolution.meaning if isinstance(resolution, Understood) else None
    one_source = desk.conversation.settings.one_source
    walks = isinstance(meaning, Command) and meaning.command in commands_that("walk")
    return "logistics" if one_source and walks else role


def _who(line: str, role: Role, desk: Desk) -> tuple[Role, str]:
    """"logistics: ready" is said by logistics, where one keyboard serves everyone."""
    head, colon, rest = line.partition(":")
    name = head.strip().lower()
    if colon and desk.conversation.settings.one_source and name in ("measurer", "logistics"):
        return ("measurer" if name == "measurer" else "logistics"), rest
    return role, line
