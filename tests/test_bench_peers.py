"""The comparison with other recognizers: what is kept, what is counted, what is drawn."""

from __future__ import annotations

import json

import numpy as np
import pytest
import soundfile

from callout.hearing.audio import RATE
from callout.language.resolve import resolve_text
from callout.values import meaning_json
from tests import bench_peers, other_recognizers
from tests.bench_peers import CONDITIONS, OURS, Clip, Task, compared, figures, in_order, in_words, mistakes, page

SAID = "insertion nine feet forty five"
OTHER = "insertion five feet forty five"


def _meaning(words: str):
    result = resolve_text(words)
    return json.loads(json.dumps(meaning_json(result.meaning)))


def _clip(tmp_path, number: int, words: str, person: bool = False) -> Clip:
    file = tmp_path / "kit" / "audio" / f"{number}.wav"
    file.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(file, np.full(RATE, 0.1), RATE)
    return Clip(file, words, _meaning(words), person)


def _row(words: str, first: str | None = None, seconds: float = 0.5):
    found = resolve_text(words)
    return {"outcome": found.outcome, "meaning": meaning_json(found.meaning), "first": first and _meaning(first),
            "sound": 2.0, "seconds": seconds, "load": 1.0}  # fmt: skip


@pytest.fixture
def heard(tmp_path):
    """Three callouts, one right of a person, one wrong, one not heard; two of chatter, one taken."""
    clips = [_clip(tmp_path, 0, SAID, True), _clip(tmp_path, 1, SAID), _clip(tmp_path, 2, SAID)]
    clips += [Clip(clips[0].file, "nice weather", None, False)] * 2
    rows = [_row(SAID, SAID), _row(OTHER, OTHER), _row("", SAID), _row(OTHER), _row("", None, 1.0)]
    return [(Task(OURS, "clean", 0, clip), row) for clip, row in zip(clips, rows, strict=True)]


def test_right_wrong_and_cost_are_counted(heard):
    found = figures(heard)
    assert found["right, %"] == pytest.approx(100 / 3)
    assert found["wrong, %"] == pytest.approx(100 / 3)
    assert found["right in the first reading, %"] == pytest.approx(200 / 3)
    assert found["people's numbers right, %"] == 100
    assert found["chatter taken, %"] == 50
    assert found["processor seconds a second"] == pytest.approx(3.0 / 10.0)


def test_the_page_says_what_the_figures_mean(heard):
    ours = figures(heard)
    worse = {**ours, "right, %": 10.0, "wrong, %": 30.0, "processor seconds a second": 0.9}
    better = {**worse, "right, %": 20.0}
    table = {(name, under): row for under in bench_peers.CONDITIONS
             for name, row in ((OURS, ours), ("worse", worse), ("better", better))}  # fmt: skip
    said = in_words(table, "clean")
    assert "better, 20 % against the ears' 33 %" in said
    assert "3.0 times" in said
    assert "worse" not in said
    lines = list(page(table, "a kit", [task.clip for task, _ in heard], [1.0, 7.0]))
    assert "3 callouts and 2 clips of chatter of a kit" in lines[2]
    assert "load 1 to 7" in lines[4]
    assert not any("stopped" in line for line in lines)
    more = [task.clip for task, _ in heard] * 2
    assert sum("stopped there: 5 recordings" in line for line in page(table, "a kit", more, [1.0])) == 2
    assert sum(line.startswith("| ") for line in lines) == 1 + len(table)
    assert f"| {OURS} | clean | 3, 2 | 33 (6 to 79) | 100 | 67 | 33.3 | 50 | 0.300 |" in lines


def test_what_the_ears_took_for_something_else_is_named(heard):
    kept = {task.name: row for task, row in heard}
    assert list(mistakes([task for task, _ in heard], kept))[2] == f'"{SAID}" (1) through clean.'
    assert not list(mistakes([task for task, _ in heard[:1]], kept))


