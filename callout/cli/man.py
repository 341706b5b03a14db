"""`callout man`: the help of every command as one manual page, made from the same words."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Sequence

import click

from callout import __version__


@click.command()
def man() -> None:
    """Print the manual page: read it with callout man | man -l -

    \b
    callout man > ~/.local/share/man/man1/callout.1     then: man callout

    Completion of commands, options and file names, for good:

    \b
    bash    eval "$(_CALLOUT_COMPLETE=bash_source callout)"       in ~/.bashrc
    zsh     eval "$(_CALLOUT_COMPLETE=zsh_source callout)"        in ~/.zshrc
    fish    _CALLOUT_COMPLETE=fish_source callout | source        in ~/.config/fish/completions/callout.fish
    """
    click.echo(man_page(), nl=False)


def man_page() -> str:
    """The page in the language of troff (man macros)."""
    from callout.cli import COMMANDS, group

    context = click.Context(group, info_name="callout")
    lines = [
        f'.TH CALLOUT 1 "" "callout {__version__}" "User commands"',
        ".SH NAME",
        "callout \\- " + _plain(_first_sentence(group)),
        ".SH SYNOPSIS",
        ".B callout",
        "COMMAND [OPTIONS] [ARGUMENTS]",
        ".SH DESCRIPTION",
        *_paragraphs(group),
        ".SH COMMANDS",
    ]
    for name, (_, says) in COMMANDS.items():
        lines += [".TP", f".B {_plain(name)}", _plain(says)]
    for name, command in _commands(context, list(COMMANDS)):
        own = click.Context(command, info_name=f"callout {name}", parent=None)
        usage = " ".join(command.collect_usage_pieces(own))
        lines += [f".SH callout {_plain(name)}", f".B callout {_plain(name)}", _plain(usage), ".PP"]
        lines += _paragraphs(command)
        for parameter in command.get_params(own):
            record = parameter.get_help_record(own)
            if record is not None:
                lines += [".TP", f".B {_plain(record[0])}", _plain(" ".join(record[1].split()) or "-")]
    lines += [
        ".SH EXIT STATUS",
        "0 when all is well, 1 when something broke or was not found, 2 when what was asked for cannot be done as it "
        "was written.",
    ]
    return "\n".join(lines) + "\n"


def _commands(context: click.Context, names: Sequence[str]) -> Iterator[tuple[str, click.Command]]:
    """Each command that is not hidden by its whole name, and those that it holds after it."""
    assert isinstance(context.command, click.Group)
    for name in names:
        command = context.command.get_command(context, name)
        if command is None or command.hidden:
            continue
        yield name, command
        if isinstance(command, click.Group):
            for inner, one in _commands(click.Context(command), list(command.commands)):
                yield f"{name} {inner}", one


def _first_sentence(command: click.Command) -> str:
    text = " ".join(inspect.cleandoc(command.help or "").split("\n\n")[0].split())
    return text.partition(": ")[0]


def _paragraphs(command: click.Command) -> list[str]:
    """The help as paragraphs; what click leaves unwrapped (\\b) keeps its lines."""
    lines: list[str] = []
    for paragraph in inspect.cleandoc(command.help or "").split("\n\n"):
        kept = paragraph.split("\n")
        if kept[0].strip() == "\b":
            lines += [".PP", ".nf", *(_plain(line) for line in kept[1:]), ".fi"]
        else:
            lines += [".PP", _plain(" ".join(paragraph.split()))]
    return lines


def _plain(text: str) -> str:
    """Nothing in it is an order to troff."""
    text = text.replace("\\", "\\e").replace("-", "\\-")
    return re.sub(r"^([.'])", r"\\&\1", text)
