"""A set with known answers gives known rates, however it is run."""

from __future__ import annotations

import dataclasses
import functools
import io
import json
import os
import stat
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import soundfile

from callout.errors import BadInput
from callout.journal.lock import WriterLock
from callout.language.context import Context
from callout.scoring.conditions import Condition, babble_voices, conditions
from callout.scoring.evaluation import ROWS_NAME, meant, score, write_files
from callout.scoring.manifest import find_manifest
from callout.scoring.report import merge_reports, text_lines, write_report
from callout.scoring.run import Booth, RowFile, ScoringTask, run
from tests.scripted_ears import booth_for, write_set

AFFIRM = {"command": "affirm"}

#: (answer of the ears, manifest line): 10 recordings whose verdicts are plain.
KNOWN: list[tuple[int | None, dict[str, Any]]] = [
    (1, {"words": "insertion eleven feet sixty", "speaker": "Kim", "noise": "yard"}),
    (1, {"words": "insertion eleven feet sixty", "speaker": "Sam"}),
    (2, {"words": "insertion eleven feet sixty", "speaker": "Sam"}),  # wrong accepted
    (3, {"words": "insertion eleven feet sixty", "speaker": "Sam"}),  # asked again
    (6, {"words": "insertion six feet forty five", "speaker": "Kim"}),  # asked again
    (4, {"words": "insertion six feet forty five", "speaker": "Kim"}),  # not heard
    (7, {"words": "affirm", "meaning": AFFIRM, "seconds": 3}),
    (0, {"words": "", "noise": "generator"}),
    (7, {"words": "put the kettle on", "meaning": None}),  # wrong accepted
    (None, {"words": "affirm", "speaker": "Kim"}),  # a broken file: not heard
]
VERDICTS = ["right", "right", "wrong_accepted", "asked_again", "asked_again", "not_heard", "right", "right",
            "wrong_accepted", "not_heard"]  # fmt: skip
RATES = {"right": 4, "wrong_accepted": 2, "asked_again": 2, "not_heard": 2}

AS_RECORDED = [Condition()]


def scored(folder: Path, **options: Any) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    with score(folder, options.pop("conditions", AS_RECORDED), booth=booth_for(folder), **options) as result:
        return result.report, list(result.files())


def without_times(report: dict[str, Any]) -> dict[str, Any]:
    """What does not depend on the speed of the machine."""
    kept = json.loads(json.dumps(report))
    del kept["seconds"]["decode"], kept["seconds"]["to_readback"]
    del kept["tally"]["times"], kept["tally"]["decode_us"]
    for row in kept["tally"]["worst"]:
        del row["decode_us"]
    return kept


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_set(tmp_path / "recordings", KNOWN)
    return tmp_path / "recordings"


def test_known_answers_give_known_rates(folder: Path) -> None:
    report, files = scored(folder)
    assert report["overall"]["n"] == 10
    assert {name: report["overall"][name]["count"] for name in RATES} == RATES
    assert report["overall"]["right"]["share"] == 0.4
    assert [line["verdict"] for line in files] == VERDICTS
    assert [line["outcome"] for line in files][:4] == ["understood", "understood", "understood", "ambiguous"]
    assert files[0] == {"file": "000.wav", "outcome": "understood", "verdict": "right"}
    assert "not a recording" in files[-1]["error"]


def test_every_way_of_dividing_adds_up(folder: Path) -> None:
    by = scored(folder)[0]["by"]
    assert by["speaker"]["Kim"]["n"] == 4
    assert by["speaker"]["Sam"]["right"]["count"] == 1
    assert by["noise"] == {"generator": by["noise"]["generator"], "yard": by["noise"]["yard"]}
    assert by["length"]["2 to 4 s"]["n"] == 1
    assert by["length"]["0 to 2 s"]["n"] == 8  # the broken one has no length
    assert by["slot"]["insertion"]["n"] == 6
    assert {k: by["slot"]["insertion"][k]["count"] for k in ("right", "wrong", "missed")} == {
        "right": 2, "wrong": 1, "missed": 3}  # fmt: skip
    assert by["slot"]["angle_deg"]["right"]["count"] == 3
    assert by["slot"]["command"]["n"] == 1


def test_words_are_counted_as_jiwer_counts_them(folder: Path) -> None:
    """jiwer over all pairs at once is the outside figure for the sum of ours."""
    import jiwer

    eleven, six = "insertion eleven feet sixty", "insertion six feet forty five"
    said = [line["words"] for answer, line in KNOWN[:7]]  # the others hold no callout, or no sound
    heard = [eleven, eleven, eleven.replace("eleven", "twelve"), eleven, six, "sixty", "affirm"]
    report = scored(folder)[0]
    assert report["words"]["error_rate"] == pytest.approx(jiwer.process_words(said, heard).wer)
    assert ["eleven", "twelve", 1] in report["confusion"]
    assert ["eleven", "eleven", 3] in report["confusion"]


