"""`callout demo`: the whole job on recordings, through the ears, the readback, the stock, the voice and the journal."""

from __future__ import annotations

import errno
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import click

from callout.console.output import say
from callout.dialogue.events import Key
from callout.errors import BadInput, CalloutError
from callout.files import data_folder, tomllib
from callout.hearing.ears import Recognizer
from callout.journal.lock import WriterLock
from callout.processes import end_with_input, module_command
from callout.session.desk import Desk
from callout.session.opening import Choices, open_desk, plain_or_json

#: What the half of the demonstration that is to be killed prints on standard error when its time has come.
KILL_ME = "callout demo: now"
#: How that half ends when nobody reads what it prints: no fault, unlike any other end that it comes to by itself.
NOBODY_READS = errno.EPIPE

#: Lies in a folder that a demonstration made its own. Elsewhere nothing is deleted.
MARK = "made-by-callout-demo"
_JOURNAL = re.compile(r"demo\.journal(-wal|-shm|\.lock)?")
_VOICE = re.compile(r"\d{4}-[a-z-]*\.wav")


@click.command()
@click.option("--aloud", is_flag=True, help="Play the voice and wait for it, at the crew's pace.")
@click.option("--folder", type=click.Path(path_type=Path), default=Path("demo-output"), show_default=True,
              help="Where the journal and the spoken sentences (WAV) go.")
@click.option("--screen", is_flag=True, help="On the large screen, with time to look; Tab turns to another view.")
@click.option("--timings", is_flag=True, help="Also print the seconds from the end of speech to the readback.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object an event (schema: callout schema event).")
@click.option("--until-killed", is_flag=True, hidden=True)
def demo(aloud: bool, folder: Path, screen: bool, timings: bool, as_json: bool, until_killed: bool) -> int:
    """Show the whole job on recordings of an invented scene: no sound card, no microphone, no network.

    Recordings go through both ears, each callout is read back, and only "affirm" lets a build be worked out from the
    stock. The parts list is spoken item by item. Halfway through the program is killed and started again on its
    journal. Without --aloud the voice is written to WAV files and nobody waits for it.
    """
    if screen and (as_json or timings):
        raise BadInput("--screen does not go with --json or --timings; leave one out")
    scene = _scene()
    acts: list[dict[str, Any]] = scene["act"]
    cut = next(i for i, act in enumerate(acts) if act.get("kill"))
    choices = Choices(
        journal=folder / "demo.journal", as_json=as_json, play=aloud, one_source=False, voice_folder=folder / "voice"
    )
    if until_killed:
        return _until_killed(acts[:cut], choices, aloud, timings)
    lock = _alone_in(folder)
    _make_room(folder)
    if screen:
        _on_screen(acts, cut, choices)
        lock.drop()
        return 0
    if not as_json:
        click.echo(scene["title"])
        for line in scene["cautions"]:
            click.echo(f"  ! {line}")
        click.echo()
        sys.stdout.flush()
    _first_half(folder, aloud, timings, as_json)
    _perform(acts[cut + 1 :], choices, aloud, timings)
    if not as_json:
        click.echo(f"\nspoken sentences: {folder / 'voice'}\njournal: {folder / 'demo.journal'}")
        click.echo(f'read it with: callout log "{folder / "demo.journal"}"')
    lock.drop()
    return 0


def _until_killed(acts: list[dict[str, Any]], choices: Choices, aloud: bool, timings: bool) -> int:
    end_with_input()
    try:
        _perform(acts, choices, aloud, timings)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what is still to be flushed has nowhere to go
        return NOBODY_READS
    say(KILL_ME)
    time.sleep(60)
    return 1


def _on_screen(acts: list[dict[str, Any]], cut: int, choices: Choices) -> None:
    from callout.hearing.ears import open_ears
    from callout.session.large_screen import demonstrate_on_screen

    say("loading the ears ...")
    ears = open_ears()

    def perform(desk: Desk, act: dict[str, Any]) -> None:
        if "play" in act:
            _play(desk, ears, act)
        for _ in range(act.get("times", 1) if "key" in act else 0):
            desk.feed(Key(act["key"], act["by"], time.monotonic()))
            time.sleep(0.3)

    try:
        demonstrate_on_screen([acts[:cut], acts[cut + 1 :]], choices, perform)
    finally:
        ears.close()


def _scene() -> dict[str, Any]:
    scene: dict[str, Any] = tomllib.loads((data_folder("audio_fixtures") / "demo" / "scenario.toml").read_text("utf-8"))
    return scene


def _alone_in(folder: Path) -> WriterLock:
    """A second demonstration would clear away the journal of the first."""
    lock = WriterLock(folder / "demo.lock")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        taken = lock.take()
    except OSError as failed:
        raise BadInput(f"cannot write in {folder} ({failed.strerror}); name another with --folder") from failed
    if not taken:
        raise BadInput(f"another demonstration is running in {folder}; wait for its end, or name another --folder")
    return lock


def _make_room(folder: Path) -> None:
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
        voice.mkdir(exist_ok=True)
        for place, name in ((folder, _JOURNAL), (voice, _VOICE)):
            for path in place.iterdir():
                if name.fullmatch(path.name):
                    path.unlink()
    except OSError as failed:
        raise BadInput(f"cannot write in {folder} ({failed.strerror}); name another with --folder") from failed


def _first_half(folder: Path, aloud: bool, timings: bool, as_json: bool) -> None:
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


def _perform(acts: list[dict[str, Any]], choices: Choices, aloud: bool, timings: bool) -> None:
    say("loading the ears ...")
    from callout.hearing.ears import open_ears

    ears = open_ears()
    console = plain_or_json(choices)
    measured: list[str] = []
    try:
        with open_desk(choices, console) as desk:
            for act in acts:
                if "tell" in act and not choices.as_json:
                    click.echo(f"\n--- {act['tell']}")
                elif "play" in act:
                    began = time.monotonic()
                    _play(desk, ears, act)
                    if timings:
                        measured.append(f"{act['play']:32} {_until_spoken(desk, began)}")
                elif "key" in act:
                    for _ in range(act.get("times", 1)):
                        desk.feed(Key(act["key"], act["by"], time.monotonic()))
                if aloud:
                    _wait(desk)
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


def _wait(desk: Desk) -> None:
    while desk.speaking:
        time.sleep(0.02)


def _until_spoken(desk: Desk, began: float) -> str:
    """The recording was heard whole at once, so this holds all the work that live speech spreads over its length."""
    heard = time.monotonic() - began
    _wait(desk)
    return f"heard and answered {heard:.2f} s, spoken to a file {time.monotonic() - began:.2f} s"


