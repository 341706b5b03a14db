"""Drawings of a build, made from its own numbers: to scale in SVG, roughly on a terminal; and the whole sheet."""

from callout.shoring.drawing.sheet import sheet
from callout.shoring.drawing.svg import svg_drawing
from callout.shoring.drawing.terminal import terminal_drawing

__all__ = ["sheet", "svg_drawing", "terminal_drawing"]
