"""`callout plan`: a build worked out from figures typed on the command line, without a conversation."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from callout.api import length
from callout.cli.options import NumberWithin
from callout.console.output import emit, say
from callout.errors import BadInput
from callout.files import whole_file
from callout.values import Length
from callout.values.meaning import Kind

if TYPE_CHECKING:
    from callout.shoring.build import Build

KINDS = get_args(Kind)


class _LengthOption(click.ParamType):  # type: ignore[type-arg]  # generic from click 8.4 on, not before
    """A length as it stands in a data file, or as it is said."""

    name = "LENGTH"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> Length:
        if isinstance(value, Length):
            return value
        try:
            return length(str(value))
        except BadInput as wrong:
            return self.fail(str(wrong), param, ctx)


LENGTH = _LengthOption()


@click.command()
@click.option("--insertion", type=LENGTH, required=True, help="Height of the insertion above the grade at the wall.")
@click.option("--angle", type=int, help="Degrees from level, 30 to 60; 45 and 60 are the standard builds.")
@click.option("--kind", type=click.Choice(KINDS), default="raker", show_default=True)
@click.option("--sole", type=click.Choice(["solid", "split"]), help="A timber raker; without it adjustable struts.")
@click.option("--rakers", type=click.IntRange(1, 20))
@click.option("--spacing", type=LENGTH, help="Between rakers, on centre.")
@click.option("--wall-height", type=LENGTH)
@click.option("--wall-thickness", type=LENGTH)
@click.option("--wall", type=click.Choice(["brick", "block", "concrete", "timber"]), help="What the wall is made of.")
@click.option("--wall-length", type=LENGTH, help="Gives the number of rakers when --rakers is not said.")
@click.option("--lean", type=LENGTH, help="How far the wall leans out at the insertion.")
@click.option("--ground", type=click.Choice(["soil", "pavement"]))
@click.option("--soil", type=click.Choice(["loam", "clay", "sand", "gravel"]))
@click.option("--uneven", type=LENGTH, help="Ground at the heel above the grade at the wall; below it with a minus.")
@click.option("--curb", type=LENGTH, help="A curb that drops by this much between wall and heel.")
@click.option("--curb-at", type=LENGTH, help="How far the curb is from the wall.")
@click.option("--sole-thickness", type=LENGTH, help="Of a solid sole.")
@click.option("--span", type=LENGTH, help="Width of an opening, or length of a header.")
@click.option("--post", type=click.Choice(["4x4", "6x6"]), help="Timber of a standing shore or a crib.")
@click.option("--load", "load_lb", type=NumberWithin(1, 1_000_000), help="Pounds that come down on the shore.")
@click.option(
    "--force", "force_lb", type=NumberWithin(1, 1_000_000),
    help="Pounds that push on one raker, as a structures specialist gives them.",
)  # fmt: skip
@click.option("--force-by", help="The specialist's name: without it the published load stays where it is the greater.")
@click.option("--units", type=click.Choice(["feet", "metres"]), help="What is printed; else as the lengths were given.")
@click.option("--timber-beside", is_flag=True, default=None, help="Timber rakers will stand beside: a waler is added.")
@click.option("--position", type=click.IntRange(1, 99))
@click.option("--stock", type=click.Path(path_type=Path), help="Your stock file; without it the invented stock.")
@click.option("--rules", type=click.Path(path_type=Path), help="Your team's own figures, in place of the packaged.")
@click.option(
    "--after", "after", type=click.Path(path_type=Path), multiple=True,
    help="Builds planned before, as --json printed them: their pieces are theirs. May be repeated.",
)  # fmt: skip
@click.option("--move", help='Give this build pieces of an earlier one: "2 eight foot strut", or "... from 1".')
@click.option("--place", default="", help="Where the shore will stand, for the title: \"north wall\".")
@click.option("--full", is_flag=True, help="With the reckoning: lengths by rule and exactly, loads, sources, notes.")
@click.option("--carry", type=click.IntRange(1, 40), help="Also the loads for so many people, in the order of work.")
@click.option("--take-down", is_flag=True, help="Also how the shore is taken down, and what comes back.")
@click.option("--svg", type=click.Path(path_type=Path), help="Also draw the shore to scale into this file.")
@click.option(
    "--html", type=click.Path(path_type=Path),
    help="Also write the sheet with its drawings as one page for a phone or to print.",
)  # fmt: skip
@click.option("--pdf", type=click.Path(path_type=Path), help="The same as a PDF for an A4 printer.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object on one line.")
def plan(
    stock: Path | None, rules: Path | None, as_json: bool, after: tuple[Path, ...], move: str | None, place: str,
    full: bool, carry: int | None, take_down: bool, svg: Path | None, html: Path | None,
    pdf: Path | None, **given: Any,
) -> int:  # fmt: skip
    """Work out one shore from the stock on hand: parts, cuts, steps, checks, and a drawing.

    Exit 0: a sheet was printed, also where the stock lacks something. Exit 1: there is no such shore; nothing is drawn.

    \b
    callout plan --insertion "11 ft" --angle 60
    callout plan --insertion "8 ft 6 1/2 in" --angle 45 --sole solid --rakers 3
    callout plan --insertion "3.35 m" --angle 60 --lean "4 in" --svg shore.svg
    callout plan --insertion "9 ft" --kind laced_post --load 40000
    callout plan --insertion "12 ft" --angle 60 --after one.json --move "2 eight foot strut"
    """
    from callout.api import plan_moving
    from callout.shoring.drawing import sheet
    from callout.shoring.earlier import read_builds
    from callout.shoring.supply import supply_text

    builds = plan_moving(
        move, stock=stock, rules=rules, earlier=read_builds(after).values(),
        **{name: value for name, value in given.items() if value is not None},
    )  # fmt: skip
    when = time.strftime("%Y-%m-%d %H:%M")
    _draw(builds[0], {"svg": svg, "html": html, "pdf": pdf}, place, when)
    for build in builds:
        if as_json:
            emit({"build": build.to_json()})
        else:
            sys.stdout.write(sheet(build, full=full, place=place, when=when))
            if build.refused is None:
                sys.stdout.write(supply_text(build, people=carry) if carry else "")
                sys.stdout.write(supply_text(build, down=True) if take_down else "")
    return 1 if builds[0].refused is not None else 0


def _draw(build: Build, files: dict[str, Path | None], place: str, when: str) -> None:
    """Write the drawings that were asked for; none of a shore that does not exist."""
    from callout.shoring.drawing import svg_drawing
    from callout.shoring.drawing.page import html_page
    from callout.shoring.drawing.pdf import pdf_page

    draws: dict[str, Callable[[Build, str, str], str | bytes]] = {
        "svg": svg_drawing, "html": html_page, "pdf": pdf_page,
    }  # fmt: skip
    for kind, path in files.items():
        if path is None:
            continue
        if build.refused is not None:
            say(f"callout: {path} is not written: there is no such shore to draw")
            continue
        try:
            with whole_file(path) as file:
                drawn = draws[kind](build, place, when)
                file.buffer.write(drawn.encode("utf-8") if isinstance(drawn, str) else drawn)
        except OSError as wrong:
            raise BadInput(f"cannot write the drawing {path}: {wrong.strerror or wrong}; name another file") from None
