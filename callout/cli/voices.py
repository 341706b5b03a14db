"""`callout voices`: a team's own voices: what was learned of them, learn one, forget one."""

from __future__ import annotations

import contextlib
import functools
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from callout.console.output import emit, say
from callout.errors import BadInput

if TYPE_CHECKING:
    from callout.hearing.voices import KnownVoice
    from callout.scoring.voice_learning import LearnedVoice

NAMES = {"callout": "callouts", "command": "commands that move something", "harmless": "commands that move nothing"}


@click.group(invoke_without_command=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object a voice on standard output.")
@click.pass_context
def voices(context: click.Context, as_json: bool) -> int:
    """The team's own voices: how clear a talker is to the ears, learned from recordings with known words.

    \b
    callout record kim --voice kim              forty short sentences, five minutes
    callout voices learn kim --name kim         learns, and says what it is worth
    callout listen --voices kim                 judges by it
    callout voices                              those that are kept
    callout voices forget kim
    """
    if context.invoked_subcommand is None:
        _list(as_json)
    return 0


def _list(as_json: bool) -> None:
    from callout.hearing.voices import kept_voices, load_voice, voices_folder

    names = kept_voices()
    if not names and not as_json:
        click.echo(f"no voice is kept in {voices_folder()}; learn one with: callout voices learn DIR --name CALLSIGN")
    for name in names:
        try:
            voice = load_voice(name)
        except BadInput as wrong:  # the others are told all the same
            say(f"callout: {wrong}")
            continue
        if as_json:
            emit(_shape(voice, kept=True))
        else:
            click.echo(f"{name:<16} {voice.learned}  {voice.recordings} recordings, left out in turn: {_change(voice)}")


@voices.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", required=True, metavar="CALLSIGN", help="Under what the voice is kept.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on standard output.")
def learn(folder: Path, name: str, as_json: bool) -> int:
    """Learn how clear the talker of FOLDER is: a manifest and recordings, as `callout record` makes them.

    Each recording is judged by what the others taught. Where that is no better, or takes one more wrongly, nothing is
    kept, and it ends with 1.
    """
    from callout.hearing.audio import read_audio
    from callout.hearing.ears import Ears
    from callout.hearing.voices import callsign, keep_voice
    from callout.language.context import EVERYTHING
    from callout.scoring.evaluation import Progress, meant
    from callout.scoring.manifest import find_manifest, survey
    from callout.scoring.voice_learning import hear_all, kept_of
    from callout.scoring.voice_learning import learn as learn_from

    name = callsign(name)
    count, _ = survey(find_manifest(folder))
    with contextlib.closing(Ears()) as ears, contextlib.closing(Progress("recordings heard", count)) as progress:
        heard = hear_all(folder, ears, read_audio, functools.partial(meant, EVERYTHING), progress.step)
    learned = learn_from(heard)
    voice = kept_of(name, folder, learned, len(heard))
    file = keep_voice(voice) if learned.useful else None
    if as_json:
        emit(_shape(voice, kept=file is not None))
    if file is None:
        say(f"{name}: nothing is kept, since it would be no better: {_change(voice)}, of recordings left out in turn")
        return 1
    if not as_json:
        click.echo(f"{len(heard)} recordings, each judged by what the others taught: {_change(voice)}")
        for line in _what_helped(learned):
            click.echo(f"  {line}")
    say(f"kept in {file}; use it with: callout listen --voices {name}")
    return 0


@voices.command()
@click.argument("name")
def forget(name: str) -> int:
    """Delete what was learned of the talker NAME. Recordings lie where you made them: delete that folder, too."""
    from callout.hearing.voices import forget_voice

    say(f"deleted {forget_voice(name)}")
    return 0


def _shape(voice: KnownVoice, kept: bool) -> dict[str, Any]:
    return {**voice.model_dump(), "kept": kept}


def _change(voice: KnownVoice) -> str:
    was, now = voice.before, voice.after
    return (
        f"taken right {was.right} before and {now.right} after, asked again {was.asked} and {now.asked}, "
        f"wrong {was.wrong} and {now.wrong}"
    )


def _what_helped(learned: LearnedVoice) -> list[str]:
    """What was moved and what was not, and how little so few recordings can show."""
    from callout.hearing.agreement import settings

    lines = []
    for stake, says in NAMES.items():
        bar = settings().agreed_three[stake]
        moved = learned.shift.get(stake)
        if moved is None:
            lines.append(f"{says}: as before, from log-odds {bar:.2f}")
            continue
        more = learned.helped[stake].right - learned.before.right
        lines.append(f"{says}: from log-odds {bar:.2f} before, {bar + moved:.2f} now ({more:+} taken right)")
    taken = learned.after.right + learned.after.wrong
    if not learned.after.wrong and taken:
        lines.append(f"none wrong of {taken} taken still allows {min(1.0, 3 / taken):.0%} (rule of three)")
    return lines
