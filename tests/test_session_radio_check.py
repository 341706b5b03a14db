"""What comes in of a tone, and what to turn: computed levels, and a sound card made of software."""

import json
import subprocess
import sys
import time

import numpy as np
import pytest

from callout.hearing.audio import RATE
from callout.session import radio_check
from callout.session.radio_check import HERTZ, measure
from tests.sound_card import needs_sound_card, sound_card

AT = np.arange(RATE) / RATE
RNG = np.random.default_rng(5)


@pytest.mark.parametrize(
    ("peak_db", "noise_db", "begins"),
    [
        (-12, -60, "good: leave"), (-12, -26, "good, though"), (-45, -80, "it comes in softly"),
        (-1, -60, "it comes in too loud"), (-70, -40, "the tone does not come in"), (-30, -35, "the tone does not"),
        (-200, -200, "nothing at all"),
    ],
)  # fmt: skip
def test_the_level_is_measured_and_the_advice_follows(peak_db, noise_db, begins):
    """The levels are those of a sine of known peak and of noise of known power: dB full scale as in AES17."""
    quiet = (10 ** (noise_db / 20) / 2**0.5 * RNG.standard_normal(RATE)).astype(np.float32)
    tone = (10 ** (peak_db / 20) * np.sin(2 * np.pi * HERTZ * AT)).astype(np.float32)
    level = measure(quiet, tone)
    assert level.advice.startswith(begins), level
    if peak_db > -100:
        assert level.tone == pytest.approx(peak_db, abs=0.5)
        assert level.noise == pytest.approx(noise_db, abs=1.0)


def test_a_cut_tone_is_too_loud():
    cut = np.clip(1.6 * np.sin(2 * np.pi * HERTZ * AT), -1, 1).astype(np.float32)
    assert "too loud" in measure(np.zeros(RATE, np.float32), cut).advice


class SlowToStart:
    """A loudspeaker and a microphone beside it, of a sound system that needs its time before any sound comes in."""

    def __init__(self, seconds):
        self.seconds, self.plays = seconds, False

    def play(self, samples):
        self.plays = True

    def skip(self):
        pass

    def blocks(self):
        time.sleep(self.seconds)
        self.seconds = 0.0
        for at in range(0, 100 * RATE, RATE // 10):
            loud = 0.25 if self.plays else 0.0
            yield (loud * np.sin(2 * np.pi * HERTZ * (at + np.arange(RATE // 10)) / RATE)).astype(np.float32)

    def close(self):
        pass


@pytest.mark.parametrize("seconds", [0.0, 1.3])
def test_what_comes_in_before_the_tone_is_the_channel_alone_however_late_that_is(seconds, monkeypatch):
    yard = SlowToStart(seconds)
    monkeypatch.setattr(radio_check, "open_player", lambda name: (yard, ""))
    monkeypatch.setattr(radio_check, "Microphone", lambda name: yard)
    level = radio_check.try_radio()
    assert level.noise < -100
    assert level.advice == "good: leave all as it is", level


def tried(card):
    done = subprocess.run(
        [sys.executable, "-m", "callout", "check", "--radio", "--json", "--out", "spk", "--in", "mic"],
        env=card.environment, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    told = json.loads(done.stdout)
    assert done.returncode == (0 if told["good"] else 1)
    return told


@needs_sound_card
def test_a_loudspeaker_that_is_heard_in_the_microphone_is_good_and_one_that_is_not_is_told():
    """On a machine that is busy the tone may have gaps; people try again, too."""
    with sound_card() as card:
        assert not tried(card)["good"]
        card.leak(0.9)
        told = next((told for told in (tried(card) for _ in range(3)) if told["good"]), None)
        assert told is not None
        assert -24 < told["tone_db"] < -6
