"""Pauses: what is whole is answered soon, what may go on is waited for, and nobody is cut off.

The ears here are played by hand, and their time with them: what they hear is what was said up to now.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from callout.dialogue.walk_words import WALK_WORDS
from callout.files import data_folder
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.ears import Ears
from callout.hearing.judge import sense_of
from callout.hearing.live import EARLY, SENTENCE, Segment, utterances
from callout.hearing.recognizer import Glance, Heard
from callout.hearing.segmenter import WAIT
from callout.hearing.sources import MemorySource
from callout.language.commands import commands
from callout.language.context import EVERYTHING, Context
from callout.language.outcome import NotUnderstood, Understood
from callout.language.resolve import resolve_text
from tests.how_much import one_in

DEMO = data_folder("audio_fixtures") / "demo"
WALK, CONFIRM = Context(state="walk"), Context(state="confirm")


@pytest.mark.parametrize(
    ("words", "context", "how_much"),
    [
        ("insertion eleven feet sixty", WALK, "whole"),
        ("insertion eleven feet six inches forty five degrees", WALK, "whole"),
        ("insertion three point five meters sixty", WALK, "whole"),
        ("insertion eleven feet", WALK, "half"),
        # A figure may go on: "six inches", "twenty one".
        ("angle sixty insertion eleven feet", WALK, "complete"),
        ("angle sixty insertion eleven feet six inches", WALK, "complete"),
        ("insertion eleven feet sixty position two", WALK, "complete"),
        ("ready", WALK, "whole"),
        ("evacuate", WALK, "whole"),
        ("affirm insertion", CONFIRM, "whole"),
        # "affirm insertion", "negative eleven feet", "hold on", "say again item four", "short two", "item forty one"
        ("affirm", CONFIRM, "complete"),
        ("negative", CONFIRM, "complete"),
        ("hold", WALK, "complete"),
        # "say again item four": answered at once, and with what follows once more.
        ("say again", WALK, "again"),
        ("repeat", WALK, "again"),
        ("read back", CONFIRM, "whole"),
        ("short", WALK, "complete"),
        ("item four", WALK, "complete"),
        # "roger that, moving to the north side": anybody says so, to anybody.
        ("roger", CONFIRM, "half"),
        ("roger that", WALK, "half"),
        # "back to work", "stop pairing", "skip to item eight", "next build": rarely said, and never with such a pause.
        ("back", WALK, "whole"),
        ("stop", WALK, "whole"),
        ("stop", CONFIRM, "whole"),
        ("skip", WALK, "whole"),
        ("next", WALK, "whole"),
        ("next please", WALK, "whole"),
        # "take it back", "go ahead to eight": what comes before moves something, or wakes the voice.
        ("take it", WALK, "complete"),
        ("go ahead", WALK, "complete"),
        # What may follow means the same: "ready for the next one", "stand by for a minute".
        ("stand by", WALK, "whole"),
    ],
)
def test_what_nothing_longer_begins_with_is_whole(words: str, context: Context, how_much: str) -> None:
    assert sense_of(resolve_text(words, context), tuple(words.split()), context) == how_much


def test_what_is_the_same_in_the_words_is_the_same_in_the_deed() -> None:
    """An end of "next" that came too early costs nothing only as long as the conversation answers both alike."""
    twins = [(name, row.same_as) for name, row in commands().items() if row.same_as]
    assert ("next", "ready") in twins
    assert all(WALK_WORDS[name] is WALK_WORDS[other] for name, other in twins)


def test_what_is_not_sure_is_never_whole() -> None:
    unsure = NotUnderstood(("ready",))
    assert sense_of(unsure, ("ready",), WALK) == "complete"
    assert sense_of(unsure, (), WALK) == "nothing"


class EarsByHand:
    """Hears one word of `script` for each second of loud sound that it was fed since the last `begin`."""

    name = "by hand"

    def __init__(self, script: str, context: Context) -> None:
        self.script, self.context, self.fed, self.finished = script.split(), context, 0.0, 0

    def _words(self) -> tuple[str, ...]:
        return tuple(self.script[: round(self.fed / WORD)])

    def begin(self, context: Context) -> None:
        self.fed = 0.0

    def feed(self, samples: Samples) -> None:
        self.fed += float((np.abs(samples) > 0.01).sum()) / RATE

    def glance(self) -> Glance:
        return Glance(self._words(), "nothing")

    def finish(self, opened: float | None = None) -> Heard:
        self.finished += 1
        words = self._words()
        found = resolve_text(" ".join(words), self.context)
        return Heard(found, (words,), 1.0, 0.0, self.name, sense=sense_of(found, words, self.context))

    def hear(self, samples: Samples, context: Context = EVERYTHING, opened: float | None = None) -> Heard:
        raise AssertionError("it listens while it is said")

    def close(self) -> None: ...


WORD = 0.4  # seconds that each word is given


def said(text: str) -> Samples:
    """Words of 0.4 s, "|0.5|" a pause between them, with quiet around."""
    pieces = [np.zeros(RATE, np.float32)]
    for word in text.replace("|", " | ").split():
        if word == "|":
            continue
        try:
            pieces.append(np.zeros(int(float(word) * RATE), np.float32))
        except ValueError:
            pieces.append(np.tile(np.float32([0.1, -0.1]), int(WORD * RATE) // 2))
    quiet = np.concatenate([*pieces, np.zeros(2 * RATE, np.float32)])
    return quiet + np.random.default_rng(0).normal(0, 2e-4, len(quiet)).astype(np.float32)


def cut(text: str, context: Context = WALK, **how: object) -> list[Segment]:
    words = " ".join(w for w in text.replace("|", " ").split() if not w.replace(".", "").isdigit())
    ears = EarsByHand(words, context)
    return list(utterances(MemorySource(said(text), 0.02), ears, lambda: context, **how))  # type: ignore[arg-type]


def heard(segments: list[Segment]) -> list[str]:
    return [" ".join(segment.heard.readings[0]) for segment in segments]


@pytest.mark.parametrize(
    ("text", "sense"),
    [
        ("ready", "whole"),
        ("insertion eleven feet sixty", "whole"),
        ("say again", "again"),
        ("affirm", "complete"),
        ("insertion eleven feet", "half"),
    ],
)
def test_the_wait_is_as_long_as_more_is_likely(text: str, sense: str) -> None:
    (segment,) = cut(text)
    assert segment.quiet == pytest.approx(WAIT[sense], abs=0.03)  # type: ignore[index]


@pytest.mark.parametrize(
    "text",
    [
        "insertion |0.25| eleven |0.25| feet |0.25| sixty",
        "insertion eleven feet |1.0| sixty",
        "insertion |0.8| eleven feet sixty",
        "angle sixty insertion eleven feet |0.5| six inches",
        "affirm |0.5| insertion",
        "negative |0.5| eleven feet sixty",
        "say again |0.2| item four",
        "insertion eleven feet |0.5| six inches",
        "insertion eleven feet |1.0| six inches",
        "insertion eleven feet |0.5| six inches |0.5| sixty",
        "short |0.5| two",
        "how many |0.5| struts",
        "roger that |0.8| moving to the north side",
    ],
)
def test_a_pause_inside_cuts_nobody_off(text: str) -> None:
    assert len(cut(text, CONFIRM if "affirm" in text or "negative" in text else WALK)) == 1


@pytest.mark.parametrize("pause", [0.3, 0.4, 0.5])
def test_what_was_answered_at_once_and_goes_on_is_heard_whole(pause: float) -> None:
    first, whole = cut(f"say again |{pause}| item four")
    assert heard([first, whole]) == ["say again", "say again item four"]
    assert whole.start == first.start
    assert whole.end - first.end == pytest.approx(pause - first.quiet + 2 * WORD + whole.quiet, abs=0.03)
    assert len(whole.samples) == round((whole.end - whole.start) * RATE)


def test_what_was_answered_at_once_is_over_where_nothing_follows_soon() -> None:
    first, second = cut("say again |0.9| ready")
    assert first.heard.sense == "again"
    assert second.start > first.end - 0.1


def test_after_a_pause_the_ears_have_it_from_its_beginning() -> None:
    (segment,) = cut("insertion eleven |0.4| feet |0.4| sixty")
    assert heard([segment]) == ["insertion eleven feet sixty"]


def test_what_was_heard_in_the_pause_is_the_answer_and_is_not_heard_twice() -> None:
    ears = EarsByHand("ready", WALK)
    (segment,) = utterances(MemorySource(said("ready"), 0.02), ears, lambda: WALK)
    assert ears.finished == 1
    assert segment.heard.sense == "whole"


def test_what_was_not_understood_is_heard_once_more_with_a_longer_end() -> None:
    ears = EarsByHand("gibberish", WALK)
    list(utterances(MemorySource(said("gibberish"), 0.02), ears, lambda: WALK))
    assert ears.finished == 2


class HearsOneThing(EarsByHand):
    """Whatever is said, it hears all of `script`, and notes when the channel is said to have opened."""

    def _words(self) -> tuple[str, ...]:
        return tuple(self.script)

    def finish(self, opened: float | None = None) -> Heard:
        self.opened = opened
        return super().finish(opened)


@pytest.mark.parametrize(("words", "before"), [("mumble", SENTENCE), ("stop", 0.0), ("insertion eleven feet", 0.0)])
def test_what_became_too_long_goes_on_with_its_end_or_is_told_as_cut_off(words: str, before: float) -> None:
    """A noise is cut at 30 s, and a moment later somebody speaks, louder. What was not understood is heard again with
    that; of what was taken, or asked about, nothing counts twice. Either way the ears know where their sound begins."""
    ears = HearsOneThing(words, WALK)
    sound = said("noise " * 80)
    sound[: round(30.6 * RATE)] /= 5  # it began after a second of quiet
    first, second = utterances(MemorySource(sound, 0.02), ears, lambda: WALK)
    assert first.ending == "length"
    assert second.start == pytest.approx(first.end - before)
    assert len(second.samples) == round((second.end - second.start) * RATE)
    assert ears.opened == pytest.approx(0.0)


class HearsToTheEnd(HearsOneThing):
    def finish(self, opened: float | None = None) -> Heard:
        return replace(super().finish(opened), rest=0.1)


def test_nothing_is_taken_of_a_sentence_that_goes_on_beyond_the_limit() -> None:
    """"Insertion eleven feet six" may be sixty. It is heard again, whole, though nobody speaks up after the limit."""
    ears = HearsToTheEnd("insertion eleven feet six", WALK)
    first, second = utterances(MemorySource(said("noise " * 80), 0.02), ears, lambda: WALK)
    assert (first.ending, first.heard.readings) == ("length", ())
    assert isinstance(first.heard.resolution, NotUnderstood)
    assert second.start == pytest.approx(first.end - SENTENCE)
    assert heard([second]) == ["insertion eleven feet six"]


def test_after_a_pause_nothing_of_what_became_too_long_belongs_to_what_follows() -> None:
    ears = HearsOneThing("mumble", WALK)
    noise = said("noise " * 75 + "|1.0| word")
    first, second = utterances(MemorySource(noise, 0.02), ears, lambda: WALK)
    assert first.ending == "length"
    assert second.start > first.end + 0.3
    assert ears.opened is None


@pytest.mark.audio
@pytest.mark.parametrize("begins", one_in(4, [30.2, 28.5, 31.0, 29.5]))
def test_a_callout_on_which_a_long_noise_is_cut_is_heard_whole(ears: Ears, begins: float) -> None:
    """The noise begins at 2 s, so it is cut at 31.5 s; the callout takes 4 s."""
    callout, rng = read_audio(DEMO / "whole_clean.flac"), np.random.default_rng(3)
    stream = np.concatenate([rng.normal(0, 3e-4, 2 * RATE), rng.normal(0, 6e-3, 40 * RATE)]).astype(np.float32)
    at = round(begins * RATE)
    stream[at : at + len(callout)] += callout / 2
    found = [segment.heard.resolution for segment in utterances(MemorySource(stream), ears, lambda: WALK)]
    taken = [resolution.meaning for resolution in found if isinstance(resolution, Understood)]
    assert taken == [resolve_text("insertion eleven feet sixty").meaning]


def test_the_screen_shows_the_words_in_the_pause() -> None:
    words: list[tuple[str, ...]] = []
    cut("insertion eleven |0.3| feet sixty", partial=words.append)
    assert ("insertion", "eleven") in words
    assert words[-1] == ("insertion", "eleven", "feet", "sixty")


def test_what_was_said_up_to_a_pause_is_told_there_and_not_when_it_is_over() -> None:
    """"Hold" may go on ("hold on"), so it is over late: whoever is to be silent knows of it sooner."""
    told: list[Segment] = []
    (segment,) = cut("hold", pause=told.append)
    assert [" ".join(early.heard.readings[0]) for early in told] == ["hold"]
    assert told[0].start == segment.start
    assert segment.end - told[0].end == pytest.approx(WAIT["complete"] - EARLY, abs=0.021)
    told.clear()
    cut("hold |0.3| on", pause=told.append)
    assert [" ".join(early.heard.readings[0]) for early in told] == ["hold", "hold on"]


def test_a_pause_is_long_enough_to_be_heard_in_before_anything_ends() -> None:
    assert min(WAIT.values()) > EARLY
