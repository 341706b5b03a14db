"""Hostile surroundings: wild letters, damaged journals, closed streams, pipes, devices. One line, a right exit code."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import unicodedata
from pathlib import Path

import numpy as np
import pytest
import soundfile

import callout
from callout.dialogue.records import Record
from callout.journal import Journal
from callout.untrusted_text import Table, for_table, for_terminal
from tests.here import Done, run_here

CALLOUT = [sys.executable, "-m", "callout"]


def run(*words: object, shell: str = "", timeout: int = 60, **env: str) -> subprocess.CompletedProcess[str]:
    """A command; with `shell` redirections as a shell writes them."""
    command: list[str] = [*CALLOUT, *map(str, words)]
    if shell:
        command = ["sh", "-c", f'exec "$@" {shell}', "sh", *command]
    return subprocess.run(
        command, capture_output=True, text=True, timeout=timeout, env={**os.environ, **env}, errors="replace", input=""
    )


def one_line(done: subprocess.CompletedProcess[str] | Done, code: int = 2) -> str:
    assert done.returncode == code, done.stderr
    assert done.stderr.startswith("callout: "), done.stderr
    assert done.stderr.count("\n") == 1, done.stderr
    assert "fault in the program" not in done.stderr
    return done.stderr


WILD = "\x1b[2J\x07\u202eevil\u2066\u200f\x9b31m"


def test_every_letter_that_steers_is_written_out() -> None:
    """Against the Unicode database: no control (Cc) but tab and line end, no mark of direction (UAX 9, table 4)."""
    every = "".join(map(chr, [*range(0x0, 0xD800), *range(0xE000, 0x10000)]))
    left = for_terminal(every)
    assert {c for c in left if unicodedata.category(c) == "Cc"} == {"\t", "\n"}
    directions = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    assert not [c for c in left if unicodedata.bidirectional(c) in directions]
    assert for_terminal("elf Fuß, ½ 11′ 6″ ✓") == "elf Fuß, ½ 11′ 6″ ✓"
    assert json.loads(for_terminal(json.dumps(WILD, ensure_ascii=False))) == WILD


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_of_a_table_is_a_formula(cell: str) -> None:
    """The beginnings that OWASP's page on CSV injection names."""
    text = io.StringIO()
    Table(text).rows([[cell, "a, \"b\"\n=c", -3, None]])
    assert next(csv.reader(io.StringIO(text.getvalue(), newline=""))) == ["'" + cell, 'a, "b"\n=c', "-3", ""]
    assert for_table(-3) == -3


def tame(text: str) -> bool:
    return not [c for c in text if unicodedata.category(c) in ("Cc", "Cf") and c not in "\n\t"]


@pytest.fixture
def wild_journal(tmp_path: Path) -> Path:
    path = tmp_path / "wild.journal"
    with Journal.open(path) as journal:
        for event in ("heard", "said", "alarm", "error"):
            journal.append(Record(event=event, speaker=f"=x{WILD}", text=f"@{WILD}"))  # type: ignore[arg-type]
    return path


@pytest.mark.parametrize("options", [[], ["--json"], ["--csv"], ["--handover"], ["--handover", "--json"], ["verify"]])
def test_wild_letters_of_a_journal_do_not_reach_the_terminal(wild_journal: Path, options: list[str]) -> None:
    done = run_here("log", wild_journal, *options)
    assert done.returncode == 0, done.stderr
    assert tame(done.stdout + done.stderr)
    if options == ["--csv"]:
        cells = [cell for row in csv.reader(io.StringIO(done.stdout)) for cell in row]
        assert any(cell.startswith("'=x") for cell in cells)
        assert not [cell for cell in cells if cell.startswith(("=", "@", "+", "-"))]


