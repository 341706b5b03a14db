"""A recognizer that another package brings is found by its name, by every command that hears."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from callout.files import data_folder

GOOD = data_folder("audio_fixtures") / "demo" / "whole_clean.flac"

PACKAGE = '''
from callout.hearing.recognizer import Heard
from callout.language.context import EVERYTHING
from callout.language.resolve import resolve_text


class Parrot:
    name = "parrot"

    def hear(self, samples, context=EVERYTHING, opened=0.0):
        words = "insertion nine feet forty five"
        return Heard(resolve_text(words, context), (tuple(words.split()),), 0.9, 0.01, self.name)

    def close(self):
        pass


def broken():
    raise RuntimeError("no licence")
'''


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    (tmp_path / "parrot.py").write_text(PACKAGE)
    about = tmp_path / "parrot-1.0.dist-info"
    about.mkdir()
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: parrot\nVersion: 1.0\n")
    (about / "entry_points.txt").write_text("[callout.recognizers]\nparrot = parrot:Parrot\nmute = parrot:broken\n")
    return {**os.environ, "PYTHONPATH": str(tmp_path)}


def run(environment: dict[str, str], *words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "callout", *map(str, words)]
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)


def test_it_hears_by_its_name(environment: dict[str, str]) -> None:
    done = run(environment, "hear", "--json", "--model", "parrot", GOOD)
    line = json.loads(done.stdout)
    assert (line["listener"], line["meaning"]["insertion"]["text"]) == ("parrot", "9 ft")


def test_it_is_scored_and_listens(environment: dict[str, str], tmp_path: Path) -> None:
    folder = tmp_path / "recordings"
    folder.mkdir()
    (folder / "one.flac").write_bytes(GOOD.read_bytes())
    (folder / "manifest.jsonl").write_text(json.dumps({"file": "one.flac", "words": "insertion eleven feet sixty"}))
    done = run(environment, "score", folder, "--model", "parrot", "--jobs", 2, "--json")
    assert json.loads(done.stdout)["overall"]["wrong_accepted"]["count"] == 1, done.stderr
    done = run(environment, "listen", "--from", GOOD, "--model", "parrot", "--mute", "--json")
    assert "readback" in [json.loads(line)["event"] for line in done.stdout.splitlines()], done.stderr


def test_what_is_no_recognizer_is_one_line(environment: dict[str, str]) -> None:
    done = run(environment, "hear", "--model", "owl", GOOD)
    assert done.returncode == 2
    assert "the recognizers that are installed: parrot, mute" in done.stderr or "mute, parrot" in done.stderr
    done = run(environment, "hear", "--model", "mute", GOOD)
    assert done.returncode == 1
    assert done.stderr == (
        "callout: the recognizer 'mute' cannot be opened (no licence); ask who made parrot:broken\n"
    )
