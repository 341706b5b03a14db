"""One source of sound in a conversation: cut into utterances, heard, and handed to the desk in order.

Whether its ears are alive is watched: a loss is told, the dead one is started again, and told when it is back.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from callout.console.record_lines import Console
from callout.dialogue.events import Fault, Tick
from callout.dialogue.records import Role
from callout.errors import BadInput
from callout.hearing.agreement import DecisionSettings
from callout.hearing.ears import Heard, Recognizer
from callout.hearing.live import Segment, utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.sources import FileSource, Microphone
from callout.hearing.sources import SoundSource as Sound
from callout.journal.audio import AudioStore
from callout.language.commands import commands_that
from callout.language.context import Context
from callout.language.outcome import Understood
from callout.session.desk import ANSWER_WITHIN, MOVES_ON, Desk
from callout.session.own_voice import OwnVoiceTakenOut
from callout.values import Command

if TYPE_CHECKING:
    from callout.session.sources import Source

Trouble = Literal["ear_lost", "ears_lost", "ears_back", "ear_again"]
#: What is written of each; what is said stands in `callout/dialogue/phrases.toml` under trouble.
WRITTEN: dict[Trouble, str] = {
    "ear_lost": "one ear is lost, and is started again; a heard affirm needs its long form meanwhile, a key does not",
    "ears_lost": "the ears ended, and are started again; what was said at that moment is lost",
    "ears_back": "both ears hear again",
    "ear_again": "one ear had ended between two utterances, and was started again; no word was lost",
}
#: What is said of it, too: the name of a sentence of the dialogue.
ALOUD: dict[Trouble, str] = {what: what for what in WRITTEN if what != "ear_again"}
#: Seconds between two looks at a process, and between two tries to bring it back.
LOOK, TRY = 1.0, 5.0


class EarWatch:
    """`told` gets what is lost, and that it is back; from the ears' own thread."""

    def __init__(self, recognizer: Recognizer, told: Callable[[Trouble], None]) -> None:
        self._ears = recognizer if isinstance(recognizer, EarsProcess) else None
        self._told = told
        self._restarts = self._ears.helper.restarts if self._ears else 0
        self._lost: Trouble | None = None
        self._again = 0  # restarts of the second ear, as far as they were told
        self._looked = self._tried = time.monotonic()

    def after(self, heard: Heard) -> None:
        """An utterance was heard: by both ears?"""
        if self._ears is None:
            return
        if self._ears.helper.restarts != self._restarts:
            self._restarts = self._ears.helper.restarts
            self._lose("ears_lost")
        elif heard.deaf:
            self._lose("ear_lost")
        elif heard.restarts > self._again and self._lost is None:
            self._told("ear_again")
        self._again = heard.restarts
        self.look(force=True)

    def look(self, *, force: bool = False) -> None:
        """Ask this often; it costs nothing while all is well. Between two utterances only: it may take a second."""
        now = time.monotonic()
        if self._ears is None or (now - self._looked < LOOK and not force):
            return
        self._looked = now
        if not self._lost and not self._ears.helper.running:
            self._lose("ears_lost")
        if self._lost and (force or now - self._tried >= TRY):
            self._tried = now
            if self._ears.ready():
                self._lost = None
                self._restarts = self._ears.helper.restarts
                self._again += 1  # the restart that brought it back was told
                self._told("ears_back")

    def _lose(self, what: Trouble) -> None:
        if self._lost != what:
            self._lost = what
            self._told(what)


#: Seconds within which what was not understood over the voice is asked for again only once.
ASK_AGAIN = 6.0
#: Seconds after a stop word in which a sound without a word may begin that is the end of the voice's echo: it is cut
#: only once the word is over.
ECHO_ENDS = 0.3

Put = Callable[[Callable[[], object]], None]

#: What silences the voice at once.
STOP_WORDS = commands_that("stop")


@dataclass(frozen=True)
class Ear:
    """A source whose sound is open, and what hears it."""

    source: Source
    sound: Sound
    recognizer: Recognizer

    def close(self) -> None:
        self.sound.close()
        self.recognizer.close()


