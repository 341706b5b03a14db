"""Two ears, a third opinion and one judgement: samples and context in, an outcome with its parts and how sure out."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from threading import Thread

import numpy as np

from callout.errors import CalloutError
from callout.hearing.agreement import DecisionSettings, Meanings, settings
from callout.hearing.audio import RATE, Samples
from callout.hearing.candidates import candidates
from callout.hearing.encoder import EncoderEar, first_phone, free_path
from callout.hearing.evidence import Evidence
from callout.hearing.judge import judge, reader, sense, sense_of, settled
from callout.hearing.level import TAIL, measure, missing, padded
from callout.hearing.recognizer import Glance as Glance
from callout.hearing.recognizer import Heard as Heard
from callout.hearing.recognizer import Recognizer as Recognizer
from callout.hearing.recognizer import installed, opened
from callout.hearing.search import Squeezed, squeeze
from callout.hearing.states import Prepared, States, pronunciations
from callout.hearing.third_opinion import ThirdOpinion
from callout.hearing.vosk_ear import VoskEar
from callout.language.context import EVERYTHING, Context

WEIGHTS = Path(__file__).parent / "weights"
#: A phone so soon after the channel opened was under way before. Measured on 40 development recordings a condition,
#: clean or in noise of 5 to 10 dB: 95 to 100 % of keys that were 40 to 300 ms late are found so, and of speech that
#: begins 0.2 s after the key one in 40 (in babble, three).
LATE = 0.13


class Ears:
    """The two ears of the package, and the third opinion. Ready in about a second; not for two threads at once."""

    name = "ears"

    def __init__(self, weights: Path = WEIGHTS, *, second: bool = True, third: bool = True) -> None:
        """`second` False leaves the Vosk ear unasked, `third` False the third opinion, as if they had died: for
        measuring what the others do alone.

        Raises CalloutError where a network of the two ears is missing; without a third opinion they go on.
        """
        if not (weights / "vosk" / "am" / "final.mdl").is_file():
            raise CalloutError("the Vosk ear is missing from this installation; install callout again")
        self._vosk = VoskEar(weights / "vosk")  # its process starts while the encoder loads
        self._second = second
        self.third = ThirdOpinion(weights / "opinion") if third else None
        self._states = States(self._vosk)
        self._encoder = EncoderEar(weights / "encoder.onnx")
        self._decisions = settings()
        self._context: Context = EVERYTHING
        self._pieces: list[Samples] = []
        self._last: tuple[Samples, Squeezed] | None = None  # the utterance that was heard last, for the third opinion

    @property
    def vosk_pid(self) -> int | None:
        return self._vosk.helper.pid

    def decide_by(self, decisions: DecisionSettings | None = None) -> None:
        """From the next utterance on judge by these weights, or by the package's: one talker's over one channel, say
        (`agreement.settings` reads them from a file of the form of `decisions.json`)."""
        self._decisions = decisions or settings()

    def prepare(self, context: Context = EVERYTHING) -> None:
        """Make a state ready before it is spoken in."""
        self._states.of(context)

    def ready(self) -> bool:
        """Wait until all are loaded; False where the second ear cannot be."""
        if self.third:
            self.third.ready()
        return self._vosk.ready()

    def hear(self, samples: Samples, context: Context = EVERYTHING, opened: float | None = 0.0) -> Heard:
        """Hear one utterance: 16 kHz float32 mono within -1 to 1, at most a minute or so.

        `opened` is the second at which the channel opened (a recording begins with it); None where the sound was there
        all along.
        """
        began = time.perf_counter()
        return self._judged(self.evidence(samples, context, opened), context, began)

    def evidence(self, samples: Samples, context: Context = EVERYTHING, opened: float | None = 0.0) -> Evidence:
        """What both ears say, undecided; the scoring and the calibration start from here."""
        level, self._last = measure(samples), None
        if level.silent or len(samples) < RATE // 20:
            return Evidence((), (), (), silent=True)
        prepared = self._states.of(context)
        for_encoder, for_vosk = padded(samples, level)
        self._begin_vosk(prepared)
        feeding = Thread(target=self._feed_vosk, args=(for_vosk,))  # it waits for Vosk; the encoder need not
        feeding.start()
        added = missing(level)[0] / RATE
        return self._finish(for_encoder, prepared, None if opened is None else opened + added, feeding)

    def _begin_vosk(self, prepared: Prepared) -> None:
        if self._second:
            self._vosk.begin(prepared.vosk_key)

    def _feed_vosk(self, samples: Samples) -> None:
        for start in range(0, len(samples), RATE):
            self._vosk.feed(samples[start : start + RATE])
        self._vosk.close_utterance()

    def _finish(
        self, sound: Samples, prepared: Prepared, opened: float | None, feeding: Thread | None = None
    ) -> Evidence:
        scores = self._encoder.scores(sound)
        squeezed = squeeze(scores)
        readings = prepared.searcher.readings(squeezed)
        self._last = (sound, squeezed)
        if feeding:
            feeding.join()
        vosk = self._vosk.end()
        _, free = free_path(scores)
        return Evidence(
            encoder=tuple(readings),
            vosk=tuple(vosk),
            free=tuple(free),
            late_key=opened is not None and first_phone(scores) < opened + LATE,
            deaf=not vosk,
            vosk_lacks=prepared.vosk_lacks,
        )

    def asked(
        self, evidence: Evidence, context: Context = EVERYTHING, meanings: Meanings | None = None
    ) -> Evidence:  # fmt: skip
        """The evidence on the utterance heard last, with what the third opinion says of its readings and of others like
        them; as it was where it cannot be asked."""
        meanings = meanings or reader(context)
        if self._last is None or self.third is None:
            return evidence
        sound, squeezed = self._last
        second = [reading.words for reading in evidence.vosk if not reading.garbage]
        every = candidates(squeezed, evidence.encoder, second, meanings, lambda w: pronunciations().get(w, ()))
        if not every:
            return evidence
        third = self.third.ask(sound, every)
        return replace(evidence, third=third, mute="" if third else self.third.absent or "the third opinion is silent")

    def judged(self, evidence: Evidence, context: Context = EVERYTHING) -> Heard:
        """What `hear` makes of the utterance heard last, by its evidence: whoever has that need not hear it again."""
        return self._judged(evidence, context, time.perf_counter())

    def _judged(self, evidence: Evidence, context: Context, began: float) -> Heard:
        meanings = reader(context)
        answer = judge(evidence, context, self._decisions, surely=self.third is not None, meanings=meanings)
        if self.third is not None and not settled(answer[0]):
            more = self.asked(evidence, context, meanings)
            answer = judge(more, context, self._decisions, meanings=meanings)
        resolution, readings, confidence = answer
        deaf = self._second and not evidence.silent and self._vosk.lost
        whole = sense_of(resolution, readings[0] if readings else (), context, self._states.of(context).words)
        rest = self._after_last_word(evidence, readings[0]) if readings else None
        seconds, restarts = time.perf_counter() - began, self._vosk.helper.restarts
        return Heard(resolution, readings, confidence, seconds, self.name, deaf, restarts, whole, rest)

    def _after_last_word(self, evidence: Evidence, words: tuple[str, ...]) -> float | None:
        """Seconds of sound after the words that were taken, where the encoder ear has them."""
        ends = [reading.heard[-1].end for reading in evidence.encoder if reading.words == words and reading.heard]
        return len(self._last[0]) / RATE - ends[0] if ends and self._last else None

    # The same piece by piece, while it is still being said: begin, feed ..., glance now and then, finish.

    def begin(self, context: Context = EVERYTHING) -> None:
        """An utterance starts; its sound must bring about half a second of lead."""
        self._context, self._pieces = context, []
        self._begin_vosk(self._states.of(context))

    def feed(self, samples: Samples) -> None:
        self._pieces.append(samples)
        self._vosk.feed(samples)

    def glance(self) -> Glance:
        """What the encoder ear alone makes of the sound so far: for the screen and for finding the end, never to act
        on."""
        sound = np.concatenate([*self._pieces, np.zeros(RATE // 5, np.float32)])
        found = self._states.of(self._context).searcher.readings(squeeze(self._encoder.scores(sound)), most=1)
        if not found or found[0].fit < settings().least_fit["callout"]:
            return Glance((), "nothing")
        return Glance(found[0].words, sense(found[0].words, self._context))

    def finish(self, opened: float | None = None) -> Heard:
        """The utterance is over. Most of Vosk's work was done while it was said. `opened` as for `hear`."""
        began = time.perf_counter()
        sound = np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.float32)
        level, context = measure(sound), self._context
        if level.silent or float(np.abs(sound).max()) < 0.05:  # too soft as it is: begin again, louder
            return self.hear(sound, context, opened)
        if level.quiet and level.tail < TAIL:
            rest = np.zeros(int((TAIL - level.tail) * RATE), np.float32)
            self.feed(rest)
            sound = np.concatenate([sound, rest])
        self._vosk.close_utterance()  # it works out its readings while the encoder does
        return self._judged(self._finish(sound, self._states.of(context), opened), context, began)

    def close(self) -> None:
        self._vosk.close()
        if self.third:
            self.third.close()


def open_ears(model: Path | None = None, decisions: DecisionSettings | None = None) -> Recognizer:
    """The ears of the package, judging by `decisions` where given; a listener for a team's own Vosk model folder; or a
    recognizer that somebody installed, by its name (see `callout.hearing.recognizer`). Raises BadInput where it is none
    of these.
    """
    if model is None:
        ears = Ears()
        if decisions is not None:
            ears.decide_by(decisions)
        return ears
    if not model.exists() and (found := installed().get(str(model))) is not None:
        return opened(found)
    from callout.hearing.team_model import TeamModel

    return TeamModel(model)
