"""Parts of a day of yard sound, heard apart and put together again (`tests/proof_yard.py`)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import linregress
from scipy.stats import t as student

from tests import proof_yard
from tests.proof_yard import CHUNK, WARM, clock, growth, numbers, page, read


def look(number: int, run: str, **others: Any) -> dict[str, Any]:
    return {
        "number": number, "run": run, "began": 0.0, "took": 30.0, "machine": "2 processors (model)", "restarts": 0,
        "wrote": {"heard": 1}, "taken": [], "asked": [], "open": 60.0, "MB": 500.0, "files": 24, "processes": 4,
        **others,
    }  # fmt: skip


def paged(looks: list[dict[str, Any]]) -> str:
    return page(looks, {run: [x for x in looks if x["run"] == run] for run in dict.fromkeys(x["run"] for x in looks)})


@pytest.mark.parametrize("parts", [1, 7, 30, 32])
def test_the_parts_of_a_day_are_the_day(parts: int) -> None:
    shares = [numbers(f"{part}/{parts}", 720) for part in range(1, parts + 1)]
    assert [number for share in shares for number in share] == list(range(720))
    assert max(map(len, shares)) - min(map(len, shares)) <= 1


@pytest.mark.parametrize("shard", ["0/30", "31/30"])
def test_there_is_no_part_outside_the_day(shard: str) -> None:
    with pytest.raises(ValueError, match="no part"):
        numbers(shard, 720)


def test_logs_are_put_together_in_the_order_of_the_sound(tmp_path: Path) -> None:
    for name, pieces in (("a", (4, 5)), ("b", (0, 1)), ("c", (1, 2))):
        lines = [json.dumps(look(number, name)) for number in pieces]
        (tmp_path / f"{name}.jsonl").write_text("\n".join(lines) + "\n", "utf-8")
    together = read(tmp_path)
    assert [(one["number"], one["run"]) for one in together] == [(0, "b"), (1, "b"), (2, "c"), (4, "a"), (5, "a")]


def test_a_part_hears_its_pieces_and_leaves_out_what_was_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[int] = []
    monkeypatch.setattr(proof_yard, "_hear", lambda to_hear, ends, log, run: heard.extend(to_hear))
    monkeypatch.setattr(proof_yard, "_write", lambda looks: pytest.fail("a part wrote the page"))
    (tmp_path / "before.jsonl").write_text(json.dumps(look(49, "before")) + "\n", "utf-8")
    for name, value in (("YARD_LOGS", str(tmp_path)), ("YARD_SHARD", "3/30"), ("YARD_HOURS", "24")):
        monkeypatch.setenv(name, value)
    proof_yard.prove()
    assert heard == [48, *range(50, 72)]


def test_the_growth_of_one_run_is_that_of_a_plain_regression() -> None:
    values = [500 + 3 * x + float(rest) for x, rest in enumerate(np.random.default_rng(1).normal(0, 9, 20))]
    plain = linregress(np.arange(20) * CHUNK / 3600, values)  # scipy's least squares
    found = growth([values])
    assert found is not None
    assert found.slope == pytest.approx(plain.slope)
    assert found.wide == pytest.approx(plain.stderr * student.ppf(0.975, 18))


def test_the_growth_of_many_runs_knows_that_each_begins_elsewhere() -> None:
    found = growth([[100.0 + x, 101.0 + x, 102.0 + x, 103.0 + x] for x in (0, 900, 300)])
    assert found is not None
    assert found.slope == pytest.approx(3600 / CHUNK)
    assert found.wide == pytest.approx(0, abs=1e-6)
    assert growth([[1.0, 2.0, 3.0]]) is None


def test_time_in_which_two_processes_hear_counts_once() -> None:
    looks = [look(n, "a", began=began, took=took) for n, (began, took) in enumerate(((0, 10), (5, 10), (30, 5)))]
    assert clock(looks) == 20


def test_the_page_tells_what_was_taken_and_that_no_process_heard_a_day() -> None:
    looks = [look(n, "a" if n < 20 else "b", began=100.0 * n, MB=500.0 + n % 3) for n in range(40)]
    looks[7]["taken"] = ["affirm (confirming)"]
    text = paged(looks)
    assert "**1.3 hours** of sound" in text
    assert "not reached" in text
    assert "heard by 2 processes with 40 to 40 minutes" in text
    assert "No process heard a day" in text
    assert "| taken for a command or a callout | 1 (7.5 in 10 h" in text  # 1 in 1 h 20 min
    assert "affirm (confirming) x1" in text
    assert text.count("| 500, ") == 1
    assert text.count("| 24, 24 | 4, 4 |") == 2  # one row a process


def test_where_no_process_outlasts_the_warm_up_growth_is_not_claimed() -> None:
    text = paged([look(n, "a") for n in range(WARM + 2)])
    assert "growth after the warm-up is not measured" in text
    assert "Growth after the warm-up" not in text
    assert "the warm-up included, one slope through 17 looks of all processes: +0 MB" in text


def test_what_was_in_doubt_and_asked_for_is_told_apart_from_what_was_taken() -> None:
    text = paged([look(n, "a", asked=["there are four struts (confirm)"] if n == 3 else []) for n in range(20)])
    assert "| taken for a command or a callout | 0 (" in text
    assert "| taken for one in doubt, and asked for | 1 |" in text
