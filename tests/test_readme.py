"""What the README shows is true: the transcript, and every command in it."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from callout.cli import COMMANDS, main
from tests.one_demonstration import Demonstration
from tests.transcript import PAGE, README, beginning, lines_of, without_times, written

ROOT = README.parent
PAGES = [README, ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]

#: Commands that wait for a device or a person: their options are checked, they are not run.
LIVE = re.compile(r"callout (listen(?!.*--(typed|from))|record|drill)\b")


def commands(page: Path) -> list[str]:
    """The lines of the page's shell blocks, without remarks."""
    blocks = re.findall(r"```sh\n(.*?)```", page.read_text("utf-8"), re.S)
    lines = [line.partition("  #")[0].strip() for block in blocks for line in block.splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


@pytest.mark.audio
def test_the_transcript_is_what_the_demonstration_says(demonstration: Demonstration) -> None:
    said = lines_of(demonstration)
    assert without_times(written(PAGE)) == without_times(said), "run: python -m tests.transcript"
    assert without_times(written(README)) == without_times(beginning(said)), "run: python -m tests.transcript"
    fetched = [line for line in said if "build 1: picked" in line]
    listed = said[next(at for at, line in enumerate(said) if line.endswith("build 1 released")) + 1 :]
    items = [line.split(".")[0].strip() for line in listed[:40] if re.match(r" +\d+\. +\d+ x ", line)]
    assert len(fetched) == int(items[-1]), "every item of the first build is fetched"
    assert any(line.endswith("build one stands. watch the wall.") for line in said), "it goes to its end"
    assert not any(".wav" in line for line in said), "no names of files between the words"


def test_the_readme_is_short() -> None:
    assert len(README.read_text("utf-8").splitlines()) < 130


@pytest.mark.audio
@pytest.mark.parametrize("line", [line for line in commands(README) if line.startswith("callout")])
def test_every_command_runs(line: str, tmp_path: Path) -> None:
    words = shlex.split(line)[1:]
    (tmp_path / "audio_fixtures").symlink_to(ROOT / "audio_fixtures")
    if LIVE.match(line):
        words = [*words, "--help"]
    done = subprocess.run(
        [sys.executable, "-m", "callout", *words], cwd=tmp_path, input="", capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


def test_make_has_the_targets_that_the_readme_names() -> None:
    targets = re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), re.M)
    named = {line.split()[1] for page in PAGES for line in commands(page) if line.startswith("make ")}
    assert {"demo", "test"} <= named <= set(targets)


def test_every_command_is_in_the_readme_and_no_other() -> None:
    named = set(re.findall(r"`callout ([a-z]+)", README.read_text("utf-8")))
    assert named == set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_teaches(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([name, "--help"])
    said = capsys.readouterr()
    assert not ended.value.code, said.err
    assert len(said.out.splitlines()) > 5