def test_what_was_heard_is_kept_and_not_heard_again(tmp_path, monkeypatch):
    clips = [_clip(tmp_path, number, SAID) for number in range(3)]
    heard_by: list[str] = []

    def make(who: str):
        def hear(samples):
            heard_by.append(who)
            if len(heard_by) == stop:
                raise KeyboardInterrupt
            return resolve_text(SAID), None

        return hear, ()

    monkeypatch.setattr(bench_peers, "_listener", make)
    tasks = [Task(who, "clean", number, clip) for who in ("one", "two") for number, clip in enumerate(clips)]
    kept, stop = tmp_path / "kept.jsonl", 8  # in the last recording: each hears silence once before
    with pytest.raises(KeyboardInterrupt):
        bench_peers.hear_all(tasks, "m", kept)
    rows = bench_peers.kept_rows(kept, "m")
    assert list(rows) == [task.name for task in tasks[:5]]
    assert all(row["meaning"] == _meaning(SAID) and row["sound"] == 1.0 for row in rows.values())
    assert not bench_peers.kept_rows(kept, "another decision")
    stop = 0
    bench_peers.hear_all([task for task in tasks if task.name not in rows], "m", kept)
    assert list(bench_peers.kept_rows(kept, "m")) == [task.name for task in tasks]
    assert heard_by[8:] == ["two", "two"]  # silence, and the one that was lacking


def test_of_a_run_that_was_stopped_all_are_compared_on_the_same_recordings(tmp_path):
    clips = [_clip(tmp_path, number, SAID) for number in range(130)]
    tasks = in_order((OURS, "peer"), clips)
    assert len({task.name for task in tasks}) == len(tasks) == 2 * len(CONDITIONS) * 130
    assert tasks == in_order((OURS, "peer"), clips)
    row = _row(SAID, SAID)
    for stopped, heard in (
        (60, {}), (125, {"clean": 60}), (300, {"clean": 130}), (400, {"clean": 130, "generator 10": 60}),
    ):  # fmt: skip
        table = compared(tasks, {task.name: row for task in tasks[:stopped]})
        assert {(who, condition): figures["callouts"] for (who, condition), figures in table.items()} == {
            (who, condition): count for condition, count in heard.items() for who in (OURS, "peer")
        }
    early = [task.number for task in tasks[:60]]
    assert min(early) < 30
    assert max(early) > 100


def test_the_draw_needs_the_lists_alone(tmp_path, monkeypatch):
    row = {"words": SAID, "speaker": "v", "kind": "callout", "voice": "v"}
    rows = [{**row, "file": f"audio/{number}.wav"} for number in range(9)]
    rows += [{**row, "kind": "chatter", "words": "nice weather"} for row in rows[:4]]
    people = [{**row, "pieced": True, "speaker": "digits_x"} for row in rows[:5]]
    for folder, lines in ((tmp_path, rows), (tmp_path / "people", people)):
        folder.mkdir(exist_ok=True)
        (folder / "manifest.jsonl").write_text("".join(json.dumps(row) + "\n" for row in lines))
    monkeypatch.setenv("CALLOUT_HELDOUT", str(tmp_path))
    for name, count in (("VOICES", 5), ("PEOPLE", 3), ("CHATTER", 2)):
        monkeypatch.setattr(bench_peers, name, count)
    source, clips = bench_peers.recordings()
    assert [clip.meaning is None for clip in clips] == [False] * 8 + [True] * 2
    assert [clip.person for clip in clips] == [False] * 5 + [True] * 3 + [False] * 2
    assert "18 recordings" in source
    assert bench_peers.recordings()[1] == clips
    with pytest.raises(SystemExit, match="10 of the recordings are not there"):
        bench_peers.bench()


def test_a_peer_that_is_not_installed_is_named(monkeypatch):
    monkeypatch.setitem(other_recognizers.PEERS, "no such", (lambda: None, ("callout", "no_such_package_of_ours")))
    assert other_recognizers.lacking("no such") == ["no_such_package_of_ours"]
