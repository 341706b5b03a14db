"""callout hear: recordings in, what each means out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from callout import api
from callout.console.output import emit, say
from callout.errors import BadInput
from callout.language.outcome import Nothing, resolution_json


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a file on standard output.")
@click.option("--state", metavar="S", help="Listen as in one state of the conversation (idle, confirm, walk ...).")
@click.option("--grammar", metavar="G", help="Listen for one purpose only: digits hears strings of digits.")
@click.option("--model", type=click.Path(path_type=Path), metavar="DIR",
              help="Hear with a Vosk model folder, or an installed recognizer.")
@click.option("--voices", metavar="CALLSIGN", help="Judge by a talker's own voice (see callout voices).")
def hear(
    files: tuple[str, ...], as_json: bool, state: str | None, grammar: str | None, model: Path | None,
    voices: str | None,
) -> int:  # fmt: skip
    """Hear recordings: the words, what they mean, how sure, and why not.

    Each FILE is one utterance of up to 60 seconds: wav, flac, ogg or mp3, any rate, mono or stereo. For a longer
    recording use: callout listen --from FILE. Every word of every state is allowed, unless --state names one.

    \b
    Examples:   callout hear audio_fixtures/demo/*.flac
                callout hear --json one.wav two.wav
                callout hear --grammar digits seven.wav

    Ends with 0 when every file could be read, whatever was heard in it; with 2 when one could not.
    """
    from callout.hearing.audio import RATE, read_audio

    where = api.known_state(state, "--state")
    where = api.known_state(grammar, "--grammar") or where
    code = 0
    for file in files:
        try:
            samples = read_audio(file)
        except BadInput as wrong:
            code = wrong.exit_code
            say(f"callout: {wrong}")
            if as_json:
                reason = str(wrong).removeprefix(f"{file}: ")
                name = model.resolve().name if model else "ears"
                emit(resolution_json(Nothing(reasons=(reason,)), file=file, listener=name))
            continue
        heard = api.hear(samples, state=where, model=model, voices=voices)
        line = resolution_json(
            heard.resolution,
            file=file,
            words=heard.readings,
            confidence=heard.confidence,
            audio_seconds=round(len(samples) / RATE, 3),
            decode_seconds=round(heard.seconds, 4),
            listener=heard.listener,
        )
        _show(line, as_json)
    return code


def _show(line: dict[str, Any], as_json: bool) -> None:
    if as_json:
        emit(line)
        return
    sure = "" if line["confidence"] is None else f", sure {line['confidence']:.2f}"
    click.echo(f"{line['file']}: {line['outcome'].replace('_', ' ')}{sure}")
    if line["words"]:
        click.echo(f"  heard   {line['words'][0]}")
    for part in line["parts"]:
        value = part["value"]["text"] if isinstance(part["value"], dict) else part["value"]
        note = "" if part["agreement"] is None else f"  ({part['agreement']}, {part['confidence']:.2f})"
        click.echo(f"  {part['name']:<12} {value}{note}")
    for reason in line["reasons"]:
        click.echo(f"  because {reason}")
