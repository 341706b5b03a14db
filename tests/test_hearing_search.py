"""The search against a textbook: CTC's best path for each sentence by itself (A. Graves et al., 2006, section 4)."""

import itertools
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from callout.errors import CalloutError
from callout.files import data_folder
from callout.hearing.audio import read_audio
from callout.hearing.ears import WEIGHTS
from callout.hearing.encoder import INDEX, EncoderEar
from callout.hearing.graph import phone_graph
from callout.hearing.search import Searcher, squeeze
from callout.language import grammar, pronunciation
from callout.language.automaton import word_automaton
from callout.language.context import EVERYTHING
from tests.how_much import one_in

SOUNDS = {
    "six": ["S IH K S"],
    "sixty": ["S IH K S T IY"],
    "seven": ["S EH V AH N", "S EH V N"],
    "four": ["F AO R"],
    "for": ["F AO R"],
    "forty": ["F AO R T IY"],
    "feet": ["F IY T"],
    "teen": ["T IY N"],
    "ee": ["IY"],
}


def prons(word: str) -> list[tuple[str, ...]]:
    return [tuple(line.split()) for line in SOUNDS.get(word, [])]


#: Every sentence of a small language with loops of sound: a phone that ends a word and begins the next.
ARCS = [
    (0, 1, "six"), (0, 1, "four"), (0, 1, "sixty"), (0, 1, "forty"), (0, 2, "seven"), (1, 3, "feet"), (1, 4, "six"),
    (1, 4, "seven"), (2, 3, "feet"), (4, 3, "feet"), (4, 3, "teen"), (2, 5, "ee"), (5, 3, "ee"), (1, 5, "ee"),
]  # fmt: skip
FINALS = {3, 4}


def sentences(arcs, start, finals):
    found, todo = [], [(start, ())]
    while todo:
        state, words = todo.pop()
        if state in finals:
            found.append(words)
        todo += [(b, (*words, w)) for a, b, w in arcs if a == state]
    return found


def textbook(scores: np.ndarray, phones: list[int]) -> float:
    """The best alignment of one phone string: Graves' recursion with the maximum for the sum."""
    labels = [0, *itertools.chain.from_iterable((p, 0) for p in phones)]
    row = np.full(len(labels), -np.inf)
    row[0] = scores[0, 0]
    if len(labels) > 1:
        row[1] = scores[0, labels[1]]
    for frame in scores[1:]:
        new = row.copy()
        new[1:] = np.maximum(new[1:], row[:-1])
        for s in range(2, len(labels)):
            if labels[s] != 0 and labels[s] != labels[s - 2]:
                new[s] = max(new[s], row[s - 2])
        row = new + frame[labels]
    return float(max(row[-1], row[-2] if len(row) > 1 else -np.inf))


def expected(scores: np.ndarray) -> dict[tuple[str, ...], float]:
    best = {}
    for words in sentences(ARCS, 0, FINALS):
        ways = itertools.product(*(prons(word) for word in words))
        best[words] = max(textbook(scores, [INDEX[p] for pron in way for p in pron]) for way in ways)
    return best


def random_scores(seed: int, frames: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    raw = rng.normal(0, 2.0, (frames, 40))
    return (raw - np.log(np.exp(raw).sum(axis=1, keepdims=True))).astype(np.float32)


GRAPH = phone_graph(ARCS, 0, FINALS, prons)
SEARCHER = Searcher(GRAPH)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10**6), st.integers(18, 40))
def test_the_best_reading_and_its_score_are_the_textbooks(seed: int, frames: int) -> None:
    scores = random_scores(seed, frames)
    wanted = expected(scores)
    found = SEARCHER.readings(squeeze(scores), most=8)
    best = max(wanted.values())
    assert found[0].score == pytest.approx(best, abs=1e-2)
    assert wanted[found[0].words] == pytest.approx(best, abs=1e-2)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_every_reading_is_a_sentence_and_none_is_scored_above_its_best(seed: int) -> None:
    scores = random_scores(seed, 25)
    wanted = expected(scores)
    found = SEARCHER.readings(squeeze(scores), most=8, reach=1e9)
    assert [r.score for r in found] == sorted((r.score for r in found), reverse=True)
    for reading in found:
        assert reading.score <= wanted[reading.words] + 1e-2
    second = sorted(wanted.values())[-2]
    if second < found[0].score - 0.1:  # the first rival of a different sound is among them
        different = [r for r in found if r.words != found[0].words]
        assert different


