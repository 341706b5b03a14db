"""What is kept of a talker, who may read it, and that nobody's voice makes what moves something any easier."""

from __future__ import annotations

import math
import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as trying
from hypothesis import strategies as st

from callout.errors import BadInput
from callout.hearing.agreement import settings
from callout.hearing.evidence import Asked, Evidence
from callout.hearing.judge import judge
from callout.hearing.search import HeardWord, SearchReading
from callout.hearing.voices import (
    EASIER,
    HARDER,
    KnownVoice,
    VoiceFigures,
    callsign,
    decisions_digest,
    decisions_of,
    forget_voice,
    keep_voice,
    kept_voices,
    load_voice,
    shifted,
)
from callout.hearing.vosk_ear import VoskReading
from callout.language.outcome import Understood
from callout.language.team import team_folder
from callout.session.live_ears import voice_of

KIM = KnownVoice(
    name="kim", learned="2030-01-31", recordings=40, manifest="0" * 64, decisions=decisions_digest(),
    shift={"callout": -0.35}, before=VoiceFigures(right=28, asked=12, wrong=0),
    after=VoiceFigures(right=31, asked=9, wrong=0),
)  # fmt: skip
ANY_SHIFT = st.dictionaries(st.sampled_from([*EASIER, "affirm"]), st.floats())

