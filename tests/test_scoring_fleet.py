"""A fleet gives what one machine gives: the same rows in the same order, though a worker is killed on the way."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from callout.errors import CalloutError
from callout.files import data_folder
from callout.scoring import fleet
from callout.scoring.conditions import Condition
from callout.scoring.fleet import connected, over_workers
from callout.scoring.run import ScoringTask, run
from tests.how_much import examples
from tests.scripted_ears import DEADLY, booth_for, write_set

distributed = pytest.importorskip("distributed", reason="the extra callout[fleet] is not installed")
dask = pytest.importorskip("dask")

ONE_OF_EACH = [(1, "insertion eleven feet sixty"), (7, "affirm"), (3, "insertion six feet forty five"), (0, "")]


@pytest.fixture(scope="module")
def cluster() -> Iterator[distributed.LocalCluster]:
    """Three worker processes on this machine. A task may lose two of them before the engine gives it up, not four."""
    with (
        dask.config.set({"distributed.scheduler.allowed-failures": 1}),
        distributed.LocalCluster(n_workers=3, threads_per_worker=1, dashboard_address=None, host="127.0.0.1") as three,
    ):
        yield three


def known(folder: Path, count: int) -> ScoringTask:
    write_set(folder, [(number, {"words": words}) for number, words in ONE_OF_EACH * (count // 4)])
    return ScoringTask(folder / "manifest.jsonl", (Condition(),))


def timeless(rows):
    return [row.model_copy(update={"decode_us": 0}) for row in rows]


@pytest.mark.timeout(280)
def test_a_fleet_gives_what_one_machine_gives_though_a_worker_is_killed(cluster, tmp_path: Path) -> None:
    count = examples(400, 200)
    task, booth = known(tmp_path, count), booth_for(tmp_path)
    alone = timeless(run(task, booth, 1))
    with connected(cluster.scheduler_address) as client:
        victim = next(iter(client.run(os.getpid).values()))
        rows = run(task, booth, 1, spread=partial(over_workers, client))
        first = [next(rows) for _ in range(20)]
        os.kill(victim, signal.SIGKILL)
        assert timeless([*first, *rows]) == alone
    assert len(alone) == count


@pytest.mark.timeout(280)
def test_a_recording_on_which_workers_die_is_one_line_with_its_error(cluster, tmp_path: Path) -> None:
    said = [(1, "insertion eleven feet sixty"), (DEADLY, "affirm"), (0, "")]
    write_set(tmp_path, [(number, {"words": words}) for number, words in said])
    task = ScoringTask(tmp_path / "manifest.jsonl", (Condition(),))
    with connected(cluster.scheduler_address) as client:
        rows = list(run(task, booth_for(tmp_path), 1, spread=partial(over_workers, client)))
    assert [row.verdict for row in rows] == ["right", "not_heard", "right"]
    assert rows[1].error == "001.wav: the workers died on it"


@pytest.mark.timeout(280)
def test_however_many_recordings_the_client_holds_only_what_is_under_way(cluster, tmp_path: Path) -> None:
    """Counted at every row: recordings that were sent and have no row yet, and results that are still held."""
    count = examples(1200, 400)
    task, booth = known(tmp_path, count), booth_for(tmp_path)
    drawn = 0

    def counted(trials):
        nonlocal drawn
        for trial in trials:
            drawn += 1
            yield trial

    with connected(cluster.scheduler_address) as client:
        client.wait_for_workers(3, timeout=200)  # the test before may have killed one
        at_once = fleet._AHEAD * sum(client.nthreads().values())

        def spread(trials, open_booth):
            return over_workers(client, counted(trials), open_booth)

        for number, _ in enumerate(run(task, booth, 1, spread=spread), 1):
            assert drawn - number <= (at_once + 1) * fleet.BATCH
            assert len(client.futures) <= at_once + 1
    assert drawn == number == count


def test_no_scheduler_is_one_line_that_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fleet, "CONNECT", 1)
    with pytest.raises(CalloutError, match="start one with: dask scheduler"), connected("tcp://127.0.0.1:9"):
        pass


@pytest.mark.slow
@pytest.mark.audio
def test_the_page_of_scoring_is_true_on_real_ears(cluster, tmp_path: Path) -> None:
    """`callout score DIR --dask ADDRESS` gives the report of `callout score DIR`, but for the times."""
    def figures(*more: str) -> dict:
        command = [sys.executable, "-m", "callout", "score", "audio_fixtures/demo", "--json", *more]
        report = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
        return {key: report[key] for key in ("overall", "files") if key in report}

    began = time.monotonic()
    assert figures("--dask", cluster.scheduler_address) == figures("--jobs", "1")
    assert time.monotonic() - began < 280


PAGE = (Path(__file__).resolve().parent.parent / "docs" / "scoring.md").read_text("utf-8")


def documented(first_word: str) -> list[str]:
    """The lines of the page's part on several machines that begin so, without their remarks."""
    part = PAGE.partition("## More than one machine")[2].partition("\n## ")[0]
    lines = [line.strip().partition("  #")[0].rstrip() for line in part.splitlines() if line.startswith("    ")]
    return [line for line in lines if line.startswith(first_word)]


def shell(line: str, folder: Path) -> subprocess.Popen[str]:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.Popen(
        ["sh", "-c", f"exec {line}"], cwd=folder, env={**os.environ, "PATH": path}, stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.mark.slow
@pytest.mark.audio
def test_the_lines_of_the_page_start_a_fleet_and_score_on_it(tmp_path: Path) -> None:
    """As they stand there; another port, since somebody may have one of his own on the usual one."""
    port = free_port()
    scheduler, worker = documented("dask ")
    (score,) = [line for line in documented("callout score /shared") if "--dask" in line]
    score = score.replace("/shared/voices", str(data_folder("audio_fixtures") / "demo"))
    begun = [shell(f"{scheduler} --host 127.0.0.1 --port {port}", tmp_path)]
    try:
        for line in (worker, score):
            begun.append(shell(line.replace("HOST:8786", f"127.0.0.1:{port}"), tmp_path))
            if line == worker:
                time.sleep(5)  # dask's own start; a client waits five seconds for a scheduler
        said = begun[-1].communicate(timeout=280)[1]
        assert begun[-1].returncode == 0, said
    finally:
        for process in reversed(begun):
            process.terminate()
        for process in begun:
            process.wait(60)
    report = json.loads((tmp_path / "result" / "score.json").read_text())
    assert report["overall"]["n"] == len(report["files"]) == 30


@pytest.mark.slow
@pytest.mark.audio
def test_the_lines_of_the_page_join_two_shards(tmp_path: Path) -> None:
    (tmp_path / "voices").symlink_to(data_folder("audio_fixtures") / "demo")
    lines = [line for line in documented("callout score") if "--dask" not in line]
    assert [line.split()[3] for line in lines] == ["--shard", "--shard", "a/score.json"]
    for line in lines:
        done = shell(line, tmp_path)
        said = done.communicate(timeout=280)[1]
        assert done.returncode == 0, said
    parts = [json.loads((tmp_path / name / "score.json").read_text()) for name in ("a", "b", "both")]
    assert parts[2]["overall"]["n"] == parts[0]["overall"]["n"] + parts[1]["overall"]["n"] == 30
