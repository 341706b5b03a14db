"""The voice: the most urgent sentence first, to the loudspeaker or, without a sound card, to files. It gives way."""

from __future__ import annotations

import contextlib
import re
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from pathlib import Path

import miniaudio
import numpy as np
from numpy.typing import NDArray

from callout.errors import BadInput, CalloutError
from callout.files import try_folder
from callout.speaking.habits import Habits
from callout.speaking.pacing import Pace, check_words
from callout.speaking.player import Piece, Player, open_player
from callout.speaking.priorities import How, Kind, OnSaid, Sentence, WaitingLine
from callout.speaking.process import SpeechProcess
from callout.speaking.render import RATE, Rendered, Samples, SpeechSource, louder, pieces, render, write_wav
from callout.speaking.tones import Tone, lead_tone, tone

#: How many files are kept in a folder that nobody asked for, on a machine without a sound card: an hour or so of talk.
KEPT_FILES = 500
#: Seconds between two looks for a sound card that went away.
LOOK_AGAIN = 2.0
#: For how many seconds it is remembered what was said, for knowing one's own words when they come back.
REMEMBERED = 40.0
#: How a sentence begins that says: this was not heard.
NOT_HEARD = ("say again", "not understood", "stand by for the console")

Opener = Callable[[], "tuple[Player | None, str]"]


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
        self.silent = silent
        self.folder = folder
        self.habits = habits or Habits()
        self._process = process
        self._owns = owns
        self._player = player
        self._opener = opener
        self._looked = 0.0  # when a sound card that was lost was looked for; 0: none was lost
        self._broken = ""  # why the last sentence could not be spoken, until one can
        self._pace = pace
        self._lead, self._hush = lead, hush
        self._on_trouble = on_trouble or (lambda line: None)
        self._count = 0
        self._unasked: deque[Path] | None = None  # the files in a folder of our own making
        self._lock = threading.Condition()
        self._line = WaitingLine()
        self._now: Sentence | None = None
        self._cut = False  # what is being said is to end
        self._back = False  # ... and to be said again once what cut it is over
        self._unsure = False  # ... which may come to nothing
        self._rests = 0.0  # nothing is begun before this time
        self._closing = False
        #: Files that were announced and could not be written.
        self.unwritten: list[Path] = []
        self._files: deque[Sentence] = deque()  # dropped, and to be written all the same
        self._restarts = 0
        self._said: deque[tuple[float, float, str]] = deque(maxlen=50)  # begun, ended, words
        self._thread = threading.Thread(target=self._work, name="voice", daemon=True)
        self._thread.start()

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
            return self._lock.wait_for(lambda: not self.speaking and not self._files, seconds)

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
        if self._player is not None:
            self._player.stop()

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
        player = self._player
        return None if player is None else player.heard(since, count)

    @property
    def moves(self) -> int:
        """How often the loudspeaker's time line was found to have moved."""
        player = self._player
        return 0 if player is None else player.clock.moves

    @property
    def wavers(self) -> bool:
        """Whether the loudspeaker's time line may have moved just now."""
        player = self._player
        return player is not None and player.clock.wavers

    def close(self) -> None:
        """Be silent and end the speech process. Call `wait` first to let it finish."""
        self.stop()
        with self._lock:
            self._closing = True
            self._lock.notify_all()
        self._thread.join(10)
        if self._player is not None:
            self._player.close()
        if self._owns and isinstance(self._process, SpeechProcess):
            self._process.close()

    def __enter__(self) -> Voice:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _work(self) -> None:
        with contextlib.suppress(CalloutError, miniaudio.MiniaudioError):  # the first words will tell
            if self._player is not None:
                self._player.start()
            if isinstance(self._process, SpeechProcess):
                self._process.start()
        while (sentence := self._next()) is not None:
            how: How = "failed"
            try:
                how = self._speak(sentence)
                self._mended()
            except Exception as failed:  # whatever it is, the next words must find this thread alive
                self._broken = self._broken or str(failed)
                self._not_written(sentence)
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
                idle = sentence is None and not stale and not self._files
                if idle:
                    self._lock.notify_all()
                    if self._closing:
                        return None
                    self._lock.wait(LOOK_AGAIN)
            self._tell(stale, "cut")
            if sentence is not None:
                return sentence
            self._keep_files()
            if idle:
                self._watch()

    def _drop(self, sentences: Iterable[Sentence]) -> None:
        """With the lock held: what is dropped is still written where the name of its file was told."""
        self._files.extend(sentence for sentence in sentences if sentence.path is not None)

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
        if sentence.path is not None or self._player is None:
            sound = self._render(sentence)  # a file whose name was told is written even where the words are cut
            known = partial(self._tell, [sentence], "figures")
            end = sound.figures_end
            made = [(sound.samples[:end], known if end else None), (sound.samples[len(sound.samples[:end]) :], None)]
        if self._player is None:
            return "failed" if self._opener is not None and self._looked else "through"
        begun = time.monotonic()
        self._said.append((begun, 0.0, sentence.text))
        try:
            through = self._play(lambda: iter(made) if sentence.path is not None else self._pieces(sentence))
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

    def _play(self, sound: Callable[[], Iterator[Piece]]) -> bool | None:
        """Whether it was heard to its end; None where the sound card is gone and no other takes its place."""
        for _ in range(2):
            assert self._player is not None
            try:
                return self._player.play(sound(), lambda: self._cut)
            except miniaudio.MiniaudioError:
                self._lose()
                if not self._find_again():
                    return None
        self._lose()
        return None

    def _lose(self) -> None:
        player, self._player = self._player, None
        self.silent = "the sound card stopped working"
        if player is not None:
            threading.Thread(target=player.close, name="closing a lost sound card", daemon=True).start()  # it may hang

    def _find_again(self) -> bool:
        """Whether there is a sound card again, after one was lost."""
        self._looked = time.monotonic()
        if self._opener is None:
            return False
        try:
            player, _ = self._opener()
            if player is None:
                return False
            player.start()
        except (BadInput, miniaudio.MiniaudioError):
            return False
        self._player, self.silent, self._looked = player, "", 0.0
        return True

    def _watch(self) -> None:
        """While nothing is said: a sound card that went, or came back."""
        if self._player is not None and self._player.gone:
            self._lose()
            if not self._find_again():
                self._on_trouble(f"{self.silent}: the voice goes to WAV files until it is back")
        elif self._player is None and self._looked and self._find_again():
            self._on_trouble("the sound card is back: the voice is heard again")

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
        self._write(sentence.path, whole)
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
        while self._files:
            sentence = self._files[0]
            try:
                self._render(sentence)
            except Exception as failed:
                self._not_written(sentence)
                self._on_trouble(f"not written: {sentence.path} ({failed})")
            with self._lock:
                self._files.popleft()
                self._lock.notify_all()

    def _not_written(self, sentence: Sentence) -> None:
        if sentence.path is not None and not sentence.path.exists():
            self.unwritten.append(sentence.path)

    def _write(self, path: Path | None, samples: Samples) -> None:
        if path is None:
            return
        try:
            write_wav(path, samples)
        except OSError as failed:
            raise CalloutError(f"cannot write {path}: {failed.strerror}; choose another folder") from failed
        if self._unasked is not None:
            self._unasked.append(path)
            if len(self._unasked) > KEPT_FILES:
                self._unasked.popleft().unlink(missing_ok=True)

    def _next_path(self, text: str) -> Path | None:
        if self.folder is None and self._player is not None:
            return None
        with self._lock:
            if self.folder is None:
                self.folder, self._unasked = Path(tempfile.mkdtemp(prefix="callout-voice-")), deque()
            self._count += 1
            words = "-".join(re.findall(r"[a-z]+", text.lower())[:6])[:48]
            return self.folder / f"{self._count:04d}-{words}.wav"


