"""What breaks in live work, and how long until it works again: each fault is caused in the running program, beside a
sound card made of software.

python -m tests.proof faults       writes docs/proofs/faults.md; needs PulseAudio
"""

from __future__ import annotations

import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.sound_card import Live, SoundCard, live, sound_card, wait_for

_PAGE = Path(__file__).parents[1] / "docs" / "proofs" / "faults.md"
CALL = "whole_clean.flac"
LOST = "nothing"

#: (fault, the process it strikes, the signal, the record that tells of it, what the user is told, what is lost)
STRIKES = (
    ("voice killed", "speaking.worker", signal.SIGKILL, "speech process", "an error on the screen; a fresh process "
     "speaks the sentence", LOST),
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
            program.wait("said", "callout ready", seconds=60)
            speaker = card.record("spk")
            speaker.quiet_for(1.0, 60)
            for fault, word, struck, told, seen, lost in STRIKES:
                seconds = _strike(card, program, word, struck, told)
                speaker.quiet_for(1.0, 60)
                rows.append((fault, seen, lost, seconds))
                print(f"  {fault}: {seconds}", file=sys.stderr, flush=True)
            rows.append(_unplug(card, program))
            card.record("spk").quiet_for(1.0, 60)
            released = len(program.named("released"))
            assert released == 0, program.story()
            rows.append(_end(program, signal.SIGINT, "Ctrl-C"))
        with live(card, "--journal", f"{folder}/day.journal", "--pace", "250", "300") as program:
            program.wait("resumed", seconds=60)
            rows.append(_end(program, signal.SIGTERM, "TERM, or the terminal is closed"))
        rows.append(_killed(card, folder))
        rows.append(_locked(card, folder))
    _write(rows)


Row = tuple[str, str, str, str]


def _strike(card: SoundCard, program: Live, word: str, struck: signal.Signals, told: str) -> str:
    """Seconds from the blow until it is told, and until a callout is read back again."""
    before = len(program.events)
    for pid in _named(program.process.pid, word):
        os.kill(pid, struck)
    began = time.monotonic()
    read_back = _until(lambda: program.call(card, CALL, "readback", times=6, seconds=8.0))
    where = program.when(program.wait("error", told, before, seconds=40))
    return f"told {where - began:.1f}, answers a callout {read_back - began:.1f}"


def _until(work: Callable[[], object]) -> float:
    work()
    return time.monotonic()


def _unplug(card: SoundCard, program: Live) -> Row:
    card.unplug("mic")
    card.unplug("spk")
    time.sleep(3.0)
    for name in ("mic", "spk"):
        card.plug(name)
    card.pactl("set-default-sink", "spk")
    card.pactl("set-default-source", "mic.monitor")
    began = time.monotonic()
    read_back = _until(lambda: program.call(card, CALL, "readback", times=6, seconds=8.0))
    return ("microphone and loudspeaker pulled out for 3 s", "silence; what is to be said goes to WAV files meanwhile, "
            "and is told", "what was said meanwhile", f"answers a callout {read_back - began:.1f} after they are back")


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
    lines = [
        "# Faults in live work", "",
        "Written by `python -m tests.proof faults`: each fault was caused in the running program, that heard and spoke",
        "through a sound card made of software, on two shared cores. Times in seconds; the callout that is answered",
        "takes 2.4 s to say. Nothing was released, and each new start went on with the journal.",
        f"Load average of the machine meanwhile: {os.getloadavg()[1]:.0f}.", "",
        "| fault | what the user sees and hears | what is lost | seconds |", "|---|---|---|---|",
        *(f"| {' | '.join(row)} |" for row in rows), "",
        "Proven elsewhere: a full disk, a broken chain, a lock file that is deleted (`tests/test_journal_*.py`), and",
        "voice files that cannot be written (`tests/test_cli_listen.py`). Not tried here: a clock set while the",
        "program runs (waits use the monotonic clock, which cannot be set), a power cut in the middle of a write.", "",
    ]  # fmt: skip
    _PAGE.write_text("\n".join(lines), encoding="utf-8")