@pytest.mark.parametrize("words", ["Insertion eleven feet, sixty.", "insertion 11 feet 60", "insertion 11' 60"])
def test_how_the_words_are_written_is_no_word_error(tmp_path: Path, words: str) -> None:
    meaning = {"insertion": {"eightieths_mm": 268224}, "angle_deg": 60}
    write_set(tmp_path / "r", [(1, {"words": words, "meaning": meaning})])
    report = scored(tmp_path / "r")[0]
    assert report["words"]["error_rate"] == 0
    assert {said == heard for said, heard, _ in report["confusion"]} == {True}


def test_meanings_that_came_from_the_words_are_said_to(folder: Path) -> None:
    notes = scored(folder)[0]["notes"]
    assert any(note.startswith("7 meanings were not in the manifest") for note in notes)
    assert any("1 recordings could not be read" in note for note in notes)


def test_the_worst_come_first(folder: Path) -> None:
    worst = scored(folder)[0]["tally"]["worst"]
    assert [row["verdict"] for row in worst] == ["wrong_accepted"] * 2 + ["not_heard"] * 2 + ["asked_again"] * 2


def test_processes_give_what_one_gives_in_the_same_order(folder: Path) -> None:
    import multiprocessing

    alone, many = scored(folder), scored(folder, jobs=2)
    assert not multiprocessing.active_children()  # none is left for Python's own ending to stumble over
    assert without_times(alone[0]) == without_times(many[0])
    assert alone[1] == many[1]


@pytest.mark.parametrize("parts", [3])
def test_shards_join_to_exactly_the_whole(folder: Path, tmp_path: Path, parts: int) -> None:
    levels = conditions(["clean", "white"], [10, 0], None, 1, 0)
    whole, whole_files = scored(folder, conditions=levels)
    paths = []
    for part in range(parts, 0, -1):  # in any order
        report, files = scored(folder, conditions=levels, shard=(part, parts))
        path = tmp_path / f"{part}.json"
        with path.open("w") as out:
            write_report(report, files, out)
        paths.append(path)
    joined, joined_files = merge_reports(paths)
    assert joined_files == whole_files
    assert without_times(joined) == without_times(whole)


def test_shards_that_do_not_belong_together_are_refused(folder: Path, tmp_path: Path) -> None:
    paths = []
    for part, levels in ((1, AS_RECORDED), (2, conditions(["white"], [], None, 1, 0))):
        report, files = scored(folder, conditions=levels, shard=(part, 2))
        paths.append(tmp_path / f"{part}.json")
        with paths[-1].open("w") as out:
            write_report(report, files, out)
    with pytest.raises(BadInput, match="other recordings or options"):
        merge_reports(paths)
    with pytest.raises(BadInput, match="each of the 2 shards once, have 1/2, 1/2"):
        merge_reports([paths[0], paths[0]])
    (tmp_path / "no.json").write_text('{"files": []}')
    with pytest.raises(BadInput, match="no report"):
        merge_reports([tmp_path / "no.json"])


def test_a_process_that_dies_costs_one_recording(tmp_path: Path) -> None:
    good = {"words": "insertion eleven feet sixty"}
    write_set(tmp_path / "r", [(1, good), (5, good), (1, good)])
    report, files = scored(tmp_path / "r", jobs=2)
    assert [line["verdict"] == "right" for line in files] == [True, False, True]
    assert files[1]["error"] == "001.wav: the ears' process died on it"
    assert report["overall"]["n"] == 3


