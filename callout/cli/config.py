"""`callout config`: what a team has set, and where each setting comes from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from callout import config as settings
from callout.console.output import emit, say
from callout.errors import BadInput, Mistakes
from callout.files import whole_file


@click.command()
@click.option("--init", is_flag=True, help="Write a commented file of settings, and stop; it never replaces one.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a setting on standard output.")
def config(init: bool, as_json: bool) -> int:
    """Say what is set, and where it comes from: an environment variable, the file of settings, or the default.

    An option on the command line wins over the variable, the variable over the file.

    \b
    callout config           every setting, its value and its source
    callout config --init    a file to fill in; where it lies is printed
    """
    file = settings.config_file()
    if init:
        _init(file)
        return 0
    values = settings.load(file)
    for value in values:
        if as_json:
            emit(_shape(value))
            continue
        shown = "(not set)" if value.value is None else _text(value.value)
        click.echo(f"{value.setting.name:<12} {shown:<28} {value.source}")
    if not as_json:
        click.echo(f"settings are read from {file}" + ("" if file.exists() else " (not there; make it: --init)"))
    if wrong := _unfit(values):
        raise Mistakes(wrong)
    return 0


def _unfit(values: tuple[settings.Value, ...]) -> list[str]:
    """A line for each value that the option which it feeds would refuse."""
    from callout.cli.listen import listen

    options = {f"listen.{option.name}": option for option in listen.params}
    found = []
    for value in values:
        option = next((options[feeds] for feeds in value.setting.feeds if feeds in options), None)
        if value.value is None or option is None:
            continue
        try:
            option.type_cast_value(click.Context(listen), value.value)
        except click.BadParameter as wrong:
            found.append(settings.unfit(value, wrong.message))
    return found


def _shape(value: settings.Value) -> dict[str, Any]:
    shown = list(value.value) if isinstance(value.value, tuple) else value.value
    return {
        "setting": value.setting.name, "value": shown, "source": value.source, "variable": value.setting.variable,
        "says": value.setting.says,
    }  # fmt: skip


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(f"{part:g}" for part in value) if isinstance(value, tuple) else str(value)


def _init(file: Path) -> None:
    if file.exists():
        raise BadInput(f"{file} is there already; change its lines, or move it away")
    try:
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with whole_file(file) as out:
            out.write(settings.example())
    except OSError as failed:
        raise BadInput(f"cannot write {file} ({failed.strerror}); name another place with CALLOUT_CONFIG") from None
    say(f"wrote {file}; take away the # of what you set")
