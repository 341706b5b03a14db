"""The voice with its real engine: every utterance becomes sound, whatever dies on the way."""

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
import wave

import miniaudio
import numpy as np
import pytest

from callout.errors import BadInput, CalloutError
from callout.speaking import NotSpeakable, SpeechProcess, open_process, open_voice
from callout.speaking.player import Player, _Played, open_player, to_ear_rate
from callout.speaking.render import RATE, render

NULL = [miniaudio.Backend.NULL]
READBACK = "one one feet, eleven feet; six zero degrees, sixty"


@pytest.fixture(scope="module")
def process():
    process = SpeechProcess()
    yield process
    process.close()


def seconds_of(path):
    with wave.open(str(path)) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, RATE)
        return sound.getnframes() / RATE


def test_a_readback_becomes_a_wav_file_with_sound_in_it(tmp_path, process):
    with open_voice(folder=tmp_path, play=False, process=process) as voice:
        sound = voice.render(READBACK)
    assert sound.path == tmp_path / "0001-one-one-feet-eleven-feet-six.wav"
    assert seconds_of(sound.path) == pytest.approx(sound.seconds)
    assert 4 < sound.seconds < 10
    loud = np.abs(sound.samples.astype(int)) > 500
    assert 0.2 < loud.mean() < 0.9


def test_pyttsx3_speaks_and_ends_at_the_rate_it_was_asked_for(process):
    """Asked at two rates in turn, it must not answer at the one before (pyttsx3 does so when it is hurried)."""
    process = SpeechProcess(order=("pyttsx3",))
    straight = SpeechProcess(order=("direct",))
    try:
        for turn in range(24):
            words, rate = ("eleven feet six", "is short of")[turn % 2], (90, 130, 110)[turn % 3]
            lengths = []
            for source in (process, straight):
                sound = np.abs(np.frombuffer(source._ask(words, rate), "<i2").astype(int)) > 150
                lengths.append(np.ptp(np.flatnonzero(sound)))
            assert lengths[0] == pytest.approx(lengths[1], rel=0.05), (words, rate)
        assert process.engine == "pyttsx3"
        assert process.restarts == 0
    finally:
        process.close()
        straight.close()


def test_a_killed_speech_process_is_started_again(process):
    process.samples("before", 130)
    os.kill(process._process._child.pid, signal.SIGKILL)
    time.sleep(0.1)
    assert len(process.samples("after the crash", 130)) > RATE
    assert process.restarts == 1
    assert process.engine == "pyttsx3"


def test_a_hanging_engine_is_given_up_and_the_other_one_speaks():
    hang = "import sys, time; sys.stdout.write('{\"ready\": true}\\n'); sys.stdout.flush(); time.sleep(60)"

    def command(engine):
        return [sys.executable, "-c", hang] if engine == "pyttsx3" else [
            sys.executable, "-m", "callout.speaking.worker", engine,
        ]  # fmt: skip

    process = SpeechProcess(timeout=0.3, command=command)
    process_is_patient = SpeechProcess(order=("direct",))
    try:
        began = time.monotonic()
        assert process.samples("stand by", 130) == process_is_patient.samples("stand by", 130)
        assert time.monotonic() - began < 10
        assert (process.restarts, process.engine) == (2, "direct")
        process.samples("go ahead", 130)
        assert process.restarts == 2, "the one that hung is not tried again"
        os.kill(process._process._child.pid, signal.SIGKILL)
        process.samples("over", 130)
        assert (process.restarts, process.engine) == (3, "direct")
    finally:
        process.close()
        process_is_patient.close()


def test_a_process_that_never_gets_ready_is_ended(monkeypatch):
    monkeypatch.setattr("callout.speaking.process.START_SECONDS", 0.3)
    started = []
    popen = subprocess.Popen
    monkeypatch.setattr(subprocess, "Popen", lambda *a, **k: started.append(popen(*a, **k)) or started[-1])
    process = SpeechProcess(command=lambda engine: [sys.executable, "-c", "import time; time.sleep(60)"])
    with pytest.raises(CalloutError, match="silent for"):
        process.samples("hello", 130)
    assert len(started) == 4
    assert all(child.returncode is not None for child in started)


