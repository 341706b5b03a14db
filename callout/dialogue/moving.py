"""A piece promised to one build, given to another when somebody says so: "move one six foot strut to build two".

The build in the walk gives, if it has such a piece that is not picked yet, else the build released last that has. Both
are planned again: the one that receives takes the piece only if it is short of it. The planner never does this unasked.
"""

from __future__ import annotations

from typing import NamedTuple

from callout.dialogue import builds, walking, wording
from callout.dialogue.ledger import holdings
from callout.dialogue.ports import Build, Holdings
from callout.dialogue.readback import read_back
from callout.dialogue.state import Conversation, OpenBuild, Pending
from callout.dialogue.stock_lines import ask_which, matching
from callout.dialogue.turn import Turn
from callout.shoring.holdings import Held
from callout.values import Command


class _Move(NamedTuple):
    """`moved` pieces change hands; the two builds as they are planned then."""

    moved: int
    giver: Build
    receiver: Build


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
        turn, "confirming.move", "move", build_id=receiver.build_id,
        shape={"item": name, "from": giver.build_id, "quantity": move.moved},
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


def _work_out(now: Conversation, giver: OpenBuild, receiver: OpenBuild, name: str, quantity: int) -> _Move | None:
    """Both plans after the move; None where the receiver would not take a piece of it."""
    ledger = holdings(now)
    lent = _less(ledger, giver.build_id, name, quantity)
    taking = builds.plan(now, receiver.build_id, receiver.request, receiver.without, ledger=lent)
    moved = min(quantity, _count(taking, name) - _count(receiver.build, name))
    if moved <= 0:
        return None
    mine = {item: Held(reserved=number) for item, number in _still_to_pick(taking, receiver).items()}
    for item, number in receiver.held.items():
        mine[item] = mine.get(item, Held())._replace(picked=number)
    after = Holdings(on_hand=ledger.on_hand, builds={**lent.builds, receiver.build_id: mine})
    return _Move(moved, builds.plan(now, giver.build_id, giver.request, giver.without, ledger=after), taking)


def _less(ledger: Holdings, build_id: int, name: str, quantity: int) -> Holdings:
    """The ledger with so many pieces of a line no longer promised to a build."""
    mine = dict(ledger.held(build_id))
    held = mine.get(name, Held())
    mine[name] = held._replace(reserved=max(0, held.reserved - quantity))
    return Holdings(on_hand=ledger.on_hand, builds={**ledger.builds, build_id: mine})


def _count(build: Build, name: str) -> int:
    return sum(part.quantity for part in build.parts if part.name == name)


def _still_to_pick(plan: Build, build: OpenBuild) -> dict[str, int]:
    wanted = {part.name: _count(plan, part.name) for part in plan.parts}
    return {name: max(0, number - build.held.get(name, 0)) for name, number in wanted.items()}


def affirmed(turn: Turn, confirmed: Pending) -> None:
    """Both builds get their new plans, the giver first: a crash between them leaves the piece with nobody."""
    giver = turn.now.open.get(int(confirmed.shape["from"]))
    receiver = turn.now.open.get(confirmed.build_id or 0)
    name, quantity = str(confirmed.shape["item"]), int(confirmed.shape["quantity"])
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
