"""The commands. Each lives in a module of its own, which is imported only when it is asked for."""

from __future__ import annotations

import errno
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Any

import click
from click.core import ParameterSource

from callout import __version__
from callout import config as settings
from callout.console.output import say
from callout.errors import BadInput, CalloutError, Mistakes
from callout.untrusted_text import TameStream, for_screen

#: name -> (module and function, what the list of commands says of it). Each command has a longer help of its own.
COMMANDS = {
    "demo": ("callout.cli.demo:demo", "The whole job on recordings: nothing is needed for it."),
    "listen": ("callout.cli.listen:listen", "The live conversation; --typed holds it by keyboard."),
    "check": ("callout.cli.check:check", "What is ready, what is missing, and what mends it."),
    "card": ("callout.cli.card:card", "The crib sheet: all that may be said, on one page."),
    "read": ("callout.cli.read:read", "What typed words mean."),
    "hear": ("callout.cli.hear:hear", "What was heard in recordings, what it means, how sure."),
    "plan": ("callout.cli.plan:plan", "One build from the stock, without a conversation."),
    "sizeup": ("callout.cli.sizeup:sizeup", "What a damaged wall needs, before anything is called."),
    "stock": ("callout.cli.stock:stock", "What a stock can build; a start for your own stock file."),
    "board": ("callout.cli.board:board", "The conversation in a browser, on tablets and phones."),
    "inspect": ("callout.cli.inspect:inspect", "Standing shores: when to look again, and what was read there."),
    "log": ("callout.cli.log:log", "The journal: read, verify, print, merge, hand over."),
    "score": ("callout.cli.score:score", "How well a folder of recordings is heard."),
    "record": ("callout.cli.record:record", "Record your own callouts, for score."),
    "voices": ("callout.cli.voices:voices", "The team's own voices: learn one, list, forget."),
    "drill": ("callout.cli.drill:drill", "Practise calling and reading back."),
    "sample": ("callout.cli.card:sample", "Random callouts to practise with."),
    "words": ("callout.cli.card:words", "The vocabulary, and which words sound alike."),
    "radio": ("callout.cli.radio:radio", "A recording through a simulated voice radio."),
    "replay": ("callout.cli.replay:replay", "Kept audio through today's ears."),
    "config": ("callout.cli.config:config", "What is set once for every shift, and where it comes from."),
    "man": ("callout.cli.man:man", "All of this help as one manual page."),
    "schema": ("callout.cli.schema:schema", "The shape of each JSON output."),
}


#: Python looks for garbage each time so many more things were made than dropped, and every tenth time through more. By
#: its own 700 that is a quarter of the time that the first sentence of a shift takes, as what is read in then is many
#: small things that all stay. By more than this no time is won, and memory is lost.
GARBAGE = (10_000, 10, 10)