def test_wild_letters_of_names_do_not_reach_the_terminal(tmp_path: Path) -> None:
    packaged = (Path(callout.__file__).parent / "shoring" / "stocks" / "demo.toml").read_text("utf-8")
    stock = tmp_path / "stock.toml"
    stock.write_text(packaged.replace('where = "rack B"', 'where = "rack \\u001B[2J\\u202E"'), encoding="utf-8")
    assert "\\u001B" in stock.read_text("utf-8")
    for done in (
        run("plan", "--insertion", "11 ft", "--angle", 60, "--stock", stock),
        run_here("hear", tmp_path / f"no{WILD}.wav"),
        run_here("read", f"affirm {WILD}"),
        run_here("plan", "--insertion", f"11 ft {WILD}"),
    ):
        assert tame(done.stdout + done.stderr)
        assert "Traceback" not in done.stderr


def test_wild_letters_do_not_reach_the_large_screen() -> None:
    from rich.console import Console

    from callout.console.themes import THEMES, paint

    console = Console(file=io.StringIO(), color_system=None, width=100, force_terminal=True)
    for colours in THEMES:
        console.print(paint([[(f"rack {WILD}", "strong"), ("4", "")]], colours))
    assert tame(console.file.getvalue())  # type: ignore[attr-defined]


def shift(path: Path) -> Path:
    with callout.Session(path) as talk:
        for line in ("insertion eleven feet sixty", "affirm insertion", "insertion nine feet forty five", "evacuate"):
            talk.text(line)
        talk.key("ready")
    return path


def test_a_line_that_was_changed_is_shown_and_said_not_to_be_sound(tmp_path: Path) -> None:
    path = shift(tmp_path / "j")
    connection = sqlite3.connect(path)
    connection.execute("UPDATE line SET body = replace(body, 'eleven', 'twelve') WHERE seq = 2")
    connection.execute("UPDATE line SET body = 'no json' WHERE seq = 4")
    connection.commit()
    connection.close()
    done = run_here("log", path)
    lines = [line for line in done.stdout.splitlines() if line.strip()[:1].isdigit() and "  " in line]
    assert done.returncode == 2
    assert "callout: line 4 cannot be read" in done.stderr
    assert "line 2: it was changed, or a line before it removed; keep the file" in done.stderr
    assert sum("NOT SOUND" in line for line in lines) == 1
    assert any(line.split()[0] == "5" for line in lines)  # what comes after is read
    for paper in (["--handover"], ["--ics214", tmp_path / "a.html"]):
        done = run_here("log", path, *paper)
        assert done.returncode == 2
        assert "line 2 was changed" in done.stderr
    assert (tmp_path / "a.html").exists()


