"""`callout replay`: what today's ears make of the kept audio of a real day."""

from __future__ import annotations

from collections import Counter
from functools import partial
from pathlib import Path

import click

from callout.console.output import emit, say


@click.command()
@click.argument("journal", type=click.Path(path_type=Path))
@click.option("--model", type=click.Path(path_type=Path), help="A Vosk model folder, or an installed recognizer.")
@click.option("--all", "everything", is_flag=True, help="Show what is heard as before, too.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object an utterance, then one with the counts.")
def replay(journal: Path, model: Path | None, everything: bool, as_json: bool) -> int:
    """Hear the kept audio of JOURNAL again, and show what would now be heard differently.

    The check before a new model or a changed grammar is put to use. Only utterances whose audio was kept
    (callout listen --keep-audio) can be heard again. The journal is opened to read only.

    \b
    callout replay tuesday.journal
    callout replay tuesday.journal --model new-model
    """
    from callout.dialogue.machine import start
    from callout.hearing.audio import read_audio
    from callout.hearing.ears import open_ears
    from callout.journal.audio import audio_file, audio_folder
    from callout.journal.store import Journal
    from callout.scoring import replay as room
    from callout.shoring.plan import ShorePlanner
    from callout.shoring.stock import load_stock

    counts: Counter[str] = Counter()
    day = Journal.open(journal, writer=False)
    ears = None
    try:
        ears = open_ears(model)
        begun = start(load_stock(None), ShorePlanner())
        sound = partial(audio_file, audio_folder(journal))
        for again in room.replay(day.records(), begun, sound, read_audio, ears.hear):
            counts[again.change] += 1
            if as_json:
                emit(again.to_json())
            elif everything or again.change != "same":
                click.echo(
                    f"{(again.time or '')[:19]} {again.change}: then {again.then_text!r}, now {again.now_text!r}"
                )
                if again.error:
                    click.echo(f"   {again.error}")
    finally:
        day.close()
        if ears is not None:
            ears.close()
    total = sum(counts.values())
    if as_json:
        emit(
            {"heard_again": total, **{name: counts[name] for name in ("same", "other", "lost", "gained", "unreadable")}}
        )
    elif total:
        click.echo(", ".join(f"{counts[name]} {name}" for name in counts) + f" of {total} utterances with kept audio")
    else:
        say("no audio was kept with this journal; keep it with: callout listen --keep-audio --journal FILE")
    return 0