@pytest.mark.audio
@pytest.mark.parametrize("name", one_in(3, ["half_inch_radio", "corrected_radio", "chatter_radio"]))
def test_on_the_whole_language_every_score_is_the_textbooks_and_no_sentence_scores_more(name: str) -> None:
    automaton = word_automaton(EVERYTHING)
    searcher = Searcher(phone_graph(automaton.arcs, automaton.start, automaton.finals, pronunciation.prons))
    sound = read_audio(data_folder("audio_fixtures") / "demo" / f"{name}.flac")
    squeezed = squeeze(EncoderEar(WEIGHTS / "encoder.onnx").scores(sound))

    def score(words: tuple[str, ...]) -> float:
        ways = itertools.islice(itertools.product(*(pronunciation.prons(word) for word in words)), 64)
        return max(textbook(squeezed.scores, [INDEX[p] for pron in way for p in pron]) for way in ways)

    found = searcher.readings(squeezed)
    for reading in found[:3]:
        phones = list(reading.sound)
        assert reading.score == pytest.approx(textbook(squeezed.scores, phones), abs=0.05)
        assert reading.score >= score(reading.words) - 0.05
    for sentence in grammar.load().sample(random.Random(2), 40):
        assert score(sentence) <= found[0].score + 0.05


def clear(phones: str, frames_each: int = 3, gap: int = 2) -> np.ndarray:
    """Scores of an ear that is sure: each phone for some frames, blank between."""
    labels = [0] * 5
    for phone in phones.split():
        labels += [INDEX[phone]] * frames_each + [0] * gap
    labels += [0] * 5
    scores = np.full((len(labels), 40), np.log(0.002 / 39), np.float32)
    scores[np.arange(len(labels)), labels] = np.log(0.998)
    return scores


def test_a_clear_utterance_is_read_with_its_times_and_a_perfect_fit() -> None:
    found = SEARCHER.readings(squeeze(clear("F AO R S IH K S F IY T")))[0]
    assert found.words in (("four", "six", "feet"),)
    assert found.fit == pytest.approx(0, abs=1e-3)
    starts = [word.start for word in found.heard]
    assert starts == pytest.approx([5 * 0.02, 20 * 0.02, 40 * 0.02], abs=0.05)
    assert all(a.end <= b.start + 1e-6 for a, b in itertools.pairwise(found.heard))


def test_a_phone_that_ends_a_word_and_begins_the_next_needs_a_gap() -> None:
    """six seven: S | S. Without a blank between, one S cannot be two."""
    together = SEARCHER.readings(squeeze(clear("S IH K S S EH V N F IY T")))[0]
    assert together.words == ("six", "seven", "feet")


def test_what_the_language_does_not_have_fits_badly() -> None:
    right = SEARCHER.readings(squeeze(clear("S IH K S F IY T")))[0]
    wrong = SEARCHER.readings(squeeze(clear("HH EH L OW W ER L D")))
    assert not wrong or wrong[0].fit < right.fit - 1.0


def test_the_fit_is_what_the_whole_utterance_lost_against_its_free_phones() -> None:
    scores = random_scores(11, 30)
    found = SEARCHER.readings(squeeze(scores))[0]
    assert found.fit == pytest.approx((found.score - scores.max(axis=1).sum()) / len(found.sound), abs=1e-3)
    by_word = sum(word.fit * len(prons(word.word)[0]) for word in found.heard)
    assert by_word <= 0


def test_words_of_one_sound_are_both_read() -> None:
    arcs = [(0, 1, "four"), (0, 1, "for"), (1, 2, "feet")]
    found = Searcher(phone_graph(arcs, 0, {2}, prons)).readings(squeeze(clear("F AO R F IY T")))
    assert {r.words for r in found} == {("four", "feet"), ("for", "feet")}
    assert len({r.sound for r in found}) == 1


def test_a_word_without_a_pronunciation_is_a_broken_set_up() -> None:
    with pytest.raises(CalloutError, match="no pronunciation for 'zzz'"):
        phone_graph([(0, 1, "zzz")], 0, {1}, prons)


def test_silence_has_no_reading_unless_the_language_allows_it() -> None:
    assert SEARCHER.readings(squeeze(clear("")))[:1] == [] or SEARCHER.readings(squeeze(clear("")))[0].fit < -2


def test_squeezed_runs_keep_the_sum_and_the_frames() -> None:
    scores = random_scores(5, 30)
    scores[10:20] = clear("")[0]
    rows = squeeze(scores)
    assert rows.first[0] == 0
    assert rows.first[-1] == 30
    assert len(rows.scores) == 21
    assert rows.scores[10, 0] == pytest.approx(scores[10:20, 0].sum(), abs=1e-4)
