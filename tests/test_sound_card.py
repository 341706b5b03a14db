"""The live program by sound alone, with a sound card made of software: microphone, radio line, loudspeakers.

The people are recordings of `audio_fixtures`. Times are measured at the sinks, as a listener hears them.
"""

import json
import os
import pty
import signal
import subprocess
import threading
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from callout.files import data_folder
from tests.sound_card import PROGRAM, in_a_room, live, needs_sound_card, sound_card, wait_for

pytestmark = [needs_sound_card, pytest.mark.audio]

#: A quick voice, so that the tests are short; the last one is measured at the pace of the package.
QUICK = ("--pace", "250", "300")
#: What a machine that does other things beside may take longer.
PATIENT = 3.0
BALANCED = data_folder("audio_fixtures") / "balanced"


@pytest.fixture
def card():
    with sound_card() as card:
        yield card


def begin(card, tmp_path, *options, stdin=None):
    return live(card, "--journal", str(tmp_path / "day.journal"), *options, stdin=stdin)


def children_of(pid):
    """The processes that a process has started, and theirs."""
    found = []
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            found += [int(child), *children_of(int(child))]
    return found


def named(pid, word):
    return [child for child in children_of(pid) if word in Path(f"/proc/{child}/cmdline").read_bytes().decode()]


def test_a_callout_by_sound_alone_from_the_first_word_to_the_first_item_picked(card, tmp_path):
    """It is called while the voice still says that it is ready, as people do; nobody has to wait for a machine."""
    with begin(card, tmp_path, *QUICK) as program:
        program.wait("said", "callout ready")
        readback = program.call(card, "whole_clean.flac", "readback", "eleven feet")
        assert readback["text"].count("sixty") == 1
        speaker = card.record("spk")
        speaker.quiet_for(0.6)
        assert program.named("released") == []
        released = program.call(card, in_a_room("affirm_clean.flac"), "released")
        assert released["meaning"]["insertion"]["text"] == "11 ft"
        item = program.wait("said", "item one")
        wait_for(lambda: bool(speaker.loud(since=program.when(item))), 10, program.story)
        speaker.quiet_for(0.8)
        picked = program.call(card, in_a_room("ready_clean.flac"), "picked")
        assert picked["speaker"] in ("logistics", "measurer")
        program.wait("said", "item two")
        assert program.end() in (0, 130), program.story()


@pytest.mark.slow
@pytest.mark.timeout(900)  # it lasts as long as the talk does, and longer where the machine is busy
def test_a_whole_build_by_sound_alone_until_it_stands(card, tmp_path):
    with begin(card, tmp_path, *QUICK) as program:
        speaker = card.record("spk")
        program.wait("said", "callout ready")
        speaker.quiet_for(0.6)
        card.say("whole_clean.flac")
        program.wait("readback")
        speaker.quiet_for(0.6)
        card.say(in_a_room("affirm_clean.flac"))
        program.wait("released")
        for _ in range(70):
            speaker.quiet_for(0.7, 60)
            if program.named("placed"):
                break
            wants_yes = "affirm" in [e["text"] for e in program.events if e["speaker"] == "callout" and e["text"]][-1]
            before = len(program.events)
            card.say(in_a_room("affirm_insertion_clean.flac" if wants_yes else "next_clean.flac"))
            wait_for(lambda before=before: len(program.events) > before, 10 * PATIENT, program.story)
        assert program.named("placed"), program.story()
        lines = program.named("released")[0]["build"]["parts"]
        assert len(program.named("picked")) == len(lines)


@pytest.mark.slow
@pytest.mark.parametrize("level", [0.25, 0.5, 1.0])
def test_its_own_echo_is_never_taken_and_a_callout_over_it_is(card, tmp_path, level):
    """Said again by the person when that is not heard, as people do, at most three times."""
    card.leak(level)
    with begin(card, tmp_path, *QUICK) as program:
        program.wait("said", "callout ready")
        speaker = card.record("spk")
        speaker.quiet_for(1.0)
        program.call(card, "whole_clean.flac", "readback", "eleven feet")
        speaker.quiet_for(1.0)
        program.call(card, "affirm_insertion_clean.flac", "released")
        program.wait("said", "item one")
        said = [e["text"] for e in program.named("heard")]
        assert set(said) <= {"insertion eleven feet sixty", "affirm insertion"}, program.story()
        program.call(card, BALANCED / "c13_am_fenrir_clean.flac", "readback", "nineteen feet", times=5, seconds=4.0)


