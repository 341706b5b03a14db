"""Sound beside the journal: kept once, found by name, and never more or older than was said."""

import os
import time

import numpy as np
import pytest
import soundfile

from callout.journal.audio import AudioStore


def noise(seed, seconds=0.5):
    return np.random.default_rng(seed).integers(-20000, 20000, int(16000 * seconds)).astype(np.int16)


def test_sound_comes_back_sample_for_sample(tmp_path):
    store = AudioStore.beside(tmp_path / "yard.journal", print)
    name = store.keep(noise(1))
    back, rate = soundfile.read(store.path(name), dtype="int16")
    assert rate == 16000
    assert np.array_equal(back, noise(1))
    assert store.folder == tmp_path / "yard.journal.audio"


def test_the_same_sound_is_kept_once_and_another_beside_it(tmp_path):
    store = AudioStore(tmp_path, print)
    names = [store.keep(noise(seed)) for seed in (1, 1, 2)]
    assert names[0] == names[1] != names[2]
    assert len(list(tmp_path.glob("*/*"))) == 2


def test_floats_and_integers_of_the_same_sound_have_one_name(tmp_path):
    store = AudioStore(tmp_path, print)
    assert store.keep(noise(1)) == store.keep(noise(1).astype(np.float32) / 32768)
    assert store.keep(np.array([2.0, -2.0])) == store.keep(np.array([32767, -32768], np.int16))


def test_the_oldest_go_when_there_is_too_much(tmp_path):
    store = AudioStore(tmp_path, print, megabytes=0.1)
    names = []
    for seed in range(12):
        names.append(store.keep(noise(seed)))
        if store.path(names[-1]).exists():
            os.utime(store.path(names[-1]), (time.time() - 100 + seed,) * 2)
    kept = [store.path(name).exists() for name in names]
    assert kept == sorted(kept), "the oldest went first"
    assert kept[-1]
    assert not kept[0]
    assert sum(file.stat().st_size for file in tmp_path.glob("*/*")) <= 100_000


def test_the_too_old_go_when_the_store_is_opened(tmp_path):
    store = AudioStore(tmp_path, print)
    old, new = store.path(store.keep(noise(1))), store.path(store.keep(noise(2)))
    os.utime(old, (time.time() - 31 * 86400,) * 2)
    AudioStore(tmp_path, print)
    assert (old.exists(), new.exists()) == (False, True)


@pytest.mark.parametrize("times", [1, 3])
def test_a_disk_that_refuses_is_told_once_and_the_words_go_on(tmp_path, times):
    (tmp_path / "audio").write_text("a file where the folder should be")
    told = []
    store = AudioStore(tmp_path / "audio", told.append)
    assert [store.keep(noise(seed)) for seed in range(times)] == [None] * times
    assert len(told) == 1
