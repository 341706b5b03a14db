"""The two ears on real sound: the demo's recordings, clean and through the radio, batch and live."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from callout.channel.radio import simulate
from callout.errors import BadInput, CalloutError
from callout.files import data_folder
from callout.hearing import judge
from callout.hearing.audio import read_audio
from callout.hearing.ears import Ears, open_ears
from callout.hearing.evidence import Evidence
from callout.hearing.live import utterances
from callout.hearing.remote import EarsProcess
from callout.hearing.sources import FileSource, MemorySource
from callout.language import automaton
from callout.language.context import EVERYTHING, Context
from callout.values import meaning_json
from tests.how_much import one_in

pytestmark = pytest.mark.audio

DEMO = data_folder("audio_fixtures") / "demo"
ROWS = [json.loads(line) for line in (DEMO / "manifest.jsonl").read_text(encoding="utf-8").splitlines()]


@pytest.fixture(scope="module")
def process():
    made = EarsProcess()
    yield made
    made.close()


def spoken(ears: Ears, file: str, context: Context) -> Any:
    """Heard as it is said, in pieces of 0.1 s."""
    sound = read_audio(DEMO / file)
    ears.begin(context)
    for start in range(0, len(sound), 1600):
        ears.feed(sound[start : start + 1600])
    return ears.finish()


def test_both_ears_work_out_their_end_at_once(ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second ear is asked before the first begins: an answer waits for the slower one, not for both."""
    asked = []
    scores = ears._encoder.scores
    monkeypatch.setattr(ears._encoder, "scores", lambda sound: (asked.append(ears._vosk.closed), scores(sound))[1])
    assert spoken(ears, "whole_clean.flac", EVERYTHING).resolution.outcome == "understood"
    ears.hear(read_audio(DEMO / "whole_clean.flac"))
    assert asked[0], "while it is said"


def test_the_first_word_of_a_state_waits_for_no_network_that_lies_in_the_cache(ears: Ears) -> None:
    """Working one out takes half a second, and an answer that is due would wait for it."""
    walk = Context(state="walk")
    ears.prepare(walk)
    automaton._automaton.cache_clear()
    assert spoken(ears, "ready_clean.flac", walk).sense == "whole"
    assert automaton._automaton.cache_info().currsize == 0


@pytest.mark.parametrize("row", ROWS, ids=[row["file"] for row in ROWS])
def test_the_demos_recordings_mean_what_their_manifest_says(ears: Ears, row: dict) -> None:
    heard = ears.hear(read_audio(DEMO / row["file"]))
    if row["meaning"] is None:
        assert heard.resolution.outcome in ("not_understood", "nothing")
        return
    assert heard.resolution.outcome == "understood"
    assert meaning_json(heard.resolution.meaning) == row["meaning"]
    assert heard.listener == "ears"
    assert all(part.agreement == "agreed" for part in heard.resolution.parts)


def test_silence_and_a_breath_are_nothing(ears: Ears) -> None:
    assert ears.hear(np.zeros(32000, np.float32)).resolution.outcome == "nothing"
    assert ears.hear(np.zeros(0, np.float32)).resolution.outcome == "nothing"
    breath = np.random.default_rng(0).normal(0, 0.01, 16000).astype(np.float32)
    assert ears.hear(breath).resolution.outcome in ("nothing", "not_understood")


def test_tones_are_no_callout(ears: Ears) -> None:
    time_axis = np.arange(48000) / 16000
    for notes in ((440,), (262, 330, 392), (1000, 1400)):
        tone = sum(np.sin(2 * np.pi * n * time_axis) for n in notes) / len(notes) * 0.4
        assert ears.hear(tone.astype(np.float32)).resolution.outcome in ("nothing", "not_understood")


@pytest.mark.parametrize("rate", [8000, 22050, 48000])
def test_other_rates_are_heard_as_well(ears: Ears, rate: int, tmp_path: Path) -> None:
    from scipy.signal import resample_poly

    samples = read_audio(DEMO / "whole_clean.flac")
    soundfile.write(tmp_path / "other.wav", resample_poly(samples, rate, 16000), rate)
    assert ears.hear(read_audio(tmp_path / "other.wav")).resolution.outcome == "understood"


def test_cut_tight_and_very_soft_is_still_heard(ears: Ears) -> None:
    samples = read_audio(DEMO / "whole_clean.flac")
    loud = np.flatnonzero(np.abs(samples) > 0.02 * np.abs(samples).max())
    tight = samples[loud[0] : loud[-1]]
    assert ears.hear(tight).resolution.outcome == "understood"
    assert ears.hear(np.float32(0.01) * samples).resolution.outcome == "understood"


def test_another_state_hears_another_language(ears: Ears) -> None:
    heard = ears.hear(read_audio(DEMO / "whole_clean.flac"), Context(state="digits"))
    assert heard.resolution.outcome in ("not_understood", "ambiguous", "nothing")


