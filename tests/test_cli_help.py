"""What the command line says of itself: the nearest command, completion in three shells, a manual page."""

import os
import shutil
import subprocess
import sys

import pytest

from callout.cli import COMMANDS
from callout.cli.man import man_page

CALLOUT = [sys.executable, "-m", "callout"]


def run(*arguments, **more):
    return subprocess.run([*CALLOUT, *arguments], capture_output=True, text=True, timeout=60, **more)


@pytest.mark.parametrize(("typed", "meant"), [("scoer", "score"), ("borad", "board"), ("LISTEN", "listen")])
def test_an_unknown_command_is_answered_with_the_nearest(typed, meant):
    done = run(typed)
    assert done.returncode == 2
    assert f"Did you mean {meant}" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_command_like_no_other_gets_no_guess():
    done = run("xyzzy")
    assert done.returncode == 2
    assert "Did you mean" not in done.stderr


def test_missing_recordings_end_with_two(tmp_path):
    """As the help says: 2 for what cannot be done as it was written."""
    assert run("score", str(tmp_path / "none")).returncode == 2
    (tmp_path / "manifest.jsonl").write_text('{"file": "gone.wav", "words": "affirm"}\n')
    done = run("score", str(tmp_path))
    assert done.returncode == 2, done.stderr
    assert "gone.wav" in done.stdout


@pytest.mark.parametrize(("shell", "word"), [("bash", "complete"), ("zsh", "compdef"), ("fish", "complete")])
def test_completion_is_there_for_three_shells(shell, word):
    """The script that a shell takes in, as its owner's manual says it must register itself."""
    done = run(env={**os.environ, "_CALLOUT_COMPLETE": f"{shell}_source"})
    assert done.returncode == 0, done.stderr
    assert word in done.stdout
    assert "callout" in done.stdout


@pytest.mark.parametrize(("line", "wanted"), [("callout sco", "score"), ("callout listen --scr", "--screen")])
def test_a_word_is_completed(line, wanted):
    words = line.split(" ")
    done = run(env={
        **os.environ, "_CALLOUT_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words) - 1),
    })  # fmt: skip
    assert f"plain,{wanted}" in done.stdout.splitlines()


def test_bash_takes_the_script_in():
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("no bash here")
    script = run(env={**os.environ, "_CALLOUT_COMPLETE": "bash_source"}).stdout
    done = subprocess.run([bash, "-n"], input=script, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_manual_page_has_every_command_and_option():
    page = man_page()
    for name in COMMANDS:
        assert f".SH callout {name}" in page.replace("\\-", "-")
    assert "--screen" in page.replace("\\-", "-")
    assert page.startswith(".TH CALLOUT 1")


def test_the_manual_page_is_read_without_a_complaint():
    groff = shutil.which("groff") or shutil.which("mandoc")
    if groff is None:
        pytest.skip("neither groff nor mandoc is here")
    options = ["-man", "-Tutf8", "-ww", "-z"] if groff.endswith("groff") else ["-T", "lint"]
    done = subprocess.run([groff, *options], input=man_page(), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert "error" not in done.stderr.lower()
