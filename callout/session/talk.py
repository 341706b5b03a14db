"""One conversation without a command line: `Session`."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from callout.console.record_lines import Console
    from callout.dialogue.board import Board
    from callout.dialogue.records import Record, Role
    from callout.session.live_ears import Ear
    from callout.session.open_ears import Sound
    from callout.session.opening import Choices
    from callout.session.sources import Hands, Source


class _ToListeners:
    """The console of a session: a record goes to the console that it was given, if any, and then to who listens."""

    def __init__(
        self, listeners: list[Callable[[Record], object]], on_note: Callable[[str], object] | None,
        console: Console | None = None,
    ) -> None:  # fmt: skip
        self.listeners = listeners
        self._on_note = on_note
        self._console = console

    def show(self, record: Record) -> None:
        if self._console is not None:
            self._console.show(record)
        for listener in tuple(self.listeners):
            listener(record)

    def note(self, text: str) -> None:
        if self._on_note is not None:
            self._on_note(text)

    def heard_so_far(self, text: str) -> None:
        if self._console is not None:
            self._console.heard_so_far(text)

    def level(self, role: str, what: str, decibels: float, is_open: bool) -> None:
        if self._console is not None:
            self._console.level(role, what, decibels, is_open)

    def close(self) -> None: ...


class Session:
    """One conversation without a command line: feed it text, sound or a key, and get the records that it wrote.

    `journal` is the file that it writes and goes on from; None keeps all in memory. Where another process writes that
    file, the session only reads (`writes` is False): it shows what the other writes, answers questions, and refuses
    the rest. `one_source` False: measurer and logistics are two sources, and only who called may affirm.
    `on_record` is told of every record after it is on the disk; `subscribe` adds more. `voice`: a folder in which each
    spoken sentence is written as WAV, in order. `on_note` gets remarks that are no records.

    Time stands still unless `tick` is called: call it about once a second where people are to be asked again.

    Examples:
        >>> import callout
        >>> talk = callout.Session()
        >>> [record.event for record in talk.text("insertion eleven feet sixty", role="measurer")]
        ['heard', 'readback']
        >>> "released" in [record.event for record in talk.text("affirm insertion")]
        True
        >>> talk.board().open[0].called
        '11 ft @ 60°'
        >>> talk.close()

    Raises `BadInput` for a stock, journal or folder that cannot be used. Safe to feed from several threads.
    """

    def __init__(
        self, journal: str | Path | None = None, *, stock: str | Path | None = None, one_source: bool = True,
        voice: str | Path | None = None, on_record: Callable[[Record], object] | None = None,
        on_note: Callable[[str], object] | None = None,
    ) -> None:  # fmt: skip
        from callout.session.opening import Choices

        choices = Choices(
            stock=None if stock is None else Path(stock), journal=None if journal is None else Path(journal),
            mute=voice is None, play=False, one_source=one_source, voice_folder=None if voice is None else Path(voice),
        )  # fmt: skip
        self._open(choices, _ToListeners([] if on_record is None else [on_record], on_note))

    @classmethod
    def with_choices(cls, choices: Choices, console: Console) -> Session:
        """A session as `callout listen` has it: with voices that play, a radio, and a console that shows every record.
        See `callout.session.opening.Choices` and `callout.console.record_lines.Console`."""
        session = cls.__new__(cls)
        session._open(choices, _ToListeners([], console.note, console))
        return session

    def _open(self, choices: Choices, console: _ToListeners) -> None:
        from callout.session.opening import open_desk

        self._console = console
        self._journal = choices.journal
        self._closing = contextlib.ExitStack()
        self.desk = self._closing.enter_context(open_desk(choices, console))

    @property
    def writes(self) -> bool:
        """False where another process has the journal."""
        return self.desk.writes

    @property
    def records(self) -> Sequence[Record]:
        """Everything that was written so far, by whichever process."""
        return list(self.desk.records())

    def text(self, line: str, role: Role = "measurer") -> list[Record]:
        """What somebody typed, or was heard to say by a program of yours. -> the records that it led to."""
        meant = self.desk.understand(line, role)
        return [] if meant is None else self.desk.heard(meant, line.strip(), role, certain=True)

    def sound(self, sound: Sound, role: Role = "measurer", *, rate: int = 16_000) -> list[Record]:
        """A recording of one utterance (see `hear`), in the present state. -> the records that it led to."""
        from callout.session.open_ears import hear_samples, samples_of

        samples, began = samples_of(sound, rate), time.monotonic()
        heard = hear_samples(samples, self.desk.contexts[role])
        words = " ".join(heard.readings[0]) if heard.readings else ""
        return self.desk.heard(heard.resolution, words, role, when=began, until=began + len(samples) / 16_000)

    def listen(
        self, *sources: str | Source, ears: Sequence[Ear] | None = None, keep_audio: bool = False,
        hands: Hands | None = None,
    ) -> None:  # fmt: skip
        """Hear a conversation until its sources end, or until somebody ends it (KeyboardInterrupt).

        `sources` is one for everybody (with `one_source`), or the measurer's and logistics'; each is "mic", "mic:NAME",
        a recording, or "typed" for lines of standard input. `ears` are those of `callout.session.sources.listening`,
        opened before the session was; without them they are opened now. `keep_audio` keeps the sound of every utterance
        beside the journal. `hands` are the keys and lines of a screen.

        Raises `BadInput` for a source that there is not.
        """
        from callout.session.sources import converse, listening, name_source

        roles: tuple[Role, ...] = ("measurer", "logistics")
        named = [
            name_source(source, role) if isinstance(source, str) else source
            for source, role in zip(sources or ("mic",), roles, strict=False)
        ]
        beside = self._journal if keep_audio and self.writes else None
        with contextlib.ExitStack() as opened:
            if ears is None:
                ears = opened.enter_context(listening(named, None))
            converse(self.desk, named, list(ears), self._console, audio_beside=beside, hands=hands)

    def key(self, name: Literal["ready", "say_again", "affirm"] = "ready", role: Role = "logistics") -> list[Record]:
        """A key, a pedal or a button. -> the records that it led to."""
        return self.desk.press(name, role)

    def tick(self) -> list[Record]:
        """Time went by; also takes in what another process wrote meanwhile. -> the records that it led to."""
        from callout.dialogue.events import Tick
        from callout.session.opening import tell_faults

        records = self.desk.feed(Tick(time.monotonic()))
        tell_faults(self.desk)
        return records

    def board(self) -> Board:
        """The snapshot for programs (see `callout.board`), with the session's own stock."""
        from callout.dialogue.following import board

        return board(self.desk.records(), self.desk.conversation.stock, live=self.desk.live())

    def subscribe(self, listener: Callable[[Record], object]) -> Callable[[], None]:
        """`listener` is told of every record from now on, in order. -> a function that ends that."""
        self._console.listeners.append(listener)
        return lambda: self._console.listeners.remove(listener)

    def close(self) -> None:
        """Let the voice finish its files, and close the journal. Nothing more may be fed then."""
        self._closing.close()

    def __enter__(self) -> Session:
        return self

    def __exit__(self, *failed: Any) -> None:
        self._closing.__exit__(*failed)