def open_ears_of(sources: list[Source], model: Path | None, voices: str = "") -> list[Ear]:
    """The ears of every source that is not typed, opened before anybody is told that callout is ready. A recording
    that nobody speaks beside runs as fast as it can be heard, on its own clock.

    Raises CalloutError where there is no microphone or no model, BadInput for a recording that cannot be read, and for
    a voice that is not kept.
    """
    alone = len(sources) == 1
    decisions = {source.role: _decisions(voice_of(voices, source.role)) for source in sources}
    with contextlib.ExitStack() as opened:
        ears = []
        for source in sources:
            if source.what == "typed":
                continue
            sound = _sound(source, alone)
            opened.callback(sound.close)
            ears.append(Ear(source, sound, _recognizer(model, decisions[source.role])))
            opened.callback(ears[-1].recognizer.close)
        opened.pop_all()
        return ears


def voice_of(voices: str, role: Role) -> str:
    """Whose voice a side is judged by: "kim" for all, or "measurer=kim,logistics=sam"; "" for nobody's.

    Raises BadInput for a side that there is not."""
    sides = {}
    for part in filter(None, (part.strip() for part in voices.split(","))):
        side, named, name = part.partition("=")
        if not named:
            side, name = "", part
        if side.strip() not in ("", *get_args(Role)):
            raise BadInput(f"--voices {part}: write a callsign, or measurer=CALLSIGN,logistics=CALLSIGN")
        sides[side.strip()] = name.strip()
    return sides.get(role, sides.get("", ""))


def _decisions(voice: str) -> DecisionSettings | None:
    if not voice:
        return None
    from callout.hearing.voices import decisions_of

    return decisions_of(voice)


def _sound(source: Source, alone: bool) -> Sound:
    if source.what == "mic":
        return Microphone(source.name or None)
    next(FileSource(source.name).blocks(), None)  # a file that is no recording says so now
    return FileSource(source.name, real_time=not alone)


def hear_source(
    desk: Desk, ear: Ear, console: Console, put: Put, stop: threading.Event, audio_beside: Path | None
) -> None:
    """Hear a source to its end, or until `stop`."""
    source, key = ear.source, ear.source.key
    sound = OwnVoiceTakenOut(ear.sound, desk.voices) if ear.sound.live else None
    watch = EarWatch(ear.recognizer, _told(desk, put))
    what = source.what if key is None else "F12"
    work = _Work(desk, source.role, console, put, ear.sound.live, audio_beside, what, sound, watch)
    try:
        console.note(f"listening for {source.role}: {source.name or source.what}")
        if key is not None:
            console.note("hold F12 while you speak, or press it before and after: nothing else is heard")
        if isinstance(ear.sound, Microphone):
            ear.sound.skip()  # what came in while the rest was made ready
        for segment in utterances(
            sound or ear.sound, ear.recognizer, work.context, partial=work.partial, pause=work.pause,
            level=work.level, key=None if key is None else lambda: key.down(time.monotonic()),
        ):  # fmt: skip
            if stop.is_set():
                return
            work.utterance(segment)
    finally:
        ear.close()


def _told(desk: Desk, put: Put) -> Callable[[Trouble], None]:
    """A fault that everybody has to know of."""
    return lambda what: put(lambda: desk.feed(Fault(WRITTEN[what], time.monotonic(), aloud=ALOUD.get(what, ""))))


def _recognizer(model: Path | None, decisions: DecisionSettings | None) -> Recognizer:
    if model is None:
        ears = EarsProcess()
        if decisions is not None:
            ears.decide_by(decisions)
        return ears
    from callout.hearing.ears import open_ears

    return open_ears(model)


