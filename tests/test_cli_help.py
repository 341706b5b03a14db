"""What the command line says of itself: the nearest command, completion in three shells, a manual page."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from callout.cli import COMMANDS
from callout.cli.man import man_page
from tests.here import run_here

CALLOUT = [sys.executable, "-m", "callout"]


def run(*arguments, **more):
    """A start of the program: what completes words asks the environment."""
    return subprocess.run([*CALLOUT, *arguments], capture_output=True, text=True, timeout=60, **more)


@pytest.mark.parametrize(("typed", "meant"), [("scoer", "score"), ("borad", "board"), ("LISTEN", "listen")])
def test_an_unknown_command_is_answered_with_the_nearest(typed, meant):
    done = run_here(typed)
    assert done.returncode == 2
    assert f"Did you mean {meant}" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_command_like_no_other_gets_no_guess():
    done = run_here("xyzzy")
    assert done.returncode == 2
    assert "Did you mean" not in done.stderr


def test_missing_recordings_end_with_two(tmp_path):
    """As the help says: 2 for what cannot be done as it was written."""
    assert run_here("score", tmp_path / "none").returncode == 2
    (tmp_path / "manifest.jsonl").write_text('{"file": "gone.wav", "words": "affirm"}\n')
    done = run_here("score", tmp_path)
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


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shell_takes_the_script_in(shell):
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"no {shell} here")
    script = run(env={**os.environ, "_CALLOUT_COMPLETE": f"{shell}_source"}).stdout
    done = subprocess.run([program, "-n"], input=script, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


#: What each shell is asked to do: take the script in, and say how "callout lis" goes on.
ASKED = {
    "bash": 'eval "$(_CALLOUT_COMPLETE=bash_source callout)"; COMP_WORDS=(callout lis); COMP_CWORD=1; '
    '_callout_completion callout; echo "${COMPREPLY[@]}"',
    "zsh": 'autoload -Uz compinit; compinit -u -D; eval "$(_CALLOUT_COMPLETE=zsh_source callout)"; '
    'words=(callout lis); CURRENT=2; compadd() { print -r -- "$@" }; _describe() { print -rl -- ${(P)3} }; '
    "_callout_completion",
    "fish": '_CALLOUT_COMPLETE=fish_source callout | source; complete -C "callout lis"',
}


@pytest.mark.parametrize("shell", list(ASKED))
def test_a_command_is_completed_in_the_shell_itself(shell, tmp_path):
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"no {shell} here")
    launcher = tmp_path / "callout"
    launcher.write_text(f'#!/bin/sh\nexec {sys.executable} -m callout "$@"\n')
    launcher.chmod(0o755)
    environment = {**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}", "HOME": str(tmp_path)}
    done = subprocess.run([program, "-c", ASKED[shell]], env=environment, capture_output=True, text=True, timeout=60)
    assert "listen" in done.stdout.replace(":", " ").split(), (done.stdout, done.stderr)


def test_the_documentation_tells_the_line_for_each_shell():
    page = (Path(__file__).parents[1] / "docs" / "install.md").read_text(encoding="utf-8")
    for shell in ASKED:
        assert f"_CALLOUT_COMPLETE={shell}_source callout" in page


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
