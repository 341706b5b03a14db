"""The drawing as SVG: every view to scale, one under the other, in light and in dark; told apart by line and tone.

Colours stand for what a thing is made of and for nothing else; printed in black they are greys.
"""

from __future__ import annotations

import textwrap
from xml.sax.saxutils import escape

from callout.shoring.build import Build
from callout.shoring.drawing.marks import drawing_title
from callout.shoring.drawing.paper import MARK, TYPE, WIDTH, Paper, PaperLine, Patch, Ring, Shape, Words, laid_out
from callout.shoring.drawing.solids import Model
from callout.shoring.drawing.standing import standing_model
from callout.shoring.drawing.struts import strut_model
from callout.shoring.drawing.timber import timber_model
from callout.shoring.on_paper import SET_BETWEEN
from callout.shoring.request import writing_of
from callout.shoring.units import unbroken


def model_of(build: Build) -> Model | None:
    """The shore in space; None where there is none to draw."""
    if build.refused is not None or not build.geometry:
        return None
    if build.request.kind not in ("raker", "flying_raker"):
        return standing_model(build)
    if build.request.kind == "raker" and build.request.sole is None:
        return strut_model(build)
    return timber_model(build)


#: ink -> fill in light for a face lit from above, from the front, from the side; the same in dark
TONES: dict[str, tuple[tuple[str, str, str], tuple[str, str, str]]] = {
    "timber": (("#f6ecd8", "#ecdcbd", "#d9c39c"), ("#4f4432", "#453b2c", "#373024")),
    "ply": (("#efe9dd", "#e6ddca", "#d3c7ae"), ("#474136", "#3f3a30", "#332e26")),
    "pad": (("#e9dcc2", "#dccba8", "#c9b488"), ("#4f4433", "#43392a", "#352d21")),
    "metal": (("#eef1f3", "#d6dce1", "#bcc5cc"), ("#525b62", "#444c53", "#363e44")),
    "wall": (("#ffffff", "#ffffff", "#ffffff"), ("#15181b", "#15181b", "#15181b")),
    "wall plain": (("#f2f1ee", "#f2f1ee", "#e7e5e0"), ("#22272b", "#22272b", "#1c2024")),
    "ground": (("#ffffff", "#ffffff", "#ffffff"), ("#15181b", "#15181b", "#15181b")),
    "ground plain": (("#e9e7e2", "#dedbd3", "#d3cfc5"), ("#2b2d2c", "#262827", "#202221")),
    "bar": (("#1b1b1b",) * 3, ("#ececec",) * 3),
    "bar light": (("#ffffff",) * 3, ("#15181b",) * 3),
}
_INK, _PAPER = ("#1b1b1b", "#ececec"), ("#ffffff", "#15181b")
_LINES = {
    "leader": ("0.9", ""), "dimension": ("1", ""), "extension": ("0.6", "2 3"), "tick": ("1.8", ""), "arc": ("1.2", ""),
    "grain": ("0.6", ""),
}  # fmt: skip


def style() -> str:
    """Classes with the colours of paper at night; by day the attributes hold, which every program understands."""
    rules = [f".ink{{stroke:{_INK[1]}}}.type{{fill:{_INK[1]}}}.halo{{stroke:{_PAPER[1]}}}.paper{{fill:{_PAPER[1]}}}"]
    for ink, (_, dark) in TONES.items():
        rules += [f".{_class(ink)}{n}{{fill:{colour}}}" for n, colour in enumerate(dark)]
    return f"<style>@media (prefers-color-scheme:dark){{{''.join(rules)}}}</style>"


def _class(ink: str) -> str:
    return ink.replace(" ", "-")


_PATTERNS = (
    '<defs><pattern id="wall" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<path d="M0 0V9" class="ink" stroke="{_INK[0]}" stroke-width="0.9"/></pattern>'
    '<pattern id="ground" width="14" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
    f'<path d="M1 0V7M4 0V7" class="ink" stroke="{_INK[0]}" stroke-width="0.8"/></pattern></defs>'
)


