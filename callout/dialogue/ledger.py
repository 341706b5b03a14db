"""What lies in the yard and what each build holds: sums over what was said, picked and put back."""

from __future__ import annotations

from callout.dialogue.evolve import add
from callout.dialogue.ports import Holdings
from callout.dialogue.state import Conversation
from callout.shoring.holdings import Held


def on_hand(now: Conversation) -> dict[str, int]:
    """What lies in its place now, by stock line: the file's count, what people said since, less what was picked."""
    lying = {line.name: line.quantity + now.changes.get(line.name, 0) for line in now.stock.lines}
    for build in (*now.open.values(), *now.standing.values()):
        for name, quantity in build.held.items():
            lying[name] = lying.get(name, 0) - quantity
    return lying


def holdings(now: Conversation) -> Holdings:
    """The ledger for the planner: on hand, and what each build has reserved, picked and placed."""
    builds: dict[int, dict[str, Held]] = {}
    for build in now.open.values():
        reserved: dict[str, int] = {}
        for index, line in enumerate(build.plan["parts"]):
            reserved = add(reserved, [(line["name"], build.left(index))])
        builds[build.build_id] = {
            name: Held(reserved.get(name, 0), build.held.get(name, 0), 0) for name in {*reserved, *build.held}
        }
    for build in now.standing.values():
        builds[build.build_id] = {name: Held(0, 0, quantity) for name, quantity in build.held.items()}
    return Holdings(on_hand={name: max(0, count) for name, count in on_hand(now).items()}, builds=builds)