@pytest.mark.slow
def test_two_sources_and_radio_out_with_a_lead_tone(card, tmp_path):
    """The measurer is on the radio line and hears `out`; the yard hears the parts and not the readback."""
    radio, yard = card.record("out"), card.record("spk")
    options = ("--measurer", "mic:line", "--logistics", "mic:mic", "--radio-out", "out", "--vox-lead", "500ms")
    with begin(card, tmp_path, *QUICK, *options) as program:
        program.wait("said", "callout ready")
        radio.quiet_for(1.0)
        yard.quiet_for(1.0)
        since = time.monotonic()
        card.say("whole_radio.flac", into="line")
        program.wait("readback")
        wait_for(lambda: bool(radio.loud(since)), 5 * PATIENT, program.story)
        radio.quiet_for(1.0)
        assert yard.loud(since) == [], "the readback is the measurer's"
        tone = first_sound(radio, since, 0.4)
        assert dominant(tone) == pytest.approx(1000, abs=20)
        card.say(in_a_room("affirm_clean.flac"), into="line")
        program.wait("released")
        wait_for(lambda: bool(yard.loud(since)), 10 * PATIENT, program.story)
        card.say("affirm_sky_clean.flac", into="mic")  # nothing waits in the yard: it releases nothing
        yard.quiet_for(1.5, 60)
        assert len(program.named("released")) == 1
        assert program.named("heard")[0]["speaker"] == "measurer"


def first_sound(recorder, since, seconds):
    """The first stretch of sound after a time, as samples."""
    when = recorder.loud(since)[0]
    pieces = [piece for at, piece in list(recorder._pieces) if when <= at <= when + seconds]
    return np.concatenate(pieces)


def dominant(samples, rate=16000):
    return float(np.argmax(np.abs(np.fft.rfft(samples * np.hanning(len(samples))))) * rate / len(samples))


def prompts_of(process):
    """What a command asks on standard error, as it comes; a prompt ends without a line's end."""
    seen = bytearray()

    def read():
        while data := os.read(process.stderr.fileno(), 4096):
            seen.extend(data)

    threading.Thread(target=read, daemon=True).start()
    return seen


def asked(seen, text, times=1, seconds=60):
    wait_for(lambda: seen.count(text.encode()) >= times, seconds, lambda: seen.decode(errors="replace"))


