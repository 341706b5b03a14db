"""The nearest changes that make a build possible, each tried on the stock itself; nothing is guessed.

In this order: another angle, an insertion a few inches lower, timber instead of struts (or struts instead of timber),
posts of the other size, the pieces of a shore that stands already. The one that changes least is the first of its sort.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from callout.shoring.build import Remedy
from callout.shoring.holdings import Holdings
from callout.shoring.posts import OF_POSTS
from callout.shoring.request import Site, writing_of
from callout.shoring.writing import Writing
from callout.values import Callout, Length

#: (request, site, ledger) -> can it be built whole? The planner gives this: it knows practice and asks the stock.
Works = Callable[[Callout, Site, Holdings], bool]

ANGLES = (45, 60)  # the two standard builds
#: How far down at a time, and what it is called: an inch, or 25 mm where the build is written in metres.
STEP = {False: Length.imperial(inches=1), True: Length.mm(25)}
STEPS = 12  # at most: farther down the wall is another callout
ENOUGH = 4  # remedies offered at most


def remedies(
    build_id: int, request: Callout, site: Site, post: str, holdings: Holdings, works: Works
) -> tuple[Remedy, ...]:
    """Changes under which `works` says yes, nearest first, at most ENOUGH; empty if none does. `post`: see `Work`."""

    def first(changes: Iterator[Remedy]) -> list[Remedy]:
        """The nearest of one sort of change that works, if any."""
        tried = ((change, change.callout or request, change.site or site) for change in changes)
        return next(([change] for change, asked, place in tried if works(asked, place, holdings)), [])

    found = [
        *first(_other_angles(request)),
        *first(_lower(request, writing_of(request, site))),
        *first(_other_material(request)),
        *first(_other_posts(request, site, post)),
        *_standing(build_id, request, site, holdings, works),
    ]
    return tuple(found[:ENOUGH])


def _other_angles(request: Callout) -> Iterator[Remedy]:
    if request.angle_deg is None:
        return
    for angle in sorted(ANGLES, key=lambda angle: abs(angle - (request.angle_deg or 0))):
        if angle != request.angle_deg:
            changed = request.model_copy(update={"angle_deg": angle})
            yield Remedy(text=f"{angle} degrees instead of {request.angle_deg}", callout=changed)


def _lower(request: Callout, writing: Writing) -> Iterator[Remedy]:
    if request.insertion is None:
        return
    for steps in range(1, STEPS + 1):
        down = STEP[writing.metric] * steps
        lower = request.insertion - down
        if lower > Length(0):
            changed = request.model_copy(update={"insertion": lower})
            text = f"insertion {writing.length(down)} lower, at {writing.length(lower)}"
            yield Remedy(text=text, callout=changed)


def _other_material(request: Callout) -> Iterator[Remedy]:
    if request.kind != "raker":
        return
    if request.sole is None:
        for sole in ("solid", "split"):
            changed = request.model_copy(update={"sole": sole})
            yield Remedy(text=f"timber rakers with a {sole} sole instead of struts", callout=changed)
    else:
        changed = request.model_copy(update={"sole": None})
        yield Remedy(text="adjustable struts instead of timber", callout=changed)


def _other_posts(request: Callout, site: Site, post: str) -> Iterator[Remedy]:
    """`post` is what the build was planned with."""
    carried = site.load_lb is not None and post == "6x6"  # 4x4 would not carry what was said
    if request.kind in OF_POSTS and not carried:
        other = "6x6" if post == "4x4" else "4x4"
        thing = "pieces" if request.kind == "cribbing" else "posts"
        yield Remedy(text=f"{other} {thing} instead of {post}", site=Site(**{**dict(site), "post": other}))


def _standing(build_id: int, request: Callout, site: Site, holdings: Holdings, works: Works) -> list[Remedy]:
    """One shore that stands already, with whose pieces this build was planned again and is whole."""
    for other in sorted(holdings.builds):
        held = holdings.builds[other]
        if other == build_id or not any(pieces.placed for pieces in held.values()):
            continue
        if works(request, site, holdings.give_back_all(other)):
            text = f"take down build {other}: planned again with its pieces this build is whole; first hold its wall"
            return [Remedy(text=f"{text} by other means", relocates=other)]
    return []
