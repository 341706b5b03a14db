"""The first hour of a team, step by step as its page says, by somebody who has nothing yet."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.here import Done, run_here
from tests.test_cli_stock import filled_in

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "first-hour.md").read_text("utf-8")
STEPS = [line for block in re.findall(r"```sh\n(.*?)```", PAGE, re.S) for line in block.splitlines()]

#: Run whole by tests of their own: the transcript's, and those of scoring.
ELSEWHERE = ("callout demo", "callout score audio_fixtures/demo")


#: Commands that start nothing else; the others are typed into a shell.
HERE = ("stock ", "config", "card", "drill --help", "listen --help", "record --help")


@pytest.mark.audio
def test_every_step_of_the_first_hour_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = Path(sys.executable).with_name("callout")
    (tmp_path / "audio_fixtures").symlink_to(ROOT / "audio_fixtures")
    monkeypatch.setenv("PATH", f"{program.parent}{os.pathsep}{os.environ['PATH']}")
    for name, folder in (("HOME", ""), ("XDG_CONFIG_HOME", "settings"), ("XDG_STATE_HOME", "state")):
        monkeypatch.setenv(name, str(tmp_path / folder))
    monkeypatch.delenv("CALLOUT_CONFIG", raising=False)
    said = {}
    for step in STEPS:
        if step in ELSEWHERE:
            continue
        done = typed(step, tmp_path)
        assert done.returncode == 0, f"{step}: {done.stderr}"
        said[step] = done.stdout + done.stderr
        if "--init --from" in step:  # what the page tells a person to do by hand
            (tmp_path / "yard.toml").write_text(filled_in((tmp_path / "yard.toml").read_text()))
    assert "ready to work" in said["callout check"]
    assert "11 ft" in said["callout stock yard.toml"]
    practice = next(text for step, text in said.items() if "--practice" in step)
    assert "second ear     insertion eleven feet sixty" in practice
    assert str(tmp_path / "settings") in said["callout config"]
    assert len(STEPS) >= 12


def typed(step: str, folder: Path) -> Done | subprocess.CompletedProcess[str]:
    words = step.removeprefix("callout ")
    if words.startswith(HERE) and ">" not in words:
        return run_here(*shlex.split(words), folder=folder)
    return subprocess.run(step, shell=True, cwd=folder, capture_output=True, text=True, timeout=280, input="")


def test_the_page_names_only_commands_and_options_that_there_are() -> None:
    from callout.cli import COMMANDS

    named = set(re.findall(r"callout ([a-z]+)", PAGE)) - {"guesses"}
    assert named <= set(COMMANDS)
