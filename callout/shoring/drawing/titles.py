"""The first line of the sheet and of the drawing: which shore, how high, at what angle, where and when."""

from __future__ import annotations

from callout.shoring.build import Build
from callout.shoring.request import writing_of

_HEIGHTS = {"horizontal": "gap", "window": "opening", "door": "opening"}


def shore_title(build: Build) -> str:
    """ "solid-sole timber rakers, 2, 11 ft at 60 degrees"."""
    request = build.request
    said = [_what(build)]
    if request.insertion is not None:
        high = writing_of(request, build.site).length(request.insertion)
        raker = request.kind in ("raker", "flying_raker")
        what = "" if raker else f"{_HEIGHTS.get(request.kind, 'void')} "
        at = f" at {request.angle_deg} degrees" if raker and request.angle_deg else ""
        said.append(f"{what}{high}{at}")
    return ", ".join(said)


def _what(build: Build) -> str:
    """Rakers by how many stand together; other shores by their own title."""
    request = build.request
    if build.refused is not None or request.kind not in ("raker", "flying_raker"):
        return build.title
    chosen = (one.value for one in build.chosen if one.part == "rakers" and isinstance(one.value, int))
    rakers = request.rakers or next(chosen, 1)
    kind = "flying" if request.kind == "flying_raker" else {"solid": "solid-sole", "split": "split-sole"}.get(
        str(request.sole), "")  # fmt: skip
    many = {1: "one", 2: "pair of"}.get(rakers, f"row of {rakers}")
    raker = "raker" if rakers == 1 else "rakers"
    return f"{many} {kind} timber {raker}" if kind else f"{many} strut {raker}"


def drawing_title(build: Build, place: str = "", when: str = "") -> str:
    """With its number, its position, its place and the time."""
    said = [f"Build {build.build_id}: {shore_title(build)}"]
    if build.request.position is not None:
        said.append(f"position {build.request.position}")
    if build.request.for_whom:
        said.append(f"for {build.request.for_whom}")
    return ", ".join([*said, *filter(None, (place, when))])