class _Work:
    """What happens to each utterance. While the voice speaks it goes on listening, without its own sound: what the far
    side says is taken, its own words never are."""

    def __init__(
        self, desk: Desk, role: Role, console: Console, put: Put, live: bool, audio_beside: Path | None,
        what: str = "mic", sound: OwnVoiceTakenOut | None = None, watch: EarWatch | None = None,
    ) -> None:  # fmt: skip
        self._what, self._watch = what, watch
        self._desk, self._role, self._console, self._put, self._live = desk, role, console, put, live
        self._sound = sound
        self._store = AudioStore.beside(audio_beside, console.note) if audio_beside else None
        self._began = time.monotonic()
        self._steps = 0
        self._spoken_over = False
        self._asked = -ASK_AGAIN
        self._stopped = -ECHO_ENDS

    def context(self) -> Context:
        """Asked when an utterance begins; everything before it has been answered by then, unless somebody is live."""
        if not self._live:
            self._settle()
        self._spoken_over = False
        return self._desk.contexts[self._role]

    def partial(self, words: tuple[str, ...]) -> None:
        """What is heard so far is shown, but for what may be the own voice."""
        if not self._spoken_over:
            self._console.heard_so_far(" ".join(words))

    def level(self, decibels: float, is_open: bool) -> None:
        self._steps += 1
        if self._watch is not None and not is_open:
            self._watch.look()
        if self._steps % 10 == 0:
            self._console.level(self._role, self._what, decibels, is_open)
        if self._live and is_open and self._desk.speaking:
            self._spoken_over = True
        if not self._live and self._steps % 50 == 0:
            self._put_and_forget(Tick(self._began + self._steps * 0.02))

    def pause(self, segment: Segment) -> None:
        """Heard over the voice, a word after which nobody wants the rest ends it at once, however long the pause has to
        be until the word counts. Where it turns out to be the beginning of something else, or to be nobody's, nothing
        of what was cut is lost."""
        meaning = getattr(segment.heard.resolution, "meaning", None)
        if not self._spoken_over or not isinstance(segment.heard.resolution, Understood):
            return
        if isinstance(meaning, Command) and meaning.command in MOVES_ON and self._is_somebody(segment):
            self._desk.give_way(self._role, pause=ANSWER_WITHIN, unsure=True)

    def _is_somebody(self, segment: Segment) -> bool:
        """Whether something understood over the voice may count, and is not its own."""
        if self._is_own(segment):
            return False
        return self._desk.conversation.settings.stop_words_over_voice if stops(segment) else self._sound is not None

    def _is_own(self, segment: Segment) -> bool:
        words = segment.heard.readings[0] if segment.heard.readings else ()
        return self._sound is not None and self._sound.is_own(words, segment.start, segment.end)

    def utterance(self, segment: Segment) -> None:
        """What was heard goes to the conversation, or is known to be nobody's."""
        self._pass_on(segment)
        if self._watch is not None:
            self._watch.after(segment.heard)

    def _pass_on(self, segment: Segment) -> None:
        heard = segment.heard
        words = heard.readings[0] if heard.readings else ()
        began = self._began if self._sound is None else self._sound.began
        when, until = began + segment.start, began + segment.end
        if self._live and not words and when < self._stopped + ECHO_ENDS:
            return
        if not self._spoken_over and self._is_own(segment):
            return  # the end of its echo comes when the voice is over
        if self._spoken_over and not self._taken(segment, bool(words), when):
            return
        if stops(segment):
            self._stopped = until
        sound = self._store.keep(segment.samples) if self._store else None
        if segment.ending in ("quiet", "meaning"):
            until -= segment.quiet  # the pause that ended it
        over = self._spoken_over
        self._put(
            lambda: self._desk.heard(
                heard.resolution, " ".join(words), self._role, when=when, until=until, audio=sound, over=over
            )
        )

    def _taken(self, segment: Segment, words: bool, when: float) -> bool:
        """Whether something that was heard while the voice spoke goes to the conversation. Own words never do. What is
        not understood is asked for again, but not twice in a row: a noise that goes on must not cut the voice up."""
        if isinstance(segment.heard.resolution, Understood):
            return self._is_somebody(segment)
        if self._sound is None or not words or self._is_own(segment):
            return False
        asked, self._asked = self._asked, when
        return when - asked >= ASK_AGAIN

    def _put_and_forget(self, tick: Tick) -> None:
        self._put(lambda: self._desk.feed(tick))

    def _settle(self) -> None:
        done = threading.Event()
        self._put(done.set)
        done.wait(30)


def stops(segment: Segment) -> str:
    """The stop command that an utterance is, "" for anything else."""
    result = segment.heard.resolution
    if not isinstance(result, Understood) or not isinstance(result.meaning, Command):
        return ""
    return result.meaning.command if result.meaning.command in STOP_WORDS else ""
