"""`callout demo`: the whole job on recordings, through the ears, the readback, the stock, the voice and the journal."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from callout.errors import BadInput
from callout.session.demonstration import (
    alone_in,
    first_half,
    make_room,
    perform_acts,
    perform_on_screen,
    perform_until_killed,
    read_scene,
)
from callout.session.opening import Choices


@click.command()
@click.option("--aloud", is_flag=True, help="Play the voice and wait for it, at the crew's pace.")
@click.option("--folder", type=click.Path(path_type=Path), default=Path("demo-output"), show_default=True,
              help="Where the journal and the spoken sentences (WAV) go.")
@click.option("--screen", is_flag=True, help="On the large screen, with time to look; Tab turns to another view.")
@click.option("--timings", is_flag=True, help="Also print the seconds from the end of speech to the readback.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object an event (schema: callout schema event).")
@click.option("--until-killed", "to_be_killed", is_flag=True, hidden=True)
def demo(aloud: bool, folder: Path, screen: bool, timings: bool, as_json: bool, to_be_killed: bool) -> int:
    """Show the whole job on recordings of an invented scene: no sound card, no microphone, no network.

    Recordings go through both ears, each callout is read back, and only "affirm" lets a build be worked out from the
    stock. The parts list is spoken item by item. Halfway through the program is killed and started again on its
    journal. Without --aloud the voice is written to WAV files and nobody waits for it.
    """
    if screen and (as_json or timings):
        raise BadInput("--screen does not go with --json or --timings; leave one out")
    scene = read_scene()
    acts: list[dict[str, Any]] = scene["act"]
    cut = next(i for i, act in enumerate(acts) if act.get("kill"))
    choices = Choices(
        journal=folder / "demo.journal", as_json=as_json, play=aloud, one_source=False, voice_folder=folder / "voice",
        name_files=False,
    )  # fmt: skip
    if to_be_killed:
        return perform_until_killed(acts[:cut], choices, aloud, timings)
    lock = alone_in(folder)
    make_room(folder)
    if screen:
        perform_on_screen(acts, cut, choices)
        lock.drop()
        return 0
    if not as_json:
        click.echo(scene["title"])
        for line in scene["cautions"]:
            click.echo(f"  ! {line}")
        click.echo()
        sys.stdout.flush()
    first_half(folder, aloud, timings, as_json)
    perform_acts(acts[cut + 1 :], choices, aloud, timings)
    if not as_json:
        click.echo(f"\nspoken sentences: {folder / 'voice'}\njournal: {folder / 'demo.journal'}")
        click.echo(f'read it with: callout log "{folder / "demo.journal"}"')
    lock.drop()
    return 0
