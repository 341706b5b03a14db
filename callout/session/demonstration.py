"""The demonstration: a scene of recordings performed through the ears, the readback, the stock, the voice and the
journal. Halfway through the program is killed, and started again on its journal."""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from callout.console.output import say
from callout.dialogue.events import Key
from callout.errors import BadInput, CalloutError
from callout.files import data_folder, private_folder, tomllib
from callout.hearing.ears import Recognizer
from callout.journal.lock import WriterLock
from callout.processes import end_with_input, module_command
from callout.session.desk import Desk
from callout.session.opening import Choices, open_desk, plain_or_json

#: What the half of the demonstration that is to be killed prints on standard error when its time has come.
KILL_ME = "callout demo: now"
#: How that half ends when nobody reads what it prints: no fault, unlike any other end that it comes to by itself.
NOBODY_READS = errno.EPIPE

#: A walk of one build has fewer cards.
MOST_PRESSES = 200

#: Lies in a folder that a demonstration made its own. Elsewhere nothing is deleted.
MARK = "made-by-callout-demo"
_JOURNAL = re.compile(r"demo\.journal(-wal|-shm|\.lock)?")
_VOICE = re.compile(r"\d{4}-[a-z-]*\.wav")


def perform_until_killed(acts: list[dict[str, Any]], choices: Choices, aloud: bool, timings: bool) -> int:
    end_with_input()
    try:
        perform_acts(acts, choices, aloud, timings)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what is still to be flushed has nowhere to go
        return NOBODY_READS
    say(KILL_ME)
    time.sleep(60)
    return 1


def perform_on_screen(acts: list[dict[str, Any]], cut: int, choices: Choices) -> None:
    from callout.hearing.ears import open_ears
    from callout.session.large_screen import demonstrate_on_screen

    say("loading the ears ...")
    ears = open_ears()

    def perform(desk: Desk, act: dict[str, Any]) -> None:
        if "play" in act:
            _play(desk, ears, act)
        for _ in _presses(desk, act):
            time.sleep(0.3)
            _wait(desk if choices.play else None)

    try:
        demonstrate_on_screen([acts[:cut], acts[cut + 1 :]], choices, perform)
    finally:
        ears.close()


def read_scene() -> dict[str, Any]:
    scene: dict[str, Any] = tomllib.loads((data_folder("audio_fixtures") / "demo" / "scenario.toml").read_text("utf-8"))
    return scene


def alone_in(folder: Path) -> WriterLock:
    """A second demonstration would clear away the journal of the first."""
    lock = WriterLock(folder / "demo.lock")
    try:
        private_folder(folder)
        taken = lock.take()
    except OSError as failed:
        raise BadInput(f"cannot write in {folder} ({failed.strerror}); name another with --folder") from failed
    if not taken:
        raise BadInput(f"another demonstration is running in {folder}; wait for its end, or name another --folder")
    return lock


def make_room(folder: Path) -> None:
    """Clear away an earlier demonstration. In a folder that no demonstration made nothing is touched: where something
    lies in the way there, another folder must be named.
    """
    mark, voice = folder / MARK, folder / "voice"
    try:
        if not mark.exists():
            for theirs in (folder / "demo.journal", voice):
                if theirs.exists() or theirs.is_symlink():
                    raise BadInput(f"{theirs} is not from a demonstration; name another folder with --folder")
            mark.write_text("callout demo writes here, and clears away what it wrote before.\n", encoding="utf-8")
        private_folder(voice)
        for place, name in ((folder, _JOURNAL), (voice, _VOICE)):
            for path in place.iterdir():
                if name.fullmatch(path.name):
                    path.unlink()
    except OSError as failed:
        raise BadInput(f"cannot write in {folder} ({failed.strerror}); name another with --folder") from failed


def first_half(folder: Path, aloud: bool, timings: bool, as_json: bool) -> None:
    """Run the first acts in a process of their own, and kill it without a warning."""
    flags = [*(["--aloud"] if aloud else []), *(["--timings"] if timings else []), *(["--json"] if as_json else [])]
    child = subprocess.Popen(
        module_command("callout", "demo", "--until-killed", "--folder", str(folder), *flags),
        stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert child.stderr is not None
    for line in child.stderr:
        if line.strip() == KILL_ME:
            child.send_signal(getattr(signal, "SIGKILL", signal.SIGTERM))
            child.wait()
            return
        sys.stderr.write(line)
    if child.wait() == NOBODY_READS:
        raise BrokenPipeError
    raise CalloutError(f"the first half ended by itself (exit {child.returncode}); run: callout check")


def perform_acts(acts: list[dict[str, Any]], choices: Choices, aloud: bool, timings: bool) -> None:
    say("loading the ears ...")
    from callout.hearing.ears import open_ears

    ears = open_ears()
    console = plain_or_json(choices)
    measured: list[str] = []
    try:
        with open_desk(choices, console) as desk:
            for act in acts:
                if "tell" in act and not choices.as_json:
                    print(f"\n--- {act['tell']}", flush=True)
                elif "play" in act:
                    began = time.monotonic()
                    _play(desk, ears, act)
                    if timings:
                        measured.append(f"{act['play']:32} {_until_spoken(desk, began)}")
                for _ in _presses(desk, act):
                    _wait(desk if aloud else None)
                _wait(desk if aloud else None)
            say("writing the last sentences ...")
    finally:
        ears.close()
    for line in measured:
        say(line)


def _play(desk: Desk, ears: Recognizer, act: dict[str, Any]) -> None:
    from callout.hearing.audio import read_audio

    samples = read_audio(data_folder("audio_fixtures") / "demo" / act["play"])
    heard = ears.hear(samples, desk.contexts[act["by"]])
    words = " ".join(heard.readings[0]) if heard.readings else ""
    desk.heard(heard.resolution, words, act["by"])


def _presses(desk: Desk, act: dict[str, Any]) -> Iterator[None]:
    """Press the key of an act so many times, or until that side is asked something; nothing where the act has none."""
    if "key" not in act:
        return
    for _ in range(MOST_PRESSES if "until" in act else act.get("times", 1)):
        desk.feed(Key(act["key"], act["by"], time.monotonic()))
        yield
        if "until" in act and desk.conversation.seat(act["by"]).pending is not None:
            return


def _wait(desk: Desk | None) -> None:
    """Until nothing is said any more."""
    while desk is not None and desk.speaking:
        time.sleep(0.02)


def _until_spoken(desk: Desk, began: float) -> str:
    """The recording was heard whole at once, so this holds all the work that live speech spreads over its length."""
    heard = time.monotonic() - began
    _wait(desk)
    return f"heard and answered {heard:.2f} s, spoken to a file {time.monotonic() - began:.2f} s"