class _Lazy(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module, _, attribute = COMMANDS[name][0].partition(":")
        command: click.Command = getattr(importlib.import_module(module), attribute)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """An unknown command is answered with the nearest there is."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in COMMANDS:
            from rapidfuzz import fuzz, process

            near = process.extract(name.lower(), list(COMMANDS), scorer=fuzz.ratio, score_cutoff=60, limit=2)
            hint = f" Did you mean {' or '.join(str(found[0]) for found in near)}?" if near else ""
            ctx.fail(f"There is no command {name!r}.{hint}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands (each explains itself with --help)"):
            formatter.write_dl([(name, says) for name, (_, says) in COMMANDS.items()])


@click.command(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="callout")
@click.option("--team", metavar="FOLDER", help="The folder of your team's own words.")
def group(team: str | None) -> None:
    """The voice of the staging area: hears a shoring callout, reads it back, works out the build after "affirm",
    and speaks the parts list one item at a time.

    \b
    Try first:   callout demo
                 callout read "insertion eleven feet sixty"
                 callout plan --insertion "11 ft" --angle 60
    """
    if team is not None:
        os.environ["CALLOUT_TEAM"] = os.path.abspath(team)  # for children, too


def _settings() -> dict[str, dict[str, Any]]:
    """The defaults that a team has set for the options. Its own words go into the environment, for children too."""
    values = settings.load()
    for value in values:
        if value.setting.name == "team" and value.value is not None:
            os.environ["CALLOUT_TEAM"] = value.value
    return settings.defaults_of_options(values)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command; every failure is one line on standard error and an exit code, never a traceback."""
    gc.set_threshold(*GARBAGE)
    missing = _open_standard_streams()
    for stream in (sys.stdout, sys.stderr):  # a letter that the terminal cannot show is no reason to stop
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    streams = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = TameStream(sys.stdout), TameStream(sys.stderr)
    try:
        if missing:
            raise BadInput(f"{missing} is closed; let callout write somewhere")
        code = _run(arguments)
    except BaseException as failed:
        line, code = _explained(failed)
        if line:  # one line for each thing that is wrong, whatever a name in it holds
            lines = failed.lines if isinstance(failed, Mistakes) else (line,)
            say("callout: " + "\n".join(map(for_screen, lines)))
    finally:
        sys.stdout, sys.stderr = streams
    sys.exit(code)


def _run(arguments: Sequence[str] | None) -> int:
    words = sys.argv[1:] if arguments is None else arguments
    defaults = {} if list(words[:1]) == ["config"] else _settings()  # config mends what cannot be read
    try:
        result = group.main(args=arguments, prog_name="callout", standalone_mode=False, default_map=defaults)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.exceptions.NoArgsIsHelpError as nothing:
        nothing.show()
        return 2
    return result if isinstance(result, int) else 0


def _explained(failed: BaseException) -> tuple[str, int]:
    """(the line that says what to do, the exit code). A fault of ours is raised again where somebody looks for it."""
    if isinstance(failed, click.BadParameter) and (told := _of_a_setting(failed)):
        return told, 2
    if isinstance(failed, click.ClickException):
        at = failed.ctx.command_path if isinstance(failed, click.UsageError) and failed.ctx is not None else "callout"
        return f"{' '.join(failed.format_message().split())} See: {at} --help", 2
    if isinstance(failed, (click.Abort, KeyboardInterrupt)):
        return "stopped", 130
    if isinstance(failed, CalloutError):
        return str(failed), failed.exit_code
    if isinstance(failed, (BrokenPipeError, SystemExit)):  # click answers a broken pipe by SystemExit(1); so no more
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return "", 0
    if isinstance(failed, OSError) and failed.errno == errno.ENOSPC:
        return "the disk is full; make room and type the command again", 1
    if os.environ.get("CALLOUT_DEBUG"):
        raise failed
    first_line = (str(failed).splitlines() or [""])[0]
    if isinstance(failed, OSError) and failed.filename is not None:
        return f"{failed.filename}: {failed.strerror}; name another file, or mend this one", 2
    if isinstance(failed, UnicodeError):
        return f"a file is no UTF-8 text ({first_line}); save it as UTF-8", 2
    if "null byte" in first_line:
        return f"{first_line}; name the file with its whole path", 2
    if "home directory" in first_line:
        return "nobody knows where this user's home is; set HOME to a folder that may be written", 2
    return (
        f"a fault in the program itself ({type(failed).__name__}: {first_line}); "
        "run again with CALLOUT_DEBUG=1 and report what it prints"
    ), 1


def _of_a_setting(failed: click.BadParameter) -> str:
    """What is wrong with a value that a setting gave an option, by the setting's name and place; empty for others."""
    name = failed.param.name if failed.param is not None else None
    if failed.ctx is None or name is None or failed.ctx.get_parameter_source(name) is not ParameterSource.DEFAULT_MAP:
        return ""
    feeds = f"{failed.ctx.info_name}.{name}"
    value = next((one for one in settings.load() if feeds in one.setting.feeds), None)
    return "" if value is None else settings.unfit(value, failed.message)


def _open_standard_streams() -> str:
    """Where a standard stream is closed, the next file would get its number, and be written into: the null device takes
    its place. -> the name of the output that is missing, "" when both are there."""
    missing = ""
    for number, name in enumerate(("standard input", "standard output", "standard error")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
            missing = missing or (name if number else "")
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115  it stays open as long as the program runs
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    return missing
