"""Every kind of shore on one page, as the drawing shows it: `python -m callout.shoring.drawing.contact_sheet FILE.svg`.

Made from the packaged stock, so that the page in `docs/` is what the program draws today.
"""

from __future__ import annotations

import sys
from pathlib import Path

from callout.files import whole_file
from callout.shoring.build import Build
from callout.shoring.drawing.marks import shore_title
from callout.shoring.drawing.paper import WIDTH, Words, laid_out
from callout.shoring.drawing.solids import WHOLE
from callout.shoring.drawing.svg import model_of, shapes_svg, whole_svg
from callout.shoring.holdings import Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.request import Site
from callout.shoring.stock import load_stock
from callout.values import Callout, Length

_ACROSS = 3

#: What is shown: a callout of each kind, in feet, and what is known of its place.
SHOWN: tuple[tuple[dict[str, object], Site], ...] = (
    ({"insertion": 11, "angle_deg": 60}, Site(timber_beside=True)),
    ({"insertion": 11, "angle_deg": 60, "sole": "solid"}, Site()),
    ({"insertion": 10, "angle_deg": 45, "sole": "split"}, Site()),
    ({"insertion": 8, "angle_deg": 45, "kind": "flying_raker"}, Site()),
    ({"insertion": 8, "kind": "t"}, Site()),
    ({"insertion": 9, "kind": "double_t"}, Site()),
    ({"insertion": 11, "kind": "laced_post"}, Site()),
    ({"insertion": 9, "kind": "vertical_post"}, Site()),
    ({"insertion": 4, "kind": "cribbing"}, Site()),
    ({"insertion": 6, "kind": "horizontal"}, Site()),
    ({"insertion": 5, "kind": "window"}, Site()),
    ({"insertion": 7, "kind": "door"}, Site()),
)


def shown() -> list[Build]:
    """The builds of the page, each from the whole stock."""
    stock = load_stock(None)
    builds = []
    for said, site in SHOWN:
        feet = said["insertion"]
        assert isinstance(feet, int)
        request = Callout.model_validate(said | {"insertion": Length.imperial(feet=feet)})
        builds.append(ShorePlanner(sites={1: site}).plan(1, request, stock, Holdings.of(stock)))
    return builds


def contact_sheet() -> str:
    """The page as one SVG."""
    body, height, row = [], 0.0, 0.0
    for n, build in enumerate(shown()):
        model = model_of(build)
        assert model is not None, build.title
        paper = laid_out(model, WHOLE)
        if n % _ACROSS == 0:
            height, row = height + row, 0.0
        row = max(row, paper.height + 20)
        paper.shapes = [one for one in paper.shapes if not (isinstance(one, Words) and one.text == WHOLE.title)]
        paper.shapes.append(Words((14, 24), shore_title(build), 15, bold=True))
        body.append(f'<g transform="translate({WIDTH * (n % _ACROSS):.0f} {height:.0f})">{shapes_svg(paper)}</g>')
    title = "Every kind of shore that callout draws"
    return whole_svg("\n".join(body), WIDTH * _ACROSS, height + row, title, "")


def main(out: Path) -> None:
    with whole_file(out) as file:
        file.write(contact_sheet())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
