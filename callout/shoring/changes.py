"""Small changes of a request, the nearest first: what the refusals and the remedies try, and how each is said."""

from __future__ import annotations

from collections.abc import Iterator

from callout.shoring.kinds import KINDS
from callout.shoring.request import Site, writing_of
from callout.shoring.units import Writing
from callout.values import Callout, Length
from callout.values.meaning import Kind

ANGLES = (45, 60)  # the two standard builds
#: How far down at a time, and what it is called: an inch, or 25 mm where the build is written in metres.
STEP = {False: Length.imperial(inches=1), True: Length.mm(25)}
STEPS = 12  # inches at most: farther down the wall is another callout
#: Farther down, by half a foot or 250 mm at a time.
FAR = {False: Length.imperial(inches=6), True: Length.mm(250)}
_LOWEST = Length.imperial(feet=2)
#: What carries more than each, the nearest first.
STRONGER: dict[Kind, tuple[Kind, ...]] = {
    "t": ("double_t", "laced_post"), "double_t": ("laced_post",), "vertical_post": ("laced_post",),
    "flying_raker": ("raker",),
}


def other_angles(request: Callout) -> Iterator[Callout]:
    if request.angle_deg is not None:
        for angle in sorted(ANGLES, key=lambda angle: abs(angle - (request.angle_deg or 0))):
            if angle != request.angle_deg:
                yield request.model_copy(update={"angle_deg": angle})


def lower(request: Callout, writing: Writing, *, far: bool = False) -> Iterator[Callout]:
    """An insertion a few inches lower; `far`: down to whole half feet, as far as a shore reaches."""
    if request.insertion is None:
        return
    if not far:
        downs = [request.insertion - STEP[writing.metric] * steps for steps in range(1, STEPS + 1)]
    else:
        step = FAR[writing.metric]
        whole = (request.insertion.eightieths - 1) // step.eightieths
        downs = [step * steps for steps in range(whole, 0, -1)]
    for down in downs:
        if down >= _LOWEST or (down > Length(0) and request.kind == "cribbing"):
            yield request.model_copy(update={"insertion": down})


def other_sole(request: Callout, struts: bool = True) -> Iterator[Callout]:
    """Timber instead of struts, the other sole, struts instead of timber."""
    if request.kind != "raker":
        return
    for sole in ("solid", "split"):
        if sole != request.sole and (struts or request.sole is not None):
            yield request.model_copy(update={"sole": sole})
    if request.sole is not None and struts:
        yield request.model_copy(update={"sole": None})


def other_shores(request: Callout) -> Iterator[Callout]:
    """Kinds that carry more in the same place."""
    for kind in STRONGER.get(request.kind, ()):
        sole = {"sole": "split", "angle_deg": request.angle_deg or 45} if kind == "raker" else {}
        yield request.model_copy(update={"kind": kind, **sole})


def instead_of(before: Callout, after: Callout, site: Site, changed: Site) -> str:
    """The change in a few words that a voice can say: "45 degrees", "insertion 10 ft", "split sole"."""
    writing = writing_of(before, site)
    said: list[str] = []
    for name in type(before).model_fields:
        new = getattr(after, name)
        if new != getattr(before, name):
            said.append(_words(name, new, writing))
    if changed.span is not None and changed.span != site.span:
        said.append(_words("span", changed.span, writing))
    if changed.load_lb is not None and changed.load_lb != site.load_lb:
        said.append(f"a load of {writing.figure(changed.load_lb, 'lb')} at most")
    if changed.force_lb is not None and changed.force_lb != site.force_lb:
        force = f"{writing.figure(changed.force_lb, 'lb')} on each"
        said.append(force if said else f"{force} at most")
    if changed.post is not None and changed.post != site.post:
        said.append(f"{changed.post} posts")
    return ", ".join(said)


def _words(name: str, value: object, writing: Writing) -> str:
    if name == "insertion" and isinstance(value, Length):
        return f"insertion {writing.length(value)}"
    if name == "spacing" and isinstance(value, Length):
        return f"spacing {writing.length(value)}"
    if name == "span" and isinstance(value, Length):
        return f"width {writing.length(value)}"
    if name == "angle_deg":
        return "no angle" if value is None else f"{value} degrees"
    if name == "sole":
        return "adjustable struts" if value is None else f"{value} sole"
    if name == "rakers":
        return "1 raker" if value == 1 else f"{value} rakers"
    if name == "kind":
        return next(row.name for kind, row in KINDS.items() if kind == value)
    return f"{name.replace('_', ' ')} {writing.length(value) if isinstance(value, Length) else value}"
