"""`callout read`: what typed words mean, by the same path as speech."""

from __future__ import annotations

from collections.abc import Iterable

import click

from callout import api
from callout.console.output import emit
from callout.console.typed_input import lines
from callout.errors import BadInput
from callout.language.outcome import Resolution, resolution_json


@click.command()
@click.argument("text", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="One JSON object an utterance on standard output.")
def read(text: tuple[str, ...], as_json: bool) -> None:
    """Say what TEXT means: each TEXT is one utterance; "-" takes one a line from standard input.

    \b
    callout read "insertion eleven feet sixty"
    callout read "11' 6 1/2\\" @60"
    printf 'insertion eleven feet\\nsixty\\n' | callout read - --json

    Every word of every state is allowed, and neither practice nor stock changes the outcome. The exit code is 0
    whatever was understood.
    """
    for line in _utterances(text):
        result = api.read(line)
        if as_json:
            emit(resolution_json(result, confidence=1.0 if result.outcome == "understood" else None))
        else:
            click.echo(_in_words(result))


def _utterances(text: tuple[str, ...]) -> Iterable[str]:
    for piece in text:
        if piece != "-":
            yield piece
            continue
        try:
            for line in lines():
                yield line.rstrip("\n")
        except UnicodeDecodeError:
            raise BadInput("standard input is no UTF-8 text; save it as UTF-8 and try again") from None


def _in_words(result: Resolution) -> str:
    said = f'"{" ".join(result.words)}": ' if result.words else ""
    lines = [f"{said}{result.outcome.replace('_', ' ')}"]
    if result.outcome == "understood":
        lines += [f"  {part.name}: {part.value}" for part in result.parts]
        lines += [f"  readback: {words}" for words in result.spoken]
    elif result.outcome == "ambiguous":
        lines.append(f"  asked: {result.ask}")
    elif result.outcome == "not_understood":
        lines += [f"  did you mean: {sentence}" for sentence in result.nearest]
    lines += [f"  {reason}" for reason in result.reasons]
    return "\n".join(lines)
