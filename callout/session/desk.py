"""Where one conversation meets the world: what it writes is written, then shown, then spoken, in that order."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from callout.dialogue.events import (
    ChangeVoice,
    Effect,
    Fault,
    Input,
    Key,
    Listen,
    Listener,
    Say,
    Silence,
    Spoken,
    Teach,
    Tick,
    Unpair,
    Uttered,
)
from callout.dialogue.following import Followed, follow
from callout.dialogue.machine import step
from callout.dialogue.records import ROLES, Record, Role
from callout.dialogue.state import Conversation, context
from callout.errors import CalloutError
from callout.journal.database import pausing_collection
from callout.journal.memory import Store
from callout.language import teaching
from callout.language.context import Context
from callout.language.outcome import Resolution, Understood
from callout.language.resolve import resolve_text
from callout.session.reminders import Reminders
from callout.speaking.habits import Habits
from callout.speaking.priorities import How, Kind, Sentence
from callout.values import Command


def fault_line(bug: Exception) -> str:
    """One line for the record of what the program itself did wrong with an utterance."""
    first = (str(bug).splitlines() or [""])[0][:200]
    return f"a fault in the program itself ({type(bug).__name__}: {first}); nothing came of the last words, say again"


class Mouth(Protocol):
    """What the desk needs of a voice (see `callout.speaking.voice.Voice`)."""

    @property
    def speaking(self) -> bool: ...

    @property
    def saying(self) -> Sentence | None: ...

    def say(
        self, text: str, wait: bool = False, *, kind: Kind = "information", step: int = 0, topic: str = "",
        listener: str = "", urgent: bool = False, on_said: Callable[[How, float], None] | None = None,
        secret: bool = False,
    ) -> Path | None: ...  # fmt: skip

    def pace(self, steps: int) -> float: ...

    def loudness(self, steps: int) -> float: ...

    @property
    def habits(self) -> Habits: ...

    @property
    def unwritten(self) -> list[Path]: ...

    def wait(self, seconds: float | None = None) -> bool: ...

    def cut(self, *, again: bool = False, pause: float = 0.0, unsure: bool = False) -> bool: ...

    def drop(self, topic: str) -> None: ...

    def stop(self) -> None: ...

    def played(self, since: float, count: int) -> NDArray[np.float32] | None: ...

    @property
    def moves(self) -> int: ...

    @property
    def wavers(self) -> bool: ...

    def said(self, since: float, until: float) -> list[str]: ...


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
    `writes` is False where another process has the journal (see `callout.session.read_only_desk`).
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
        self._followed: Followed | None = None
        self.faults: list[str | Fault] = []  # what the rim told, and is no record yet
        #: Keeps how the voice is wanted for the next start.
        self.keep_habits: Callable[[Habits], None] = lambda habits: None
        self.name_files = True  # tell of each WAV file where it is
        #: Ends what tablets may do, where there is a board.
        self.on_unpair: Callable[[], object] = lambda: None
        self._steps = 0
        self._reminders = Reminders(store)
        self._feeding = False
        self._later: list[Input] = []  # what the voice told while a step was under way
        self.contexts: dict[Role, Context] = {role: context(conversation, role) for role in ROLES}

    def live(self) -> bool | None:
        """Whether somebody writes what is followed here; None where that cannot be told."""
        return self._store.somebody_writes()

    @property
    def followed(self) -> Followed:
        """What the written lines add up to: all that is ever shown. Worked out for whoever asks first, then kept."""
        with self._lock:
            if self._followed is None:
                with pausing_collection():
                    self._followed = follow(self._store.records(), self.conversation.stock)
            return self._followed

    def feed(self, event: Input, audio: str | None = None) -> list[Record]:
        """Let the conversation answer one input; returns the records it wrote. `audio` names the sound that is kept
        of it, and goes into the record of what was heard.
        """
        with self._lock:
            if self._feeding:  # a voice that was cut tells of it from within the step that cut it
                self._later.append(event)
                return []
            self._feeding = True
            try:
                written = self._perform(event, audio)
                while self._later:
                    written += self._perform(self._later.pop(0), None)
            finally:
                self._feeding = False
            return written

    def _perform(self, event: Input, audio: str | None) -> list[Record]:
        before = self.conversation
        self.conversation, effects = self._step(event)
        self._steps += 1
        self._drop_what_is_over(before)
        written = []
        for effect in effects:
            if isinstance(effect, Record):
                if audio is not None and effect.event == "heard":
                    effect = effect.model_copy(update={"data": {**effect.data, "audio": audio}})
                record = self._store.append(effect)
                written.append(record)
                self._follow_up(record)
                self._reminders.after(record)
                self._show(record)
            elif isinstance(effect, Say):
                self._speak(effect)
            elif isinstance(effect, Silence):
                self.hush(effect.to)
            elif isinstance(effect, ChangeVoice):
                self.change_voice(effect.how)
            elif isinstance(effect, Unpair):
                self.on_unpair()
            elif isinstance(effect, Teach):
                self._teach(effect)
            elif isinstance(effect, Listen):
                self.contexts[effect.role] = effect.context
        if isinstance(event, Tick) and self.writes:
            self._later += self._reminders.due(self.conversation, event.time)
        return written

    def _drop_what_is_over(self, before: Conversation) -> None:
        """A readback that no longer waits, and an item that the crew has left, are not said any more."""
        after = self.conversation
        over = [f"readback {_SIDE[role]}" for role in ROLES if _waits(before, role) not in (None, _waits(after, role))]
        if _walk(before) not in (None, _walk(after)):
            over.append(f"item {before.focus}")
        for mouth in self._mouths.all:
            for topic in over:
                mouth.drop(topic)

    def _step(self, event: Input) -> tuple[Conversation, tuple[Effect, ...]]:
        """A fault of the program must not end the conversation: it is written down, and the state stays as it was."""
        try:
            return step(self.conversation, event)
        except Exception as bug:
            return step(self.conversation, Fault(fault_line(bug), event.time))

    def understand(self, line: str, role: Role) -> Resolution | None:
        """What a typed line means in the present state. None, and an `error` record, where reading it failed."""
        try:
            return resolve_text(line, self.contexts[role])
        except Exception as bug:
            self.feed(Fault(fault_line(bug), time.monotonic()))
            return None

    def feed_if(self, why_not: Callable[[Followed], str], event: Input) -> tuple[str, list[Record]]:
        """Feed `event` unless `why_not` has a reason against it. -> that reason, and what was written. It looks at what
        is written, and nothing comes between its look and the answer: a late tap does nothing."""
        with self._lock:
            reason = why_not(self.followed)
            return reason, [] if reason else self.feed(event)

    def _follow_up(self, record: Record) -> None:
        """What is shown may be old; what is said goes on."""
        try:
            if self._followed is not None:
                self._followed = self._followed.after(record)
        except Exception as bug:
            self.faults.append(fault_line(bug))

    def _teach(self, effect: Teach) -> None:
        """Before the record tells of it; where the disk refuses, that is said after it."""
        try:
            if effect.undo:
                teaching.take_back(effect.command, effect.line)
            else:
                teaching.keep(effect.command, effect.line)
        except CalloutError as failed:
            self._later.append(Fault(str(failed), time.monotonic(), "not_taught"))

    def announce(self, written: str, spoken: str) -> None:
        """Say something that is no part of the conversation: `written` is kept, what is `spoken` (a code) nowhere."""
        with self._lock:
            record = self._store.append(Record(event="said", speaker="callout", text=written))
            self._follow_up(record)
            self._show(record)
            self._speak(Say(spoken, "yard"), secret=True)

    def heard(
        self, resolution: Resolution, text: str, role: Role, *, certain: bool = False, when: float | None = None,
        until: float | None = None, audio: str | None = None, over: bool = False, names_side: bool = False,
    ) -> list[Record]:  # fmt: skip
        """One utterance, as it was resolved in `contexts[role]`; `when` its first word began (now, if not given), and
        `until` when its last one ended. `over`: it was said while the voice spoke, and cuts what concerns the speaker;
        after a callout or a question that is said once more. `names_side`: typed as "measurer: ..."."""
        begun = time.monotonic() if when is None else when
        if over and isinstance(resolution, Understood):
            meaning = resolution.meaning
            again = not isinstance(meaning, Command) or meaning.command not in MOVES_ON
            self.give_way(role, again=again, pause=ANSWER_WITHIN)
        said = Uttered(
            resolution, text, role, begun, certain, until=until, over_speech=over, names_side=names_side
        )
        return self.feed(said, audio)

    def records(self) -> Iterator[Record]:
        """Everything that the journal holds."""
        return self._store.records()

    @property
    def voices(self) -> list[Mouth]:
        """All that can be heard of this conversation."""
        return self._mouths.all

    @property
    def speaking(self) -> bool:
        return any(mouth.speaking for mouth in self._mouths.all)

    def finish(self) -> None:
        """Wait until all is said and every file that was announced is written."""
        for mouth in self._mouths.all:
            mouth.wait()

    def all_written(self) -> None:
        """Raises CalloutError where a voice file that was announced could not be written."""
        lost = [path for mouth in self._mouths.all for path in mouth.unwritten]
        if lost:
            count = "a voice file" if len(lost) == 1 else f"{len(lost)} voice files"
            raise CalloutError(f"{count} could not be written ({lost[0]}); name another folder with --voice-dir")

    def hush(self, listener: Listener = "both") -> None:
        """Silence, and nothing of what waited is said."""
        for mouth in self._mouths.for_(listener):
            mouth.stop()

    def give_way(self, role: Role, *, again: bool = False, pause: float = 0.0, unsure: bool = False) -> bool:
        """End the sentence that is being said to `role`; False where none is. Called before what cut it is fed, so that
        the conversation knows how much of it was heard. `again`: it is said once more afterwards. `pause`: what waits
        to be said waits so many seconds more, or until there is something new. `unsure`: as in `Voice.cut`."""
        everyone, cut = self.conversation.settings.one_source, False
        for mouth in self._mouths.all:
            now = mouth.saying
            if now is not None and (everyone or now.listener in ("both", _SIDE[role])):
                cut = mouth.cut(again=again, pause=pause, unsure=unsure) or cut
        return cut

    def change_voice(self, how: Literal["slower", "faster", "softer", "louder"]) -> None:
        """Every voice speaks so from its next sentence on, and at the next start too."""
        for mouth in self._mouths.all:
            if how in ("slower", "faster"):
                mouth.pace(1 if how == "faster" else -1)
            else:
                mouth.loudness(1 if how == "louder" else -1)
        for mouth in self._mouths.all[:1]:
            self.keep_habits(mouth.habits)
            self._note(f"the voice: {mouth.habits.pace:.2f} times its pace, {mouth.habits.decibels:+.0f} dB")

    def press(self, kind: Literal["ready", "say_again", "affirm"], role: Role) -> list[Record]:
        """A key, which cuts the voice first."""
        if kind != "affirm":
            self.give_way(role)
        return self.feed(Key(kind, role, time.monotonic()))

    def _spoken(self, text: str, how: How, when: float) -> None:
        """From the voice's own thread, or from within the step that cut it."""
        self.feed(Spoken(text, when, how))

    def _speak(self, say: Say, *, secret: bool = False) -> None:
        topic = {"readback": f"readback {say.to}", "item": f"item {say.build_id}"}.get(say.kind, "")
        for mouth in self._mouths.for_(say.to):
            try:
                path = mouth.say(
                    say.text, kind=say.kind, step=self._steps, topic=topic, listener=say.to, urgent=say.urgent,
                    on_said=None if secret else partial(self._spoken, say.text), secret=secret,
                )  # fmt: skip
            except CalloutError as failed:  # the words are on the disk and on the screen; the work goes on
                self.faults.append(f"not spoken: {failed}")
                self._later.append(Spoken(say.text, time.monotonic(), "failed"))
                continue
            if path is not None and self.name_files:
                self._note(f"voice: {path}")


#: Seconds that what was cut waits for the answer to what cut it. Begun again before that, it would be cut by the answer
#: a second time, and lost.
ANSWER_WITHIN = 1.0
#: After these nobody wants the rest of what was cut.
MOVES_ON = frozenset(
    {
        "ready", "next", "skip", "back", "item", "affirm", "affirm_insertion", "negative", "disregard", "cancel",
        "stop", "say_again", "repeat", "read_back", "evacuate", "cease_operations", "stand_by", "hold",
    }
)  # fmt: skip

_SIDE: dict[Role, str] = {"measurer": "measurer", "logistics": "yard"}


def _waits(now: Conversation, role: Role) -> object:
    """What waits for an answer of a side: by identity of its words and shape."""
    pending = now.seat(role).pending
    return None if pending is None else (pending.text, pending.shape)


def _walk(now: Conversation) -> tuple[int, int] | None:
    """The card that the crew stands at."""
    return None if now.walked is None else (now.walked.build_id, now.walked.card)
