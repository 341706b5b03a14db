"""Where sound comes from, on a machine that has no microphone: miniaudio's null backend and a hand-made device."""

import functools
import threading
import time

import miniaudio
import numpy as np
import pytest

from callout.errors import CalloutError
from callout.hearing.live import utterances
from callout.hearing.recognizer import Heard
from callout.hearing.sources import FileSource, MemorySource, Microphone
from callout.language.outcome import Nothing


def test_no_sound_system_is_said_and_not_taken_for_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    null = functools.partial(miniaudio.CaptureDevice, backends=[miniaudio.Backend.NULL])
    monkeypatch.setattr(miniaudio, "CaptureDevice", null)
    with pytest.raises(CalloutError, match="apt-get install"):
        Microphone()


def test_a_device_that_is_not_there_is_named() -> None:
    with pytest.raises(CalloutError, match="no sound input"):
        Microphone("no such device in any yard")


class HandMade:
    """Gives a ramp in blocks of 20 ms, as the sound library's own thread would."""

    backend = "ALSA"

    def __init__(self, **_: object) -> None:
        self.open = True

    def start(self, taker) -> None:
        def run() -> None:
            for n in range(10):
                taker.send((np.arange(320) + 320 * n).astype("<i2").tobytes())
                time.sleep(0.001)

        threading.Thread(target=run, daemon=True).start()

    def close(self) -> None:
        self.open = False


def test_a_microphones_blocks_are_floats_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(miniaudio, "CaptureDevice", HandMade)
    microphone = Microphone()
    blocks = microphone.blocks()
    heard = np.concatenate([next(blocks) for _ in range(10)])
    assert heard.dtype == np.float32
    assert np.array_equal(np.round(heard * 32768).astype(int), np.arange(3200))
    microphone.close()
    assert list(blocks) == []


def test_what_was_recorded_while_nobody_listened_can_be_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(miniaudio, "CaptureDevice", HandMade)
    microphone = Microphone()
    time.sleep(0.2)
    microphone.skip()
    microphone.close()
    assert list(microphone.blocks()) == []


class Scripted:
    """An ear that only counts; it cannot listen while it is being said."""

    name = "scripted"

    def __init__(self) -> None:
        self.lengths: list[int] = []

    def hear(self, samples, context):
        self.lengths.append(len(samples))
        return Heard(Nothing(), (), None, 0.0, self.name)

    def close(self) -> None: ...


def test_an_ear_that_cannot_stream_is_given_each_utterance_whole() -> None:
    rng = np.random.default_rng(0)
    word = rng.normal(0, 0.1, 16000).astype(np.float32)
    quiet = rng.normal(0, 1e-4, 32000).astype(np.float32)
    ear = Scripted()
    found = list(utterances(MemorySource(np.concatenate([quiet, word, quiet, word, quiet])), ear, lambda: None))
    assert len(found) == 2
    assert ear.lengths == [len(segment.samples) for segment in found]
    assert found[0].start == pytest.approx(1.5, abs=0.15)


def test_a_key_cuts_where_it_is_pressed_and_released() -> None:
    sound = np.random.default_rng(0).normal(0, 0.1, 5 * 16000).astype(np.float32)
    steps = iter(range(1000))
    ear = Scripted()
    found = list(utterances(MemorySource(sound), ear, lambda: None, key=lambda: 100 <= next(steps) < 200))
    assert [segment.ending for segment in found] == ["key"]
    assert found[0].end - found[0].start == pytest.approx(2.0 + 0.5, abs=0.15)


def test_a_file_at_the_pace_of_the_clock(tmp_path) -> None:
    import soundfile

    soundfile.write(tmp_path / "half.wav", np.zeros(8000), 16000)
    began = time.monotonic()
    assert sum(map(len, FileSource(tmp_path / "half.wav", real_time=True).blocks())) == 8000
    assert time.monotonic() - began > 0.45
