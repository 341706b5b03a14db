"""`callout inspect`: when standing shores are looked at again, and what was read there, into the journal."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from callout.cli.options import NumberWithin
from callout.console.output import emit
from callout.errors import BadInput, CalloutError

_READING = re.compile(r"(crack|plumb|level)\s+(.+?)\s*=\s*(.+?)(?:\s+over\s+(.+))?", re.I)


@click.command()
@click.argument("journal", required=False, type=click.Path(path_type=Path))
@click.option("--build", type=click.IntRange(1), help="The shore that was looked at, by the number it is called by.")
@click.option(
    "--reading",
    "readings",
    multiple=True,
    help='"crack north corner = 3/16 in"; "plumb wall top = 1/4 in over 10 ft"; "level header = 0 in over 6 ft".',
)
@click.option("--tight/--loose", default=None, help="Whether wedges, screws and pins were found or made tight.")
@click.option("--sound", is_flag=True, help="Something was heard to crack, snap or grate.")
@click.option("--signed", default="", help="Who looked.")
@click.option("--remark", default="")
@click.option(
    "--after",
    type=click.Choice(["aftershock", "wind", "change", "sound"]),
    help="Something happened: every standing shore is to be looked at.",
)
@click.option("--wind", type=NumberWithin(0, 300), help="The wind in miles an hour, by an anemometer.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on one line.")
def inspect(
    journal: Path | None, build: int | None, readings: tuple[str, ...], tight: bool | None, sound: bool, signed: str,
    remark: str, after: str | None, wind: float | None, as_json: bool,
) -> None:  # fmt: skip
    """Looks at standing shores: what is due and what has moved; with --build, write down a look.

    \b
    callout inspect
    callout inspect --build 1 --tight --signed "R. Vega" --reading "crack north corner = 3/16 in"
    callout inspect --after aftershock
    callout inspect --wind 26
    """
    from callout.journal import Journal
    from callout.journal.store import default_path

    path = journal or default_path()
    if after is not None or wind is not None or build is not None:
        with Journal.open(_there(path)) as writer:
            if not writer.writable:
                raise CalloutError(f"{writer.notice}; end that callout, or say it there")
            if after is not None or wind is not None:
                _call(writer, after or "wind", wind)
            if build is not None:
                look = {"readings": [_reading(one) for one in readings], "tight": tight, "sounds": sound,
                        "signed": signed, "remark": remark}  # fmt: skip
                _look(writer, build, look)
    elif readings or signed or tight is not None or sound or remark:
        raise BadInput("name the shore that was looked at: --build 1")
    with Journal.open(_there(path), writer=False) as reader:
        _show(list(reader.records()), as_json)


def _there(path: Path) -> Path:
    if not path.is_file():
        raise BadInput(f"there is no journal at {path}; name the one of the conversation")
    return path


def _reading(text: str) -> dict[str, Any]:
    from callout.values.length import written_length
    from callout.values.sights import MarkReading

    found = _READING.fullmatch(text.strip())
    if found is None:
        raise BadInput(
            f'write a reading like "crack north corner = 3/16 in" or "plumb wall = 1/4 in over 10 ft", not {text!r}'
        )
    kind, mark, value, over = found.groups()
    try:
        across = over and written_length(over)
        reading = MarkReading(kind=kind.lower(), mark=mark, value=written_length(value), over=across)  # type: ignore[arg-type]
    except ValueError as wrong:
        raise BadInput(f"{text!r}: {str(wrong).splitlines()[0]}") from None
    return reading.model_dump(mode="json")


def _call(journal: Any, reason: str, speed: float | None) -> None:
    from callout.dialogue.records import LookCalled, Record

    what = LookCalled(reason=reason, speed=speed)
    article = "" if reason == "wind" else "an " if reason == "aftershock" else "a "
    said = f"look at every standing shore, after {article}{reason}"
    if speed is not None:
        said = f"wind {speed:g} miles an hour"
    journal.append(Record(event="look_called", speaker="logistics", text=said, data=what.to_json()))


def _look(journal: Any, number: int, look: dict[str, Any]) -> None:
    from callout.dialogue.records import Record, WasInspected
    from callout.dialogue.watch import watch

    shores = watch(journal.records()).shores
    ids = [build_id for build_id, shore in shores.items() if shore.number == number]
    if not ids:
        there = ", ".join(str(shore.number) for shore in shores.values()) or "none"
        raise BadInput(f"no shore stands as build {number}; standing: {there}")
    kept = {name: value for name, value in look.items() if value not in ("", None, [], False) or name == "tight"}
    what = WasInspected(number=number, look={name: value for name, value in kept.items() if value is not None})
    who = f" by {look['signed']}" if look["signed"] else ""
    record = Record(event="inspected", speaker="logistics", build_id=ids[-1], text=f"build {number} inspected{who}",
                    data=what.to_json())  # fmt: skip
    journal.append(record)


def _show(records: list[Any], as_json: bool) -> None:
    from callout.dialogue.following import follow
    from callout.dialogue.watch import watch
    from callout.shoring.aftercare import LOOK_AT

    watched, now = watch(records), datetime.now().astimezone()
    standing = follow(records).now.standing
    shores = [
        {"build": shore.number, **watched.after_care(build_id, now)}
        for build_id, shore in watched.shores.items()
        if build_id in standing
    ]
    if as_json:
        emit({"inspect": {"shores": shores, "look_at": list(LOOK_AT)}})
        return
    if not shores:
        click.echo("no shore stands in this journal")
        return
    for shore in shores:
        click.echo(
            f"build {shore['build']}, up since {shore['stood_since'][:16].replace('T', ' ')}: {shore['due']['say']}"
        )
        for one in shore["movements"]:
            click.echo(f"  {one['level'].upper():<7}{one['say']}")
    click.echo("LOOK AT")
    for line in LOOK_AT:
        click.echo(f"  [ ] {line}")
