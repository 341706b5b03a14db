"""The sheet as one HTML page: drawings and lists side by side, on A4 when it is printed, one column on a phone."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.drawing.marks import drawing_title
from callout.shoring.drawing.sheet import sawing
from callout.shoring.drawing.svg import view_svgs
from callout.shoring.on_paper import (
    SET_BETWEEN,
    how_set,
    labels_once,
    missing_by_part,
    nearest_words,
    settings_once,
    warnings,
    weight_in_words,
)
from callout.shoring.request import writing_of


def html_page(build: Build, place: str = "", when: str = "") -> str:
    """A whole file: it needs no other, and calls nobody."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("callout.shoring.drawing", "."), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True,
    )  # fmt: skip
    writing = writing_of(build.request, build.site)
    found, alarms = marks.letters(build), warnings(build)
    rows = len(build.parts) + len(build.cuts) + 2 * len(build.steps)
    return environment.get_template("page.html.jinja").render(
        title=drawing_title(build, place, when), weight=weight_in_words(build, writing) if build.parts else "No parts",
        cautions=" ".join(build.cautions), warnings=alarms,
        refused=build.refused.reason if build.refused else "", nearest=nearest_words(build, writing),
        instead=build.refused.instead if build.refused else "",
        missing=missing_by_part(build), remedies=[one.on_paper for one in build.remedies],
        views=[(name, Markup(svg)) for name, svg in view_svgs(build)], parts=build.parts,
        figure_width="58%" if rows > 58 else "72%" if rows > 50 else "90%",
        settings=[
            (labels_once(labels), writing.length(one.to_set), how_set(one, writing))
            for labels, one in settings_once(build)
        ],
        set_between=SET_BETWEEN,
        cuts=[(found[cut.label], cut.quantity, cut, writing.length(cut.length)) for cut in build.cuts],
        bars=sawing(build, writing), steps=build.steps,
        checks=build.before_load,
    )  # fmt: skip
