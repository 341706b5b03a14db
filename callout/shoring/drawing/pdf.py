"""The sheet as a PDF of one A4 page: drawings and lists in two columns, in black and greys, with nothing but text and
lines in it, so that it prints sharply anywhere. Longer sheets go on to a second page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from callout.shoring.build import Build
from callout.shoring.drawing import marks
from callout.shoring.drawing.marks import drawing_title
from callout.shoring.drawing.paper import MARK, WIDTH, Paper, PaperLine, Patch, Ring, Shape, Words
from callout.shoring.drawing.sheet import sawing
from callout.shoring.drawing.svg import TONES, view_papers
from callout.shoring.on_paper import (
    SET_BETWEEN,
    how_set,
    labels_once,
    missing_by_part,
    nearest_words,
    settings_once,
    warnings,
)
from callout.shoring.request import writing_of
from callout.shoring.units import unbroken

if TYPE_CHECKING:
    from fpdf import FPDF

_PAGE, _MARGIN, _BETWEEN = (210.0, 297.0), 9.0, 5.0  # mm
_POINT = 72 / 25.4  # points in a mm
_COLUMN = (_PAGE[0] - 2 * _MARGIN - _BETWEEN) / 2
#: Sizes of type to try, and how much of a column a drawing takes, until all of it is on one page.
_FITS = ((8.5, 1.0), (8.0, 0.9), (7.5, 0.8), (7.0, 0.72), (6.5, 0.65))
_LINES = {"leader": 0.12, "dimension": 0.15, "extension": 0.1, "tick": 0.3, "arc": 0.2, "grain": 0.08}


def pdf_page(build: Build, place: str = "", when: str = "") -> bytes:
    """The whole file."""
    papers = view_papers(build)
    for size, share in _FITS:
        page = _Page(build, place, when, size, share, papers)
        if page.pdf.page_no() == 1:
            break
    return bytes(page.pdf.output())


@dataclass(frozen=True)
class _Text:
    """One paragraph; `tick`: with a box before it."""

    text: str
    bold: bool = False
    tick: bool = False


class _Page:
    def __init__(
        self, build: Build, place: str, when: str, size: float, share: float, papers: Iterable[Paper]
    ) -> None:
        from fpdf import FPDF

        self.build, self.size, self.share = build, size, share
        self.pdf: FPDF = FPDF(format="A4")
        self.pdf.set_auto_page_break(False)
        self.pdf.set_title(_latin(drawing_title(build, place, when)))
        self.pdf.set_creator("callout")
        self.pdf.add_page()
        self.column, self.top = 0, _MARGIN
        self.y = _MARGIN
        self._head(drawing_title(build, place, when))
        for paper in papers:
            self._drawing(paper)
        for text in self._texts():
            self._write(text)

    def _head(self, title: str) -> None:
        wide = _PAGE[0] - 2 * _MARGIN
        lines = [(title, 13.0, True), (" ".join(self.build.cautions), 7.5, False)]
        lines += [(one, 8.5, True) for one in warnings(self.build)]
        for text, size, bold in lines:
            self._font(size, bold)
            self.pdf.set_xy(_MARGIN, self.y)
            self.pdf.multi_cell(wide, size / _POINT * 1.25, _latin(text), align="L", new_x="LEFT", new_y="NEXT")
            self.y = self.pdf.get_y()
        self.top = self.y = self.y + 2

    def _font(self, size: float, bold: bool = False) -> None:
        self.pdf.set_font("helvetica", "B" if bold else "", size)

    @property
    def x(self) -> float:
        return _MARGIN + self.column * (_COLUMN + _BETWEEN)

    def _room(self, high: float) -> None:
        """On to the next column, or the next page, where `high` mm do not fit."""
        if self.y + high <= _PAGE[1] - _MARGIN:
            return
        if self.column == 0:
            self.column, self.y = 1, self.top
        else:
            self.pdf.add_page()
            self.column, self.top, self.y = 0, _MARGIN, _MARGIN

    # --- lists ---------------------------------------------------------------------------------------------------

    def _write(self, text: _Text) -> None:
        line = self.size / _POINT * 1.2
        indent = 3.6 if text.tick else 0.0
        self._font(self.size, text.bold)
        words = _latin(text.text)
        lines: Any = self.pdf.multi_cell(_COLUMN - indent, line, words, dry_run=True, output="LINES")
        self._room(line * (len(lines) + (2 if text.bold else 0)))
        if text.bold:
            self.y += 1
        if text.tick:
            self.pdf.set_line_width(0.15)
            self.pdf.rect(self.x + 0.4, self.y + 0.5, 2.0, 2.0)
        self.pdf.set_xy(self.x + indent, self.y)
        self.pdf.multi_cell(_COLUMN - indent, line, words, align="L", new_x="LEFT", new_y="NEXT")
        self.y = self.pdf.get_y()

    def _texts(self) -> Iterator[_Text]:
        build, writing = self.build, writing_of(self.build.request, self.build.site)
        if build.refused is not None:
            yield _Text(f"Not built: {build.refused.reason}.", bold=True)
            if (words := nearest_words(build, writing)) or not build.refused.instead:
                yield _Text(f"Nearest that exists: {words or 'none'}.")
            if build.refused.instead:
                yield _Text(f"What works: {build.refused.instead}.")
            return
        if build.missing:
            yield _Text("MISSING", bold=True)
            yield from (_Text(f"{quantity} x {name}") for quantity, name in missing_by_part(build))
            yield from (_Text(f"would work: {one.on_paper}") for one in build.remedies)
        yield _Text(f"PARTS  {writing.weight(round(build.weight_lb))}", bold=True)
        for part in build.parts:
            instead = f" for {part.stands_for}" if part.stands_for else ""
            place = f", {part.where}" if part.where else ""
            yield _Text(f"{part.item}.  {part.quantity} x {part.name}{instead}{place}", tick=True)
        if build.setting:
            yield _Text("SET", bold=True)
            yield _Text(SET_BETWEEN)
            for labels, one in settings_once(build):
                how = how_set(one, writing)
                yield _Text(f"{labels_once(labels)}: {writing.length(one.to_set)}" + (f", {how}" if how else ""))
        if build.cuts:
            yield _Text("CUT", bold=True)
            found = marks.letters(build)
            for cut in build.cuts:
                ends = f"; {cut.ends}" if cut.ends != "square" else ""
                made = f"{cut.quantity} x {cut.section} {writing.length(cut.length)}"
                yield _Text(f"{found[cut.label]}  {made} {cut.label}{ends}", tick=True)
            yield from (_Text(one) for one in sawing(build, writing))
        yield _Text("STEPS", bold=True)
        yield from (_Text(f"{step.number}.  {step.who}: {step.text}") for step in build.steps)
        yield _Text("CHECK BEFORE LOAD", bold=True)
        yield from (_Text(look, tick=True) for look in build.before_load)

    # --- drawings ------------------------------------------------------------------------------------------------

    def _drawing(self, paper: Paper) -> None:
        scale = _COLUMN * self.share / WIDTH
        self._room(paper.height * scale)
        left = self.x + _COLUMN * (1 - self.share) / 2
        for shape in paper.shapes:
            self._shape(shape, left, self.y, scale)
        self.y += paper.height * scale + 1

    def _shape(self, shape: Shape, left: float, top: float, scale: float) -> None:
        pdf: Any = self.pdf
        if isinstance(shape, (Patch, PaperLine)):
            points = [(left + x * scale, top + y * scale) for x, y in shape.points]
            pdf.set_draw_color(0)
            if isinstance(shape, Patch):
                pdf.set_line_width(0.08 if shape.ink.endswith("plain") else 0.18)
                pdf.set_fill_color(_grey(TONES[shape.ink][0][shape.tone]))
                with pdf.local_context(fill_opacity=0.72 if shape.ink == "ply" else 1.0):
                    pdf.polygon(points, style="DF")
            else:
                pdf.set_line_width(_LINES[shape.kind])
                pdf.polyline(points, style="D")
        elif isinstance(shape, Ring):
            (x, y), half = shape.at, shape.wide / 2
            pdf.set_fill_color(255)
            pdf.set_line_width(0.2)
            box = (left + (x - half) * scale, top + (y - 11) * scale, shape.wide * scale, 22 * scale)
            pdf.rect(*box, style="DF", round_corners=True, corner_radius=11 * scale)
            self._words(Words((x, y + 5), shape.text, MARK, "middle", bold=True), left, top, scale)
        else:
            self._words(shape, left, top, scale)

    def _words(self, words: Words, left: float, top: float, scale: float) -> None:
        x, y = left + words.at[0] * scale, top + words.at[1] * scale
        self._font(words.size * scale * _POINT, words.bold)
        text = _latin(words.text)
        long = self.pdf.get_string_width(text)
        start = x - {"start": 0.0, "middle": long / 2, "end": long}[words.anchor]
        if not words.turn:
            self.pdf.text(start, y, text)
            return
        with self.pdf.rotation(-words.turn, x, y):
            self.pdf.text(start, y, text)


def _grey(colour: str) -> int:
    red, green, blue = (int(colour[n : n + 2], 16) for n in (1, 3, 5))
    return round(0.299 * red + 0.587 * green + 0.114 * blue)


def _latin(text: str) -> str:
    """The letters that every PDF reader has without a font in the file; no figure is broken from its unit."""
    return unbroken(text).encode("latin-1", "replace").decode("latin-1")
