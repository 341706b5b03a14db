"""Where one conversation meets the world: what it writes is written, then shown, then spoken, in that order."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Protocol

from callout.dialogue.effects import Listen, Say, Silence
from callout.dialogue.events import Record
from callout.dialogue.inputs import Heard, Input, Role, Spoken
from callout.dialogue.listening import ROLES, context
from callout.dialogue.machine import step
from callout.dialogue.state import Conversation
from callout.errors import CalloutError
from callout.journal.memory import Store
from callout.language.context import Context
from callout.language.outcome import Resolution


class Mouth(Protocol):
    """What the desk needs of a voice."""

    @property
    def speaking(self) -> bool: ...

    def say(
        self, text: str, wait: bool = False, on_end: Callable[[float], None] | None = None
    ) -> Path | None: ...

    def stop(self) -> None: ...


@dataclass(frozen=True)
class Mouths:
    """Who hears what: the yard's loudspeaker, and the radio back to the measurer. With one voice both are the same."""

    yard: Mouth | None = None
    radio: Mouth | None = None

    def for_(self, listener: str) -> list[Mouth]:
        wanted = {"yard": [self.yard], "measurer": [self.radio or self.yard], "both": [self.yard, self.radio]}[listener]
        return list(dict.fromkeys(mouth for mouth in wanted if mouth is not None))

    @property
    def all(self) -> list[Mouth]:
        return self.for_("both")


class Desk:
    """Holds the conversation and performs its effects. Safe to feed from several threads, one input at a time.

    `show` gets every record after it is on the disk; `note` gets remarks for the eye only (the name of a WAV file).
    `writes` is False where another process has the journal (see `callout.session.reader`).
    """

    writes = True

    def __init__(
        self,
        conversation: Conversation,
        store: Store,
        mouths: Mouths,
        show: Callable[[Record], None],
        note: Callable[[str], None],
    ) -> None:
        self.conversation = conversation
        self._store = store
        self._mouths = mouths
        self._show = show
        self._note = note
        self._lock = threading.RLock()
        self.faults: list[str] = []  # lines from the rim that are not records yet
        self.contexts: dict[Role, Context] = {role: context(conversation, role) for role in ROLES}

    def feed(self, event: Input, audio: str | None = None) -> list[Record]:
        """Let the conversation answer one input; returns the records it wrote. `audio` names the sound that is kept
        of it, and goes into the record of what was heard.
        """
        with self._lock:
            self.conversation, effects = step(self.conversation, event)
            written = []
            for effect in effects:
                if isinstance(effect, Record):
                    if audio is not None and effect.event == "heard":
                        effect = effect.model_copy(update={"data": {**effect.data, "audio": audio}})
                    record = self._store.append(effect)
                    written.append(record)
                    self._show(record)
                elif isinstance(effect, Say):
                    self._speak(effect)
                elif isinstance(effect, Silence):
                    self.hush()
                elif isinstance(effect, Listen):
                    self.contexts[effect.role] = effect.context
            return written

    def heard(
        self, resolution: Resolution, text: str, role: Role, *, certain: bool = False, when: float | None = None,
        until: float | None = None, audio: str | None = None,
    ) -> list[Record]:  # fmt: skip
        """One utterance, as it was resolved in `contexts[role]`; `when` its first word began (now, if not given), and
        `until` when its last one ended."""
        begun = time.monotonic() if when is None else when
        return self.feed(Heard(resolution, text, role, begun, certain, until=until), audio)

    @property
    def speaking(self) -> bool:
        return any(mouth.speaking for mouth in self._mouths.all)

    def hush(self) -> None:
        for mouth in self._mouths.all:
            mouth.stop()

    def _spoken(self, text: str, when: float) -> None:
        """From the voice's own thread: the wait for an answer counts from here."""
        self.feed(Spoken(text, when))

    def _speak(self, say: Say) -> None:
        mouths = self._mouths.for_(say.to)
        if say.urgent:
            for mouth in mouths:
                mouth.stop()
        for mouth in mouths:
            try:
                path = mouth.say(say.text, on_end=partial(self._spoken, say.text))
            except CalloutError as failed:  # the words are on the disk and on the screen; the work goes on
                self.faults.append(f"not spoken: {failed}")
                continue
            if path is not None:
                self._note(f"voice: {path}")
