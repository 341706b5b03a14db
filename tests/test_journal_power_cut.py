"""The power goes while the journal is written: what was shown or said before is there afterwards.

A conversation runs under a trace of its writes. From the trace the disk is made again as a power cut could have left
it at any moment: what was synced is there; of what was only written, nothing, all, or any sectors of 512 bytes. A file
that was deleted is gone for good after the next sync of any file, as file systems with a journal of their own (ext4,
XFS, Btrfs) keep it, and may be back before. Each such disk is opened, and must hold every line that had been shown.
"""

from __future__ import annotations

import json
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from callout.journal import Journal

SECTOR = 512
LINES = "insertion eleven feet sixty\naffirm\nready\nready\nsay again\nready\nstatus\nundo\n"
CALL = re.compile(r"([\d.]+) (pwrite64|ftruncate|fsync|fdatasync|write)\((\d+)<([^>]*)>(?:, (.*))?\) += (\d+)$")
DELETED = re.compile(r'([\d.]+) unlink(?:at)?\((?:[^"]*, )?"([^"]*)".*\) += 0$')
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")


@dataclass
class Platter:
    """One file as the disk has it (`synced`), and what was written since (offset, bytes; None: cut off there).
    `deleted`: so, and no sync since."""

    synced: bytearray = field(default_factory=bytearray)
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)
    deleted: bool = False

    def sync(self) -> None:
        for change in self.waiting:
            put(self.synced, *change)
        self.waiting = []

    def after_a_cut(self, chance: random.Random, how: str) -> bytes:
        found = bytearray(self.synced)
        for offset, data in self.waiting if how != "nothing" else []:
            if how == "all" or data is None:
                put(found, offset, data)
                continue
            for start in range(0, len(data), SECTOR):
                if chance.random() < 0.5:
                    put(found, offset + start, data[start : start + SECTOR])
        return bytes(found)


def put(content: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        del content[offset:]
        return
    content.extend(b"\0" * (offset - len(content)))
    content[offset : offset + len(data)] = data


def traced(folder: Path) -> list[str]:
    """A typed conversation; the calls of all its threads in the order of their time."""
    command = [sys.executable, "-m", "callout", "listen", "--typed", "--mute", "--json", "--journal", "day.journal"]
    calls = "trace=pwrite64,write,ftruncate,fsync,fdatasync,unlink,unlinkat"
    strace = ["strace", "-ff", "--seccomp-bpf", "-ttt", "-qq", "-y", "-xx", "-s", "200000", "-e", calls,
              "-e", "signal=none"]  # fmt: skip
    done = subprocess.run(
        [*strace, "-o", str(folder / "trace"), *command], cwd=folder, input=LINES, capture_output=True, text=True,
        timeout=250,
    )  # fmt: skip
    if "PTRACE" in done.stderr:
        pytest.skip("strace may not trace here")
    assert done.returncode == 0, done.stderr[-500:]
    lines = [line for log in folder.glob("trace.*") for line in log.read_text().splitlines()]
    return sorted(lines, key=lambda line: float(line.split()[0]))


def moments(lines: list[str]) -> Iterator[tuple[dict[str, Platter], bytes, str]]:
    """After each call: the files of the journal, all that was shown so far, and the call's name."""
    files: dict[str, Platter] = {}
    shown = bytearray()
    for line in lines:
        if deleted := DELETED.match(line):
            file = files.get(Path(decoded(deleted[2])).name)
            if file is not None:
                file.deleted = True
            continue
        call = CALL.match(line)
        if call is None:
            continue
        _, name, number, path, given, got = call.groups()
        if name == "write" and number == "1":
            shown += text(given)[: int(got)]
        named = Path(decoded(path)).name
        if not named.startswith("day.journal") or named.endswith((".lock", "-shm")):
            if name == "write" and number == "1":
                yield files, bytes(shown), "shown"
            continue
        file = files.setdefault(named, Platter())
        if name == "pwrite64":
            data = text(given)[: int(got)]
            file.waiting.append((int(given.rsplit(", ", 1)[1]), data))
        elif name == "ftruncate":
            file.waiting.append((int(given), None))
        elif name in ("fsync", "fdatasync"):
            file.sync()
            for gone in [one for one, other in files.items() if other.deleted]:
                del files[gone]
        yield files, bytes(shown), name


def text(given: str) -> bytes:
    found = TEXT.search(given)
    assert found is not None
    return bytes.fromhex(found[1].replace("\\x", ""))


def decoded(path: str) -> str:
    return bytes.fromhex(path.replace("\\x", "")).decode() if path.startswith("\\x") else path


def lost(files: dict[str, Platter], shown: bytes, folder: Path, chance: random.Random, how: str) -> list[str]:
    """What had been shown and is not in the journal; "" for one that cannot be used."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for name, file in files.items():
        if file.deleted and (how == "all" or (how == "some" and chance.random() < 0.5)):
            continue
        (folder / name).write_bytes(file.after_a_cut(chance, how))
    with Journal.open(folder / "day.journal") as journal:
        assert journal.writable
        verdict = journal.verify()
        assert verdict.ok, verdict.problem
        kept = {record.seq: record.text for record in journal.records()}
    whole = shown[: shown.rfind(b"\n") + 1]
    told = [json.loads(line) for line in whole.splitlines()]
    return [line["text"] for line in told if kept.get(line["seq"]) != line["text"]]


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    return traced(tmp_path_factory.mktemp("traced"))


def cut_at(lines: list[str], most: int, folder: Path) -> tuple[int, int]:
    """Cuts the power at so many moments in three ways: how many disks were opened, and lines shown by the last."""
    every = [number for number, _ in enumerate(moments(lines))]
    chance = random.Random(23)
    chosen = set(every if len(every) <= most else chance.sample(every[:-1], most - 1) + every[-1:])
    opened = told = 0
    for number, (files, shown, name) in enumerate(moments(lines)):
        if number not in chosen:
            continue
        for how in ("nothing", "some", "all"):
            missing = lost(files, shown, folder, chance, how)
            assert missing == [], f"after call {number} ({name}), of what was not synced {how} kept: lost {missing}"
            opened += 1
        told = max(told, shown.count(b"\n"))
    return opened, told


def test_what_was_shown_survives_a_power_cut_at_any_moment(lines: list[str], tmp_path: Path) -> None:
    opened, told = cut_at(lines, 40, tmp_path / "disk")
    assert opened == 120
    assert told >= 15, "the conversation was shown"


@pytest.mark.slow
def test_what_was_shown_survives_a_power_cut_after_every_single_call(lines: list[str], tmp_path: Path) -> None:
    opened, _ = cut_at(lines, 100_000, tmp_path / "disk")
    print(f"{opened} disks opened")
    assert opened > 300


def test_the_check_would_notice_a_journal_that_does_not_sync(lines: list[str], tmp_path: Path) -> None:
    """The same trace with the calls to sync taken out: lines that were shown are lost."""
    careless = [line for line in lines if "sync(" not in line or "day.journal-wal" not in _path(line)]
    files, shown = {}, b""
    for files, shown, _ in moments(careless):  # noqa: B007
        if shown.count(b"\n") > 10:
            break
    try:
        missing = lost(files, shown, tmp_path / "disk", random.Random(1), "nothing")
    except Exception as broken:  # not even a journal
        missing = [str(broken)]
    assert missing


def _path(line: str) -> str:
    call = CALL.match(line)
    return decoded(call[4]) if call else ""
