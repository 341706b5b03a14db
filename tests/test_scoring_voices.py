"""What recordings with known words teach of a talker, what they may not, and the commands around it."""

from __future__ import annotations

import contextlib
import functools
import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from callout import api
from callout.cli import group
from callout.errors import BadInput, CalloutError
from callout.files import data_folder
from callout.hearing.agreement import settings
from callout.hearing.audio import read_audio
from callout.hearing.ears import Ears
from callout.hearing.evidence import Asked, Evidence
from callout.hearing.search import HeardWord, SearchReading
from callout.hearing.voices import decisions_of, keep_voice, load_voice, shifted
from callout.language.context import Context
from callout.language.outcome import Resolution
from callout.scoring import evaluation, verdict
from callout.scoring.conditions import Condition
from callout.scoring.run import Booth
from callout.scoring.schemas import VoiceLine
from callout.scoring.voice_learning import SPREAD, WRONG, KnownHearing, hear_all, learn, likeliest
from callout.values import Callout, Length, meaning_json
from ears_training import certainty
from tests.test_hearing_voices import KIM, team

__all__ = ["team"]
BALANCED = data_folder("audio_fixtures") / "balanced"
FREE = tuple("IH N S ER SH AH N".split())  # noqa: SIM905
WHOLE, SEVEN = "insertion eleven feet sixty", "insertion seven feet sixty"
ELEVEN = meaning_json(Callout(insertion=Length.imperial(11), angle_deg=60))
OTHER = meaning_json(Callout(insertion=Length.imperial(7), angle_deg=60))


def reading(text: str, score: float) -> SearchReading:
    words = tuple(text.split())
    heard = tuple(HeardWord(word, 0.5 * n, 0.5 * n + 0.4, -0.3) for n, word in enumerate(words))
    return SearchReading(words, score, -0.3, tuple(map(ord, text)), heard)


def with_lead(lead: float, truth, apart: str) -> KnownHearing:
    """One ear and the third opinion have the first reading before the second by so much; the second ear is deaf."""
    first, second = reading(WHOLE, -1.0), reading(SEVEN, -1.0 - lead / 2)
    two = Evidence((first, second), (), FREE, deaf=True)
    three = Evidence((first, second), (), FREE, deaf=True, third=(Asked(first, -3.0, 6), Asked(second, -3.0 - lead, 6)))
    return KnownHearing(apart, truth, two, three)


@functools.cache
def lead_for(log_odds: float) -> float:
    """The lead to which the package's decision gives these log-odds."""
    low, high = 0.0, 40.0
    for _ in range(40):
        middle = (low + high) / 2
        one = with_lead(middle, ELEVEN, "")
        assert one.odds is not None
        low, high = (middle, high) if one.odds[1] < log_odds else (low, middle)
    assert one.odds is not None
    assert one.odds[1] == pytest.approx(log_odds, abs=0.02)
    return middle


def many(*kinds: tuple[int, float, object]) -> list[KnownHearing]:
    every = [(log_odds, truth) for count, log_odds, truth in kinds for _ in range(count)]
    return [with_lead(lead_for(log_odds), truth, f"sentence {n}") for n, (log_odds, truth) in enumerate(every)]


def test_the_likeliest_shift_is_the_top_of_the_posterior() -> None:
    """Against a plain search of a grid: a logistic's likelihood times a normal prior (any textbook)."""
    points = [("callout", 3.0, True)] * 20 + [("callout", 1.0, True)] * 4 + [("callout", 2.0, False)]
    grid = np.arange(-0.69, 1.38, 0.001)
    z = np.array([log_odds if right else -log_odds for _, log_odds, right in points])
    sign = np.array([1.0 if right else -1.0 for _, _, right in points])
    chance = -np.log1p(np.exp(-(z[None] - sign[None] * grid[:, None]))).sum(axis=1) - grid**2 / (2 * SPREAD**2)
    assert likeliest(points)["callout"] == pytest.approx(grid[chance.argmax()], abs=0.002)


def test_the_prior_is_stronger_than_forty_recordings() -> None:
    clear = [("callout", 3.0, True)] * 25
    assert likeliest(clear)["callout"] == pytest.approx(-0.23, abs=0.05)
    assert -0.1 < likeliest([*clear[1:], ("callout", 3.0, False)])["callout"] < 0.05
    assert likeliest([])["callout"] == 0.0
    assert likeliest([("callout", -5.0, True)] * 400)["callout"] == pytest.approx(-math.log(2), abs=0.001)


