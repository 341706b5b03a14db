"""The first hour of a team, step by step as its page says, by somebody who has nothing yet."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.test_cli_stock import filled_in

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs" / "first-hour.md").read_text("utf-8")
STEPS = [line for block in re.findall(r"```sh\n(.*?)```", PAGE, re.S) for line in block.splitlines()]

#: Run whole by tests of their own: the transcript's, and those of scoring.
ELSEWHERE = ("callout demo", "callout score audio_fixtures/demo")


@pytest.mark.audio
def test_every_step_of_the_first_hour_works(tmp_path: Path) -> None:
    program = Path(sys.executable).with_name("callout")
    (tmp_path / "audio_fixtures").symlink_to(ROOT / "audio_fixtures")
    environment = {
        **os.environ, "PATH": f"{program.parent}{os.pathsep}{os.environ['PATH']}", "HOME": str(tmp_path),
        "XDG_CONFIG_HOME": str(tmp_path / "settings"), "XDG_STATE_HOME": str(tmp_path / "state"),
    }  # fmt: skip
    environment.pop("CALLOUT_CONFIG", None)
    said = {}
    for step in STEPS:
        if step in ELSEWHERE:
            continue
        done = subprocess.run(
            step, shell=True, cwd=tmp_path, env=environment, capture_output=True, text=True, timeout=280, input=""
        )
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


def test_the_page_names_only_commands_and_options_that_there_are() -> None:
    from callout.cli import COMMANDS

    named = set(re.findall(r"callout ([a-z]+)", PAGE)) - {"guesses"}
    assert named <= set(COMMANDS)
