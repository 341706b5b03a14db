"""`callout score` and `callout radio` as a user types them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from callout.cli import main
from callout.files import data_folder
from callout.scoring.schemas import RadioLine, Score

DEMO = data_folder("audio_fixtures") / "demo"


def run(capfd: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        main([str(a) for a in arguments])
    out, err = capfd.readouterr()
    return int(ended.value.code or 0), out, err


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A few of the demo's recordings, a broken file, and one that is listed and not there."""
    folder = tmp_path / "voices"
    folder.mkdir()
    lines = [json.loads(line) for line in (DEMO / "manifest.jsonl").read_text().splitlines()]
    wanted = {"whole_clean.flac", "chatter_clean.flac", "affirm_radio.flac"}
    with (folder / "manifest.jsonl").open("w") as manifest:
        for line in lines:
            if line["file"] in wanted:
                shutil.copy(DEMO / line["file"], folder)
                manifest.write(json.dumps(line) + "\n")
        (folder / "broken.wav").write_bytes(b"RIFF")
        manifest.write('{"file": "broken.wav", "words": "affirm"}\n{"file": "gone.wav", "words": "affirm"}\n')
    return folder


@pytest.mark.audio
def test_a_folder_through_the_ears(folder: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = sorted(p.name for p in folder.iterdir())
    out_folder = tmp_path / "result"
    code, out, err = run(capfd, "score", folder, "--json", "--jobs", 1, "--out", out_folder)
    assert code == 2, "two of the recordings are not there, or cannot be read"
    assert out.count("\n") == 1
    report = json.loads(out)
    Score.model_validate(report)
    assert report == json.loads((out_folder / "score.json").read_text())
    assert report["overall"]["n"] == 5
    assert report["overall"]["right"]["count"] == 3
    assert [line["file"] for line in report["files"] if "error" in line] == ["broken.wav", "gone.wav"]
    assert sorted(p.name for p in folder.iterdir()) == before
    assert {p.name for p in out_folder.iterdir()} == {"score.json", "score.html", "junit.xml"}
    assert "wrote" in err

    code, out, _ = run(capfd, "score", "--merge", out_folder / "score.json")
    assert code == 0
    assert out.startswith("5 recordings heard")


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (["score", "{}/nowhere"], "no such folder"),
        (["score", "{}"], "holds no manifest"),
        (["score", "{}", "{}"], "name one folder"),
        (["score", "{}/v", "--channel", "tunnel"], "no channel 'tunnel'"),
        (["score", "{}/v", "--snr", "ten"], "--snr takes numbers"),
        (["score", "{}/v", "--snr", "500"], "-40 to 80"),
        (["score", "{}/v", "--shard", "3/2"], "write it as 2/8"),
        (["score", "{}/v", "--state", "asleep"], "not known"),
        (["score", "{}/v", "--grammar", "digits", "--state", "idle"], "not both"),
        (["score", "{}/v", "--compare", "{}/v/manifest.jsonl"], "is no report"),
        (["score", "{}/v", "--out", "{}/v/out"], "among the recordings"),
        (["score", "--merge", "{}/v/manifest.jsonl"], "is no report"),
        (["radio", "{}/nothing.wav", "{}/out.wav"], "no such file"),
        (["radio", "{}", "{}/out.wav"], "a folder"),
        (["record", "{}/new", "--words", "{}/none.txt"], "cannot read none.txt: No such file"),
        (["record", "{}/new", "--state", "asleep"], "not known"),
        (["radio", str(DEMO / "whole_clean.flac"), "{}/out.mp3"], ".wav or .flac"),
        (["radio", str(DEMO / "whole_clean.flac"), "{}/none/out.wav"], "cannot be written"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(
    arguments: list[str], what: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    run(capfd, "score", "--init", tmp_path / "v")
    code, out, err = run(capfd, *[a.replace("{}", str(tmp_path)) for a in arguments])
    assert (code, out) == (2, "")
    assert what in err
    assert err.count("\n") == 1
    assert not (tmp_path / "out.wav").exists()


@pytest.mark.parametrize("option", ["--snr", "--late", "--boost"])
def test_a_figure_that_is_no_number(option: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capfd, "radio", DEMO / "whole_clean.flac", tmp_path / "out.wav", option, "nan")
    assert (code, out) == (2, "")
    assert "'nan' is not a number" in err
    assert not (tmp_path / "out.wav").exists()


def test_the_example_manifest_is_written_once(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert run(capfd, "score", "--init", tmp_path / "new")[0] == 0
    assert run(capfd, "score", "--init", tmp_path / "new")[0] == 2


def test_a_recording_over_the_radio(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    source, target = DEMO / "whole_clean.flac", tmp_path / "yard.wav"
    code, out, _ = run(capfd, "radio", source, target, "--snr", 10, "--noise", "babble", "--late", 150, "--json")
    assert code == 0
    line = json.loads(out)
    RadioLine.model_validate(line)
    heard, rate = soundfile.read(target)
    assert rate == 16000
    assert line["seconds"] == pytest.approx(len(heard) / rate)
    lost = soundfile.info(source).duration + 0.18 - line["seconds"]
    clean = np.abs(soundfile.read(source)[0])
    began = np.argmax(clean > 0.03 * clean.max()) / rate
    assert lost == pytest.approx(began + 0.15, abs=0.05)  # the silence before the speech, and the late key
    first = target.read_bytes()
    run(capfd, "radio", source, target, "--snr", 10, "--noise", "babble", "--late", 150)
    assert target.read_bytes() == first
    run(capfd, "radio", source, tmp_path / "other.flac", "--snr", 10, "--noise", "babble", "--seed", 1)
    assert not np.array_equal(soundfile.read(tmp_path / "other.flac")[0][:8000], heard[:8000])


def test_the_recording_itself_is_never_written_over(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    copy = tmp_path / "a.flac"
    shutil.copy(DEMO / "affirm_clean.flac", copy)
    before = copy.read_bytes()
    code, _, err = run(capfd, "radio", copy, copy)
    assert code == 2
    assert "itself" in err
    assert copy.read_bytes() == before


@pytest.mark.audio
@pytest.mark.slow
def test_ctrl_c_ends_at_once_and_the_same_command_goes_on(tmp_path: Path) -> None:
    import signal
    import subprocess
    import sys
    import time

    command = [sys.executable, "-m", "callout", "score", str(DEMO), "--out", str(tmp_path / "out"), "--jobs", "2"]
    rows = tmp_path / "out" / "rows.jsonl"
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    while not (rows.exists() and rows.read_text().count("\n") > 3):
        assert running.poll() is None
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=30)
    assert running.returncode == 130
    assert "the same command goes on from there" in err
    assert "Traceback" not in err
    kept = rows.read_text()
    again = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert again.returncode == 0
    assert again.stdout.startswith("30 recordings heard")
    assert kept.count("\n") > 3
    assert not rows.exists()