@pytest.fixture
def team(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The team's folder, with nothing in it."""
    (tmp_path / "team").mkdir()
    monkeypatch.setenv("CALLOUT_TEAM", str(tmp_path / "team"))
    return tmp_path / "team"


MOVES = ("affirm", "negative", "ready", "go ahead", "disregard", "undo")


def bars(chosen):
    return chosen.agreed, chosen.sure, chosen.agreed_three


@given(ANY_SHIFT)
def test_no_bar_of_what_moves_something_sinks_and_no_other_by_more_than_its_bound(shift: dict[str, float]) -> None:
    for now, shipped in zip(bars(shifted(settings(), shift)), bars(settings()), strict=True):
        assert now["command"] >= shipped["command"]
        assert now["digits"] >= shipped["digits"]
        assert all(shipped[s] - math.log(2) - 1e-9 <= now[s] <= shipped[s] + HARDER + 1e-9 for s in shipped)


def test_two_ears_alone_take_nothing_more() -> None:
    easy = shifted(settings(), dict.fromkeys(EASIER, -99.0))
    assert (easy.agreed, easy.sure) == (settings().agreed, settings().sure)
    assert easy.weights is settings().weights


def test_the_bound_is_what_forty_recordings_can_and_cannot_show() -> None:
    """Rule of three (Hanley and Lippman-Hand 1983, JAMA 249): none wrong of n still allows about 3/n at 95 %."""
    most = 1 - 0.05 ** (1 / 40)  # exact: the rate at which 40 without a wrong one happen once in twenty
    assert most == pytest.approx(3 / 40, abs=0.004)
    bar = settings().agreed_three["callout"]
    assert most > 1 / (1 + math.exp(bar)), "so they cannot show that a bar is right, and the bound must hold"
    lowest = 1 / (1 + math.exp(bar - EASIER["callout"]))
    assert 51 * lowest < 2, "a callout at the lowest bar costs less than asking twice (a wrong one 50, again 1)"


def reading(text: str, score: float) -> SearchReading:
    words = tuple(text.split())
    heard = tuple(HeardWord(word, 0.5 * n, 0.5 * n + 0.4, -0.02) for n, word in enumerate(words))
    return SearchReading(words, score, -0.02, tuple(map(ord, text)), heard)


@given(
    st.sampled_from(MOVES), st.sampled_from(MOVES), st.floats(0, 20), st.floats(-10, 20), st.floats(-10, 20),
    st.booleans(), ANY_SHIFT,
)  # fmt: skip
@trying(deadline=None)
def test_no_voice_has_a_moving_command_taken_that_the_package_asks_for(
    said: str, rival: str, ear: float, third: float, vosk: float, deaf: bool, shift: dict[str, float]
) -> None:
    if said == rival:
        return
    first, second = reading(said, -1.0), reading(rival, -1.0 - ear)
    evidence = Evidence(
        (first, second), () if deaf else (VoskReading((said,), -5.0), VoskReading((rival,), -5.0 - vosk)),
        tuple("AH F ER M".split()), deaf=deaf,  # noqa: SIM905
        third=(Asked(first, -3.0, 3), Asked(second, -3.0 - third, 3)),
    )  # fmt: skip
    for surely in (False, True):
        taken = judge(evidence, chosen=shifted(settings(), shift), surely=surely)[0]
        if isinstance(taken, Understood):
            assert judge(evidence, surely=surely)[0] == taken


def test_such_a_command_is_taken_where_all_three_are_sure_and_not_by_a_voice_that_made_it_harder() -> None:
    first, second = reading("affirm", -1.0), reading("negative", -2.0)
    three = (Asked(first, -7.5, 3), Asked(second, -9.0, 3))
    sure = Evidence((first, second), (VoskReading(("affirm",), -5.0),), ("AH", "F", "ER", "M"), third=three)
    assert isinstance(judge(sure)[0], Understood)
    assert not isinstance(judge(sure, chosen=shifted(settings(), {"command": 99.0}))[0], Understood)


def test_what_is_kept_is_its_owners_alone_and_is_read_again(team: Path) -> None:
    file = keep_voice(KIM)
    assert file == team / "voices" / "kim.toml"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
    assert [one.name for one in file.parent.iterdir()] == ["kim.toml"]
    assert load_voice("Kim") == KIM
    assert kept_voices() == ["kim"]
    assert "40" in file.read_text()
    assert decisions_of("kim").agreed_three["callout"] == pytest.approx(settings().agreed_three["callout"] - 0.35)
    assert team_folder() == team, "a team that has voices and no words of its own is a team"
    assert forget_voice("kim") == file
    assert not file.exists()
    with pytest.raises(BadInput, match="no voice is kept of 'kim'"):
        forget_voice("kim")
    with pytest.raises(BadInput, match="callout voices learn"):
        load_voice("kim")


def test_without_a_team_it_lies_beside_the_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CALLOUT_TEAM", raising=False)
    monkeypatch.setenv("CALLOUT_CONFIG", str(tmp_path / "own" / "callout.toml"))
    assert keep_voice(KIM) == tmp_path / "own" / "voices" / "kim.toml"


@pytest.mark.parametrize(
    ("line", "forged"),
    [
        ("callout = -0.35", "callout = -3.0"),
        ("callout = -0.35", "callout = nan"),
        ("callout = -0.35", "callout = -inf"),
        ("callout = -0.35", 'callout = "-0.35"'),
        ("callout = -0.35", "command = -0.01"),
        ("callout = -0.35", "digits = -0.01"),
        ("callout = -0.35", "affirm = -0.2"),
        ('name = "kim"', 'name = "sam"'),
        ("recordings = 40", "recordings = 0"),
        ("recordings = 40", "recordings = 40\nweights = [1, 2]"),
        ("[shift]", "[shift"),
        (f'decisions = "{decisions_digest()}"', 'decisions = "other"'),
    ],
)
@pytest.mark.usefixtures("team")
def test_a_forged_file_is_refused_in_one_line(line: str, forged: str) -> None:
    file = keep_voice(KIM)
    text = file.read_text()
    assert text.count(line) == 1
    file.write_text(text.replace(line, forged))
    with pytest.raises(BadInput) as refused:
        decisions_of("kim")
    assert "kim.toml" in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("name", ["", "../kim", "a/b", "kim.toml", "-kim", "kim-", "k" * 31, "ким", "a\nb.c"])
def test_no_name_leads_out_of_the_folder(name: str) -> None:
    with pytest.raises(BadInput, match="no callsign"):
        callsign(name)


def test_a_callsign_of_two_words() -> None:
    assert callsign(" Bravo  Two ") == "bravo-two"


@pytest.mark.parametrize(
    ("voices", "measurer", "logistics"),
    [
        ("", "", ""),
        ("kim", "kim", "kim"),
        ("measurer=kim", "kim", ""),
        ("measurer = kim, logistics=sam", "kim", "sam"),
        ("sam,measurer=kim", "kim", "sam"),
    ],
)
def test_a_voice_for_all_or_for_one_side(voices: str, measurer: str, logistics: str) -> None:
    assert (voice_of(voices, "measurer"), voice_of(voices, "logistics")) == (measurer, logistics)


def test_a_side_that_there_is_not() -> None:
    with pytest.raises(BadInput, match="measurer=CALLSIGN"):
        voice_of("boss=kim", "measurer")
