"""`callout log`: what is in a journal, in the shapes that people hand on."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from callout.console.output import emit, say
from callout.console.record_lines import Lines, details_of
from callout.dialogue.records import EventName, Record
from callout.errors import BadInput, CalloutError
from callout.files import whole_file
from callout.untrusted_text import Table

if TYPE_CHECKING:
    from callout.journal import Journal

#: How often `--follow` looks for new lines, in seconds.
LOOK = 0.2
_EVENTS = get_args(EventName)
_COLUMNS = ("seq", "time", "event", "speaker", "build_id", "text", "meaning", "build")


@click.command()
@click.argument("words", nargs=-1, metavar="[FILE]")
@click.option(
    "--filter",
    "events",
    multiple=True,
    type=click.Choice(_EVENTS),
    metavar="EVENT",
    help=f"Only these events; may be given more than once. One of: {', '.join(_EVENTS)}.",
)
@click.option("--build", type=int, metavar="N", help="Only what belongs to the build that is called N.")
@click.option("--follow", is_flag=True, help="Go on printing what is added; Ctrl-C ends.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line (schema: callout schema event).")
@click.option("--csv", "as_csv", is_flag=True, help="A table with a head line.")
@click.option(
    "--ics214",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="OUT.html",
    help="Write the activity log in the block order of ICS 214; with --csv as a table.",
)
@click.option("--incident", default="", help="Block 1 of the activity log.")
@click.option("--name", default="", help="Blocks 3 and 8: who keeps it.")
@click.option("--position", default="", help="Block 4: ICS position.")
@click.option("--agency", default="", help="Block 5: home agency and unit.")
@click.option("--handover", is_flag=True, help="The sheet for the next shift: builds, stock, what waits.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), metavar="OUT.html",
              help="Write a page in one file, light or dark and to print: of all lines, or of --handover.")  # fmt: skip
@click.option("--stock", type=click.Path(path_type=Path), help="The yard's stock file, to tell what lies on hand.")
@click.option("--verify", is_flag=True, help="Check the hash chain over all lines (also: callout log verify [FILE]).")
@click.option("--merge", type=click.Path(path_type=Path), metavar="OTHER",
              help="Add what OTHER, a second laptop's journal, has and this one lacks.")  # fmt: skip
def log(
    words: tuple[str, ...], events: tuple[EventName, ...], build: int | None, follow: bool, as_json: bool,
    as_csv: bool, ics214: Path | None, incident: str, name: str, position: str, agency: str, handover: bool,
    html: Path | None, stock: Path | None, verify: bool, merge: Path | None,
) -> int:  # fmt: skip
    """Print a journal, check it, or make the papers of a shift from it.

    FILE is the journal that `callout listen --journal FILE` writes; without it the usual one is read. Nothing but
    --merge ever changes it.

    \b
    Examples:   callout log yard.journal --filter released --filter placed
                callout log yard.journal --follow
                callout log yard.journal --ics214 shift.html --incident "Quarry Lane"
                callout log yard.journal --handover --stock yard.toml
                callout log yard.journal --html yard.html        (and --handover --html sheet.html)
                callout log verify yard.journal
                callout log yard.journal --merge second-laptop.journal

    Ends with 0, with 2 when FILE is not a journal or its chain is broken, with 1 when it cannot be read.
    """
    from callout.journal import Journal

    verify, path = _which(words, verify)
    papers = {"--verify": verify, "--handover": handover, "--ics214": ics214, "--merge": merge}
    asked = [name for name, given in papers.items() if given]
    _only_together(asked, {"--follow": follow, "--build": build}, "--csv" if as_csv and ics214 is None else "", as_json)
    if html is not None and (verify or ics214 or merge or as_json or as_csv or follow):
        raise BadInput("--html goes with the lines or with --handover; leave the rest out")
    if merge is not None:
        return _merge(path, merge, as_json)
    with Journal.open(path, writer=False) as journal:
        if verify:
            return _verify(journal, as_json)
        if handover:
            return _handover(journal, stock, as_json, html)
        elif ics214 is not None:
            given = {"incident": incident, "name": name, "position": position, "agency": agency}
            return _activity(journal, ics214, events, as_csv, given)
        else:
            lines = Lines()
            reading = _Reading(journal, lines)
            chosen = (
                (record, note)
                for record, note in reading.records(follow)
                if (not events or record.event in events) and build in (None, lines.called(record.build_id))
            )
            if html is not None:
                _page(list(chosen), lines, reading, html)
            else:
                _print(chosen, lines, as_json, as_csv)
            return _not_sound(path, reading.wrong)
    return 0


def _not_sound(path: Path, wrong: str) -> int:
    """Says what is wrong with a journal after all that is sound in it was given. -> the exit code."""
    if wrong:
        say(f"callout: {path}: {wrong}; keep the file, and do not work on from it")
    return 2 if wrong else 0


def _which(words: tuple[str, ...], verify: bool) -> tuple[bool, Path]:
    """`verify` may stand before or after the file, as long as no file is called so."""
    from callout.journal.store import default_path

    if "verify" in words and not Path("verify").exists():
        verify, words = True, tuple(word for word in words if word != "verify")
    if len(words) > 1:
        raise BadInput(f"one journal at a time, not {len(words)}; to join two: callout log FILE --merge OTHER")
    return verify, Path(words[0]) if words else default_path()


def _only_together(asked: list[str], narrows: dict[str, object], table: str, as_json: bool) -> None:
    """Nothing that was asked for is passed over in silence."""
    if len(asked) > 1:
        raise BadInput(f"{' and '.join(asked)} are two jobs; ask for one at a time")
    useless = [name for name, given in {**narrows, table: table}.items() if given]
    if asked and useless:
        raise BadInput(f"{useless[0]} does not go with {asked[0]}; leave one out")
    if table and as_json:
        raise BadInput("--csv and --json are two shapes; ask for one")


class _Reading:
    """The records of a journal with its own remark on each. `lines` sees every one, and so knows what builds are
    called. `wrong` is what is not sound in it: the first such line is named at the end."""

    def __init__(self, journal: Journal, lines: Lines) -> None:
        self._journal, self._lines = journal, lines
        self.wrong = ""
        self.name = journal.path.name

    def records(self, follow: bool) -> Iterator[tuple[Record, str]]:
        seen, before = 0, None
        while True:
            for line, record, wrong in self._journal.told(seen, before):
                seen, before = line.seq, line.hash
                if wrong:
                    self.wrong = self.wrong or f"line {line.seq}: {wrong}"
                if record is None:
                    say(f"callout: line {line.seq} cannot be read")
                    continue
                self._lines.words(record)
                origin = f"from another journal, line {line.origin_seq}" if line.foreign else ""
                yield record, "; ".join(filter(None, (line.note, origin, f"NOT SOUND: {wrong}" if wrong else "")))
            if not follow:
                self.wrong = self.wrong or self._journal.verify().problem
                return
            time.sleep(LOOK)


def _print(records: Iterator[tuple[Record, str]], lines: Lines, as_json: bool, as_csv: bool) -> None:
    table = Table(sys.stdout, "\n")
    if as_csv:
        table.row([*_COLUMNS, "note"])
    day = ""
    for record, note in records:
        if as_json:
            emit(record.to_json())
        elif as_csv:
            row = {**record.to_json(), "text": lines.words(record)}
            table.row([*(_cell(row[column]) for column in _COLUMNS), note])
        else:
            if record.time and record.time[:10] != day:
                day = record.time[:10]
                click.echo(day)
            click.echo(f"{record.seq:>6}  {lines.line(record)}" + (f"  [{note}]" if note else ""))
            for detail in details_of(record):
                click.echo(f"{'':28}  {detail}".rstrip())
        sys.stdout.flush()


def _cell(value: Any) -> Any:
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict) else value


def _verify(journal: Journal, as_json: bool) -> int:
    verdict = journal.verify()
    if as_json:
        emit({"ok": verdict.ok, "lines": verdict.lines, "problem": verdict.problem or None})
    elif verdict.ok:
        click.echo(f"{journal.path}: {verdict.lines} lines, the chain is whole")
    else:
        say(f"callout: {journal.path}: {verdict.problem}; {verdict.lines} lines before it are sound")
    return 0 if verdict.ok else 2


def _merge(path: Path, other: Path, as_json: bool) -> int:
    from callout.journal import Journal
    from callout.journal.merge import merge

    if not path.is_file():
        raise BadInput(f"there is no journal at {path}; name the one that the lines are to be added to")
    with Journal.open(other, writer=False) as there, Journal.open(path) as here:
        if not here.writable:
            raise CalloutError(f"{here.notice}; end that callout and merge again")
        done = merge(here, there)
    if as_json:
        emit({"added": done.added, "known": done.known, "builds": {str(k): v for k, v in done.builds.items()}})
        return 0
    click.echo(f"{done.added} lines added from {other}, {done.known} were here already")
    for theirs, ours in done.builds.items():
        click.echo(f"their build {theirs} is build {ours} here")
    return 0


def _page(chosen: list[tuple[Record, str]], lines: Lines, reading: _Reading, out: Path) -> None:
    from callout import __version__
    from callout.journal.pages import log_page

    rows = [
        {
            "seq": record.seq, "time": record.time or "", "who": record.speaker or "callout", "event": record.event,
            "build": lines.called(record.build_id), "words": lines.words(record), "note": note,
            "parts": details_of(record),
        }
        for record, note in chosen
    ]  # fmt: skip
    verdict = f"NOT SOUND: {reading.wrong}" if reading.wrong else "the chain is whole"
    _write(out, log_page(rows, reading.name, verdict, __version__))
    say(f"{len(rows)} lines written to {out}")


def _write(out: Path, text: str) -> None:
    try:
        with whole_file(out) as file:
            file.write(text)
    except OSError as failed:
        raise BadInput(f"cannot write {out} ({failed.strerror}); name a file in another folder") from failed


def _handover(journal: Journal, stock_file: Path | None, as_json: bool, html: Path | None) -> int:
    from callout.dialogue.following import follow
    from callout.journal.handover import as_text, handover
    from callout.shoring.stock import load_stock

    records, verdict = journal.sound()
    now = follow(records, load_stock(stock_file)).now
    sheet = handover(now, records, counted=stock_file is not None)
    if html is not None:
        from callout import __version__
        from callout.journal.pages import handover_page

        told = f"NOT SOUND: {verdict.problem}" if verdict.problem else "the chain is whole"
        _write(html, handover_page(sheet, journal.path.name, told, __version__))
        say(f"the sheet is written to {html}")
    elif as_json:
        emit(sheet)
    else:
        click.echo(as_text(sheet, str(journal.path)))
    return _not_sound(journal.path, verdict.problem)


def _activity(journal: Journal, out: Path, events: tuple[EventName, ...], as_csv: bool, given: dict[str, str]) -> int:
    from callout.journal.activity import NOTABLE, activity_log, as_html
    from callout.journal.activity import as_csv as csv_of

    records, verdict = journal.sound()
    page = activity_log(records, frozenset(events) or NOTABLE, **given)
    text = csv_of(page) if as_csv or out.suffix.lower() == ".csv" else as_html(page)
    _write(out, text)
    say(f"{len(page.activities)} activities written to {out}")
    return _not_sound(journal.path, verdict.problem)
