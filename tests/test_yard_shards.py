"""Parts of a day of yard sound, heard apart and put together again (`tests/proof_yard.py`)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import linregress
from scipy.stats import t as student

from callout.hearing.live import Segment
from callout.hearing.recognizer import Heard
from callout.language.resolve import resolve_text
from tests import proof_yard
from tests.proof_yard import BLOCK, CHUNK, NOTED, WARM, clock, numbers, page, read
from tests.yard_memory import growth
from tests.yard_sound import Piece, Yard

DAY = 24 * 60
NOTHING: dict[str, list[dict[str, Any]]] = {kind: [] for kind in NOTED}
AFFIRM = {
    "words": "affirm", "state": "confirm", "at": 3.0, "sound": ["talk: n05", "knock"], "said": False, "answered": True,
}  # fmt: skip


SHARE = "With their share of what others map too (PSS) they held"


def look(number: int, run: str, **others: Any) -> dict[str, Any]:
    return {
        "number": number, "run": run, "began": 0.0, "took": 30.0, "machine": "2 processors (model)", "restarts": 0,
        "code": "abc",
        "wrote": {"heard": 1}, "noted": NOTHING, "open": 30.0, "MB": 500.0, "files": 24, "processes": 4,
        "own": {"Vosk ear": 80.0}, **others,
    }  # fmt: skip


@pytest.mark.parametrize("parts", [1, 7, 30, 32])
def test_the_parts_of_a_day_are_the_day(parts: int) -> None:
    shares = [numbers(f"{part}/{parts}", DAY) for part in range(1, parts + 1)]
    assert [number for share in shares for number in share] == list(range(DAY))
    assert max(map(len, shares)) - min(map(len, shares)) <= 1


@pytest.mark.parametrize("shard", ["0/30", "31/30"])
def test_there_is_no_part_outside_the_day(shard: str) -> None:
    with pytest.raises(ValueError, match="no part"):
        numbers(shard, DAY)


def test_logs_are_put_together_in_the_order_of_the_sound(tmp_path: Path) -> None:
    for name, pieces in (("a", (4, 5)), ("b", (0, 1)), ("c", (1, 2))):
        lines = [json.dumps(look(number, name)) for number in pieces]
        (tmp_path / f"{name}.jsonl").write_text("\n".join(lines) + "\n", "utf-8")
    together = read(tmp_path)
    assert [(one["number"], one["run"]) for one in together] == [(0, "b"), (1, "b"), (2, "c"), (4, "a"), (5, "a")]


@pytest.mark.parametrize(("ending", "taken"), [("quiet", 1), ("end", 0)])
def test_what_the_end_of_a_piece_cuts_off_is_nobodys(
    ending: str, taken: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ "Roger that, moving to the north side now" is no "roger that" because a minute is over."""
    heard = Heard(resolve_text("roger that"), (("roger", "that"),), 1.0, 0.0, "two ears")
    segment = Segment(58.5, 60.0, np.zeros(9, np.float32), ending, heard)  # type: ignore[arg-type]
    monkeypatch.setattr(proof_yard, "utterances", lambda source, ears, context: [segment])
    found = proof_yard._listen(Yard(), None, 2)  # type: ignore[arg-type]
    assert len(found["noted"]["taken"]) == taken
    assert found["wrote"].get("heard", 0) == taken


def test_a_part_hears_its_pieces_and_leaves_out_what_was_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[int] = []
    monkeypatch.setattr(proof_yard, "_hear", lambda to_hear, ends, log, run: heard.extend(to_hear))
    monkeypatch.setattr(proof_yard, "_write", lambda looks: pytest.fail("a part wrote the page"))
    (tmp_path / "before.jsonl").write_text(json.dumps(look(99, "before")) + "\n", "utf-8")
    for name, value in (("YARD_LOGS", str(tmp_path)), ("YARD_SHARD", "3/30"), ("YARD_HOURS", "24")):
        monkeypatch.setenv(name, value)
    proof_yard.prove()
    assert heard == [96, 97, 98, *range(100, 144)]


def test_a_line_that_was_being_written_when_its_process_was_ended_is_left_out(tmp_path: Path) -> None:
    line = json.dumps(look(7, "a"))
    (tmp_path / "a.jsonl").write_text(f"{line}\n{json.dumps(look(8, 'a'))[:90]}", "utf-8")
    assert [one["number"] for one in read(tmp_path)] == [7]


def test_growth_is_a_plain_regression_on_the_means_of_blocks() -> None:
    values = [500 + 3 * x + float(rest) for x, rest in enumerate(np.random.default_rng(1).normal(0, 9, 60))]
    means = np.array(values).reshape(6, 10).mean(axis=1)
    plain = linregress(np.arange(6) * 10 * CHUNK / 3600, means)  # scipy's least squares
    found = growth(values, CHUNK, 10)
    assert found is not None
    assert found.slope == pytest.approx(plain.slope)
    assert found.wide == pytest.approx(plain.stderr * student.ppf(0.975, 4))


def test_the_looks_that_fill_no_block_are_the_first_ones() -> None:
    steady = [100.0, 101.0, 102.0, 103.0, 104.0, 105.0, 106.0, 107.0]
    assert growth([900.0, *steady], CHUNK, 2) == growth(steady, CHUNK, 2)
    assert growth(steady[:7], CHUNK, 2) is None