def test_a_command_that_moves_something_only_gets_harder() -> None:
    assert likeliest([("command", 1.0, True)] * 400)["command"] == 0.0
    assert likeliest([("command", 3.0, False)] * 10)["command"] > 0.5


def test_a_clear_talker_is_taken_more_often() -> None:
    learned = learn(many((20, 2.3, ELEVEN), (5, 4.0, ELEVEN)))
    assert learned.useful
    assert set(learned.shift) == set(learned.helped) == {"callout"}
    assert -math.log(2) <= learned.shift["callout"] < -0.25
    assert (learned.before.right, learned.before.asked, learned.before.wrong) == (0, 25, 0)
    assert (learned.after.right, learned.after.asked, learned.after.wrong) == (5, 20, 0)


@pytest.mark.parametrize(
    "heard",
    [
        pytest.param([(25, 6.0, ELEVEN)], id="nothing more to take"),
        pytest.param([(25, 2.3, ELEVEN)], id="all too unsure"),
        pytest.param([(20, 2.3, ELEVEN), (4, 4.0, ELEVEN), (1, 4.0, OTHER)], id="one would be taken wrongly"),
        pytest.param([(20, 2.3, ELEVEN), (4, 4.0, ELEVEN), (1, 4.0, None)], id="chatter would be taken"),
    ],
)
def test_nothing_is_kept_that_would_be_no_better(heard) -> None:
    learned = learn(many(*heard))
    assert not learned.useful
    assert learned.after.wrong >= learned.before.wrong == 0


def test_what_is_said_twice_is_left_out_together() -> None:
    with pytest.raises(BadInput, match="all say the same"):
        learn([with_lead(lead_for(4.0), ELEVEN, "one sentence")] * 25)


def test_too_few_recordings_teach_nothing() -> None:
    with pytest.raises(BadInput, match="19 recordings are too few"):
        learn(many((19, 4.0, ELEVEN)))


