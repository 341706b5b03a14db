"""Sentences and sounds of the training room. No torch needed."""

import random
import re

import pytest

from callout.language import grammar
from callout.language.automaton import word_automaton
from callout.language.context import Context
from callout.language.parse import parse
from ears_training.corpus import CHOOSING, is_held
from ears_training.kit import kits, plain, sentences
from ears_training.pronounce import PHONES, edit_distance, labels, pronunciations, words_of
from ears_training.synth import voice_table
from ears_training.text import Talker, digits, lists, number


@pytest.mark.parametrize("n", [0, 9, 10, 19, 20, 21, 40, 99, 100, 132, 640, 999])
def test_numbers_are_said_as_num2words_says_them(n):
    """Outside check: the num2words library, its "and" and hyphens taken off."""
    from num2words import num2words

    wanted = num2words(n).replace("-", " ").replace(" and ", " ")
    assert number(n, random.Random(0)).replace(" and ", " ") == wanted


def test_digits_are_said_one_by_one():
    words = digits(1958, random.Random(3)).split()
    assert [words[0], words[2], words[3]] == ["one", "five", "eight"]
    assert words[1] in ("nine", "niner")


def test_a_seed_fixes_the_sentences():
    first, again = (Talker(random.Random(5)) for _ in range(2))
    assert [first.sentence() for _ in range(50)] == [again.sentence() for _ in range(50)]


def test_nearly_every_sentence_has_a_sound_for_each_word():
    talker = Talker(random.Random(8))
    without = {
        w for _ in range(1500) for w in re.findall(r"[A-Za-z']+", talker.sentence()) if not pronunciations(w)
    }  # fmt: skip
    without -= set(grammar.load().spellings)  # "weve" is typed so, and said "we've"
    assert without <= {"sixs", "plywoods"}, "words that the plural makes; sentences with them are left out"


def test_plain_callouts_have_lead_height_and_angle():
    talker = Talker(random.Random(2))
    for _ in range(300):
        words = plain(talker.core_callout())
        assert re.match(r"insertion( point)? .* feet", words)
        assert re.search(r"(thirty|three zero|forty five|four five|sixty|six zero)( degrees)?( \w+ rakers .*)?$", words)


def test_the_phones_are_those_of_the_ears():
    from callout.hearing.encoder import PHONES as heard

    assert list(PHONES) == list(heard)


def test_the_pronunciation_nearest_to_what_was_said_is_taken():
    said = labels("the", ["ði"])
    assert said == [PHONES.index("DH") + 1, PHONES.index("IY") + 1]
    assert labels("qqqq") is None


@pytest.mark.parametrize(("a", "b", "steps"), [("kitten", "sitting", 3), ("flaw", "lawn", 2), ("", "abc", 3)])
def test_edit_distance_of_textbook_pairs(a, b, steps):
    """Kitten and sitting: the usual example for Levenshtein's distance."""
    assert edit_distance(list(a), list(b)) == steps


def test_no_test_voice_may_be_trained_on_and_no_kit_holds_a_training_voice():
    table = voice_table()
    trained = set(table["weights"])
    for d in table["espeak"]["dialects"]:
        trained |= {f"espeak:{d}+{v}" for v in table["espeak"]["variants"]}
    assert not any(is_held(v) for v in trained)
    for name, kit in kits().items():
        for v, *_ in kit["voices"]:
            if name.startswith("heldout"):
                assert is_held(v)
            else:
                v = re.sub(r"^warp:[\d.]+:", "", v)  # a longer or shorter throat is whose it is
                assert v in CHOOSING or set(v.split(":")[1].split("+")) <= set(CHOOSING)
                assert not is_held(v)
                assert v not in trained


def test_a_kit_has_what_its_table_says():
    rows = sentences([5, 4, 3, 2], random.Random(0))
    kinds = [k for k, _ in rows]
    assert [kinds.count(k) for k in ("callout", "command", "other", "chatter")] == [5, 4, 3, 2]


def test_the_voices_say_the_words_of_the_grammar():
    """What no voice ever said in training an ear hears badly: "a pair of rakers" was such a phrase."""
    talker = Talker(random.Random(3))
    said = {word for _ in range(24_000) for word in words_of(talker.sentence())}
    words = {word for word in word_automaton().words if "'" not in word}
    assert len(words - said) < 0.06 * len(words), sorted(words - said)
    short = set(word_automaton().words) - words  # "we're"; of many only the number before it differs
    assert len(short - said) < 0.5 * len(short), sorted(short - said)
    assert {"pair", "site", "beside"} <= said


def test_each_rare_sentence_is_one_of_the_language():
    for rare in lists()["rare"]["sentences"]:
        said = words_of(rare.replace("{n}", "two"))
        assert any(parse(said, Context(state=state)) for state in grammar.load().states), rare
