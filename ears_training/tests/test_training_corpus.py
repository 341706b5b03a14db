"""The corpus of the training room: positions in a long array, packs, held voices, batches. No torch needed."""

import json
import random

import numpy as np
import pytest

from callout.errors import BadInput
from ears_training.corpus import SIZES, Utterance, batches, is_held, load, read_between, speech_bounds
from ears_training.packs import Spoken, write_pack
from ears_training.splice import aligned, cut_words

RATE = 16000


def test_positions_beyond_what_a_float32_can_count():
    """A float32 has 24 bits for whole numbers (IEEE 754): past 16,777,216 it skips every other sample."""
    n = 40_000_000
    samples = (np.arange(n) % 20011).astype(np.int16)
    start, step = np.array([[n - 50_000]]), np.arange(1000, dtype=np.float32)[None]
    heard = read_between(samples, start, step)
    assert np.array_equal(heard[0], samples[n - 50_000 : n - 49_000])
    stairs = samples[(np.float32(n - 50_000) + step).astype(np.int64)]
    assert not np.array_equal(stairs[0], samples[n - 50_000 : n - 49_000]), "the trap that this test is about"


def test_reading_between_samples_is_a_straight_line_and_never_leaves_the_array():
    samples = np.array([0, 10, 20, 40], np.int16)
    offsets = np.array([[0.0, 0.5, 1.25, 2.5, 9.0]], np.float32)
    heard = read_between(samples, np.array([[0]]), offsets)[0].tolist()
    assert heard[:4] == [0, 5, 12.5, 30]
    assert heard[4] in samples


def utterance(seconds: float, k: int = 0) -> Utterance:
    return Utterance(k, 0, int(seconds * RATE), 1.0, (1, 2), "someone", "")


def test_batches_have_few_shapes_and_miss_nobody():
    rng = random.Random(1)
    some = [utterance(rng.uniform(0.3, 11), k) for k in range(500)]
    made = batches(some, 100, random.Random(2))
    assert {u.start for b in made for u in b.utterances} == set(range(500))
    rows = {size: {len(b.utterances) for b in made if b.size == size} for size in SIZES}
    assert all(len(found) <= 1 for found in rows.values())
    for b in made:
        assert all(u.seconds / 0.84 + 1 <= b.size / RATE for u in b.utterances), "the slowest pace must fit"


def test_tight_buffers_are_near_the_length_of_the_speech():
    some = [utterance(s) for s in np.linspace(1.8, 11, 60)]
    for b in batches(some, 60, random.Random(0), tight=True):
        assert all(0.7 < u.seconds * RATE / b.size < 1.4 for u in b.utterances)


def test_buffers_suit_the_frames_of_both_networks():
    assert all(size % 320 == 0 for size in SIZES)


@pytest.mark.parametrize(
    ("voice", "held"),
    [
        ("af_heart", True), ("kokoro:af_heart", True), ("espeak:en-us+steph", True), ("espeak:en-us+steph2", False),
        ("kokoro:af_bella0.70+am_adam0.30", False), ("kokoro:af_sky0.5+am_adam0.5", True),
        ("festival:ked_diphone", True),
        ("fl:slt", False), ("hdev", False), ("so:0012", False),
    ],
)  # fmt: skip
def test_voices_kept_for_testing_are_known(voice, held):
    assert is_held(voice) is held


def tone(seconds: float) -> np.ndarray:
    t = np.arange(int(seconds * RATE)) / RATE
    return (0.5 * np.sin(2 * np.pi * 440 * t)).astype(np.float32)


def test_a_pack_comes_back_as_it_was_and_a_held_voice_is_refused(tmp_path):
    quiet = np.zeros(4000, np.float32)
    sound = [np.concatenate([quiet, tone(s), quiet]) for s in (0.5, 0.8)]
    write_pack(tmp_path / "a", [Spoken(x, "one two", (36, 4, 23), "someone") for x in sound])
    corpus = load([tmp_path])
    assert [len(u.labels) for u in corpus.utterances] == [3, 3]
    for u, seconds in zip(corpus.utterances, (0.5, 0.8), strict=True):
        assert abs(u.seconds - seconds) < 0.05
        assert abs(u.on - 4000) <= 320
    assert corpus.utterances[1].start == len(sound[0])
    rows = json.loads((tmp_path / "a.json").read_text())
    rows[0]["voice"] = "af_heart"
    (tmp_path / "a.json").write_text(json.dumps(rows))
    with pytest.raises(BadInput, match="kept for testing"):
        load([tmp_path])


def test_peaks_above_one_are_clipped_not_wrapped(tmp_path):
    import soundfile

    soundfile.write(tmp_path / "loud.wav", np.full(8000, 1.4, np.float32), RATE, subtype="FLOAT")
    (tmp_path / "loud.json").write_text(json.dumps([{"n": 8000, "text": "", "lab": [1], "voice": "x"}]))
    assert load([tmp_path]).samples.min() > 32000


def test_silence_has_no_bounds():
    assert speech_bounds(np.zeros(16000, np.int16)) is None


def test_an_empty_folder_is_said_to_hold_no_pack(tmp_path):
    with pytest.raises(BadInput, match="holds no pack"):
        load([tmp_path])


def spikes(frames: int, heard: dict[int, int]) -> np.ndarray:
    scores = np.full((frames, 40), -8.0, np.float32)
    scores[:, 0] = -0.01
    for frame, label in heard.items():
        scores[frame] = -8.0
        scores[frame, label] = -0.01
    return scores


def test_alignment_finds_the_spikes():
    assert aligned(spikes(30, {3: 5, 9: 7, 20: 7}), [5, 7, 7]) == [3, 9, 20]
    assert aligned(spikes(2, {}), [5, 7, 7]) is None, "two frames cannot hold a repeated sound"


def test_words_are_cut_at_the_quiet_between_them():
    gap = np.zeros(int(0.2 * RATE), np.float32)
    x = np.concatenate([gap, tone(0.3), gap, tone(0.4), gap])
    said = cut_words(x, ["two", "two"], spikes(65, {12: 31, 20: 34, 38: 31, 48: 34}))
    assert [w for w, _ in said] == ["two", "two"]
    assert [len(p) / RATE for _, p in said] == pytest.approx([0.36, 0.46], abs=0.05)
