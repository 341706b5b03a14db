"""Where utterances begin and end: levels drawn by hand, one step of 20 ms each."""

import numpy as np
import pytest

from callout.hearing.level import STEP, measure, padded
from callout.hearing.segmenter import LEAD, Segmenter, Sense


def sound(db: float, seconds: float, seed: int = 0) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 1, int(seconds * 16000))
    return (noise * 10 ** (db / 20)).astype(np.float32)


def run(samples: np.ndarray, sense: Sense = "nothing", segmenter: Segmenter | None = None):
    """[(opened at, closed at, why)] for a stream; the sense is the same throughout."""
    segmenter = segmenter or Segmenter()
    found, begun = [], None
    for start in range(0, len(samples) - STEP + 1, STEP):
        if segmenter.step(samples[start : start + STEP]):
            begun = segmenter.opened
        why = segmenter.ended(sense)
        if why:
            found.append((begun, segmenter.now, why))
    return found


@pytest.mark.parametrize("floor", [-70.0, -60.0, -45.0, -35.0])
def test_speech_over_any_steady_noise_is_found_with_its_lead(floor: float) -> None:
    stream = np.concatenate([sound(floor, 3), sound(-20, 1.5, 1) + sound(floor, 1.5, 2), sound(floor, 3, 3)])
    ((begun, closed, why),) = run(stream)
    assert begun == pytest.approx(2.5, abs=0.15)
    assert closed == pytest.approx(4.5 + 0.9, abs=0.1)
    assert why == "quiet"


@pytest.mark.parametrize(
    ("sense", "wait", "why"),
    [("complete", 0.56, "meaning"), ("half", 1.2, "quiet"), ("nothing", 0.9, "quiet")],
)
def test_a_whole_callout_ends_sooner_than_half_of_one(sense: Sense, wait: float, why: str) -> None:
    stream = np.concatenate([sound(-60, 2), sound(-20, 1), sound(-60, 3)])
    ((_, closed, ending),) = run(stream, sense)
    assert closed - 3.0 == pytest.approx(wait, abs=0.05)
    assert ending == why


def test_a_pause_inside_half_a_callout_does_not_cut_it() -> None:
    stream = np.concatenate([sound(-60, 2), sound(-20, 1), sound(-60, 1.0), sound(-20, 1), sound(-60, 3)])
    assert len(run(stream, "half")) == 1
    assert len(run(stream, "complete")) == 2


def test_the_radios_squelch_ends_it_at_once() -> None:
    """Carrier: hiss before, between and after the words; then silence."""
    silence, tail = np.zeros(32000, np.float32), sound(-25, 0.18)
    stream = np.concatenate([silence, sound(-50, 0.3), sound(-20, 1.5), sound(-50, 0.2), tail, silence])
    ((begun, closed, why),) = run(stream)
    assert why == "squelch"
    assert begun < 2.05
    assert closed == pytest.approx(2 + 0.3 + 1.5 + 0.2 + 0.18 + 0.12, abs=0.06)


def test_a_noise_gate_that_silences_the_pauses_is_no_squelch() -> None:
    """A voice fades before the gate shuts; a carrier does not."""
    fade = sound(-20, 0.2, 1) * np.linspace(1, 0.001, 3200).astype(np.float32) ** 2
    word = np.concatenate([sound(-20, 0.5), fade, np.zeros(6400, np.float32)])
    stream = np.concatenate([np.zeros(32000, np.float32), word, word, word, np.zeros(32000, np.float32)])
    ((_, _, why),) = run(stream)
    assert why == "quiet"


SILENCE = np.zeros(32000, np.float32)
FADE = np.linspace(1, 0, 8000).astype(np.float32) ** 3


def channel(stream: np.ndarray, press: float | None = None, release: float | None = None) -> float | None:
    """Where the channel of the first utterance opened."""
    segmenter = Segmenter(held=press is not None)
    for start in range(0, len(stream) - STEP + 1, STEP):
        if press is not None and release is not None:
            if not segmenter.open and press <= start / 16000 < release:
                segmenter.press()
            elif segmenter.open and start / 16000 >= release:
                segmenter.release()
                break
        segmenter.step(stream[start : start + STEP])
        if segmenter.ended("nothing"):
            break
    return segmenter.channel


@pytest.mark.parametrize("tail", [0.0, 0.18])
def test_a_squelch_or_the_far_sides_vox_opens_a_channel(tail: float) -> None:
    heard = [sound(-20, 1.5), sound(-50, 0.3), sound(-25, tail)]
    assert channel(np.concatenate([SILENCE, *heard, SILENCE])) == pytest.approx(2.0, abs=0.03)
    assert channel(np.concatenate([SILENCE, sound(-50, 0.4), *heard, SILENCE])) == pytest.approx(2.0, abs=0.03)
    assert channel(np.concatenate([SILENCE, *heard])) == pytest.approx(2.0, abs=0.03)  # the recording ends in it