def test_a_stopped_run_goes_on_where_it_was(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    heard: list[int] = []

    class Stop(Exception):
        pass

    def counted() -> Any:
        booth = booth_for(folder)()
        listen = booth.listen

        def stopping(samples: Any, context: Any) -> Any:
            heard.append(len(heard))
            if len(heard) == 6:
                raise Stop
            return listen(samples, context)

        booth.listen = stopping
        return booth

    with pytest.raises(Stop), score(folder, AS_RECORDED, out=out, booth=counted):
        pass
    rows = out / ROWS_NAME
    assert rows.read_text().count("\n") == 6  # the settings and five rows
    rows.write_text(rows.read_text() + '{"trial": 5, "cut in the mid')
    with score(folder, AS_RECORDED, out=out, booth=counted) as result:
        report, files = result.report, list(result.files())
    assert len(heard) == 6 + 4  # the sixth again, then three; the broken one is never heard
    assert [line["verdict"] for line in files] == VERDICTS
    assert without_times(report) == without_times(scored(folder)[0])
    assert not rows.exists()


def test_a_report_that_could_not_be_finished_leaves_the_last_one(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    with score(folder, AS_RECORDED, out=out, booth=booth_for(folder)) as result:
        write_files(result, out, folder, AS_RECORDED)
        before = {path.name: path.read_bytes() for path in out.glob("*.*") if path.name.startswith(("score", "junit"))}
        assert len(before) == 3

        def full(*_: Any, **__: Any) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("callout.files.os.fsync", full)
        with pytest.raises(BadInput, match=r"score.json \(No space left on device\); make room"):
            write_files(result, out, folder, AS_RECORDED)
        assert {name: (out / name).read_bytes() for name in before} == before
        assert not list(out.glob("*.part"))


def test_a_callout_that_the_scored_state_has_no_words_for_was_missed(tmp_path: Path) -> None:
    """Scored in the state of digits, nothing heard: a callout was said all the same, and chatter was not."""
    write_set(
        tmp_path, [(0, {"words": "insertion eleven feet sixty"}), (0, {"words": "six"}), (0, {"words": "put it down"})]
    )
    in_digits = functools.partial(deaf_booth, tmp_path, "digits")
    with score(tmp_path, AS_RECORDED, state="digits", booth=in_digits) as result:
        assert [line["verdict"] for line in result.files()] == ["not_heard", "not_heard", "right"]


def deaf_booth(folder: Path, state: str) -> Booth:
    """A booth whose ears hear nothing; what the words mean is worked out as in any other."""
    return dataclasses.replace(booth_for(folder)(), resolve=functools.partial(meant, Context(state=state)))


def test_bottomless_brackets_are_no_report(tmp_path: Path) -> None:
    (tmp_path / "score.json").write_text("[" * 100_000)
    with pytest.raises(BadInput, match="is no report"):
        merge_reports([tmp_path / "score.json"])


def test_two_runs_at_once_do_not_share_a_folder(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    other = WriterLock(out / "rows.lock")
    assert other.take()
    with pytest.raises(BadInput, match="another run is writing"):
        scored(folder, out=out)
    other.drop()
    assert scored(folder, out=out)[0]["overall"]["n"] == len(KNOWN)
    assert not (out / "rows.lock").exists()


def test_rows_of_another_run_are_not_mixed_in(tmp_path: Path) -> None:
    RowFile(tmp_path / "rows", {"a": 1}).close()
    RowFile(tmp_path / "rows", {"a": 1}).close()
    with pytest.raises(BadInput, match="stopped run of other recordings"):
        RowFile(tmp_path / "rows", {"a": 2})


def test_the_report_never_goes_among_the_recordings(folder: Path) -> None:
    before = sorted(folder.iterdir())
    for out in (folder, folder / "deep" / "er"):
        with pytest.raises(BadInput, match="among the recordings"), score(folder, AS_RECORDED, out=out):
            pass
    scored(folder)
    assert sorted(folder.iterdir()) == before


class Page(HTMLParser):
    """Every address in a page, and every tag."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        shown = ("src", "href", "data-sound")  # a row gives its sound to the player
        self.addresses += [value or "" for name, value in attrs if name in shown and value]


def test_the_page_needs_no_network_and_plays_the_worst(tmp_path: Path) -> None:
    folder, out = tmp_path / "a & b", tmp_path / "out"
    write_set(folder, [(2, {"words": "insertion eleven feet sixty", "file": "<one> #1.wav"})])
    with score(folder, AS_RECORDED, out=out, booth=booth_for(folder)) as result:
        paths = write_files(result, out, folder, AS_RECORDED)
    text = (out / "score.html").read_text()
    page = Page()
    page.feed(text)
    assert page.addresses == ["../a%20%26%20b/%3Cone%3E%20%231.wav"]
    assert "svg" in page.tags
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "&lt;one&gt; #1.wav" in text
    report = json.loads((out / "score.json").read_text())
    assert report["files"] == [{"file": "<one> #1.wav", "outcome": "understood", "verdict": "wrong_accepted"}]
    assert [p.name for p in paths] == ["score.json", "score.html", "junit.xml"]


def test_simulated_recordings_are_played_as_they_were_heard(tmp_path: Path, folder: Path) -> None:
    pytest.importorskip("callout.hearing.audio")
    out, levels = tmp_path / "out", conditions(["white"], [0], None, 1, 0)
    with score(folder, levels, out=out, booth=booth_for(folder)) as result:
        write_files(result, out, folder, levels)
    if os.name == "posix":  # people's voices, and what they said
        assert {stat.S_IMODE(file.stat().st_mode) for file in out.rglob("*") if file.is_file()} == {0o600}
        assert {stat.S_IMODE(folder.stat().st_mode) for folder in (out, out / "worst")} == {0o700}
    page = Page()
    page.feed((out / "score.html").read_text())
    assert page.addresses
    for address in page.addresses:
        assert soundfile.info(out / address).duration > 1


def test_junit_counts_failures_and_errors(tmp_path: Path, folder: Path) -> None:
    out = tmp_path / "out"
    with score(folder, AS_RECORDED, out=out, booth=booth_for(folder)) as result:
        write_files(result, out, folder, AS_RECORDED)
    suite = ElementTree.parse(out / "junit.xml").getroot()[0]
    assert (suite.get("tests"), suite.get("failures"), suite.get("errors")) == ("10", "5", "1")
    assert len(suite.findall("testcase/failure")) == 5
    assert len(suite.findall("testcase/error")) == 1


def test_a_difference_is_found_in_pairs(tmp_path: Path) -> None:
    line = {"words": "insertion eleven feet sixty"}
    write_set(tmp_path / "before", [(1, line)] * 10 + [(4, line)] * 12)
    write_set(tmp_path / "now", [(1, line)] * 22)
    before, files = scored(tmp_path / "before")
    before["files"] = files
    report, _ = scored(tmp_path / "now", other=("before", before))
    right = report["compare"]["right"]
    assert (right["both"], right["only_this"], right["only_other"], right["neither"]) == (10, 12, 0, 0)
    assert right["p_value"] == pytest.approx(2 / 2**12)
    assert any("a real difference" in text for text in text_lines(report))
    with pytest.raises(BadInput, match="in common"):
        scored(tmp_path / "now", other=("x", {**before, "files": [{"file": "?", "verdict": "right"}]}))


def test_levels_and_seeds_make_a_curve(tmp_path: Path) -> None:
    write_set(tmp_path / "few", KNOWN[:2])
    levels = conditions(["generator", "late"], [20, 0], None, 2, 5)
    assert len(levels) == 8
    assert levels[0].label == "radio generator 20 dB seed 5"
    report = scored(tmp_path / "few", conditions=levels)[0]
    assert [(p["channel"], p["snr_db"], p["n"]) for p in report["curve"]] == [
        ("late generator", 20, 4), ("late generator", 0, 4), ("radio generator", 20, 4), ("radio generator", 0, 4),
    ]  # fmt: skip
    assert len(report["by"]["condition"]) == 8


def test_noise_differs_between_files_and_not_between_runs() -> None:
    import numpy as np

    sound = np.sin(np.arange(16000) / 5) * 0.1
    condition = conditions(["babble"], [10], None, 1, 0)[0]
    assert len(babble_voices()) == 5
    assert np.array_equal(condition.apply(sound, "a"), condition.apply(sound, "a"))
    assert not np.array_equal(condition.apply(sound, "a"), condition.apply(sound, "b"))


def test_the_json_of_a_run_is_one_object(folder: Path) -> None:
    report, files = scored(folder)
    out = io.StringIO()
    write_report(report, files, out)
    assert out.getvalue().count("\n") == 1
    assert json.loads(out.getvalue())["files"] == files


def test_thousands_of_recordings_take_no_more_memory_than_a_few(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Peak of Python's own allocations, 100 recordings against 1,000 (the files are one file many times)."""
    import gc
    import tracemalloc

    usual = gc.get_threshold()
    request.addfinalizer(lambda: gc.set_threshold(*usual))
    gc.set_threshold(700)  # or most of what is counted is garbage that waits for its round

    def peak(count: int) -> int:
        folder = tmp_path / str(count)
        write_set(folder, [(2, {"words": "insertion eleven feet sixty", "file": "one.wav"})])
        manifest = folder / "manifest.jsonl"
        manifest.write_text(manifest.read_text() * count)
        task = ScoringTask(find_manifest(folder), (Condition(),))
        rows = RowFile(folder / "rows", {})
        tracemalloc.start()
        for row in run(task, booth_for(folder), 1):
            rows.add(row)
        with (folder / "out.json").open("w") as out:
            from callout.scoring.report import build_report, file_line
            from callout.scoring.statistics import Tally

            tally = Tally()
            for row in rows.rows():
                tally.add(row)
            write_report(build_report(tally, {}), (file_line(row) for row in rows.rows()), out)
        used = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        rows.close()
        return used

    peak(5)  # imports and caches
    # A row kept is a thousand bytes and more; garbage that waits for its round makes a difference of 100,000.
    assert peak(1000) < peak(100) + 200_000