def test_without_the_second_ear_no_releasing_word_is_taken(ears: Ears) -> None:
    samples = read_audio(DEMO / "affirm_clean.flac")
    assert ears.hear(samples).resolution.outcome == "understood"
    assert ears.vosk_pid is not None
    os.kill(ears.vosk_pid, signal.SIGSTOP)
    os.kill(ears.vosk_pid, signal.SIGKILL)
    deaf = ears.hear(samples)
    assert deaf.resolution.outcome in ("ambiguous", "understood")  # a fresh process may be quick enough
    assert ears.hear(samples).resolution.outcome == "understood"


def test_an_ear_that_is_not_asked_is_a_deaf_one() -> None:
    alone = Ears(second=False, third=False)
    found = alone.evidence(read_audio(DEMO / "whole_clean.flac"))
    assert found.deaf
    assert found.vosk == ()
    assert found.encoder
    alone.begin()
    alone.feed(read_audio(DEMO / "affirm_clean.flac"))
    assert "only one ear heard it" in alone.finish().resolution.reasons
    alone.close()


def test_a_missing_network_is_a_broken_set_up(tmp_path: Path) -> None:
    with pytest.raises(CalloutError, match="install callout again"):
        Ears(tmp_path)
    with pytest.raises(BadInput, match="not a Vosk model"):
        open_ears(tmp_path)


def stream(*names: str) -> np.ndarray:
    gap = np.zeros(24000, np.float32)
    return np.concatenate([piece for name in names for piece in (gap, read_audio(DEMO / name))] + [gap])


def test_a_stream_is_cut_into_its_utterances_and_each_is_heard(process: EarsProcess) -> None:
    names = ("whole_radio.flac", "chatter_clean.flac", "affirm_radio.flac", "first_half_clean.flac")
    words: list[tuple[str, ...]] = []
    found = list(utterances(MemorySource(stream(*names)), process, lambda: EVERYTHING, partial=words.append))
    assert [s.heard.resolution.outcome for s in found] == ["understood", "not_understood", "understood", "understood"]
    assert [" ".join(s.heard.readings[0]) for s in found if s.heard.readings] == [
        "insertion eleven feet sixty", "affirm", "insertion twelve feet",
    ]  # fmt: skip
    assert ("insertion", "eleven", "feet", "sixty") in words
    for segment in found:
        assert len(segment.samples) == pytest.approx((segment.end - segment.start) * 16000, abs=2)


def test_a_long_file_is_heard_as_if_live(process: EarsProcess, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "yard.wav", stream("whole_clean.flac", "negative_clean.flac"), 16000)
    found = list(utterances(FileSource(tmp_path / "yard.wav"), process, lambda: EVERYTHING))
    assert [s.heard.resolution.outcome for s in found] == ["understood", "understood"]


def test_ears_that_die_in_mid_utterance_are_started_again_and_hear_it(process: EarsProcess) -> None:
    samples, before = read_audio(DEMO / "whole_clean.flac"), process.helper.restarts
    process.begin()
    process.feed(samples[:20000])
    assert process.helper.pid is not None
    os.kill(process.helper.pid, signal.SIGKILL)
    time.sleep(0.1)
    process.feed(samples[20000:])
    assert process.finish().resolution.outcome == "understood"
    assert process.helper.restarts == before + 1


LATE, ON_TIME = 150.0, 0.0  # milliseconds of speech lost


@pytest.fixture
def evidence(monkeypatch: pytest.MonkeyPatch) -> list[Evidence]:
    """What the ears had before them, in the order of the utterances."""
    seen: list[Evidence] = []
    decide = judge.judge

    def noting(found: Evidence, context: Context, *by: Any, **how: Any) -> judge.Answer:
        seen.append(found)
        return decide(found, context, *by, **how)

    monkeypatch.setattr("callout.hearing.ears.judge", noting)
    return seen


def as_if_live(place: Path, *pieces: np.ndarray) -> FileSource:
    soundfile.write(place / "live.wav", np.concatenate(pieces), 16000)
    return FileSource(place / "live.wav")


@pytest.mark.parametrize("late", [LATE, ON_TIME])
@pytest.mark.parametrize("opening", ["file", "squelch", "vox", "key"])
@pytest.mark.parametrize("noise", one_in(2, [None, "jackhammer"]))
def test_speech_under_way_when_the_channel_opens_is_a_late_key(
    ears: Ears, evidence: list[Evidence], tmp_path: Path, opening: str, late: float, noise: str | None
) -> None:
    """Through the simulated radio; "vox": the far side's, which leaves no squelch tail."""
    tail, snr = (0.0 if opening == "vox" else 180.0), (10.0 if noise else None)
    clean = read_audio(DEMO / "whole_clean.flac")
    sent = simulate(clean, 16000, snr, noise or "", late_ms=late, tail_ms=tail, seed=1)
    silence, steps = np.zeros(20000, np.float32), iter(range(10**6))
    if opening == "file":
        heard = ears.hear(sent)
    else:
        key = (lambda: 20000 <= 320 * next(steps) < 20000 + len(sent)) if opening == "key" else None
        source = as_if_live(tmp_path, silence, sent, silence)
        (segment,) = utterances(source, ears, lambda: EVERYTHING, key=key)
        heard = segment.heard
    assert evidence[0].late_key is bool(late)
    if late and heard.resolution.outcome != "understood":
        assert judge.LATE_KEY in heard.resolution.reasons


