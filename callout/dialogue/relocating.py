"""Relocation: a shore that stands is measured again at a new place.

Its pieces that are used again are booked over to the new build when that is affirmed, and are the old shore's again
when that is taken back; what is left over stays booked to the old shore until the new one stands. The order of work
comes from `callout.shoring.relocation`: it never leaves the wall unsupported.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from callout.dialogue import builds, places, walking, wording
from callout.dialogue.events import WasAsked, WasReleased
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import OpenBuild, Pending, holdings
from callout.dialogue.turn import Turn
from callout.shoring.relocation import Relocation, as_if_held, moves_along
from callout.values import Callout, Command


def asked_for(turn: Turn, said: Command) -> None:
    """ "Relocate", or "relocate build two": which standing shore; its new callout is asked for."""
    standing = [build for build in turn.now.standing.values() if said.build in (None, build.number)]
    if not standing:
        turn.say("relocating.none", "refused")
        return
    moving = {build.relocates for build in turn.now.open.values()}
    free = [build for build in standing if build.build_id not in moving]
    if not free:
        turn.say("relocating.moving", "refused", number=wording.count(standing[-1].number))
        return
    build = free[-1]
    turn.give_up_waiting(aloud=True)
    turn.say(
        "relocating.ask", "asked", build_id=build.build_id, what=WasAsked(relocates=build.build_id),
        number=wording.count(build.number),
    )  # fmt: skip
    turn.wait_for_answer()


def propose(turn: Turn, request: Callout, build_id: int) -> None:
    """Read back the new place of a standing shore and what holds the wall meanwhile."""
    standing = turn.now.standing.get(build_id)
    if standing is None:
        turn.say("relocating.none", "refused")
        return
    moved = _possible(turn, standing, request, turn.now.site)
    if moved is None:
        return
    read_back(
        turn, "confirming.relocate",
        act(turn, "relocate", request, site=dict(turn.now.site), build_id=build_id),
        number=wording.count(standing.number), callout=places.called(turn, request), stays=wording.text(moved.stays),
    )  # fmt: skip


def _possible(
    turn: Turn, standing: OpenBuild, request: Callout, site: Mapping[str, Any] | None
) -> Relocation | None:
    """The move to the new place; None after saying why there is none."""
    if builds.refuse_taken(turn, request):
        return None
    moved = _work_out(turn, standing, request, site)
    if moved.possible:
        return moved
    turn.give_up_waiting()
    number = wording.count(standing.number)
    turn.say("relocating.not_possible", "refused", build_id=standing.build_id, number=number)
    walking.tell_shortage(turn, moved.build, turn.now.next_id)
    return None


def _work_out(turn: Turn, standing: OpenBuild, request: Callout, site: Mapping[str, Any] | None) -> Relocation:
    """Plan the new place as if its builder held already all that stands at the old one and may move."""
    new = turn.now.next_id
    as_if = as_if_held(holdings(turn.now), standing.build, new)
    return builds.moved(standing, builds.plan(turn.now, new, request, site=site, ledger=as_if))


def affirmed(turn: Turn, confirmed: Pending) -> None:
    """The relocation becomes a build of its own, whose steps are the order of the move."""
    standing, request = turn.now.standing.get(confirmed.build_id or 0), confirmed.request
    if standing is None or request is None:
        turn.say("relocating.none", "refused")
        return
    moved = _possible(turn, standing, request, confirmed.shape.site)
    if moved is None:
        return
    new = turn.now.next_id
    number = request.position or builds.free_number(turn.now, standing.number, instead_of=standing)
    got = builds.got_already(moved.build, moves_along(standing.build, standing.held))
    reused = tuple((line.name, quantity) for line, quantity in zip(moved.build.parts, got, strict=True) if quantity)
    turn.write(
        "released", build_id=new, meaning=request, build=builds.in_place_of(standing, moved.build).to_json(),
        what=WasReleased(
            number=number, role=confirmed.role, name=confirmed.name, got=got, relocates=standing.build_id, reused=reused
        ),
    )  # fmt: skip
    turn.say("confirming.affirmed", build_id=new, number=wording.count(number))
    walked = turn.now.walked
    if walked is None:
        walking.begin(turn, turn.now.open[new], named=True)
    else:
        turn.say("walking.waits", to="yard", build_id=new, number=wording.count(number))
