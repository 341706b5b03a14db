"""`callout stock`: a start for a team's stock file, and what a stock can and cannot build."""

from __future__ import annotations

from pathlib import Path

import click

from callout.console.output import emit, say
from callout.errors import BadInput
from callout.files import whole_file


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--init", is_flag=True, help="Write a start for a stock file into FILE; it never replaces one.")
@click.option("--from", "table", type=click.Path(path_type=Path), help="With --init: a CSV of what lies in the yard.")
@click.option("--columns", is_flag=True, help="Print an example of such a CSV, and stop.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object a height and angle.")
def stock(file: Path | None, init: bool, table: Path | None, columns: bool, as_json: bool) -> int:
    """Say what a stock can build: pairs of rakers from 3 to 20 ft at 45 and 60 degrees, and what each is short of.

    Without FILE it is the invented stock of the package. The exit code is 0 when the file could be read.

    \b
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
        _init(file, table)
        return 0
    if table is not None:
        raise BadInput("--from goes with --init")
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


def _init(file: Path, table: Path | None) -> None:
    from callout.files import read_text
    from callout.shoring.stock_start import read_table, stock_text

    if file.exists():
        raise BadInput(f"{file} is there already; name another file, or move it away")
    rows = [] if table is None else read_table(read_text(table), str(table))
    text = stock_text(file.stem, rows, str(table))
    try:
        with whole_file(file) as out:
            out.write(text)
    except OSError as failed:
        raise BadInput(f"cannot write {file} ({failed.strerror}); name another") from None
    say(f"wrote {file}; fill in the figures of your kit, then: callout stock {file}")