def announcement(sentence: Sentence) -> Tone | None:
    """The tone that goes before a sentence; None for most."""
    if sentence.kind == "answer":
        return "not-heard" if sentence.text.startswith(NOT_HEARD) else None
    return {"warning": "warning", "readback": "readback"}.get(sentence.kind)  # type: ignore[return-value]


def open_voice(
    rate_figures: float = 100,
    rate_words: float = 130,
    folder: Path | None = None,
    *,
    device: str | None = None,
    vox_lead: float = 0.0,
    hush: float = 0.0,
    play: bool = True,
    on_trouble: Callable[[str], None] | None = None,
    backends: Sequence[miniaudio.Backend] = (),
    process: SpeechSource | None = None,
    habits: Habits | None = None,
) -> Voice:  # fmt: skip
    """A voice on `device` (None: the default output).

    `folder`: where every utterance is written as WAV; without one, only a machine without a sound card writes
    files, into a new temporary folder. `vox_lead`: seconds of tone before every utterance, for a radio that keys
    itself, and `hush` seconds of silence after it. `play=False` renders only. The rates are words a minute. `process`:
    a speech process shared with another voice; who made it closes it. Raises `BadInput` for an unknown device or a
    folder that cannot be written.
    """
    pace = Pace(figures=rate_figures, words=rate_words)
    opener: Opener | None = partial(open_player, device, backends) if play else None
    player, silent = opener() if opener is not None else (None, "playing is switched off")
    if folder is not None:
        _writable(folder)
    source = SpeechProcess() if process is None else process
    return Voice(
        source, player, pace, folder, lead=vox_lead, hush=hush, silent=silent, on_trouble=on_trouble,
        owns=process is None, opener=opener, habits=habits,
    )  # fmt: skip


def _writable(folder: Path) -> None:
    try:
        try_folder(folder)
    except OSError as failed:
        raise BadInput(f"cannot write voice files into {folder} ({failed.strerror}); name another folder") from failed