def test_the_costs_are_those_of_the_thresholds() -> None:
    assert certainty.WRONG == WRONG


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Twenty of the balanced recordings, by synthetic voices: callouts, commands and chatter, clean and in noise."""
    made = tmp_path / "kim"
    made.mkdir()
    lines = (BALANCED / "manifest.jsonl").read_text().splitlines()[::9][:20]
    for line in lines:
        shutil.copy(BALANCED / json.loads(line)["file"], made)
    (made / "manifest.jsonl").write_text("\n".join(lines) + "\n")
    return made


class JudgingEars(Ears):
    """They keep what `hear` would have made of each recording that somebody learns from; it is heard once."""

    def __init__(self) -> None:
        super().__init__()
        self.as_heard: list[Resolution] = []

    def asked(self, evidence, *more):
        if not more:  # the learning asks; a judgement names its context
            self.as_heard.append(self.judged(evidence).resolution)
        return super().asked(evidence, *more)


@pytest.mark.audio
def test_real_recordings_are_counted_as_the_ears_hear_them(folder: Path) -> None:
    lines = [json.loads(line) for line in (folder / "manifest.jsonl").read_text().splitlines()]
    with contextlib.closing(JudgingEars()) as ears:
        heard = hear_all(folder, ears, read_audio, lambda words: None)
    learned = learn(heard)
    found = [
        verdict.judge(one.truth, result.outcome, meaning_json(result.meaning))
        for one, result in zip(heard, ears.as_heard, strict=True)
    ]
    said = [verdict for verdict, line in zip(found, lines, strict=True) if line["meaning"] is not None]
    assert learned.before.right == said.count("right") > 5
    assert learned.before.wrong == found.count("wrong_accepted") == 0
    assert learned.before.right + learned.before.asked == len(said)
    assert {one.apart for one in heard} == {line["speaker"] for line in lines}, "of several talkers each is left out"
    assert learned.after.wrong == 0
    assert learned.useful == (learned.after.right > learned.before.right)


class DeafToTheThird:
    def evidence(self, samples, context=None):
        return Evidence((), (), FREE)

    def asked(self, evidence, context=None):
        return Evidence((), (), FREE, mute="the third opinion is silent")


def test_without_the_third_opinion_nothing_is_learned(folder: Path) -> None:
    with pytest.raises(CalloutError, match="callout check"):
        hear_all(folder, DeafToTheThird(), read_audio, lambda words: None)


class Closed:
    def close(self) -> None: ...


def learned_by_command(folder: Path, heard: list[KnownHearing], monkeypatch: pytest.MonkeyPatch, *more: str):
    monkeypatch.setattr("callout.hearing.ears.Ears", Closed)
    monkeypatch.setattr("callout.scoring.voice_learning.hear_all", lambda *_: heard)
    line = ["voices", "learn", str(folder), "--name", "Kim", *more]
    return CliRunner().invoke(group, line, standalone_mode=False)


def test_learn_list_and_forget(folder: Path, monkeypatch: pytest.MonkeyPatch, team: Path) -> None:
    heard = many((20, 2.3, ELEVEN), (5, 4.0, ELEVEN))
    said = learned_by_command(folder, heard, monkeypatch)
    assert said.return_value == 0, said.output
    assert "taken right 0 before and 5 after, asked again 25 and 20, wrong 0 and 0" in said.output
    assert "commands that move something: as before" in said.output
    assert "now (+5 taken right)" in said.output
    assert "none wrong of 5 taken still allows 60% (rule of three)" in said.output
    assert load_voice("kim").recordings == 25
    line = json.loads(learned_by_command(folder, heard, monkeypatch, "--json").stdout)
    VoiceLine.model_validate(line)
    assert line["kept"] is True
    listed = CliRunner().invoke(group, ["voices"], standalone_mode=False).output
    assert listed.startswith("kim ")
    assert "25 recordings" in listed
    assert CliRunner().invoke(group, ["voices", "forget", "kim"], standalone_mode=False).exception is None
    assert not list((team / "voices").iterdir())
    assert "no voice is kept" in CliRunner().invoke(group, ["voices"], standalone_mode=False).output


@pytest.mark.usefixtures("team")
def test_a_refusal_is_one_plain_line_and_keeps_what_was_there(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep_voice(KIM)
    said = learned_by_command(folder, many((25, 2.3, ELEVEN)), monkeypatch)
    assert said.return_value == 1
    assert said.output.count("\n") == 1
    assert said.output.startswith("kim: nothing is kept, since it would be no better: taken right 0 before and 0 after")
    assert load_voice("kim") == KIM


def test_a_score_by_a_voice_says_so_and_tells_when_it_was_learned_from_the_same(folder: Path) -> None:
    from callout.language.resolve import resolve_text

    def booth() -> Booth:
        from callout.hearing.recognizer import Heard

        nothing = Heard(resolve_text("put the kettle on"), (), None, 0.0, "nobody")
        return Booth(lambda samples, context: nothing, folder, Context(), read_audio, resolve_text)

    digest = evaluation.survey(folder / "manifest.jsonl")[1]
    for voice, told in ((KIM, 0), (KIM.model_copy(update={"manifest": digest}), 1)):
        with evaluation.score(folder, [Condition()], voice=voice, booth=booth) as scored:
            assert scored.report["settings"]["voice"] == {"name": "kim", "shift": {"callout": -0.35}}
            assert len([note for note in scored.report["notes"] if "learned from these recordings" in note]) == told


@pytest.mark.usefixtures("team")
def test_the_ears_of_a_score_judge_by_the_voice(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    opened = []

    class Ears(Closed):
        def decide_by(self, decisions) -> None:
            opened.append(decisions)

        def hear(self, samples, context) -> None: ...

    monkeypatch.setattr("callout.hearing.ears.Ears", Ears)
    evaluation.open_booth(folder, None, None, shifted(settings(), KIM.shift))
    keep_voice(KIM)
    assert opened == [decisions_of("kim")]


@pytest.mark.audio
@pytest.mark.usefixtures("team")
def test_the_library_hears_by_a_voice_and_then_without(monkeypatch: pytest.MonkeyPatch) -> None:
    keep_voice(KIM)
    asked = []
    monkeypatch.setattr(Ears, "decide_by", lambda self, decisions=None: asked.append(decisions))
    file = data_folder("audio_fixtures") / "demo" / "affirm_radio.flac"
    for voices in ("kim", None):
        assert api.hear(file, voices=voices).resolution.outcome == "understood"
    assert asked == [decisions_of("kim"), None]
    with pytest.raises(BadInput, match="no voice is kept of 'nobody'"):
        api.hear(file, voices="nobody")