def test_memory_that_stays_where_it_is_does_not_grow() -> None:
    assert growth([300.0] * 4 * BLOCK, CHUNK, BLOCK) == pytest.approx((0.0, 0.0, 4))


def test_time_in_which_two_processes_hear_counts_once() -> None:
    looks = [look(n, "a", began=began, took=took) for n, (began, took) in enumerate(((0, 10), (5, 10), (30, 5)))]
    assert clock(looks) == 20


def test_the_page_tells_what_was_taken_and_the_sound_round_it() -> None:
    looks = [look(n, "a" if n < 60 else "b") for n in range(80)]
    looks[7]["noted"] = NOTHING | {"taken": [AFFIRM], "voided": [AFFIRM]}
    text = page(looks)
    assert "**1.3 hours** of sound" in text
    assert "not reached" in text
    assert "heard by 2 processes with 20 to 60 minutes" in text
    assert "| taken for a command or a callout | 1 (7.5 in 10 h" in text  # 1 in 1 h 20 min
    assert "| of these, misheard: nobody said these words | 1 (7.5 in 10 h" in text
    assert "| of these, such as were answered by a word or by silence | 1 |" in text
    assert "| taken for one in doubt, and asked for | 0 |" in text
    assert text.count("| affirm | confirm | talk: n05; knock |") == 2
    assert "Readbacks voided: 1. In the sound of so many of them: " in text


@pytest.mark.parametrize(("words", "moves"), [("affirm", 1), ("insertion eleven feet sixty", 1), ("quiet", 0)])
def test_what_only_makes_the_voice_speak_or_be_silent_is_told_apart(words: str, moves: int) -> None:
    taken = {"words": words, "state": "confirm", "at": 3.0, "sound": ["knock"], "said": False, "answered": True}
    assert f"make the voice speak or be silent | {moves} |" in page([look(0, "a", noted=NOTHING | {"taken": [taken]})])


def test_the_memory_on_the_page_is_that_of_who_heard_longest() -> None:
    many = WARM + 4 * BLOCK
    rising = [look(n, "a", MB=549.0, own={"Vosk ear": 80.0, "conversation": 420.0 + n}) for n in range(many)]
    text = page([*rising, *(look(many + n, "b", MB=900.0) for n in range(5))])
    assert "process that heard longest, 50 minutes" in text
    assert "| together | 500 | 530 | 549 | 549 | +60.0 (+60.0 to +60.0) |" in text
    assert "| Vosk ear | 80 | 80 | 80 | 80 | +0.0 (+0.0 to +0.0) |" in text
    assert "- Commit abc: 2 processes, 0.9 hours. " in text
    assert "they held 549 to 900 MB at their ends, 900 MB at most;" in text
    assert "files and processes stayed the same" in text


def test_what_was_heard_by_another_commit_is_told_apart() -> None:
    text = page([look(0, "a", code="old", MB=900.0), look(1, "b", code="new", MB=300.0)])
    assert f"- Commit old: 1 processes, 0.0 hours. {SHARE} 900 to 900 MB" in text
    assert f"- Commit new: 1 processes, 0.0 hours. {SHARE} 300 to 300 MB" in text


def test_a_log_of_before_what_is_a_processs_own_was_measured_says_nothing_of_growth() -> None:
    before = [look(n, "a") for n in range(WARM + 9)]
    for one in before:
        del one["own"]
    assert "What the processes hold" not in page(before)
    assert "process that heard longest, 2 minutes" in page([*before, look(90, "b"), look(91, "b")])


def test_where_no_process_outlasts_the_warm_up_growth_is_not_claimed() -> None:
    assert "**not measured: too short**" in page([look(n, "a") for n in range(WARM + 2)])


def test_files_that_grow_after_the_warm_up_are_told() -> None:
    assert "stayed **not** the same" in page([look(n, "a", files=24 + (n > WARM + 3)) for n in range(WARM + 9)])


def test_a_piece_of_the_yard_is_the_same_each_time_and_says_what_it_is_made_of() -> None:
    yard = Yard()
    first, pieces = yard.sound(20.0, 5), yard.pieces
    again = yard.sound(20.0, 5)
    assert len(first) == 20 * 16_000
    assert np.array_equal(first, again)
    assert yard.pieces == pieces
    assert yard.around(0.0, 0.1) == [pieces[0].what]
    assert yard.around(0.0, 20.0) == [piece.what for piece in pieces]
    assert not np.array_equal(first, yard.sound(20.0, 6))


def test_words_that_somebody_said_are_not_misheard() -> None:
    yard = Yard()
    yard.pieces = [
        Piece(0.0, 4.0, 'radio: "roger that moving north" (n05_awb_clean), white at 8 dB'), Piece(4.0, 9.0, "silence"),
        Piece(9.0, 12.0, 'talk: "that is all" (espeak:en-us)'),
    ]  # fmt: skip
    assert yard.said("roger that", 1.0, 2.0)
    assert not yard.said("roger that", 5.0, 11.0), "not in these seconds"
    assert not yard.said("north that", 0.0, 12.0), "not one after the other"
    assert not yard.said("rogers", 0.0, 4.0)
