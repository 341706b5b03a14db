"""The test kits: sentences over every form of the language, callouts pieced together from people's words."""

import json
import random
from collections import Counter

import numpy as np
import pytest
import soundfile

from callout.language.parse import parse
from ears_training import kit
from ears_training.forms import Bags, Forms, meant
from ears_training.kit import build, planned, wide_sentences
from ears_training.people import NUMBER_WORDS, callouts, digit_people, prompt_person, write_kit
from ears_training.splice import Part, Splicer, digit_forms, grouped_forms, loudness, room_tone, seamless
from ears_training.voices import RATE


def test_a_bag_gives_everything_once_before_anything_twice():
    bags = Bags(random.Random(0))
    assert Counter(bags.draw("x", range(7)) for _ in range(21)) == dict.fromkeys(range(7), 3)


def test_callouts_have_one_meaning_and_reach_every_form():
    forms = Forms(random.Random(1))
    texts = [forms.callout() for _ in range(400)]
    words = Counter(w for t in texts for w in t.replace(",", "").split())
    assert all(meant(t) for t in texts)
    wanted = {*NUMBER_WORDS - {"zero", "seventy", "eighty", "ninety"}, "hundred", "niner", "half"}
    wanted |= {
        "quarters",
        "eighths",
        "sixteenths",
        "point",
        "foot",
        "even",
        "inch",
        "degrees",
        "at",
        "of",
        "pair",
        "spacing",
        "apart",
    }
    assert wanted <= set(words), f"never drawn: {wanted - set(words)}"
    assert any("metre" in t or "meter" in t for t in texts)


def test_talk_means_nothing_and_half_of_it_has_numbers_or_units():
    forms = Forms(random.Random(2))
    rows = wide_sentences([0, 5, 5, 80], forms)
    talk = [text for kind, text in rows if kind == "chatter"]
    assert not any(parse(tuple(t.lower().split())) for t in talk)
    assert all(meant(text) for kind, text in rows if kind != "chatter")
    assert len(set(talk)) > 70


def tone(hertz: float, seconds: float = 0.3, level: float = 0.1):
    t = np.arange(int(seconds * RATE)) / RATE
    return (level * np.sin(2 * np.pi * hertz * t + 1)).astype(np.float32)


def test_a_piece_begins_and_ends_softly_and_keeps_its_middle():
    x = tone(200)
    y = seamless(x)
    assert abs(y[0]) < 0.01
    assert abs(y[-1]) < 0.01
    assert len(x) - len(y) <= 2 * 80
    assert loudness(y) == pytest.approx(loudness(x), rel=0.05)


def test_room_tone_is_as_loud_as_the_quiet_of_the_recordings():
    rng = np.random.default_rng(3)
    quiet = (rng.standard_normal(RATE) * 0.001).astype(np.float32)
    made = room_tone([quiet, tone(300)], RATE, random.Random(0))
    assert made.std() == pytest.approx(0.001, rel=0.15)


class Voice:
    """Stands for the voice that says the other words."""

    def say(self, voice, text, manner=None):
        return tone(500, 0.4, 0.9)


def test_pieces_are_laid_in_order_at_one_loudness():
    said = {"four": [tone(300, level=0.01)], "four five": [tone(250, 0.5, level=0.9)], "five": [tone(300)]}
    splicer = Splicer(said, "none", random.Random(0), Voice())
    assert splicer.runs(["four", "five", "five"]) == ["four five", "five"]
    assert splicer.runs(["nine"]) is None
    x, words = splicer.join([Part("insertion"), Part("four", True), Part("feet"), Part("four five", True)], (0.5, 0.5))
    assert words == "insertion four feet four five"
    levels = np.sqrt((x[: len(x) // 160 * 160].reshape(-1, 160) ** 2).mean(1))
    loud = levels[levels > 0.3 * levels.max()]
    assert loud.max() / np.percentile(loud, 10) < 1.6, "a recording at 0.01 and one at 0.9 come out alike"
    assert levels[:40].max() < 0.1 * levels.max()


@pytest.mark.parametrize(
    ("n", "forms"), [(7, ["seven"]), (14, ["fourteen", "one four"]), (45, ["forty five", "four five"])]
)
def test_the_ways_to_say_a_number(n, forms):
    assert grouped_forms(n) == forms
    assert digit_forms(n) == forms[-1:]


def test_a_kit_of_people_from_folders(tmp_path):
    (tmp_path / "digits").mkdir()
    (tmp_path / "prompts").mkdir()
    for d in range(10):
        soundfile.write(tmp_path / "digits" / f"{d}_ann_0.wav", tone(200 + d), RATE)
    for name in (*range(20), *range(20, 100, 10), "hundred"):
        soundfile.write(tmp_path / "prompts" / f"{name}.wav", tone(300), RATE)
    people = {**digit_people(tmp_path / "digits"), "prompts": prompt_person(tmp_path / "prompts")}
    assert set(people) == {"digits_ann", "prompts"}
    rows = callouts(people, ["a"], dict.fromkeys(people, 6), lambda who: grouped_forms, 1, Voice())
    assert write_kit(tmp_path / "kit", rows) == 12
    lines = [json.loads(line) for line in (tmp_path / "kit" / "manifest.jsonl").read_text().splitlines()]
    assert all(meant(line["words"]) and line["pieced"] for line in lines)
    assert soundfile.info(tmp_path / "kit" / lines[0]["file"]).subtype == "PCM_16"


class _Voice:
    """A voice whose sound is another one for each text and manner."""

    def say(self, voice, text, manner):
        return np.random.default_rng([*f"{voice} {text}".encode(), manner.seed]).uniform(-0.5, 0.5, 400)


def test_a_part_of_a_kit_is_a_part_of_the_whole(tmp_path, monkeypatch):
    table = {"few": {"seed": 5, "wide": True, "voices": [["a:b", 2, 1, 1, 2], ["c:d", 1, 2, 0, 1]]}}
    monkeypatch.setattr(kit, "kits", lambda: table)
    monkeypatch.setattr(kit, "Speech", _Voice)
    assert build("few", tmp_path / "whole") == len(list(planned("few"))) == 10
    assert build("few", tmp_path / "list", only=()) == 0
    assert build("few", tmp_path / "part", only={"audio/00_003.wav", "audio/01_001.wav"}) == 2
    lists = {(tmp_path / name / "manifest.jsonl").read_text() for name in ("whole", "list", "part")}
    assert len(lists) == 1
    assert len(lists.pop().splitlines()) == 10
    part = {file.name: file.read_bytes() for file in (tmp_path / "part" / "audio").iterdir()}
    assert part.keys() == {"00_003.wav", "01_001.wav"}
    assert part == {name: (tmp_path / "whole" / "audio" / name).read_bytes() for name in part}
    assert not list((tmp_path / "list" / "audio").iterdir())
