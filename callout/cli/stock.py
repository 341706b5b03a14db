"""`callout stock`: a start for a team's stock file, and what a stock can and cannot build."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from callout.console.output import emit, say
from callout.errors import BadInput
from callout.files import whole_file

if TYPE_CHECKING:
    from callout.shoring.plan import Reach
    from callout.shoring.stock import Stock


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
    from callout.shoring.plan import ShorePlanner, reach
    from callout.shoring.stock import load_stock

    whole = load_stock(file)
    rows = reach(whole, ShorePlanner())
    if as_json:
        for row in rows:
            emit(_shape(row))
    else:
        for line in (*_table(rows), *remarks(whole)):
            click.echo(line)
    return 0


def _shape(row: Reach) -> dict[str, Any]:
    return {
        "insertion": row.insertion.to_json(), "angle_deg": row.angle_deg, "outcome": row.outcome, "why": row.why,
    }  # fmt: skip


def _table(rows: tuple[Reach, ...]) -> list[str]:
    """A line a height: a pair of rakers at each angle, and what is short."""
    by_height: dict[str, dict[int, Reach]] = {}
    for row in rows:
        by_height.setdefault(row.insertion.text, {})[row.angle_deg] = row
    angles = sorted({row.angle_deg for row in rows})
    head = f"{'height':<8}" + "".join(f"{f'{angle} deg':<11}" for angle in angles)
    lines = ["A pair of rakers, from all of the stock:", "", head.rstrip()]
    for height, found in by_height.items():
        lines.append((f"{height:<8}" + "".join(f"{found[angle].outcome:<11}" for angle in angles)).rstrip())
        lines += [f"  at {angle}: {found[angle].why}" for angle in angles if found[angle].why]
    return lines


def remarks(stock: Stock) -> list[str]:
    """What a person must know of the lines: which struts nobody rated, and which cannot be asked for by voice."""
    from callout.language import grammar
    from callout.shoring.stock import lines_named

    called = {line.name for part in grammar.load().parts for line in lines_named(stock, part)}
    silent = [line.name for line in stock.lines if line.name not in called]
    rated = {rating.family for rating in stock.kit.rating}
    unrated = [line.name for line in stock.adjustable if line.family == "strut" and line.family not in rated]
    found = ["", f"NOT RATED by their maker's table: {', '.join(unrated)}"] if unrated else []
    if not silent:
        return [*found, "", "every line can be asked for by voice"]
    return [*found, "", "These cannot be asked for by voice; give them a part that people name, or also_called:",
            *(f"  {name}" for name in silent)]  # fmt: skip


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