def test_no_engine_at_all_is_one_line():
    process = SpeechProcess(command=lambda engine: [sys.executable, "-c", "raise SystemExit(3)"])
    with pytest.raises(CalloutError, match="callout check") as told:
        process.samples("hello", 130)
    assert "\n" not in str(told.value)
    process.close()


def test_the_worker_ends_with_its_input_and_leaves_nothing_behind(tmp_path):
    child = subprocess.run(
        [sys.executable, "-m", "callout.speaking.worker", "pyttsx3"], input=b'{"text": "copy", "rate": 130}\n',
        capture_output=True, env={**os.environ, "TMPDIR": str(tmp_path)}, timeout=30,
    )  # fmt: skip
    assert child.returncode == 0
    ready, answer, _ = child.stdout.split(b"\n", 2)
    assert ready == b'{"ready": true}'
    assert b'"samples"' in answer
    assert list(tmp_path.iterdir()) == []


def test_without_a_sound_card_every_utterance_is_a_file_whose_name_is_returned(tmp_path, process, monkeypatch):
    monkeypatch.setattr("callout.speaking.opening.open_player", lambda *_: (None, "no sound card was found"))
    voice = open_voice(process=process)
    try:
        assert voice.silent == "no sound card was found"
        began = time.monotonic()
        paths = [voice.say(words) for words in ("copy", READBACK, "stand by")]
        assert time.monotonic() - began < 0.5, "say does not wait"
        assert voice.speaking
        assert voice.wait(20)
        assert [path.name[:4] for path in paths] == ["0001", "0002", "0003"]
        assert all(seconds_of(path) > 0.3 for path in paths)
    finally:
        for path in paths:
            path.unlink(missing_ok=True)
        voice.folder.rmdir()
        voice.close()


def test_a_long_day_without_a_sound_card_does_not_fill_the_disk(process, monkeypatch):
    monkeypatch.setattr("callout.speaking.voice_files.KEPT_FILES", 3)
    with open_voice(play=False, process=Steady()) as voice:
        paths = [voice.say(words) for words in ("one", "two", "three", "four", "five")]
        assert voice.wait(20)
        assert [path.exists() for path in paths] == [False, False, True, True, True]
        shutil.rmtree(voice.folder)


def test_symbols_are_refused_at_once(tmp_path, process):
    voice = open_voice(folder=tmp_path, play=False, process=process)
    for speak in (voice.say, voice.render):
        with pytest.raises(NotSpeakable):
            speak("11 ft 6 in")
    assert not voice.speaking
    assert list(tmp_path.iterdir()) == []


class Steady:
    """A tone of 2 s for whatever is asked; no engine needed."""

    restarts = 0

    def samples(self, text, rate):
        return np.full(RATE * 2, 9000, "<i2").tobytes()

    def close(self):
        pass


def test_stop_is_silent_within_50_ms_and_forgets_what_waited():
    voice = open_voice(backends=NULL, process=Steady())
    assert voice.silent == ""
    voice.say("first")
    voice.say("second")
    time.sleep(0.4)
    assert voice._loudspeaker.player.last_sound > time.monotonic() - 0.2, "it is playing"
    began = time.monotonic()
    voice.stop()
    assert voice.wait(1)
    time.sleep(0.2)
    assert voice._loudspeaker.player.last_sound - began < 0.05
    assert voice.say("third", wait=True) is None
    assert voice._loudspeaker.player.last_sound - began > 1.5, "it speaks again after a stop"
    voice.close()


def test_a_stop_that_comes_before_the_first_sample_is_not_lost():
    player, why = open_player(backends=NULL)
    assert why == ""
    began = time.monotonic()
    assert player.play(np.full(RATE * 2, 9000, np.int16), lambda: True) is False
    assert time.monotonic() - began < 0.5
    assert player.last_sound == 0
    player.close()


