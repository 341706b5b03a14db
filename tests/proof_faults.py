"""What breaks in live work, and how long until it works again: each fault is caused in the running program, beside a
sound card made of software.

python -m tests.proof faults       writes docs/proofs/faults.md; needs PulseAudio
"""

from __future__ import annotations

import contextlib
import glob
import json
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from typing import Any

from tests.sound_card import PROGRAM, Live, Recorder, SoundCard, in_a_room, live, sound_card, wait_for

_PAGE = Path(__file__).parents[1] / "docs" / "proofs" / "faults.md"
CALL = "whole_clean.flac"
LOST = "nothing"

#: (fault, the process it strikes, the signal, the record that tells of it, what the user is told, what is lost)
STRIKES = (
    ("voice killed", "speaking.worker", signal.SIGKILL, "speech process", "a fresh process speaks the sentence; after "
     "it an error on the screen", LOST),
    ("voice hung", "speaking.worker", signal.SIGSTOP, "speech process", "silence until it is given up, then as above",
     LOST),
    ("second ear killed", "vosk_worker", signal.SIGKILL, "one ear", "between two utterances: an error on the screen; "
     "while one is said: three tones, \"one ear is lost. affirm by key.\", then \"both ears hear again.\"",
     "at most one opinion on the words said then: they are asked for again"),
    ("second ear hung", "vosk_worker", signal.SIGSTOP, " ear", "\"one ear is lost. affirm by key.\" or \"the ears "
     "failed. say again.\", once it was given up; then \"both ears hear again.\"", "the words said at that moment"),
    ("ears killed", "ears_worker", signal.SIGKILL, "the ears ended", "\"the ears failed. say again.\", then \"both "
     "ears hear again.\"", "the words said at that moment"),
    ("ears hung", "ears_worker", signal.SIGSTOP, "the ears ended", "the same, once they were given up", "the same"),
)  # fmt: skip


def prove() -> None:
    rows = []
    with sound_card() as card, tempfile.TemporaryDirectory() as folder:
        with live(card, "--journal", f"{folder}/day.journal", "--pace", "250", "300") as program:
            speaker = _ready(card, program)
            for fault, word, struck, told, seen, lost in STRIKES:
                seconds = _strike(card, program, word, struck, told)
                speaker.quiet_for(1.0, 60)
                rows.append((fault, seen, lost, seconds))
                print(f"  {fault}: {seconds}", file=sys.stderr, flush=True)
            rows.append(_unplug(card, program))
            card.record("spk").quiet_for(1.0, 60)
            rows.append(_other_rate(card, program))
            card.record("spk").quiet_for(1.0, 60)
            rows.append(_held(card, program, f"{folder}/day.journal"))
            released = len(program.named("released"))
            assert released == 0, program.story()
            rows.append(_end(program, signal.SIGINT, "Ctrl-C"))
        for sent, name in ((signal.SIGTERM, "TERM"), (signal.SIGHUP, "HUP: the terminal is closed")):
            with live(card, "--journal", f"{folder}/day.journal", "--pace", "250", "300") as program:
                program.wait("resumed", seconds=60)
                rows.append(_end(program, sent, name))
        rows.append(_killed(card, folder))
        rows.append(_locked(card, folder))
        rows.append(_full(card, folder))
        rows.append(_clock(card, folder))
    _write([row for row in rows if row is not None])


Row = tuple[str, str, str, str]


def _ready(card: SoundCard, program: Live) -> Recorder:
    """The loudspeaker, once the voice has said that callout is ready."""
    speaker = card.record("spk")
    program.wait("said", "callout ready", seconds=90)
    wait_for(lambda: bool(speaker.loud()), 60, program.story)
    speaker.quiet_for(1.0, 60)
    return speaker


def _strike(card: SoundCard, program: Live, word: str, struck: signal.Signals, told: str) -> str:
    """Seconds from the blow until it is told, and until a callout is read back again."""
    before = len(program.events)
    for pid in _named(program.process.pid, word):
        os.kill(pid, struck)
    began = time.monotonic()
    _, answers = _answers(card, program)
    where = program.when(program.wait("error", told, before, seconds=40))
    return f"told {where - began:.1f}, {answers}"


def _answers(card: SoundCard, program: Live, patience: float = 8.0) -> tuple[dict[str, Any], str]:
    """The readback of a callout that is said until it is read back, as people do, and how long that took."""
    since, began = len(program.events), time.monotonic()
    for said in range(1, 7):
        card.say(in_a_room(CALL))
        with contextlib.suppress(AssertionError):
            record = program.wait("readback", "", since, patience)
            more = "" if said == 1 else f" (said {said} times)"
            return record, f"answers a callout {program.when(record) - began:.1f}{more}"
        print(f"    said {said} times: {[e['text'] for e in program.events[since:]]}", file=sys.stderr, flush=True)
    raise AssertionError(program.story())


