"""The voice: the most urgent sentence first, to the loudspeaker or, without a sound card, to files. It gives way."""

from __future__ import annotations

import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path

import miniaudio
import numpy as np
from numpy.typing import NDArray

from callout.errors import CalloutError
from callout.speaking.habits import Habits
from callout.speaking.loudspeaker import Loudspeaker, Opener
from callout.speaking.pacing import Pace, check_words
from callout.speaking.player import Piece, Player
from callout.speaking.priorities import How, Kind, OnSaid, Sentence, WaitingLine
from callout.speaking.process import SpeechProcess
from callout.speaking.render import RATE, Rendered, Samples, SpeechSource, louder, pieces, render
from callout.speaking.tones import announcement, lead_tone, tone
from callout.speaking.voice_files import VoiceFiles

#: Seconds between two looks for a sound card that went away.
LOOK_AGAIN = 2.0


class Voice:
    """Speaks what is most urgent first (see `priorities`). `silent` tells why nothing is heard ("" when it is).

    `say` never waits unless asked to; `cut` ends the sentence that is being said, `stop` forgets what was to be said as
    well. Everything that goes wrong after `say` has returned is told to `on_trouble` in one line, and so is its end.
    """

    def __init__(
        self,
        process: SpeechSource,
        player: Player | None,
        pace: Pace,
        folder: Path | None,
        *,
        lead: float = 0.0,
        hush: float = 0.0,
        silent: str = "",
        on_trouble: Callable[[str], None] | None = None,
        owns: bool = False,
        opener: Opener | None = None,
        habits: Habits | None = None,
    ) -> None:  # fmt: skip
        self.habits = habits or Habits()
        self._process = process
        self._owns = owns
        self._loudspeaker = Loudspeaker(player, silent, opener)
        self._broken = ""  # why the last sentence could not be spoken, until one can
        self._pace = pace
        self._files = VoiceFiles(folder)
        self._lead, self._hush = lead, hush
        self._on_trouble = on_trouble or (lambda line: None)
        self._lock = threading.Condition()
        self._line = WaitingLine()
        self._now: Sentence | None = None
        self._cut = False  # what is being said is to end
        self._back = False  # ... and to be said again once what cut it is over
        self._unsure = False  # ... which may come to nothing
        self._rests = 0.0  # nothing is begun before this time
        self._closing = False
        self._dropped: deque[Sentence] = deque()  # their files are written all the same
        self._restarts = 0
        self._said: deque[tuple[float, float, str]] = deque(maxlen=50)  # begun, ended, words
        self._thread = threading.Thread(target=self._work, name="voice", daemon=True)
        self._thread.start()

    @property
    def silent(self) -> str:
        return self._loudspeaker.silent

    @property
    def folder(self) -> Path | None:
        """Where its files are; None as long as it writes none."""
        return self._files.folder

    @property
    def unwritten(self) -> list[Path]:
        """Files that were announced and could not be written."""
        return self._files.unwritten

    def render(self, text: str) -> Rendered:
        """The utterance as sound, now; in a WAV file too where the voice has a folder.

        Raises `NotSpeakable` for anything but words, `CalloutError` when no speech engine works.
        """
        return self._render(Sentence(text, path=self._next_path(text)))

    def say(
        self, text: str, wait: bool = False, *, kind: Kind = "information", step: int = 0, topic: str = "",
        listener: str = "", urgent: bool = False, on_said: OnSaid | None = None, secret: bool = False,
    ) -> Path | None:  # fmt: skip
        """Speak at its turn. -> the WAV file it will be in, or None when it is only played.

        `urgent` cuts what is being said and was asked for in an earlier step; what is cut so is said again afterwards,
        once, unless a newer one of its `topic` comes. A warning cuts always, and is never cut by a sentence. What is
        `secret` is spoken and never written to a file.

        `on_said` is told, from the voice's thread or from who silences it, "figures" when the figures have left the
        loudspeaker, and once at the end "through", "cut" or "failed". Where nothing is played that is when the file is
        written. Raises `NotSpeakable` at once for anything but words; `on_said` is not called then.
        """
        check_words(text)
        path = None if secret else self._next_path(text)
        sentence = Sentence(text, kind, step, topic, listener, path, on_said, time.monotonic(), secret)
        with self._lock:
            dropped = self._line.put(sentence)
            self._rests = 0.0
            self._drop(dropped)
            now = self._now
            if now is not None and (step == 0 or now.step != step) and now.kind != "warning":
                same = bool(topic) and (now.topic, now.listener) == (topic, listener)
                if urgent or same or kind == "warning":
                    self._end_now(back=not same and not now.again)
            self._lock.notify_all()
        self._tell(dropped, "cut")
        if wait:
            self.wait()
        return sentence.path

    @property
    def speaking(self) -> bool:
        """Whether something is being said or waits to be said."""
        return self._now is not None or len(self._line) > 0

    @property
    def saying(self) -> Sentence | None:
        """What is being said, or was cut by what is not sure yet."""
        return self._now or self._line.held

    def wait(self, seconds: float | None = None) -> bool:
        """Wait until all is said; False when `seconds` went by first."""
        with self._lock:
            return self._lock.wait_for(lambda: not self.speaking and not self._dropped, seconds)

    def cut(self, *, again: bool = False, pause: float = 0.0, unsure: bool = False) -> bool:
        """End the sentence that is being said, and go on with the next, after `pause` seconds or when something new is
        said; False where nothing is being said. `again`: it is said once more after what is more urgent. `unsure`: that
        may come to nothing, and then nothing of the sentence is lost; once it is sure, cut again without this."""
        dropped: list[Sentence] = []
        with self._lock:
            if self.saying is None:
                return False
            self._rests = time.monotonic() + pause
            if self._now is not None:
                self._unsure = unsure
                self._end_now(back=unsure or (again and not self._now.again))
            elif not unsure:
                dropped = self._line.settle(again=again)
                self._drop(dropped)
        self._tell(dropped, "cut")
        return True

    def drop(self, topic: str) -> None:
        """What is said on a topic is no longer true: forget it, and end it where it is being said."""
        with self._lock:
            dropped = self._line.drop(topic)
            self._drop(dropped)
            if self._now is not None and self._now.topic == topic:
                self._end_now(back=False)
            self._lock.notify_all()
        self._tell(dropped, "cut")

    def stop(self) -> None:
        """Silence within 50 ms. What was waiting to be said is forgotten; files are written all the same."""
        with self._lock:
            dropped = self._line.clear()
            self._drop(dropped)
            self._end_now(back=False)
            self._lock.notify_all()
        self._tell(dropped, "cut")

    def _end_now(self, *, back: bool) -> None:
        if self._now is not None:
            self._cut, self._back = True, back
        self._loudspeaker.stop()

    def pace(self, steps: int) -> float:
        """Faster (1) or slower (-1) from the next sentence on; returns how many times as fast as at first."""
        self.habits = self.habits.paced(steps)
        return self.habits.pace

    def loudness(self, steps: int) -> float:
        """Louder (1) or softer (-1) from the next sentence on; returns the decibels above what it was at first."""
        self.habits = self.habits.louder(steps)
        return self.habits.decibels

    def said(self, since: float, until: float) -> list[str]:
        """The sentences that were being said at some time between two times of time.monotonic()."""
        return [text for begun, ended, text in list(self._said) if begun < until and (not ended or ended > since)]

    def played(self, since: float, count: int) -> NDArray[np.float32] | None:
        """What went to the loudspeaker: `count` samples at the ears' rate from `since` on; None for silence."""
        return self._loudspeaker.played(since, count)

    @property
    def moves(self) -> int:
        """How often the loudspeaker's time line was found to have moved."""
        return self._loudspeaker.moves

    @property
    def wavers(self) -> bool:
        """Whether the loudspeaker's time line may have moved just now."""
        return self._loudspeaker.wavers

    def close(self) -> None:
        """Be silent and end the speech process. Call `wait` first to let it finish."""
        self.stop()
        with self._lock:
            self._closing = True
            self._lock.notify_all()
        self._thread.join(10)
        self._loudspeaker.close()
        if self._owns and isinstance(self._process, SpeechProcess):
            self._process.close()

    def __enter__(self) -> Voice:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _work(self) -> None:
        with contextlib.suppress(CalloutError, miniaudio.MiniaudioError):  # the first words will tell
            self._loudspeaker.start()
            if isinstance(self._process, SpeechProcess):
                self._process.start()
        while (sentence := self._next()) is not None:
            how: How = "failed"
            try:
                how = self._speak(sentence)
                self._mended()
            except Exception as failed:  # whatever it is, the next words must find this thread alive
                self._broken = self._broken or str(failed)
                self._files.not_written(sentence.path)
                words = "a code" if sentence.secret else repr(sentence.text[:60])
                self._on_trouble(f"not spoken: {words} ({failed})")
            self._over(sentence, how)

    def _next(self) -> Sentence | None:
        """Wait for a sentence, and take it; None at the end."""
        while True:
            with self._lock:
                while not self._closing and (rest := self._rests - time.monotonic()) > 0:
                    self._now = None
                    self._lock.wait(rest)
                sentence, stale = self._line.take(time.monotonic())
                self._now, self._cut, self._back, self._unsure = sentence, False, False, False
                self._drop(stale)
                idle = sentence is None and not stale and not self._dropped
                if idle:
                    self._lock.notify_all()
                    if self._closing:
                        return None
                    self._lock.wait(LOOK_AGAIN)
            self._tell(stale, "cut")
            if sentence is not None:
                return sentence
            self._keep_files()
            if idle and (news := self._loudspeaker.watch()):
                self._on_trouble(news)

    def _drop(self, sentences: Iterable[Sentence]) -> None:
        """With the lock held: what is dropped is still written where the name of its file was told."""
        self._dropped.extend(sentence for sentence in sentences if sentence.path is not None)

    def _over(self, sentence: Sentence, how: How) -> None:
        with self._lock:
            again = how == "cut" and self._back
            if again:
                self._line.put_back(sentence, unsure=self._unsure)
        if not again:
            self._tell([sentence], how)
        with self._lock:
            self._now = None
            self._lock.notify_all()

    def _tell(self, sentences: Iterable[Sentence], how: How) -> None:
        for sentence in sentences:
            if sentence.on_said is not None:
                sentence.on_said(how, time.monotonic())

    def _speak(self, sentence: Sentence) -> How:
        if self._cut and sentence.path is None:
            return "cut"
        if sentence.path is not None or self._loudspeaker.player is None:
            sound = self._render(sentence)  # a file whose name was told is written even where the words are cut
            known = partial(self._tell, [sentence], "figures")
            end = sound.figures_end
            made = [(sound.samples[:end], known if end else None), (sound.samples[len(sound.samples[:end]) :], None)]
        if self._loudspeaker.player is None:
            return "failed" if self._loudspeaker.lost else "through"
        begun = time.monotonic()
        self._said.append((begun, 0.0, sentence.text))
        try:
            through = self._loudspeaker.play(
                lambda: iter(made) if sentence.path is not None else self._pieces(sentence), lambda: self._cut
            )
        finally:
            self._said.pop()
            self._said.append((begun, time.monotonic(), sentence.text))
        if through is None:
            if sentence.secret:
                self._on_trouble(f"{self.silent}: a code was not spoken; ask for a new one")
                return "failed"
            if sentence.path is None:
                sentence.path = self._next_path(sentence.text)
                self._render(sentence)
            self._on_trouble(f"{self.silent}: the voice goes to WAV files from now on ({sentence.path})")
            return "failed"
        return "through" if through else "cut"

    def _pieces(self, sentence: Sentence) -> Iterator[Piece]:
        """A sentence as it is made: what comes before its words is heard while they are still worked out."""
        for before in self._before(sentence):
            yield before, None
        decibels = self.habits.decibels
        for samples, known in pieces(sentence.text, self._process, self._pace.scaled(self.habits.pace)):
            told = partial(self._tell, [sentence], "figures") if known and sentence.on_said is not None else None
            yield louder(samples, decibels), told

    def _mended(self) -> None:
        """Tell of a speech process that was started again, and of a voice that speaks again."""
        restarts = getattr(self._process, "restarts", 0)
        if restarts > self._restarts:
            self._restarts = restarts
            self._on_trouble(f"the speech process ended or hung and was started again ({self._broken or 'it speaks'})")
        if self._broken:
            self._broken = ""
            self._on_trouble("the voice speaks again")

    def _render(self, sentence: Sentence) -> Rendered:
        sound = render(sentence.text, self._process, self._pace.scaled(self.habits.pace))
        whole = np.concatenate([*self._before(sentence), louder(sound.samples, self.habits.decibels)])
        self._files.write(sentence.path, whole)
        shift = len(whole) - len(sound.samples)
        end = None if sound.figures_end is None else sound.figures_end + shift
        return Rendered(sound.text, whole, sentence.path, figures_end=end)

    def _before(self, sentence: Sentence) -> list[Samples]:
        """Lead tone, silence, and the tone that announces what comes."""
        before = [lead_tone(self._lead)] if self._lead else []
        if self._hush:
            before.append(np.zeros(round(self._hush * RATE), np.int16))
        announced = announcement(sentence)
        if announced is not None and announced in self.habits.tones:
            before.append(louder(tone(announced), self.habits.decibels))
        return before

    def _keep_files(self) -> None:
        """Write the files of sentences that were dropped: their names were told."""
        while self._dropped:
            sentence = self._dropped[0]
            try:
                self._render(sentence)
            except Exception as failed:
                self._files.not_written(sentence.path)
                self._on_trouble(f"not written: {sentence.path} ({failed})")
            with self._lock:
                self._dropped.popleft()
                self._lock.notify_all()

    def _next_path(self, text: str) -> Path | None:
        if self.folder is None and self._loudspeaker.player is not None:
            return None
        return self._files.next_path(text)
