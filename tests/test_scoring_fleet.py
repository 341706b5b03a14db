"""A fleet gives what one machine gives: the same rows in the same order, though a worker is killed on the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from callout.errors import CalloutError
from callout.scoring import fleet
from callout.scoring.conditions import Condition
from callout.scoring.fleet import connected, over_workers
from callout.scoring.run import ScoringTask, run
from tests.scripted_ears import DEADLY, booth_for, write_set

distributed = pytest.importorskip("distributed", reason="the extra callout[fleet] is not installed")

ONE_OF_EACH = [(1, "insertion eleven feet sixty"), (7, "affirm"), (3, "insertion six feet forty five"), (0, "")]


@pytest.fixture(scope="module")
def cluster() -> Iterator[distributed.LocalCluster]:
    """Three worker processes on this machine."""
    with distributed.LocalCluster(
        n_workers=3, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    ) as three:
        yield three


def known(folder: Path, count: int) -> ScoringTask:
    write_set(folder, [(number, {"words": words}) for number, words in ONE_OF_EACH * (count // 4)])
    return ScoringTask(folder / "manifest.jsonl", (Condition(),))


def timeless(rows):
    return [row.model_copy(update={"decode_us": 0}) for row in rows]


@pytest.mark.timeout(120)
def test_a_fleet_gives_what_one_machine_gives_though_a_worker_is_killed(cluster, tmp_path: Path) -> None:
    task, booth = known(tmp_path, 400), booth_for(tmp_path)
    alone = timeless(run(task, booth, 1))
    with connected(cluster.scheduler_address) as client:
        victim = next(iter(client.run(os.getpid).values()))
        rows = run(task, booth, 1, spread=partial(over_workers, client))
        first = [next(rows) for _ in range(20)]
        os.kill(victim, signal.SIGKILL)
        assert timeless([*first, *rows]) == alone
    assert len(alone) == 400


@pytest.mark.timeout(120)
def test_a_recording_on_which_workers_die_is_one_line_with_its_error(cluster, tmp_path: Path) -> None:
    said = [(1, "insertion eleven feet sixty"), (DEADLY, "affirm"), (0, "")]
    write_set(tmp_path, [(number, {"words": words}) for number, words in said])
    task = ScoringTask(tmp_path / "manifest.jsonl", (Condition(),))
    with connected(cluster.scheduler_address) as client:
        rows = list(run(task, booth_for(tmp_path), 1, spread=partial(over_workers, client)))
    assert [row.verdict for row in rows] == ["right", "not_heard", "right"]
    assert rows[1].error == "001.wav: the workers died on it"


def test_no_scheduler_is_one_line_that_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fleet, "CONNECT", 1)
    with pytest.raises(CalloutError, match="start one with: dask scheduler"), connected("tcp://127.0.0.1:9"):
        pass


@pytest.mark.slow
@pytest.mark.audio
def test_the_page_of_scoring_is_true_on_real_ears(cluster, tmp_path: Path) -> None:
    """`callout score DIR --dask ADDRESS` gives the report of `callout score DIR`, but for the times."""
    import json

    def figures(*more: str) -> dict:
        command = [sys.executable, "-m", "callout", "score", "audio_fixtures/demo", "--json", *more]
        report = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
        return {key: report[key] for key in ("overall", "files") if key in report}

    began = time.monotonic()
    assert figures("--dask", cluster.scheduler_address) == figures("--jobs", "1")
    assert time.monotonic() - began < 280
