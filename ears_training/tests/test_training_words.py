"""Rivals of a sentence, and callouts laid out of a corpus's words."""

import json
import random
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from ears_training.corpus import load
from ears_training.packs import Spoken, write_pack
from ears_training.pronounce import PHONES, labels, split_labels, words_of
from ears_training.rivals import commands, rivals
from ears_training.text import Talker
from ears_training.wordbank import CLASSES, Bank, Token, cuts, drawn, enlarged, tokens

RATE = 16000


def text_labels(text: str) -> tuple[int, ...]:
    return tuple(labels(text) or ())


@pytest.mark.parametrize(
    "text",
    ["insertion fifteen feet six inches sixty", "two four six", "insertion point twenty one feet, forty five degrees"],
)
def test_rivals_are_other_sentences_near_by(text):
    right = text_labels(text)
    found = rivals(text, right, 8, random.Random(1))
    assert len(found) == len(set(found)) == 8
    assert right not in found


def test_fifty_is_a_rival_of_fifteen():
    right, wrong = text_labels("insertion fifteen feet"), text_labels("insertion fifty feet")
    assert wrong in rivals("insertion fifteen feet", right, 60, random.Random(2))


def test_words_of_one_meaning_are_no_rivals():
    right = text_labels("three feet")
    assert text_labels("three foot") not in rivals("three feet", right, 200, random.Random(3))


def test_a_command_has_other_commands_for_rivals():
    right = text_labels("affirm")
    found = rivals("affirm", right, 5, random.Random(4))
    assert set(found) <= set(commands()) - {right}


def test_ordinary_english_has_no_rivals():
    text = "the crew found some water"
    assert rivals(text, text_labels(text), 5, random.Random(5)) == ()


def test_labels_are_shared_out_among_words():
    said = split_labels(["six", "feet"], text_labels("six feet"))
    assert said == [text_labels("six"), text_labels("feet")]
    assert split_labels(["six", "feet"], text_labels("six")) is None


def spikes(frames: list[int], wanted: tuple[int, ...], count: int) -> np.ndarray:
    """Scores of an ear that hears each label at its frame and blank elsewhere."""
    scores = np.full((count, len(PHONES) + 1), -12.0, np.float32)
    scores[:, 0] = -0.01
    for frame, label in zip(frames, wanted, strict=True):
        scores[frame, 0], scores[frame, label] = -12.0, -0.01
    return scores


def test_words_are_cut_where_it_is_quiet_between_them():
    x = np.zeros(RATE, np.int16)
    rng = np.random.default_rng(0)
    for first, last in ((0.10, 0.35), (0.50, 0.80)):  # seconds of sound: "six", "feet"
        x[int(first * RATE) : int(last * RATE)] = rng.normal(0, 3000, int(last * RATE) - int(first * RATE))
    wanted = text_labels("six feet")
    lead = 0.2  # the ear is given 0.2 s of silence in front
    seconds = [0.12, 0.18, 0.24, 0.30, 0.55, 0.65, 0.75]
    frames = [int((s + lead) / 0.02) for s in seconds]
    found = cuts(x, ["six", "feet"], wanted, lambda sound: spikes(frames, wanted, len(sound) // 320 + 1))
    assert [word for word, _, _ in found] == ["six", "feet"]
    (_, a, b), (_, c, d) = found
    assert a <= 0.10 * RATE
    assert 0.34 * RATE <= b == c <= 0.51 * RATE
    assert d >= 0.79 * RATE


@pytest.fixture
def folder(tmp_path) -> Path:
    """Two voices that say every word of the callouts as noise, cut by hand."""
    from ears_training.wordbank import vocabulary

    rng = np.random.default_rng(1)
    words = sorted(vocabulary())
    for voice in ("so:one", "machine"):
        rows, places = [], []
        for word in words:
            rows.append(Spoken(rng.normal(0, 0.1, RATE // 4).astype(np.float32), word, text_labels(word), voice))
            places.append([[word, 100, 3900]])
        write_pack(tmp_path / voice.replace(":", "_"), rows)
        (tmp_path / f"{voice.replace(':', '_')}.cuts").write_text(json.dumps(places))
    return tmp_path


def test_tokens_lie_where_their_pack_has_them(folder):
    corpus = load([folder])
    found = list(tokens([folder]))
    starts = {u.start for u in corpus.utterances}
    assert found
    assert all(token.start - 100 in starts and token.end - token.start == 3800 for token in found)
    assert all(token.labels == text_labels(token.word) for token in found)


def test_callouts_are_laid_out_with_their_own_labels(folder):
    corpus = load([folder])
    larger = enlarged(corpus, list(tokens([folder])), 12, 7)
    new = larger.utterances[len(corpus.utterances) :]
    assert len(new) == 12
    assert {u.voice for u in new} == {"laid"}
    for u in new:
        assert u.labels == text_labels(u.text)
        assert np.abs(larger.samples[u.start + u.on : u.start + u.off].astype(int)).max() > 1000
    again = enlarged(corpus, list(tokens([folder])), 12, 7)
    assert [u.text for u in again.utterances] == [u.text for u in larger.utterances]


def test_a_word_that_nobody_said_gives_no_callout():
    bank = Bank([Token("six", 0, 10, (1,), "a")])
    assert bank.pick(["six", "feet"], random.Random(0)) is None


def test_what_follows_angle_must_be_heard_not_guessed():
    rng = random.Random(5)
    talker = Talker(rng)
    said = [words_of(drawn(talker, rng)) for _ in range(4000)]
    after = Counter(words[at + 2] for words in said for at, word in enumerate(words[:-2]) if word == "angle")
    digits = {word: n for word, n in after.items() if word in CLASSES[0]}
    assert set(digits) == set(CLASSES[0])
    assert max(digits.values()) < 0.4 * sum(digits.values())