def test_playing_takes_as_long_as_the_sound():
    player, _ = open_player(backends=NULL)
    began = time.monotonic()
    assert player.play(np.full(RATE // 2, 9000, np.int16))
    assert 0.45 < time.monotonic() - began < 1.0
    player.close()


def test_whoever_asks_is_told_when_the_words_were_really_over():
    ends = []
    with open_voice(process=Steady(), backends=NULL) as voice:
        began = time.monotonic()
        voice.say("copy", on_said=lambda how, when: ends.append(when))
        voice.say("over", on_said=lambda how, when: ends.append(when))
        assert voice.wait(10)
        assert len(ends) == 2
        assert 1.9 < ends[0] - began < 3
        assert 1.9 < ends[1] - ends[0] < 3


def test_words_that_are_silenced_or_fail_are_over_too():
    ends, told = [], []
    with open_voice(process=Steady(), backends=NULL, on_trouble=told.append) as voice:
        began = time.monotonic()
        for text in ("one", "two", "three"):
            voice.say(text, on_said=lambda how, when: ends.append((how, when)))
        time.sleep(0.3)
        voice.stop()
        assert voice.wait(3)
    assert [how for how, _ in ends] == ["cut"] * 3
    assert max(when for _, when in ends) - began < 1.5

    class Broken:
        def samples(self, text, rate):
            raise ValueError("odd number of bytes")

    with open_voice(process=Broken(), backends=NULL, on_trouble=told.append) as voice:
        voice.say("one", on_said=lambda how, when: ends.append((how, when)))
        voice.say("two", on_said=lambda how, when: ends.append((how, when)))
        assert voice.wait(3)
    assert [how for how, _ in ends[3:]] == ["failed", "failed"]
    assert [line.count("odd number of bytes") for line in told] == [1, 1]


def test_a_file_whose_name_was_told_is_written_even_after_a_stop(tmp_path):
    with open_voice(folder=tmp_path, play=False, process=Steady()) as voice:
        paths = [voice.say(words) for words in ("one", "two", "three")]
        voice.stop()
        assert voice.wait(5)
        assert all(path.exists() for path in paths)


def test_the_lead_tone_goes_before_the_words(tmp_path):
    with (
        open_voice(folder=tmp_path, play=False, process=Steady()) as plain,
        open_voice(folder=tmp_path, play=False, process=Steady(), vox_lead=0.5) as radio,
    ):
        assert radio.render("copy").seconds - plain.render("copy").seconds == pytest.approx(0.5, abs=0.001)


def test_what_fails_after_say_is_told_in_one_line(tmp_path):
    told = []
    with open_voice(folder=tmp_path / "gone", play=False, process=Steady(), on_trouble=told.append) as voice:
        (tmp_path / "gone").rmdir()
        voice.say("copy")
        assert voice.wait(5)
        assert len(told) == 1
        assert told[0].startswith("not spoken: 'copy'")


def test_a_sound_card_that_is_pulled_out_makes_files_of_the_rest():
    told = []
    voice = open_voice(backends=NULL, process=Steady(), on_trouble=told.append)

    def gone(*_):
        raise miniaudio.MiniaudioError("failed to start audio device")

    voice._loudspeaker.player.play = gone
    voice._loudspeaker._opener = lambda: (None, "no sound card was found")
    try:
        assert voice.say("copy") is None
        assert voice.wait(5)
        assert len(told) == 1
        assert "the sound card stopped working: the voice goes to WAV files" in told[0]
        second = voice.say("stand by", wait=True)
        assert [path.name for path in sorted(voice.folder.iterdir())] == ["0001-copy.wav", second.name]
    finally:
        shutil.rmtree(voice.folder)
        voice.close()


def test_a_folder_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(BadInput, match="name another folder"):
        open_voice(folder=tmp_path / "file", play=False, process=Steady())


def test_an_unknown_output_is_refused_with_the_names_of_those_there_are():
    with pytest.raises(BadInput, match="no sound output is called 'moon base'"):
        open_voice(device="moon base", backends=NULL, process=Steady())


def test_the_audio_library_s_null_device_does_not_pass_for_a_sound_card(monkeypatch):
    class Pretender:
        backend = "Null"

        def __init__(self, **_):
            pass

        def close(self):
            pass

    monkeypatch.setattr(miniaudio, "PlaybackDevice", Pretender)
    assert open_player() == (None, "no sound system was found")


def test_two_voices_may_share_one_process_from_two_threads(tmp_path, process):
    results = {}

    def speak(name, text):
        with open_voice(folder=tmp_path / name, play=False, process=process) as voice:
            results[name] = [voice.render(text).seconds for _ in range(3)]

    threads = [threading.Thread(target=speak, args=pair) for pair in (("yard", "two struts"), ("radio", READBACK))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert len(set(results["yard"])) == len(set(results["radio"])) == 1
    assert results["radio"][0] > results["yard"][0]


def test_render_is_the_same_every_time(process):
    assert np.array_equal(render("copy that", process).samples, render("copy that", process).samples)


def test_player_is_what_open_player_gives():
    player, _ = open_player(backends=NULL)
    assert isinstance(player, Player)
    player.close()


def test_the_second_voice_speaks_at_the_pace_it_is_asked_for_and_another_speaks_where_it_fails(monkeypatch):
    pytest.importorskip("hibari")
    monkeypatch.setattr("callout.speaking.process.START_SECONDS", 60.0)  # on a busy machine no other must step in
    process = open_process("heart")
    process._timeout = 60.0
    try:
        slow, quick = (len(process._ask("eleven feet six inches", rate)) / RATE for rate in (100, 200))
        assert process.engine == "heart"
        assert 1.4 < slow / quick < 2.4
        process._order = ("nothing of the kind", *process._order)
        process._drop()
        process._at = 0
        assert len(process.samples("stand by", 130)) > RATE // 2
    finally:
        process.close()


def test_a_voice_that_is_not_installed_is_refused_in_one_line(monkeypatch):
    monkeypatch.setattr("callout.speaking.engines.heart_is_installed", lambda: False)
    with pytest.raises(BadInput, match=r"callout\[heart\]"):
        open_process("heart")


@pytest.mark.slow
def test_four_hundred_utterances_on_a_busy_machine():
    """pyttsx3 alone loses some of them here: files without frames, and rates that arrive one utterance late."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(4)]
    process = SpeechProcess(order=("pyttsx3",))
    lengths = {}
    try:
        for turn in range(400):
            words, rate = ("eleven feet six inches", "is short of two", "copy that")[turn % 3], (80, 130)[turn % 2]
            lengths.setdefault((words, rate), set()).add(len(process._ask(words, rate)) // (RATE // 5))
    finally:
        process.close()
        for each in busy:
            each.kill()
            each.wait()
    assert process.restarts == 0
    assert all(len(of_one) == 1 for of_one in lengths.values()), lengths
    assert len(lengths) == 6


def test_looking_for_its_own_sound_costs_the_same_after_an_hour_of_talk(monkeypatch):
    """The ears ask fifty times a second what is being played: only the last pieces are looked at."""
    player, pieces, looked = Player(None), [], []
    for number in range(300):
        piece = _Played(np.full(RATE // 10, 1000 + number, np.int16), None)
        piece.start, piece.end = number * RATE // 10, (number + 1) * RATE // 10
        pieces.append(piece)
    player._history, player._count = tuple(pieces), 30 * RATE
    made = to_ear_rate
    monkeypatch.setattr("callout.speaking.player.to_ear_rate", lambda samples: (looked.append(1), made(samples))[1])
    found = player.heard(29.85, 320)
    assert found is not None
    assert float(np.median(found)) == pytest.approx(1298 / 32768, rel=0.02)
    assert len(looked) <= 3
    assert player.heard(31.0, 320) is None
    first = player.heard(0.02, 320)
    assert first is not None, "and all of it is remembered"
    assert float(np.median(first)) == pytest.approx(1000 / 32768, rel=0.02)
