"""`callout stock`: a start for a team's stock file, and what a stock can and cannot build."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from callout.console.output import emit, say
from callout.console.typed_input import next_line
from callout.errors import BadInput
from callout.files import whole_file


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--init", is_flag=True, help="Write a start for a stock file into FILE; it never replaces one.")
@click.option("--from", "table", type=click.Path(path_type=Path), help="With --init: a CSV of what lies in the yard.")
@click.option("--ask", is_flag=True, help="With --init: ask for it part by part; in a terminal it does so by itself.")
@click.option("--columns", is_flag=True, help="Print an example of such a CSV, and stop.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a height and angle.")
def stock(file: Path | None, init: bool, table: Path | None, ask: bool, columns: bool, as_json: bool) -> int:
    """Say what a stock can build: pairs of rakers from 3 to 20 ft at 45 and 60 degrees, and what each is short of.

    Without FILE it is the stock that is set (callout config), else the invented one of the package. The exit code is 0
    when the file could be read.

    \b
    callout stock --init yard.toml                asks what lies in your yard
    callout stock --columns > yard.csv            an example to fill in
    callout stock --init --from yard.csv yard.toml
    callout stock yard.toml                       what it can build
    """
    if columns:
        from callout.shoring.stock_start import EXAMPLE

        click.echo(EXAMPLE, nl=False)
        return 0
    if init:
        if file is None:
            raise BadInput("name the file to write: callout stock --init yard.toml")
        if ask and table is not None:
            raise BadInput("--ask and --from are two ways to say what lies in the yard; leave one out")
        _init(file, table, ask or (table is None and sys.stdin.isatty()))
        return 0
    if table is not None or ask:
        raise BadInput("--from and --ask go with --init")
    show_report(file, as_json)
    return 0


def show_report(file: Path | None, as_json: bool) -> None:
    """What the stock in `file` can and cannot do, as `callout check --stock` prints it too."""
    from callout.session.stock_report import stock_report
    from callout.shoring.stock import load_stock

    report = stock_report(load_stock(file))
    if as_json:
        for row in report.to_json():
            emit(row)
    else:
        click.echo("\n".join(report.lines()))


def _init(file: Path, table: Path | None, by_questions: bool) -> None:
    from callout.files import read_bytes
    from callout.session.stock_questions import YardAnswers, ask_about_yard
    from callout.shoring.stock_start import stock_text
    from callout.shoring.stock_table import read_table, table_text

    if file.exists():
        raise BadInput(f"{file} is there already; name another file, or move it away")
    answers = ask_about_yard(_answer, say) if by_questions else YardAnswers()
    rows = answers.rows if table is None else read_table(table_text(read_bytes(table), str(table)), str(table))
    text = stock_text(file.stem, rows, str(table or "answers"), answers.kit)
    try:
        with whole_file(file) as out:
            out.write(text)
    except OSError as failed:
        raise BadInput(f"cannot write {file} ({failed.strerror}); name another") from None
    left = ", fill in the figures of your kit" if "FILL IN" in text else ""
    say(f"wrote {file}{left}; then: callout stock {file}")


def _answer(question: str) -> str:
    click.echo(f"{question}: ", nl=False, err=True)
    line = next_line()
    if not line:
        raise EOFError
    return line