@pytest.mark.parametrize("name", one_in(3, [row["file"] for row in ROWS if row["file"].endswith("_clean.flac")]))
def test_speech_out_of_silence_into_an_open_microphone_is_no_late_key(
    ears: Ears, evidence: list[Evidence], tmp_path: Path, name: str
) -> None:
    """Cut to the first sample of the word, in a stream that is silent or quiet around it."""
    samples, silence = read_audio(DEMO / name), np.zeros(24000, np.float32)
    spoken = np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())
    stream = np.concatenate([silence, samples[spoken[0] :], silence])
    quiet = np.random.default_rng(0).normal(0, 1e-3, len(stream)).astype(np.float32)
    for sound in (stream, stream + quiet):
        assert list(utterances(as_if_live(tmp_path, sound), ears, lambda: EVERYTHING))
        assert not evidence[-1].late_key  # in a pause it may look so, as long as a voice fades


def test_a_key_pressed_late_beside_an_open_microphone_loses_nothing(ears: Ears, evidence: list[Evidence]) -> None:
    samples = read_audio(DEMO / "whole_clean.flac")
    began = int(np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())[0])
    stream = np.concatenate([np.zeros(16000, np.float32), samples])
    stream += np.random.default_rng(0).normal(0, 1e-3, len(stream)).astype(np.float32)
    for lost, late in ((2400, False), (16000, True)):  # 150 ms are in the lead; a second is not
        pressed, steps = 16000 + began + lost, iter(range(10**6))
        list(utterances(MemorySource(stream), ears, lambda: EVERYTHING, key=lambda: 320 * next(steps) >= pressed))
        assert evidence[-1].late_key is late


def hear(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "callout", "hear", *arguments]
    return subprocess.run(command, capture_output=True, text=True, cwd=cwd, timeout=120, check=False)


def test_the_command_gives_one_line_a_file_in_order_a_broken_one_included(tmp_path: Path) -> None:
    (tmp_path / "bad.wav").write_bytes(b"no sound at all")
    files = [str(DEMO / "affirm_clean.flac"), str(tmp_path / "bad.wav"), str(tmp_path / "none.wav"), str(tmp_path),
             str(DEMO / "chatter_clean.flac")]  # fmt: skip
    done = hear("--json", *files)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["file"] for line in lines] == files
    assert [line["outcome"] for line in lines] == ["understood", "nothing", "nothing", "nothing", "not_understood"]
    assert all(line["reasons"] for line in lines[1:4])
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    first = lines[0]
    assert set(first) == {
        "file",
        "outcome",
        "words",
        "meaning",
        "confidence",
        "parts",
        "reasons",
        "seconds",
        "listener",
    }
    assert first["meaning"]["command"] == "affirm"
    assert set(first["seconds"]) == {"audio", "decode"}


def test_the_command_without_json_speaks_plainly_and_refuses_plainly() -> None:
    done = hear(str(DEMO / "half_inch_clean.flac"))
    assert done.returncode == 0
    assert "9 ft 6 1/2 in" in done.stdout
    wrong = hear("--state", "nowhere", str(DEMO / "half_inch_clean.flac"))
    assert wrong.returncode == 2
    assert "gather" in wrong.stderr
    assert len(wrong.stderr.strip().splitlines()) == 1


def test_a_foreign_model_is_held_to_the_grammar_and_never_releases() -> None:
    """The package's own Vosk folder stands in for a team's model; its name is what the listener is called."""
    from callout.hearing.ears import WEIGHTS

    listener = open_ears(WEIGHTS / "vosk")
    try:
        whole = listener.hear(read_audio(DEMO / "whole_clean.flac"))
        assert whole.resolution.outcome == "understood"
        assert whole.listener == "vosk"
        assert listener.hear(read_audio(DEMO / "affirm_clean.flac")).resolution.outcome == "ambiguous"
        assert listener.hear(read_audio(DEMO / "chatter_clean.flac")).resolution.outcome == "not_understood"
        assert listener.hear(np.zeros(16000, np.float32)).resolution.outcome == "nothing"
    finally:
        listener.close()


def test_a_folder_that_only_looks_like_a_model_is_refused(tmp_path: Path) -> None:
    for name in ("am", "conf", "graph"):
        (tmp_path / name).mkdir()
    listener = open_ears(tmp_path)
    with pytest.raises(BadInput, match="not a Vosk model that can be used"):
        listener.hear(read_audio(DEMO / "affirm_clean.flac"))
    listener.close()