def _unplug(card: SoundCard, program: Live) -> Row:
    card.unplug("mic")
    card.unplug("spk")
    time.sleep(3.0)
    for name in ("mic", "spk"):
        card.plug(name)
    card.pactl("set-default-sink", "spk")
    card.pactl("set-default-source", "mic.monitor")
    _, answers = _answers(card, program)
    return ("microphone and loudspeaker pulled out for 3 s", "silence; what is to be said goes to WAV files meanwhile, "
            "and is told", "what was said meanwhile", f"{answers} after they are back")


def _other_rate(card: SoundCard, program: Live) -> Row:
    """The devices come back with 8 kHz, as a headset does whose microphone is opened."""
    for name in ("mic", "spk"):
        card.unplug(name)
        card.plug(name, 8000)
    card.pactl("set-default-sink", "spk")
    card.pactl("set-default-source", "mic.monitor")
    _, answers = _answers(card, program)
    for name in ("mic", "spk"):
        card.unplug(name)
        card.plug(name)
    card.pactl("set-default-sink", "spk")
    card.pactl("set-default-source", "mic.monitor")
    _answers(card, program)  # what comes next must find them open again
    return ("the devices change to a rate of 8 kHz", "nothing; it is heard and spoken at that rate",
            "what was said meanwhile", f"{answers} after the change")


def _held(card: SoundCard, program: Live, journal: str) -> Row:
    """Another program has the journal's database for itself for 20 s, as a backup or a viewer might."""
    other = sqlite3.connect(journal, isolation_level=None)
    try:
        other.execute("BEGIN IMMEDIATE")
        since = len(program.events)
        began = time.monotonic()
        _, answers = _answers(card, program, patience=12.0)
        told = next((note for note in program.notes if "memory only" in note), "")
        time.sleep(max(0.0, 20 - (time.monotonic() - began)))
        other.execute("ROLLBACK")
    finally:
        other.close()
    freed = time.monotonic()
    written = 0.0
    if told:
        wait_for(lambda: any("being written again" in note for note in _say(card, program)), 40, program.story)
        written = time.monotonic() - freed
    assert program.events[since:], program.story()
    seen = "a line and a sentence that it goes on in memory only; then that it is written again" if told else "nothing"
    return ("the journal's database is held by another program for 20 s", seen, "nothing: no line is missing",
            f"{answers} meanwhile; written again {written:.1f} after it is free")


def _say(card: SoundCard, program: Live) -> list[str]:
    """Something to write: what waits is written with the next line."""
    card.say("say_again_clean.flac")
    time.sleep(1.0)
    return program.notes


def _full(card: SoundCard, folder: str) -> Row | None:
    """The journal lies on a disk of 1 MB (tmpfs), which is filled up and freed again. Only who may mount can try it."""
    disk = Path(folder) / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(disk)], capture_output=True).returncode:
        return None
    try:
        with live(card, "--journal", str(disk / "day.journal"), "--pace", "250", "300") as program:
            _ready(card, program)
            with contextlib.suppress(OSError), (disk / "full").open("wb", buffering=0) as full:
                while True:
                    full.write(b"0" * 4096)
            _, answers = _answers(card, program)
            wait_for(lambda: any("memory only" in note for note in program.notes), 20, program.story)
            (disk / "full").unlink()
            freed = time.monotonic()
            wait_for(lambda: any("being written again" in note for note in _say(card, program)), 40, program.story)
            written = time.monotonic() - freed
            shown = [(event["seq"], event["text"]) for event in program.events]
            program.end()
        kept = subprocess.run([*PROGRAM, "log", str(disk / "day.journal"), "--json"], capture_output=True, text=True)
        lines = {line["seq"]: line["text"] for line in map(json.loads, kept.stdout.splitlines())}
        assert all(lines.get(seq) == text for seq, text in shown), "a line is missing"
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=False)
    return ("the disk is full, and has room again",
            "a line, and a sentence that it goes on in memory only; then that it is written again",
            "nothing: every line that was shown is in the journal",
            f"{answers} meanwhile; written again {written:.1f} after there is room")


