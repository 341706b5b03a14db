"""`callout check --practice`: a person's first callout, typed, by a recording, and with a sound card of software."""

import contextlib
import json
import queue
import subprocess
import sys
import threading

import numpy as np
import pytest
from click.testing import CliRunner

from callout.cli.check import check
from callout.errors import BadInput
from callout.files import data_folder
from callout.hearing.audio import RATE, read_audio
from callout.hearing.ears import Ears
from callout.language.outcome import Understood, resolution_json
from callout.schemas import schema_of
from callout.session.first_try import WORDS, speech_level, tried, typed
from tests.how_much import one_in
from tests.sound_card import needs_sound_card, sound_card, wait_for

DEMO = data_folder("audio_fixtures") / "demo"


@pytest.mark.parametrize(
    ("line", "outcome", "as_wanted", "advice"),
    [
        (WORDS, "understood", True, "read back"),
        ("angle sixty insertion eleven feet", "understood", True, "read back"),  # in another order: the same callout
        ("insertion seven feet sixty", "understood", False, "taken for something else"),
        ("affirm", "understood", False, "taken for something else"),
        ("what a day", "not_understood", False, "say it again"),
    ],
)
def test_a_typed_callout_is_told_what_becomes_of_it(line, outcome, as_wanted, advice):
    result = typed(line)
    assert (result.outcome, result.as_wanted) == (outcome, as_wanted)
    assert advice in result.advice
    assert ("eleven feet" in result.readback) == as_wanted


def test_typed_by_the_command():
    given = CliRunner().invoke(check, ["--practice", "--typed"], input=f"{WORDS}\n", standalone_mode=False)
    assert given.return_value == 0
    assert "read back" in given.output
    assert "first ear" not in given.output
    wrong = CliRunner().invoke(check, ["--practice", "--typed"], input="affirm\n", standalone_mode=False)
    assert wrong.return_value == 1


@pytest.mark.parametrize(
    "options",
    [
        ["--practice", "--radio"], ["--typed"], ["--from", "x.wav"], ["--practice", "--typed", "--from", "x.wav"],
        ["--practice", "--typed", "--out", "spk"], ["--radio-out", "x"], ["--practice", "--typed", "--radio-in", "x"],
        ["--practice", "--from", "missing.wav"], ["--practice", "--typed"],
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_told(options):
    given = CliRunner().invoke(check, options, input="\n", standalone_mode=False)
    assert isinstance(given.exception, BadInput), given.output


@pytest.mark.audio
def test_by_a_recording_it_is_told_what_each_ear_heard():
    given = CliRunner().invoke(
        check, ["--practice", "--json", "--from", str(DEMO / "whole_clean.flac")], standalone_mode=False
    )
    assert given.return_value == 0
    told = json.loads(given.output.splitlines()[-1])
    assert told["first_ear"] == told["second_ear"] == told["third_opinion"] == WORDS
    assert told["as_wanted"]
    assert told["level"]["good"]
    assert set(told) == set(schema_of("first_try")["properties"])


@pytest.mark.audio
@pytest.mark.parametrize("name", one_in(3, ["whole_clean.flac", "half_inch_radio.flac", "chatter_radio.flac"]))
def test_an_utterance_is_heard_once_and_comes_to_the_same(name, monkeypatch):
    heard, listen = [], Ears.evidence
    with contextlib.closing(Ears()) as ears:
        sound = read_audio(DEMO / name)
        wanted = ears.hear(sound)
        monkeypatch.setattr(Ears, "evidence", lambda *of: heard.append(of) or listen(*of))
        result = tried(sound, ears)
    assert len(heard) == 1
    told = resolution_json(wanted.resolution)
    assert (result.outcome, result.reasons) == (told["outcome"], list(told["reasons"]))
    assert bool(result.readback) == isinstance(wanted.resolution, Understood)


AT = np.arange(5 * RATE) / RATE
SYLLABLES = np.sin(2 * np.pi * 180 * AT) * (np.sin(2 * np.pi * 2 * AT) > 0)  # sound for a quarter of a second, and not
NOISE = np.random.default_rng(3).standard_normal(len(AT))


@pytest.mark.parametrize(
    ("speech_db", "noise_db", "begins"),
    [
        (-20, -70, "good"), (-55, -90, "too soft"), (-20, -30, "the place is nearly"), (+6, -60, "too loud"),
        (-200, -90, "nothing comes in"),
    ],
)  # fmt: skip
def test_the_level_of_speech_and_what_to_turn(speech_db, noise_db, begins):
    """Levels of a sine and of noise whose power is known (full scale is a square wave of 1)."""
    sound = 10 ** (speech_db / 20) * 2**0.5 * SYLLABLES + 10 ** (noise_db / 20) * NOISE
    level = speech_level(np.clip(sound, -1, 1).astype(np.float32))
    assert level.advice.startswith(begins), level
    assert level.good == (begins == "good")
    if -100 < speech_db < 0:
        assert level.speech_db == pytest.approx(speech_db, abs=1.0)
        assert level.place_db == pytest.approx(noise_db, abs=1.5)


@needs_sound_card
@pytest.mark.audio
@pytest.mark.slow
def test_with_a_microphone_a_person_is_walked_through():
    """Somebody who speaks when told to: at the bar, and after "call now"."""
    radio = ["--radio-out", "out", "--radio-in", "line"]
    with sound_card() as card:
        card.leak(0.9, source="out", into="line")
        run = subprocess.Popen(
            [sys.executable, "-m", "callout", "check", "--practice", "--json", *radio],
            env=card.environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        notes: queue.SimpleQueue[str] = queue.SimpleQueue()
        seen: list[str] = []

        def read():
            for line in run.stderr:
                seen.append(line)
                notes.put(line)

        threading.Thread(target=read, daemon=True).start()
        speaker = card.record("spk")
        try:
            wait_for(lambda: any("3 of 4" in line for line in seen), 60)
            assert len(speaker.loud()) > 20, "the loudspeaker said nothing"
            card.say("whole_clean.flac")
            for turn in range(3):
                wait_for(lambda turn=turn: sum("4 of 4" in line for line in seen) > turn or run.poll() is not None, 60)
                if run.poll() is not None:
                    break
                speaker.quiet_for(0.8)
                card.say("whole_clean.flac")
                try:
                    run.wait(12)
                    break
                except subprocess.TimeoutExpired:
                    continue
            out, _ = run.communicate(timeout=60)
        finally:
            run.kill()
    told = json.loads(out)
    assert any("2 of 4: the radio" in line for line in seen), "".join(seen)
    assert -30 < told["radio"]["tone_db"] < -6  # the tone went out and came in, with gaps where the machine is busy
    assert run.returncode == (0 if told["radio"]["good"] else 1), "".join(seen)
    assert told["as_wanted"], "".join(seen)
    # tries before the last are for the eye
    assert told["first_ear"] == WORDS
    assert any("dB" in line and "#" in line for line in seen), "no bar"
    assert any("you come in at" in line and "good" in line for line in seen), "".join(seen)


def test_the_bar_shows_a_level_each_tenth_of_a_second():
    from callout.hearing.sources import MemorySource, recorded

    shown: list[float] = []
    sound = 0.5 * np.ones(RATE, np.float32)
    taken = recorded(MemorySource(sound), 0.5, shown.append)
    assert len(taken) == RATE // 2
    assert len(shown) == 5
    assert shown[0] == pytest.approx(-6.02, abs=0.01)  # half of full scale
