"""A piece promised to one build, given to another when somebody says so: "move one six foot strut to build two".

The build in the walk gives, if it has such a piece that is not picked yet, else the build released last that has. Both
are planned again: the one that receives takes the piece only if it is short of it. The planner never does this unasked.
"""

from __future__ import annotations

from dataclasses import dataclass

from callout.dialogue import builds, walking, wording
from callout.dialogue.acts import Acts, Cause, folded, said
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import WasVoided
from callout.dialogue.state import Conversation, Done, OpenBuild, Pending, holdings
from callout.dialogue.stock_lines import matching, which
from callout.shoring.build import Build
from callout.shoring.holdings import Holdings
from callout.shoring.plan import Move, move_reserved
from callout.shoring.stock import Stock
from callout.values import Callout, Command


def asked_for(now: Conversation, cause: Cause, order: Command) -> Acts:
    """Read the move back with what it does to the build that gives, or say why there is none."""
    receiver = walking.by_number(now, order.build)
    if receiver is None:
        return (walking.not_open(cause, order.build),)
    lines = matching(now, order.part or "", order.length)
    part = wording.named_part(order.part or "", order.length)
    giver = next((b for b in _givers(now, receiver) if any(_promised(b, line.name) for line in lines)), None)
    if giver is None:
        return (said(cause, "moving.nobody", "refused", part=part),)
    kinds = tuple(line for line in lines if _promised(giver, line.name))
    if len(kinds) > 1:
        return (which(cause, part, kinds),)
    name = kinds[0].name
    move = _work_out(now, giver, receiver, name, order.quantity or 1)
    if move is None:
        number, of_it = wording.count(receiver.number), wording.lines(name, 2)
        return (said(cause, "moving.no_use", "refused", build_id=receiver.build_id, number=number, part=of_it),)
    proposal = proposed(
        cause, "move", build_id=receiver.build_id, item=name, giver=giver.build_id, quantity=move.moved
    )
    return (
        readback(
            cause, "confirming.move", proposal, pieces=wording.pieces([(name, move.moved)]),
            giver=wording.count(giver.number), receiver=wording.count(receiver.number), then=_then(giver, move.giver),
        ),
    )  # fmt: skip


def _givers(now: Conversation, receiver: OpenBuild) -> list[OpenBuild]:
    others = [build for build in now.open.values() if build is not receiver]
    return sorted(others, key=lambda build: (build.build_id != now.focus, -build.build_id))


def _promised(build: OpenBuild, name: str) -> int:
    """How many pieces of a line are promised to a build and not picked."""
    return sum(build.left(place) for place, line in enumerate(build.plan["parts"]) if line["name"] == name)


def _then(giver: OpenBuild, after: Build) -> str:
    number = wording.count(giver.number)
    if not after.missing:
        return wording.sentence("moving.stays_whole", number=number)
    return wording.sentence("moving.then_short", number=number, missing=wording.missing(after.missing))


@dataclass(frozen=True)
class _Open:
    """Plans open builds as the conversation does: at their place, without what the crew does not want in them."""

    now: Conversation

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build:
        return builds.plan(self.now, build_id, request, self.now.open[build_id].without, ledger=holdings)


def _work_out(now: Conversation, giver: OpenBuild, receiver: OpenBuild, name: str, quantity: int) -> Move | None:
    """Both plans after the move; None where the receiver would not take a piece of it."""
    requests = {build.build_id: build.request for build in (giver, receiver)}
    found = move_reserved(
        _Open(now).plan, requests, now.stock, holdings(now), name=name, quantity=min(quantity, _promised(giver, name)),
        giver=giver.build_id, receiver=receiver.build_id,
    )  # fmt: skip
    return found if isinstance(found, Move) else None


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """Both builds get their new plans, the giver first: a crash between them leaves the piece with nobody."""
    shape = confirmed.shape
    found = _between(now, shape.giver, shape.build_id, shape.item or "", shape.quantity or 0)
    return (said(cause, "walking.no_change", "refused"),) if found is None else _given(now, cause, *found)


def _between(
    now: Conversation, giver_id: int | None, receiver_id: int | None, name: str, quantity: int
) -> tuple[OpenBuild, OpenBuild, Move] | None:
    """The two builds and the move, where it can be done."""
    giver, receiver = now.open.get(giver_id or 0), now.open.get(receiver_id or 0)
    if giver is None or receiver is None or not _promised(giver, name):
        return None
    move = _work_out(now, giver, receiver, name, quantity)
    return None if move is None else (giver, receiver, move)


def _given(now: Conversation, cause: Cause, giver: OpenBuild, receiver: OpenBuild, move: Move) -> Acts:
    acts = builds.instead(now, cause, giver, move.giver, giver.without)
    acts += builds.instead(folded(now, acts), cause, receiver, move.receiver, receiver.without)
    acts += builds.after_a_count(folded(now, acts), cause)
    walked = folded(now, acts).walked
    if walked is not None and walked.begun and walked.build_id in (giver.build_id, receiver.build_id):
        acts += (walking.next_card(cause, walked),)
    return acts


def undo(now: Conversation, cause: Cause, done: Done) -> Acts:
    """Read the way back: the build that received gives, as far as the piece is not picked yet."""
    name = done.item or ""
    found = _between(now, done.build_id, done.giver, name, done.quantity or 0)
    if found is None:
        return (said(cause, "moving.no_way_back", "refused", part=wording.lines(name, 2)),)
    giver, receiver, move = found
    proposal = proposed(cause, "undo", build_id=done.build_id, undoes="moved")
    return (
        readback(
            cause, "confirming.undo_move", proposal, pieces=wording.pieces([(name, move.moved)]),
            giver=wording.count(giver.number), receiver=wording.count(receiver.number), then=_then(giver, move.giver),
        ),
    )  # fmt: skip


def not_moved(now: Conversation, cause: Cause, done: Done) -> Acts:
    found = _between(now, done.build_id, done.giver, done.item or "", done.quantity or 0)
    if found is None:
        return (said(cause, "walking.no_change", "refused"),)
    undone = said(
        cause, "moving.undone", "voided", to="yard", build_id=done.build_id, what=WasVoided(what="move")
    )
    return (undone, *_given(folded(now, (undone,)), cause, *found))
