"""`callout schema`: what the JSON of each command looks like, for programs that read it."""

from __future__ import annotations

import json

import click

from callout.console.output import emit
from callout.errors import BadInput


@click.command()
@click.argument("name", required=False, metavar="[NAME]")
@click.option("--json", "as_json", is_flag=True, help="On one line.")
def schema(name: str | None, as_json: bool) -> None:
    """Print the JSON schema NAME, or the list of all. A command's name gives the schema of its lines.

    \b
    Examples:   callout schema
                callout schema event
                callout schema stock > stock.schema.json
    """
    from callout.schemas import COMMANDS, MODELS, schema_of

    if name is None:
        if as_json:
            emit({known: what for known, (what, _) in MODELS.items()})
        else:
            for known, (what, _) in MODELS.items():
                click.echo(f"{known:<10} {what}")
        return
    if name not in MODELS and name not in COMMANDS:
        raise BadInput(f"there is no schema {name!r}; there are: {', '.join(MODELS)}")
    found = schema_of(name)
    if as_json:
        emit(found)
    else:
        click.echo(json.dumps(found, ensure_ascii=False, indent=2))
