"""Relocation: a shore that stands is measured again at a new place.

Its pieces that are used again are booked over to the new build when that is affirmed, and are the old shore's again
when that is taken back; what is left over stays booked to the old shore until the new one stands. The order of work
comes from `callout.shoring.relocation`: it never leaves the wall unsupported.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from callout.dialogue import builds, places, speakable, walking, wording
from callout.dialogue.acts import Acts, Cause, said, voids, waiting
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import WasAsked, WasReleased
from callout.dialogue.state import Conversation, OpenBuild, Pending, holdings
from callout.shoring.relocation import Relocation, as_if_held, moves_along
from callout.values import Callout, Command


def asked_for(now: Conversation, cause: Cause, wanted: Command) -> Acts:
    """ "Relocate", or "relocate build two": which standing shore; its new callout is asked for."""
    standing = [build for build in now.standing.values() if wanted.build in (None, build.number)]
    if not standing:
        return (said(cause, "relocating.none", "refused"),)
    moving = {build.relocates for build in now.open.values()}
    free = [build for build in standing if build.build_id not in moving]
    if not free:
        return (said(cause, "relocating.moving", "refused", number=wording.count(standing[-1].number)),)
    build = free[-1]
    asked = said(
        cause, "relocating.ask", "asked", build_id=build.build_id, what=WasAsked(relocates=build.build_id),
        courtesies=waiting(cause), number=wording.count(build.number),
    )  # fmt: skip
    return (*voids(now, cause, aloud=True), asked)


def proposal(now: Conversation, cause: Cause, request: Callout, build_id: int) -> Acts:
    """Read back the new place of a standing shore and what holds the wall meanwhile."""
    standing = now.standing.get(build_id)
    if standing is None:
        return (said(cause, "relocating.none", "refused"),)
    moved = _work_out(now, standing, request, now.site)
    if refused := _refused(now, cause, standing, request, moved):
        return refused
    relocate = proposed(cause, "relocate", request, site=dict(now.site), build_id=build_id)
    return (
        readback(
            cause, "confirming.relocate", relocate, number=wording.count(standing.number),
            callout=places.called(now, cause, request), stays=speakable.text(moved.stays),
        ),
    )  # fmt: skip


def _refused(now: Conversation, cause: Cause, standing: OpenBuild, request: Callout, moved: Relocation) -> Acts:
    """Why a shore cannot go to the new place; nothing where it can."""
    if refused := builds.taken(now, cause, request):
        return refused
    if moved.possible:
        return ()
    number = wording.count(standing.number)
    return (
        *voids(now, cause),
        said(cause, "relocating.not_possible", "refused", build_id=standing.build_id, number=number),
        *walking.shortage(cause, moved.build, now.next_id),
    )


def _work_out(
    now: Conversation, standing: OpenBuild, request: Callout, site: Mapping[str, Any] | None
) -> Relocation:
    """Plan the new place as if its builder held already all that stands at the old one and may move."""
    as_if = as_if_held(holdings(now), standing.build, now.next_id)
    return builds.moved(standing, builds.plan(now, now.next_id, request, site=site, ledger=as_if))


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """The relocation becomes a build of its own, whose steps are the order of the move."""
    standing, request = now.standing.get(confirmed.build_id or 0), confirmed.request
    if standing is None or request is None:
        return (said(cause, "relocating.none", "refused"),)
    moved = _work_out(now, standing, request, confirmed.shape.site)
    if refused := _refused(now, cause, standing, request, moved):
        return refused
    number = request.position or builds.free_number(now, standing.number, instead_of=standing)
    got = builds.got_already(moved.build, moves_along(standing.build, standing.held))
    reused = tuple((line.name, quantity) for line, quantity in zip(moved.build.parts, got, strict=True) if quantity)
    what = WasReleased(
        number=number, role=confirmed.role, name=confirmed.name, got=got, relocates=standing.build_id, reused=reused
    )
    build = builds.in_place_of(standing, moved.build)
    return builds.goes_to_the_yard(now, cause, build, request, what, key="confirming.affirmed")