def test_whatever_is_damaged_in_a_journal_is_no_fault_of_the_program(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """40 files with bytes changed, holes cut, or values of other types; seeds fixed."""
    from callout.cli import main

    good = shift(tmp_path / "good")
    for seed in range(40):
        chance, path = random.Random(seed), tmp_path / f"bad{seed}"
        shutil.copy(good, path)
        if seed % 4 == 3:
            connection = sqlite3.connect(path)
            column = chance.choice(["body", "hash", "note", "origin", "origin_seq", "build_id", "seq"])
            value = chance.choice(["x'ff00'", "NULL", "'{}'", "'[1]'", "3.5", "'" + '{"event": "said"}' + "'"])
            with contextlib.suppress(sqlite3.IntegrityError):  # where the layout itself forbids it
                connection.execute(f"UPDATE line SET {column} = {value} WHERE seq = {chance.randint(1, 6)}")
            connection.commit()
            connection.close()
        else:
            data = bytearray(path.read_bytes())
            for _ in range(chance.randint(1, 30)):
                data[chance.randrange(100 if seed % 2 else 0, len(data))] = chance.randrange(256)
            path.write_bytes(data[: len(data) - (chance.randrange(len(data)) if seed % 5 == 0 else 0)])
        into = tmp_path / f"into{seed}"
        shutil.copy(good, into)
        for words in ([path], [path, "--handover"], [path, "--json"], [path, "verify"], [into, "--merge", path]):
            with pytest.raises(SystemExit) as stop:
                main(["log", *map(str, words)])
            said = capsys.readouterr().err
            assert stop.value.code in (0, 1, 2)
            assert "fault in the program" not in said, (seed, words, said)
        with Journal.open(into, writer=False) as kept:  # whatever was merged, or was not
            assert kept.verify().ok, seed


@pytest.mark.skipif(os.name != "posix", reason="streams and devices of POSIX")
class TestSurroundings:
    def test_a_closed_output_is_named(self) -> None:
        assert "standard output is closed" in one_line(run("read", "affirm", shell=">&-"))

    def test_a_closed_input_is_an_empty_one(self) -> None:
        assert run("read", "-", shell="<&-").returncode == 0
        assert run("listen", "--typed", "--mute", "--json", shell="<&-").returncode == 0

    def test_nothing_is_written_into_a_file_that_took_the_number_of_a_closed_output(self, tmp_path: Path) -> None:
        done = run("listen", "--typed", "--mute", "--journal", tmp_path / "j", shell=">&- 2>&-")
        assert done.returncode == 2
        assert not (tmp_path / "j").exists() or (tmp_path / "j").read_bytes()[:6] in (b"", b"SQLite")

    @pytest.mark.parametrize(
        "words",
        [
            ["log", "/dev/null/x"], ["log", "/dev/zero"], ["hear", "/dev/null/x"],
            ["listen", "--typed", "--mute", "--journal", "/dev/zero"], ["hear", "/dev/zero"], ["hear", "x" * 5000],
            ["plan", "--insertion", "11 ft", "--stock", "/dev/zero"],
            ["plan", "--insertion", "11 ft", "--stock", "x" * 5000], ["log", "x" * 5000],
            ["listen", "--typed", "--mute", "--journal", "x" * 5000],
            ["plan", "--insertion", "11 ft", "--after", "/dev/zero"], ["log", "nothing", "--merge", "/dev/zero"],
        ],
        ids=lambda words: " ".join(words)[:60],
    )  # fmt: skip
    @pytest.mark.timeout(60)
    def test_what_is_no_file_is_one_line(self, words: list[str]) -> None:
        one_line(run_here(*words))

    @pytest.mark.parametrize(
        "command",
        [["log"], ["hear"], ["plan", "--insertion", "9 ft", "--stock"], ["plan", "--insertion", "9 ft", "--rules"],
         ["plan", "--insertion", "9 ft", "--after"], ["listen", "--typed", "--mute", "--journal"]],
        ids=lambda command: " ".join(command),
    )  # fmt: skip
    @pytest.mark.timeout(30)
    def test_a_pipe_that_nobody_writes_to_is_refused(self, command: list[str], tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "pipe")
        one_line(run_here(*command, tmp_path / "pipe"))


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The one line with which a command, run in this process, refuses."""
    from callout.cli import main

    with pytest.raises(SystemExit) as stop:
        main(words)
    said = capsys.readouterr().err
    assert stop.value.code == 2, said
    assert said.startswith("callout: "), said
    assert said.count("\n") == 1, said
    assert "fault in the program" not in said
    return said


#: Every option and argument that names a file to read, {} in its place.
READERS = (
    "replay {}", "radio {} out.wav", "stock {}", "stock --init --from {} new.toml", "check --stock {}",
    "check --practice --from {}", "record voices --words {}", "score {}", "score voices --compare {}",
    "score --merge {} {} --out out", "voices learn {} --name kim", "listen --from {} --mute", "inspect {}", "board {}",
    "listen --typed --mute --stock {}", "log {} --stock {}", "demo --folder {}",
)  # fmt: skip


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
@pytest.mark.timeout(60)
@pytest.mark.parametrize("command", READERS)
@pytest.mark.parametrize("given", ["pipe", "/dev/zero", "x" * 5000, "/dev/null/x"], ids=lambda name: name[:10])
def test_whoever_reads_a_file_takes_no_pipe_no_device_and_no_endless_name(
    command: str, given: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe")
    (tmp_path / "voices").mkdir()
    (tmp_path / "voices" / "manifest.jsonl").write_text('{"file": "a.wav", "words": "affirm"}')
    refused([word.format(given) for word in command.split()], capsys)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
@pytest.mark.timeout(60)
def test_a_pipe_among_the_results_of_a_score_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for folder in ("voices", "out"):
        (tmp_path / folder).mkdir()
    (tmp_path / "voices" / "manifest.jsonl").write_text('{"file": "a.wav", "words": "affirm"}')
    os.mkfifo("out/rows.jsonl")
    assert "pipe or a device" in refused(["score", "voices", "--out", "out"], capsys)


def test_files_too_large_for_what_they_are_cost_no_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Files with holes in them: 20 GB by name, nothing on the disk. One that was read whole would end the process."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "voices").mkdir()
    for name in ("large", "voices/manifest.jsonl"):
        with open(name, "wb") as file:
            file.truncate(20_000_000_000)
    monkeypatch.setattr("callout.scoring.report.LARGEST", 1_000_000)
    for command in (
        "record new --words large", "score --merge large large --out out", "score voices", "stock large",
        "plan --insertion 9ft --rules large", "plan --insertion 9ft --after large",
        "stock --init --from large new.toml",
    ):  # fmt: skip
        refused(command.split(), capsys)


def test_where_nobody_has_a_home_one_line_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A user without an entry among the system's users, and without HOME."""
    pwd = pytest.importorskip("pwd")

    def nobody(*_: object) -> None:
        raise KeyError("getpwuid(): uid not found")

    for name in ("HOME", "CALLOUT_CONFIG", "CALLOUT_JOURNAL", "CALLOUT_TEAM", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(pwd, "getpwuid", nobody)
    for command in (["read", "affirm"], ["listen", "--typed", "--mute"], ["log"], ["check"], ["config"]):
        assert "set HOME" in refused(command, capsys)


def test_a_line_end_in_a_name_makes_no_second_line(capsys: pytest.CaptureFixture[str]) -> None:
    refused(["log", "no\nsuch.journal"], capsys)
    refused(["stock", "no\r\ncallout: all is well"], capsys)


def test_a_recording_of_many_channels_costs_no_memory(tmp_path: Path) -> None:
    """Measured in a process of its own by the system's count of its greatest size."""
    if not Path("/proc/self/status").exists():
        pytest.skip("this system has no /proc, where a process's own greatest size stands")
    many = tmp_path / "many.wav"
    soundfile.write(many, np.zeros((8000, 1000), np.int16), 16000)
    assert "1000 channels" in one_line(run("hear", many))
    wide = tmp_path / "wide.flac"
    with soundfile.SoundFile(wide, "w", 192_000, 8, "PCM_16") as file:
        for _ in range(50):
            file.write(np.zeros((192_000, 8), np.int16))
    assert wide.stat().st_size < 2_000_000
    code = (
        "import sys; from callout.hearing.audio import read_audio; read_audio(sys.argv[1]);"
        "print([line for line in open('/proc/self/status') if line.startswith('VmHWM')][0].split()[1])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(wide)], capture_output=True, text=True, check=True)
    assert int(done.stdout) < 700_000  # kB


BLOCKED = """
import sys

class Absent:
    def find_spec(self, name, path=None, target=None):
        if name in ("fcntl", "resource", "pwd", "grp", "termios", "tty"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

import importlib, os, pkgutil
sys.meta_path.insert(0, Absent())
for name in ("fcntl", "resource", "pwd", "grp", "termios", "tty"):
    sys.modules.pop(name, None)
for name in ("fork", "forkpty", "mkfifo", "sched_getaffinity", "killpg", "setsid"):
    if hasattr(os, name):
        delattr(os, name)
import callout
failed = []
for module in pkgutil.walk_packages(callout.__path__, "callout."):
    if module.name.endswith((".__main__", "vosk_worker")):
        continue
    try:
        importlib.import_module(module.name)
    except ImportError as missing:
        if "kaldifst" not in str(missing) and "distributed" not in str(missing):
            failed.append(f"{module.name}: {missing}")
print("\\n".join(failed) or "all")
"""


def test_nothing_of_posix_is_needed_to_import_it() -> None:
    """As on Windows: every module of ours is imported where these modules and calls do not exist."""
    done = subprocess.run([sys.executable, "-c", BLOCKED], capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "all", done.stdout + done.stderr[-2000:]