def test_a_recording_by_key_down_and_key_up(card, tmp_path):
    """`callout record`: Enter, speak, Enter, keep. What was kept is what was said."""
    (tmp_path / "words.txt").write_text("insertion eleven feet sixty\n")
    run = subprocess.Popen(
        [*PROGRAM, "record", str(tmp_path / "voices"), "--speaker", "Kim", "--licence", "CC0-1.0", "--consent",
         "--mute", "--words", str(tmp_path / "words.txt"), "--json"],
        env=card.environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    try:
        seen = prompts_of(run)
        asked(seen, "speak ")
        run.stdin.write(b"\n")
        run.stdin.flush()
        asked(seen, "Enter when done")
        time.sleep(0.5)
        card.say("whole_clean.flac")
        time.sleep(0.5)
        run.stdin.write(b"\nk\n")
        run.stdin.close()
        kept = json.loads(run.stdout.readline())
        assert run.wait(30) == 0
    finally:
        run.kill()
    samples, rate = soundfile.read(tmp_path / "voices" / kept["file"])
    assert (kept["words"], kept["speaker"], rate) == ("insertion eleven feet sixty", "Kim", 16_000)
    said = np.abs(samples[np.abs(samples) > 0.02])
    assert 2.0 < len(samples) / rate < 15.0
    assert len(said) > 0.3 * rate, "it holds speech"
    lines = [json.loads(line) for line in (tmp_path / "voices" / "manifest.jsonl").read_text().splitlines()]
    assert [line["file"] for line in lines] == [kept["file"]]


@pytest.mark.slow
def test_a_drill_with_the_key_of_the_radio(card, tmp_path):
    """`callout drill --key`: Enter is the key going down and up; what was said is heard, and how the key was used."""
    run = subprocess.Popen(
        [*PROGRAM, "drill", "Kim", "--key", "--mute", "--task", "call", "--seed", "3", "--json"],
        env={**card.environment, "CALLOUT_DATA": str(tmp_path)}, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # fmt: skip
    try:
        seen = prompts_of(run)
        for turn, wait in ((1, 0.7), (2, 0.0)):  # the second time it is spoken as soon as the key is down
            asked(seen, "key down", turn)
            run.stdin.write(b"\n")
            run.stdin.flush()
            asked(seen, "key up", turn)
            time.sleep(wait)
            card.say("whole_clean.flac")
            time.sleep(0.5)
            run.stdin.write(b"\n")
            run.stdin.flush()
        told = [json.loads(run.stdout.readline()) for _ in range(2)]
    finally:
        run.kill()
    for task in told:
        assert "eleven feet" in json.dumps(task), task


@pytest.mark.slow
@pytest.mark.parametrize("level", [0.0, 0.5])
def test_a_stop_word_over_its_own_voice_silences_it(card, tmp_path, level):
    """As a listener hears it: a readback takes 7 s, and is over soon after the word. Said again when it is not heard,
    as people do. Where the echo is as loud as the person, one short word is not found in it: there Esc does."""
    voices = pytest.importorskip("audio_fixtures.voices")
    try:
        stop = voices.speak("hibari:heart", "stop")
    except voices.EngineMissing as missing:
        pytest.skip(str(missing))
    if level:
        card.leak(level)
    with begin(card, tmp_path) as program:
        program.wait("said", "callout ready")
        speaker = card.record("spk")
        for _ in range(4):
            speaker.quiet_for(1.0)
            since = time.monotonic()
            program.call(card, "whole_clean.flac", "readback", "eleven feet", times=4)
            wait_for(lambda since=since: len(speaker.loud(since)) > 30, 15, program.story)
            before, ended = len(program.events), card.say(stop)
            time.sleep(3.5)
            if [e for e in program.events[before:] if e["event"] == "heard" and "stop" in e["text"]]:
                break
        else:
            pytest.fail(f"stop was not heard over the voice\n{program.story()}")
        assert program.named("released") == []
        assert speaker.loud(ended + 1.0 * PATIENT, ended + 3.5) == [], program.story()


@pytest.mark.slow
@pytest.mark.parametrize("word", ["ready", "stop", "quiet", "hold"])
def test_a_word_said_over_the_voice_silences_it_as_soon_as_it_is_understood(tmp_path, word):
    """As a listener hears it: within 150 ms of its being understood, as after a key; and soon after it was said, also
    where the word may go on ("hold on") and what it is to do has to wait for that."""
    pytest.importorskip("audio_fixtures.voices")
    from tests.bench_answer import listening
    from tests.bench_cut import LATER, begin_a_build, over_the_voice, said

    told = []
    with listening(tmp_path) as listener:
        begin_a_build(listener)
        for number in range(12):
            if (seconds := over_the_voice(listener, said(word, number), LATER[number % len(LATER)])) is not None:
                told.append(seconds)
            known = [each["meaning known to silence"] for each in told if "meaning known to silence" in each]
            if len(known) == 3:
                break
    print(word, told)
    assert known, f"understood {len(told)} times"  # not each voice is understood at once; it is then said again
    assert sorted(known)[len(known) // 2] < 0.15 + 0.02, "a recording comes in pieces of 10 ms"
    assert min(each["end of the word to silence"] for each in told) < 0.5 * PATIENT


@pytest.mark.slow
def test_keys_cut_the_voice_and_the_affirm_key_releases(card, tmp_path):
    """In a terminal: F8 twice affirms; Esc silences within 150 ms as a listener hears it, and so does any other key,
    which is ready 0.7 s later."""
    ours, theirs = pty.openpty()
    try:
        with begin(card, tmp_path, stdin=theirs) as program:
            speaker = card.record("spk")
            program.wait("said", "callout ready")
            speaker.quiet_for(0.8)
            card.say("whole_clean.flac")
            program.wait("readback")
            speaker.quiet_for(0.8)
            os.write(ours, b"\x1b[19~")
            time.sleep(0.1)
            os.write(ours, b"\x1b[19~")
            program.wait("released")
            times = []
            for key in (b"\x1b", b" ", b"\x1b", b" ", b"\x1b", b" "):
                since = time.monotonic()
                wait_for(lambda since=since: len(speaker.loud(since)) > 60, 20, program.story)  # the keys are let go
                pressed = time.monotonic()
                os.write(ours, key)
                time.sleep(0.6)
                last = [when for when in speaker.loud(since) if when < pressed + 0.5][-1]
                times.append(last - pressed)
                if key == b"\x1b":
                    os.write(ours, b"ss")  # pressed twice: say again
                    time.sleep(0.5)  # a press within LET_GO of these would belong to them
            print("key to silence:", [round(value, 3) for value in times])
            for each in (times[::2], times[1::2]):
                assert sorted(each)[1] < 0.15 + 0.02, times  # a recording comes in pieces of 10 ms
    finally:
        os.close(ours)
        os.close(theirs)


def test_with_a_key_to_talk_only_what_is_said_while_it_is_held_is_heard(card, tmp_path):
    """In a terminal: a callout without the key is nobody's; with F12 held it is read back."""
    ours, theirs = pty.openpty()
    held = threading.Event()

    def hold():
        while held.is_set():
            os.write(ours, b"\x1b[24~")
            time.sleep(0.03)

    try:
        with begin(card, tmp_path, *QUICK, "--key-to-talk", stdin=theirs) as program:
            program.wait("said", "callout ready")
            wait_for(lambda: any("hold F12" in note for note in program.notes), 20, program.story)
            card.record("spk").quiet_for(0.8)
            card.say("wrong_clean.flac")
            time.sleep(3.0)
            assert program.named("heard") == [], program.story()
            held.set()
            threading.Thread(target=hold, daemon=True).start()
            time.sleep(0.5)  # as radio practice has it: press, wait, speak, and let go a moment after the last word
            card.say("whole_clean.flac")
            time.sleep(0.5)
            held.clear()
            program.wait("readback", "eleven feet")
            assert len(program.named("heard")) == 1, program.story()
    finally:
        held.clear()
        os.close(ours)
        os.close(theirs)


@pytest.mark.slow
def test_a_microphone_and_a_loudspeaker_that_go_and_come_back(card, tmp_path):
    with begin(card, tmp_path, *QUICK) as program:
        program.wait("said", "callout ready")
        card.record("spk").quiet_for(0.8)
        card.unplug("mic")
        card.unplug("spk")
        time.sleep(3)
        card.plug("mic")
        card.plug("spk")
        card.pactl("set-default-sink", "spk")
        card.pactl("set-default-source", "mic.monitor")
        speaker = card.record("spk")
        ends = time.monotonic() + 30
        while not program.named("readback") and time.monotonic() < ends:
            card.say("whole_clean.flac")
            time.sleep(3)
        assert program.named("readback"), program.story()
        wait_for(lambda: len(speaker.loud()) > 20, 15, program.story)


@pytest.mark.slow
@pytest.mark.parametrize("rate", [8000, 44100, 96000])
def test_devices_of_another_rate(card, tmp_path, rate):
    for name in ("mic", "spk"):
        card.unplug(name)
        card.plug(name, rate)
    card.pactl("set-default-sink", "spk")
    card.pactl("set-default-source", "mic.monitor")
    with begin(card, tmp_path, *QUICK) as program:
        program.wait("said", "callout ready")
        speaker = card.record("spk")
        speaker.quiet_for(0.8)
        card.say("whole_clean.flac")
        program.wait("readback", "eleven feet")
        wait_for(lambda: len(speaker.loud()) > 20, 10, program.story)


@pytest.mark.slow
def test_a_second_program_on_the_same_devices(card, tmp_path):
    """Each hears and answers; the second on the journal only reads, and says so."""
    with begin(card, tmp_path, *QUICK) as first:
        first.wait("said", "callout ready")
        with begin(card, tmp_path, *QUICK) as second:
            wait_for(lambda: any("read only" in note for note in second.notes), 30, second.story)
            card.record("spk").quiet_for(0.8)
            card.say("whole_clean.flac")
            first.wait("readback", "eleven feet")
            time.sleep(1)
            assert second.named("released") == []


@pytest.mark.slow
def test_killed_helpers_are_told_and_the_work_goes_on(card, tmp_path):
    """The voice, the second ear, and both ears, one after the other, with a kill that nothing can catch."""
    with begin(card, tmp_path, *QUICK) as program:
        speaker = card.record("spk")
        program.wait("said", "callout ready")
        speaker.quiet_for(0.8)
        for word, told in (("speaking.worker", "speech process"), ("ears_worker", "the ears ended")):
            for pid in named(program.process.pid, word):
                os.kill(pid, signal.SIGKILL)
            began = time.monotonic()
            card.say("whole_clean.flac")
            program.wait("error", told)
            ends = time.monotonic() + 20
            before = len(program.named("readback"))
            while len(program.named("readback")) == before and time.monotonic() < ends:
                card.say("whole_clean.flac")
                time.sleep(2)
            assert len(program.named("readback")) > before or before, program.story()
            print(f"{word}: works again after {time.monotonic() - began:.1f} s")
            speaker.quiet_for(1.0)
        assert program.process.poll() is None


@pytest.mark.slow
def test_how_long_after_the_end_of_a_callout_the_answer_begins(card, tmp_path):
    """At the sinks, at the package's own pace. Bars: half within 0.5 s, 95 % within 0.8 s, on a machine of its own."""
    seconds = []
    with begin(card, tmp_path) as program:
        program.wait("said", "callout ready")
        speaker, microphone = card.record("spk"), card.record("mic")
        speaker.quiet_for(1.0)
        for turn in range(8):
            since = time.monotonic()
            program.call(card, ("whole_clean.flac", "wrong_clean.flac")[turn % 2], "readback", times=1, seconds=15)
            wait_for(lambda since=since: bool(speaker.loud(since)), 10, program.story)
            end = microphone.loud(since)[-1]
            seconds.append(speaker.loud(end)[0] - end)
            time.sleep(0.5)
            program.call(card, "negative_clean.flac", "voided", seconds=4)
            speaker.quiet_for(1.5)
    seconds.sort()
    print("end of speech to first sound:", [round(value, 2) for value in seconds])
    assert seconds[len(seconds) // 2] < 0.5 * PATIENT
    assert seconds[-1] < 0.8 * PATIENT