@pytest.mark.parametrize("floor", [-70.0, -50.0])
def test_a_microphone_that_was_open_all_along_opens_no_channel(floor: float) -> None:
    stream = np.concatenate([SILENCE, sound(-20, 1.5), SILENCE])
    assert channel(stream + sound(floor, len(stream) / 16000, 1)) is None


def test_a_voice_out_of_perfect_silence_is_no_carrier() -> None:
    voice = np.concatenate([sound(-20, 1.0), sound(-20, 0.5, 1) * FADE])
    assert channel(np.concatenate([SILENCE, voice, SILENCE])) is None
    gap = np.zeros(1600, np.float32)
    assert channel(np.concatenate([SILENCE, sound(-20, 0.5), gap, sound(-20, 0.5), SILENCE])) is None


def test_a_stream_that_begins_with_speech_was_opened_there() -> None:
    assert channel(np.concatenate([sound(-50, 0.3), sound(-20, 1.0), sound(-50, 1.5)])) == 0.0


def test_a_key_opens_its_channel_when_it_is_pressed() -> None:
    sent = np.concatenate([SILENCE, sound(-20, 1.5), SILENCE])
    assert channel(sent, press=2.0, release=3.4) == pytest.approx(2.0, abs=0.03)
    assert channel(sent, press=1.9, release=3.6) == pytest.approx(2.0, abs=0.03)  # the radio's own delay
    assert channel(sent, press=1.0, release=3.4) is None  # silence was sent for a second: no channel of the key's


def test_with_an_open_microphone_the_lead_saves_what_was_said_before_the_key() -> None:
    yard = np.concatenate([sound(-50, 2), sound(-20, 1.5), sound(-50, 1)])
    assert channel(yard, press=2.15, release=3.6) == pytest.approx(2.15 - LEAD, abs=0.03)


def test_clicks_and_a_silent_line_open_nothing() -> None:
    stream = sound(-85, 10)
    stream[40000:40200] += 0.5
    stream[90000:90200] += 0.5
    assert run(stream) == []
    assert run(np.zeros(160000, np.float32)) == []


def test_noise_that_never_ends_is_cut_at_the_limit_and_then_taken_for_the_floor() -> None:
    stream = np.concatenate([sound(-70, 2), sound(-30, 45, 1)])
    found = run(stream)
    assert [why for _, _, why in found] == ["length"]


def test_a_key_decides_alone() -> None:
    segmenter = Segmenter(held=True)
    loud = sound(-20, 1)
    for start in range(0, len(loud) - STEP + 1, STEP):
        assert not segmenter.step(loud[start : start + STEP])
    segmenter.press()
    assert segmenter.open
    for start in range(0, len(loud) - STEP + 1, STEP):
        segmenter.step(0 * loud[start : start + STEP])
        assert segmenter.ended("nothing") is None
    assert segmenter.release() == "key"
    assert not segmenter.open


def test_quiet_recordings_get_silence_and_noisy_ones_only_where_they_are_cut_tight() -> None:
    speech = sound(-20, 1)
    tight = np.concatenate([np.zeros(800, np.float32), speech, np.zeros(1600, np.float32)])
    level = measure(tight)
    assert level.quiet
    encoder, vosk = padded(tight, level)
    assert len(encoder) / 16000 == pytest.approx(0.5 + 1.0 + 1.0, abs=0.06)
    assert np.array_equal(encoder, vosk)
    noisy = np.concatenate([sound(-45, 0.5, 1), speech, sound(-45, 0.5, 2)])
    assert not measure(noisy).quiet
    assert len(padded(noisy, measure(noisy))[0]) == len(noisy)
    for seconds, floor in ((3.0, -45), (1.0, -50)):  # a short one shows no floor to go by: softer then
        cut = np.concatenate([sound(-20, seconds), sound(-45, 0.5, 2)])
        encoder, vosk = padded(cut, measure(cut))
        assert len(encoder) == len(vosk) == len(cut) + 8000
        assert np.abs(encoder[:7000]).max() < 1e-3
        assert np.sqrt(np.mean(vosk[:7000] ** 2)) == pytest.approx(10 ** (floor / 20), rel=0.3)


def test_silence_is_silent_and_a_whisper_is_made_louder() -> None:
    assert measure(np.zeros(16000, np.float32)).silent
    assert measure(np.zeros(0, np.float32)).silent
    soft = sound(-50, 1)
    assert not measure(soft).silent
    assert np.abs(padded(soft, measure(soft))[0]).max() == pytest.approx(0.3, rel=0.01)
