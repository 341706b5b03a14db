"""Which module draws which shore."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.drawing.solids import Model
from callout.shoring.drawing.standing import standing_model
from callout.shoring.drawing.struts import strut_model
from callout.shoring.drawing.timber import timber_model


def model_of(build: Build) -> Model | None:
    """The shore in space; None where there is none to draw."""
    if build.refused is not None or not build.geometry:
        return None
    if build.request.kind not in ("raker", "flying_raker"):
        return standing_model(build)
    if build.request.kind == "raker" and build.request.sole is None:
        return strut_model(build)
    return timber_model(build)
