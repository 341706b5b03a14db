"""A dead ear is told, started again, and told when it is back: with the real processes, killed."""

import os
import signal
import time
from pathlib import Path

import pytest

from callout.dialogue.events import Fault, Opened
from callout.dialogue.machine import start, step
from callout.dialogue.settings import load_settings
from callout.hearing.remote import EarsProcess
from callout.language.context import Context
from callout.session.live_ears import ALOUD, WRITTEN, EarWatch
from callout.speaking.pacing import check_words
from tests.dialogue_kit import FakePlanner, make_stock
from tests.sound_card import recording


@pytest.fixture(scope="module")
def ears():
    ears = EarsProcess()
    ears.ready()
    yield ears
    ears.close()


def vosk_of(ears):
    """The Vosk process, a child of the ears' process."""
    with open(f"/proc/{ears.helper.pid}/task/{ears.helper.pid}/children", encoding="ascii") as children:
        return [int(pid) for pid in children.read().split()]


@pytest.mark.audio
def test_a_killed_second_ear_is_told_and_told_when_it_is_back(ears):
    told = []
    watch = EarWatch(ears, told.append)
    affirm = recording("affirm_clean.flac")
    watch.after(ears.hear(affirm, Context(state="confirm")))
    assert told == []
    ears.begin(Context(state="confirm"))
    ears.feed(affirm[:8000])
    ears.glance()
    for pid in vosk_of(ears):
        os.kill(pid, signal.SIGKILL)
    time.sleep(0.2)
    ears.feed(affirm[8000:])
    heard = ears.finish()
    assert heard.deaf
    watch.after(heard)
    assert told == ["ear_lost", "ears_back"]
    again = ears.hear(affirm, Context(state="confirm"))
    assert not again.deaf
    assert again.resolution.outcome == "understood"
    watch.after(again)
    assert told == ["ear_lost", "ears_back"]


@pytest.mark.audio
def test_a_second_ear_that_hangs_is_told_and_takes_nobody_with_it(ears):
    """Its pipe is filled with six seconds of sound; the ears' process lives, answers, and starts it again."""
    told = []
    watch = EarWatch(ears, told.append)
    affirm = recording("affirm_clean.flac")
    watch.after(ears.hear(affirm, Context(state="confirm")))
    told.clear()
    restarts = ears.helper.restarts
    ears.begin(Context(state="confirm"))
    (hung,) = (pid for pid in vosk_of(ears) if b"vosk_worker" in Path(f"/proc/{pid}/cmdline").read_bytes())
    os.kill(hung, signal.SIGSTOP)
    for _ in range(6):
        ears.feed(affirm[:16000] * 0)
    ears.feed(affirm)
    heard = ears.finish()
    watch.after(heard)
    assert (heard.deaf, ears.helper.restarts) == (True, restarts)
    assert told == ["ear_lost", "ears_back"]
    assert ears.hear(affirm, Context(state="confirm")).resolution.outcome == "understood"


@pytest.mark.audio
def test_a_second_ear_that_ended_between_two_utterances_is_written_and_nothing_is_lost(ears):
    told = []
    watch = EarWatch(ears, told.append)
    affirm = recording("affirm_clean.flac")
    watch.after(ears.hear(affirm, Context(state="confirm")))
    told.clear()
    for pid in vosk_of(ears):
        os.kill(pid, signal.SIGKILL)
    time.sleep(0.2)
    heard = ears.hear(affirm, Context(state="confirm"))
    watch.after(heard)
    assert (heard.deaf, heard.resolution.outcome, told) == (False, "understood", ["ear_again"])
    watch.after(ears.hear(affirm, Context(state="confirm")))
    assert told == ["ear_again"]


@pytest.mark.audio
def test_killed_ears_are_told_before_anybody_speaks_to_them(ears):
    told = []
    watch = EarWatch(ears, told.append)
    os.kill(ears.helper.pid, signal.SIGKILL)
    time.sleep(0.2)
    began = time.monotonic()
    while len(told) < 2 and time.monotonic() - began < 30:
        watch.look()
        time.sleep(0.05)
    assert told == ["ears_lost", "ears_back"]


@pytest.mark.parametrize("what", ALOUD)
def test_a_lost_ear_is_written_as_an_error_and_said_as_a_warning(what):
    now, _ = step(start(make_stock(), FakePlanner(), load_settings()), Opened(0.0))
    _, effects = step(now, Fault(WRITTEN[what], 1.0, aloud=what))
    error, said, words = effects[:3]
    assert (error.event, error.text, said.text) == ("error", WRITTEN[what], words.text)
    assert (words.kind, words.to) == ("warning", "both")
    check_words(words.text)