def _clock(card: SoundCard, folder: str) -> Row | None:
    """The wall clock is set an hour back, then a day forward, by libfaketime; the clock of waits cannot be set."""
    library = next(iter(glob.glob("/usr/lib/*/faketime/libfaketime.so.1")), None)
    if library is None:
        return None
    said = Path(folder) / "clock"
    said.write_text("+0")
    before = card.environment
    card.environment = {
        **before, "LD_PRELOAD": library, "FAKETIME_TIMESTAMP_FILE": str(said), "FAKETIME_NO_CACHE": "1",
        "FAKETIME_DONT_FAKE_MONOTONIC": "1",
    }  # fmt: skip
    seconds, times = [], []
    try:
        with live(card, "--journal", f"{folder}/clock.journal", "--pace", "250", "300") as program:
            card.environment = before
            _ready(card, program)
            _answers(card, program)  # the library makes the start of every process slow
            card.record("spk").quiet_for(1.0, 60)
            for set_to in ("-1h", "+1d"):
                said.write_text(set_to)
                record, answers = _answers(card, program)
                times.append(record["time"])
                seconds.append(answers)
                card.record("spk").quiet_for(1.0, 60)
            assert program.named("released") == []
            program.end()
    finally:
        card.environment = before
    back, forward = (datetime.fromisoformat(when) for when in times)
    assert 24.5 < (forward - back).total_seconds() / 3600 < 25.5, times
    checked = subprocess.run([*PROGRAM, "log", f"{folder}/clock.journal", "--verify"], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stdout
    return ("the clock is set an hour back, then a day forward",
            "nothing; later lines bear the time that is shown then, in the order of their numbers",
            "nothing: the chain is whole",
            f"{seconds[0]}; {seconds[1]}")


def _end(program: Live, sent: signal.Signals, name: str) -> Row:
    began = time.monotonic()
    family = _family(program.process.pid)
    program.process.send_signal(sent)
    program.process.wait(30)
    wait_for(lambda: not any(Path(f"/proc/{pid}").exists() for pid in family), 15)
    return (name, "the program ends, and its helpers with it", "nothing: the journal has every line",
            f"ended after {time.monotonic() - began:.1f}")


def _killed(card: SoundCard, folder: str) -> Row:
    with live(card, "--journal", f"{folder}/day.journal", "--pace", "250", "300") as program:
        program.wait("resumed", seconds=60)
        family = _family(program.process.pid)
        program.process.kill()
        program.process.wait(10)
        wait_for(lambda: not any(Path(f"/proc/{pid}").exists() for pid in family), 15)
    began = time.monotonic()
    with live(card, "--journal", f"{folder}/day.journal", "--pace", "250", "300") as program:
        program.wait("resumed", seconds=60)
        seconds = f"stands again after {time.monotonic() - began:.1f}"
        return ("KILL (nothing can catch it), and a new start", "\"started again\", and where the work stood; the "
                "helpers ended by themselves", "nothing that was confirmed", seconds)


def _locked(card: SoundCard, folder: str) -> Row:
    with live(card, "--journal", f"{folder}/day.journal") as first:
        first.wait("resumed", seconds=60)
        with live(card, "--journal", f"{folder}/day.journal") as second:
            wait_for(lambda: any("read only" in note for note in second.notes), 60, second.story)
    return ("the journal is written by another callout", "one line that says who writes it; this one shows and answers "
            "questions, and releases nothing", "nothing", "at once")


def _family(pid: int) -> list[int]:
    found = [pid]
    for task in Path(f"/proc/{pid}/task").iterdir():
        for child in (task / "children").read_text().split():
            found += _family(int(child))
    return found


def _named(pid: int, word: str) -> list[int]:
    return [child for child in _family(pid)[1:] if word in Path(f"/proc/{child}/cmdline").read_bytes().decode()]


def _write(rows: list[Row]) -> None:
    first = "; the program came before the rest (`nice`)" if os.nice(0) < 0 else ""
    lines = [
        "# Faults in live work", "",
        "Written by `python -m tests.proof faults`: each fault was caused in the running program, that heard and spoke",
        "through a sound card made of software, on two shared cores. Times in seconds; the callout that is answered",
        f"takes 2.9 s to say. **{len(rows)} faults**: nothing was released; each new start went on with the journal.",
        f"Load average of the machine meanwhile: {os.getloadavg()[1]:.0f}{first}.", "",
        "| fault | what the user sees and hears | what is lost | seconds |", "|---|---|---|---|",
        *(f"| {' | '.join(row)} |" for row in rows), "",
        "Proven elsewhere: a power cut in the middle of a write (`tests/test_journal_power_cut.py`: the disk is made",
        "again from a trace of the writes, with what was not synced kept, dropped or torn; every line that had been",
        "shown was there), a broken chain, a lock file that is deleted (`tests/test_journal_*.py`), voice files that",
        "cannot be written (`tests/test_cli_listen.py`), a second program on the devices (`tests/test_sound_card.py`).",
        "Not tried: a real sound card pulled out, a real power cut, a disk that lies about what it has written.", "",
    ]  # fmt: skip
    _PAGE.write_text("\n".join(lines), encoding="utf-8")
