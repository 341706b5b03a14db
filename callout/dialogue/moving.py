"""A piece promised to one build, given to another when somebody says so: "move one six foot strut to build two".

The build in the walk gives, if it has such a piece that is not picked yet, else the build released last that has. Both
are planned again: the one that receives takes the piece only if it is short of it. The planner never does this unasked.
"""

from __future__ import annotations

from dataclasses import dataclass

from callout.dialogue import builds, walking, wording
from callout.dialogue.ports import Build, Holdings, Stock
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import Conversation, OpenBuild, Pending, holdings
from callout.dialogue.stock_lines import ask_which, matching
from callout.dialogue.turn import Turn
from callout.shoring.plan import Move, move_reserved
from callout.values import Callout, Command


def asked_for(turn: Turn, said: Command) -> None:
    """Read the move back with what it does to the build that gives, or say why there is none."""
    turn.give_up_waiting(aloud=True)
    receiver = walking.by_number(turn.now, said.build)
    if receiver is None:
        turn.say("walking.no_such_build", "refused", number=wording.count(said.build or 0))
        return
    lines = matching(turn.now, said.part or "", said.length)
    part = wording.named_part(said.part or "", said.length)
    giver = next((b for b in _givers(turn.now, receiver) if any(_promised(b, line.name) for line in lines)), None)
    if giver is None:
        turn.say("moving.nobody", "refused", part=part)
        return
    kinds = tuple(line for line in lines if _promised(giver, line.name))
    if len(kinds) > 1:
        ask_which(turn, part, kinds)
        return
    name = kinds[0].name
    move = _work_out(turn.now, giver, receiver, name, said.quantity or 1)
    if move is None:
        number = wording.count(receiver.number)
        turn.say("moving.no_use", "refused", build_id=receiver.build_id, number=number, part=wording.lines(name, 2))
        return
    read_back(
        turn, "confirming.move",
        act(turn, "move", build_id=receiver.build_id, item=name, giver=giver.build_id, quantity=move.moved),
        pieces=wording.pieces([(name, move.moved)]), giver=wording.count(giver.number),
        receiver=wording.count(receiver.number), then=_then(giver, move.giver),
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


def affirmed(turn: Turn, confirmed: Pending) -> None:
    """Both builds get their new plans, the giver first: a crash between them leaves the piece with nobody."""
    giver = turn.now.open.get(confirmed.shape.giver or 0)
    receiver = turn.now.open.get(confirmed.build_id or 0)
    name, quantity = confirmed.shape.item or "", confirmed.shape.quantity or 0
    move = None
    if giver is not None and receiver is not None and _promised(giver, name):
        move = _work_out(turn.now, giver, receiver, name, quantity)
    if giver is None or receiver is None or move is None:
        turn.say("walking.no_change", "refused")
        return
    builds.put_in_place(turn, giver, move.giver, giver.without)
    builds.put_in_place(turn, receiver, move.receiver, receiver.without)
    builds.stock_moved(turn)
    walked = turn.now.walked
    if walked is not None and walked.begun and walked.build_id in (giver.build_id, receiver.build_id):
        walking.speak_next(turn, walked)
