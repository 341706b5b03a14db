"""The nearest changes that make a build possible, each tried on the stock itself; nothing is guessed.

In this order: another angle, an insertion a few inches lower, timber instead of struts (or struts instead of timber),
posts of the other size, the pieces of a shore that stands already. The one that changes least is the first of its sort.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator

from callout.shoring.build import Remedy
from callout.shoring.changes import lower, other_angles, other_sole
from callout.shoring.holdings import Holdings
from callout.shoring.request import Site, writing_of
from callout.shoring.strengths import OF_POSTS
from callout.shoring.writing import Writing
from callout.values import Callout

#: (request, site, ledger) -> can it be built whole? The planner gives this: it knows practice and asks the stock.
Works = Callable[[Callout, Site, Holdings], bool]

ENOUGH = 4  # remedies offered at most


def remedies(
    build_id: int, request: Callout, site: Site, post: str, holdings: Holdings, works: Works,
    used_up: Container[str] = (),
) -> tuple[Remedy, ...]:  # fmt: skip
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
        *_standing(build_id, request, site, holdings, works, used_up),
    ]
    return tuple(found[:ENOUGH])


def _other_angles(request: Callout) -> Iterator[Remedy]:
    for changed in other_angles(request):
        yield Remedy(text=f"{changed.angle_deg} degrees instead of {request.angle_deg}", callout=changed)


def _lower(request: Callout, writing: Writing) -> Iterator[Remedy]:
    for changed in lower(request, writing):
        assert request.insertion is not None
        assert changed.insertion is not None
        down = writing.length(request.insertion - changed.insertion)
        text = f"insertion {down} lower, at {writing.length(changed.insertion)}"
        yield Remedy(text=text, callout=changed)


def _other_material(request: Callout) -> Iterator[Remedy]:
    for changed in other_sole(request):
        if request.sole is None:
            text = f"timber rakers with a {changed.sole} sole instead of struts"
        elif changed.sole is None:
            text = "adjustable struts instead of timber"
        else:
            text = f"a {changed.sole} sole instead of a {request.sole} one"
        yield Remedy(text=text, callout=changed)


def _other_posts(request: Callout, site: Site, post: str) -> Iterator[Remedy]:
    """`post` is what the build was planned with."""
    carried = site.load_lb is not None and post == "6x6"  # 4x4 would not carry what was said
    if request.kind in OF_POSTS and not carried:
        other = "6x6" if post == "4x4" else "4x4"
        thing = "pieces" if request.kind == "cribbing" else "posts"
        yield Remedy(text=f"{other} {thing} instead of {post}", site=Site(**{**dict(site), "post": other}))


def _standing(
    build_id: int, request: Callout, site: Site, holdings: Holdings, works: Works, used_up: Container[str]
) -> list[Remedy]:
    """One shore that stands already, with whose pieces this build was planned again and is whole."""
    for other in sorted(holdings.builds):
        held = holdings.builds[other]
        if other == build_id or not any(pieces.placed for pieces in held.values()):
            continue
        if works(request, site, holdings.give_back_all(other, used_up)):
            text = f"take down build {other}: planned again with its pieces this build is whole; first hold its wall"
            return [Remedy(text=f"{text} by other means", relocates=other)]
    return []
