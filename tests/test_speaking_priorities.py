"""The line of waiting sentences: urgent first, stale out, never without bound; and a voice that gives way."""

import time
from typing import get_args

import miniaudio
import numpy as np
import pytest

from callout.dialogue import events
from callout.speaking import open_voice
from callout.speaking.habits import Habits, keep_habits, load_habits
from callout.speaking.pacing import figures_until, stretches
from callout.speaking.priorities import MOST, STALE, Kind, Sentence, WaitingLine
from callout.speaking.render import RATE
from callout.speaking.tones import TONES, tone

NULL = [miniaudio.Backend.NULL]


class Steady:
    """A tone of 0.8 s for whatever is asked; no engine needed."""

    restarts = 0

    def samples(self, text, rate):
        return np.full(int(RATE * 0.8), 9000, "<i2").tobytes()


def order(*sentences):
    line = WaitingLine()
    dropped = [gone.text for sentence in sentences for gone in line.put(sentence)]
    taken = []
    while (sentence := line.take(0.0)[0]) is not None:
        taken.append(sentence.text)
    return taken, dropped


def test_the_voice_and_the_dialogue_know_the_same_kinds():
    assert get_args(Kind) == get_args(events.Kind)


def test_the_more_urgent_goes_ahead_and_a_step_keeps_its_order():
    said, dropped = order(
        Sentence("caution", "information", 1),
        Sentence("item one", "item", 1),
        Sentence("read back", "readback", 2),
        Sentence("say again", "answer", 3),
        Sentence("the voice is lost", "warning", 4),
        Sentence("stock moved", "information", 5),
    )
    assert said == ["the voice is lost", "say again", "read back", "caution", "item one", "stock moved"]
    assert dropped == []


def test_of_one_topic_only_the_newest_is_said():
    said, dropped = order(
        Sentence("eleven feet", "readback", 1, "readback measurer", "measurer"),
        Sentence("item one", "item", 2, "item 1", "yard"),
        Sentence("item two", "item", 3, "item 1", "yard"),
        Sentence("twelve feet", "readback", 4, "readback measurer", "measurer"),
    )
    assert said == ["twelve feet", "item two"]
    assert dropped == ["item one", "eleven feet"]


def test_what_is_said_twice_in_a_row_waits_once():
    twice = [Sentence("say again", "answer", step) for step in (1, 2)]
    assert order(*twice) == (["say again"], ["say again"])


def test_the_line_never_grows_without_bound_and_keeps_the_urgent():
    line = WaitingLine()
    line.put(Sentence("evacuated", "warning", 1))
    dropped = [gone.text for step in range(2, 500) for gone in line.put(Sentence(f"word {step}", "information", step))]
    assert len(line) == MOST
    assert dropped[:2] == ["word 2", "word 3"]
    assert line.take(0.0)[0].text == "evacuated"


def test_an_answer_that_waited_too_long_is_dropped_and_a_readback_is_not():
    line = WaitingLine()
    line.put(Sentence("say again", "answer", 1))
    line.put(Sentence("read back", "readback", 2))
    sentence, stale = line.take(STALE["answer"] + 1)
    assert (sentence.text, [gone.text for gone in stale]) == ("read back", ["say again"])


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("one one feet, eleven feet. sixty degrees. over.", "sixty degrees"),
        ("item four. two struts, eight feet. rack seven.", "eight feet"),
        ("item four. two rakers. at the east rack.", "rakers"),
        ("say again.", None),
    ],
)
def test_when_the_figures_of_a_sentence_are_known(text, known):
    found = stretches(text)
    at = figures_until(found)
    assert (None if at is None else found[at].text) == known


def told_by(voice, *texts, **why):
    told = []
    for text in texts:
        voice.say(text, on_said=lambda how, when, text=text: told.append((text, how)), **why)
    return told


def until(condition, seconds=5.0):
    ends = time.monotonic() + seconds
    while not condition() and time.monotonic() < ends:
        time.sleep(0.01)
    assert condition()


def test_a_key_cuts_one_sentence_and_the_next_follows():
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = told_by(voice, "copy", "over")
        until(lambda: voice.saying and voice._loudspeaker.player.last_sound)
        began = time.monotonic()
        assert voice.cut()
        until(lambda: told == [("copy", "cut")], 0.5)
        assert time.monotonic() - began < 0.5
        assert voice.wait(5)
        assert told == [("copy", "cut"), ("over", "through")]
        assert not voice.cut(), "nothing is being said"


def test_a_key_that_is_not_yet_known_keeps_the_next_sentence_back():
    """Pressed once it is ready, twice say again: nothing is begun in between, and what is new is said at once."""
    with open_voice(process=Steady(), backends=NULL) as voice:
        voice.say("item one", step=1)
        voice.say("information", step=1)
        player = voice._loudspeaker.player
        until(lambda: voice.saying is not None and voice.saying.text == "item one" and player.last_sound)
        pressed = time.monotonic()
        assert voice.cut(pause=0.6)
        assert voice._loudspeaker.player is player
        time.sleep(0.3)
        assert voice.saying is None
        assert player.last_sound < pressed + 0.15, "measured at the player"
        until(lambda: voice.saying is not None and voice.saying.text == "information")
        assert time.monotonic() > pressed + 0.6
        voice.cut(pause=5.0)
        voice.say("item two", step=2)
        until(lambda: voice.saying is not None and voice.saying.text == "item two", 2.0)