def svg_drawing(build: Build, place: str = "", when: str = "") -> str:
    """A whole SVG file, one view under another. A refused build gets its reason in place of a drawing."""
    views = view_papers(build)
    title = drawing_title(build, place, when)
    lines = _wrapped(title)
    between = [f"Set: {SET_BETWEEN}."] if build.setting else []
    top = 30.0 + 24 * len(lines) + 20 * len(between)
    height = top + sum(paper.height + 16 for paper in views)
    body = [_words(Words((14, 30 + 24 * n), line, 19, bold=True)) for n, line in enumerate(lines)]
    body += [_words(Words((14, top - 18), one, 14)) for one in between]
    if build.refused is not None:
        for n, line in enumerate(_wrapped(f"Not built: {build.refused.reason}.", 54)):
            body.append(_words(Words((14, top + 6 + 22 * n), line, TYPE)))
        height = top + 40 + 22 * len(_wrapped(build.refused.reason, 54))
    for paper in views:
        body.append(f'<g transform="translate(0 {top:.0f})">{shapes_svg(paper)}</g>')
        top += paper.height + 16
    body += [_words(Words((14, height + 8 + 20 * n), one, 14)) for n, one in enumerate(build.cautions[:2])]
    return whole_svg("\n".join(body), WIDTH, height + 14 + 20 * 2, title, _described(build, views))


def view_svgs(build: Build) -> list[tuple[str, str]]:
    """(title, SVG) of each view by itself, for a page that lays them out."""
    return [
        (paper.title, whole_svg(shapes_svg(paper), WIDTH, paper.height, f"{build.title}: {paper.title}", ""))
        for paper in view_papers(build)
    ]


def view_papers(build: Build) -> list[Paper]:
    model = model_of(build)
    return [] if model is None else [laid_out(one, view) for one in (model, *model.enlarged) for view in one.views]


def whole_svg(body: str, width: float, height: float, title: str, described: str) -> str:
    more = f"<desc>{escape(described)}</desc>" if described else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'aria-label="{escape(title, {chr(34): "&quot;"})}" font-family="Helvetica, Arial, sans-serif">'
        f"<title>{escape(title)}</title>{more}{style()}{_PATTERNS}\n"
        f'<rect width="{width:.0f}" height="{height:.0f}" class="paper" fill="{_PAPER[0]}"/>\n{body}\n</svg>\n'
    )


def _described(build: Build, views: list[Paper]) -> str:
    """What somebody who cannot see the drawing is told: the views, and the lengths of the members."""
    tape = writing_of(build.request, build.site).length
    made = [f"{one.label} set to {tape(one.to_set)} {one.measured}" for one in build.setting]
    made += [f"{one.label} cut to {tape(one.length)}" for one in build.cuts]
    return f"{', '.join(view.title for view in views)}. {'; '.join(dict.fromkeys(made))}." if views else ""


def _wrapped(text: str, letters: int = 46) -> list[str]:
    """Lines of words; a figure stays with its unit."""
    return textwrap.wrap(unbroken(text), letters) or [""]


def shapes_svg(paper: Paper) -> str:
    return "\n".join(_shape(shape) for shape in paper.shapes)


def _shape(shape: Shape) -> str:
    if isinstance(shape, Patch):
        return _patch(shape)
    if isinstance(shape, PaperLine):
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in shape.points)
        wide, dash = _LINES[shape.kind]
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        return f'<polyline points="{path}" class="ink" fill="none" stroke="{_INK[0]}" stroke-width="{wide}"{dashed}/>'
    if isinstance(shape, Ring):
        (x, y), half = shape.at, shape.wide / 2
        return (
            f'<rect x="{x - half:.1f}" y="{y - 11:.1f}" width="{shape.wide:.1f}" height="22" rx="11" '
            f'class="paper ink" fill="{_PAPER[0]}" stroke="{_INK[0]}" stroke-width="1.3"/>'
            + _words(Words((x, y + 5), shape.text, MARK, "middle", bold=True))
        )
    return _words(shape)


def _patch(patch: Patch) -> str:
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in patch.points)
    fill = TONES[patch.ink][0][patch.tone]
    title = f"<title>{escape(patch.name)}</title>" if patch.name else ""
    see = ' fill-opacity="0.72"' if patch.ink == "ply" else ""
    thin = "0.7" if patch.ink.endswith("plain") else "1.1"
    one = (
        f'<polygon points="{path}" class="{_class(patch.ink)}{patch.tone} ink" fill="{fill}"{see} '
        f'stroke="{_INK[0]}" stroke-width="{thin}" stroke-linejoin="round">{title}</polygon>'
    )
    if patch.ink in ("wall", "ground"):
        one += f'<polygon points="{path}" fill="url(#{patch.ink})"/>'
    return one


def _words(words: Words) -> str:
    x, y = words.at
    turned = f' transform="rotate({words.turn:.0f} {x:.1f} {y:.1f})"' if words.turn else ""
    weight = ' font-weight="bold"' if words.bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{words.size:g}" text-anchor="{words.anchor}" class="type halo" '
        f'fill="{_INK[0]}" stroke="{_PAPER[0]}" stroke-width="3" paint-order="stroke"{weight}{turned}>'
        f"{escape(words.text)}</text>"
    )