def test_the_figures_are_told_before_the_rest_and_a_cut_after_them_says_so():
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = told_by(voice, "eleven feet. affirm, or correction.")
        until(lambda: told == [("eleven feet. affirm, or correction.", "figures")])
        voice.cut()
        assert voice.wait(5)
        assert [how for _, how in told] == ["figures", "cut"]


def test_what_something_urgent_cuts_is_said_again_once_afterwards():
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = []
        tell = lambda text: lambda how, when: told.append((text, how))  # noqa: E731
        voice.say("caution", step=1, on_said=tell("caution"))
        until(lambda: voice.saying and voice._loudspeaker.player.last_sound)
        voice.say("read back", kind="readback", step=2, urgent=True, on_said=tell("read back"))
        assert voice.wait(10)
        assert told == [("read back", "through"), ("caution", "through")]


def begin_to_say(voice, told, text="item one", **why):
    voice.say(text, on_said=lambda how, when: told.append(how), **why)
    until(lambda: voice.saying is not None and voice._loudspeaker.player.last_sound)


def test_what_was_cut_by_something_that_comes_to_nothing_is_said_as_if_nothing_had_been():
    """Not once, but as often as that happens: a noise must not lose a sentence."""
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = []
        begin_to_say(voice, told, step=1)
        for _ in range(3):
            until(lambda: voice._now is not None)
            assert voice.cut(pause=0.3, unsure=True)
            until(lambda: voice._now is None)
            assert voice.saying is not None, "it is not given up"
            assert told == []
        assert voice.wait(10)
        assert told == ["figures", "through"]


@pytest.mark.parametrize(("again", "ends"), [(False, ["cut"]), (True, ["figures", "through"])])
def test_what_was_cut_by_something_unsure_is_given_up_only_once_that_is_sure(again, ends):
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = []
        begin_to_say(voice, told, step=1)
        voice.cut(pause=5.0, unsure=True)
        until(lambda: voice._now is None)
        assert voice.cut(again=again, pause=0.2)
        assert told == ([] if again else ["cut"])
        assert voice.wait(10)
        assert told == ends
        assert not voice.cut(), "nothing is being said"


def test_what_is_void_is_cut_and_not_said_again():
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = told_by(voice, "read back", kind="readback", step=1, topic="readback measurer")
        until(lambda: voice.saying and voice._loudspeaker.player.last_sound)
        voice.drop("readback measurer")
        assert voice.wait(1)
        assert told == [("read back", "cut")]


def test_a_warning_is_not_cut_by_what_comes_after_it():
    with open_voice(process=Steady(), backends=NULL) as voice:
        told = []
        voice.say("one ear is lost", kind="warning", step=1, on_said=lambda how, when: told.append(how))
        until(lambda: voice.saying and voice._loudspeaker.player.last_sound)
        voice.say("say again", kind="answer", step=2, urgent=True)
        assert voice.wait(10)
        assert told[-1] == "through"


def test_how_the_voice_is_wanted_is_kept(tmp_path):
    path = tmp_path / "settings" / "voice.json"
    assert load_habits(path) == Habits()
    wanted = Habits(tones=("warning",)).paced(-2).louder(1)
    keep_habits(path, wanted)
    assert load_habits(path) == wanted
    for broken in ("", "[]", '{"pace": "fast"}', '{"pace": 90}', '{"tones": 5}'):
        path.write_text(broken)
        assert load_habits(path) == Habits()


def test_a_tone_goes_before_a_readback_and_can_be_switched_off():
    """Lengths in samples; the words themselves are the same."""
    lengths = {}
    for tones in (TONES, ()):
        with open_voice(process=Steady(), play=False, habits=Habits(tones=tones)) as voice:
            for kind in ("readback", "information", "warning"):
                lengths[kind, bool(tones)] = len(voice._render(Sentence("copy", kind)).samples)
            lengths["answer", bool(tones)] = len(voice._render(Sentence("say again.", "answer")).samples)
    for kind, name in (("readback", "readback"), ("warning", "warning"), ("answer", "not-heard")):
        assert lengths[kind, True] - lengths[kind, False] == len(tone(name))
    assert lengths["information", True] == lengths["information", False]
    assert len({tone(name).tobytes() for name in TONES}) == 3
    assert max(len(tone(name)) for name in TONES) < 0.5 * RATE


def test_slower_and_louder_count_from_the_next_sentence(tmp_path):
    with open_voice(folder=tmp_path, play=False) as voice:
        first = voice.render("eleven feet sixty")
        assert voice.pace(-1) == pytest.approx(1 / 1.15, abs=0.001)
        slow = voice.render("eleven feet sixty")
        assert 1.05 < slow.seconds / first.seconds < 1.35
        assert voice.pace(1) == pytest.approx(1.0, abs=0.001)
        assert voice.loudness(-2) == -6.0
        soft = voice.render("eleven feet sixty")
        ratio = np.abs(soft.samples.astype(float)).max() / np.abs(first.samples.astype(float)).max()
        assert 20 * np.log10(ratio) == pytest.approx(-6.0, abs=0.1)
        for _ in range(30):
            voice.loudness(1)
        loud = voice.render("eleven feet sixty")
        assert np.abs(loud.samples.astype(int)).max() <= 32767
        assert voice.habits.decibels == 12.0
