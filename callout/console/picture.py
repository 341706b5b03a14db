"""What the screen shows of a conversation, worked out from its state: nothing is remembered here."""

from __future__ import annotations

from dataclasses import dataclass

from callout.dialogue.state import Conversation, OpenBuild, holdings


@dataclass(frozen=True)
class PartRow:
    """One line of the parts list. `state`: "done", "now" (spoken last) or "" (to come)."""

    item: int
    quantity: int
    picked: int
    name: str
    where: str
    state: str


@dataclass(frozen=True)
class StockRow:
    """One line of the stock: what lies in its place, and how much of that is promised."""

    name: str
    on_hand: int
    reserved: int


@dataclass(frozen=True)
class Picture:
    """The whole screen as text. `pending` is the readback that waits for its affirmative."""

    pending: str = ""
    waiting: str = ""
    builds: tuple[str, ...] = ()
    parts_of: str = ""
    parts: tuple[PartRow, ...] = ()
    stock: tuple[StockRow, ...] = ()
    halted: str = ""


def picture(now: Conversation) -> Picture:
    """What to show of `now`."""
    seats = (now.measurer, now.logistics)
    pending = next((seat.pending.text for seat in seats if seat.pending is not None), "")
    waiting = next((_waits_for(seat.asked) for seat in seats if seat.half is not None), "")
    if not pending and not waiting:
        waiting = next((f"set aside: {seat.parked.text}" for seat in seats if seat.parked is not None), "")
    walked = now.walked
    ledger = holdings(now)
    return Picture(
        pending=pending,
        waiting=waiting,
        builds=(
            *(_open(build, build is walked) for build in now.open.values()),
            *(f"build {build.number}  stands  {build.build.title}" for build in now.standing.values()),
        ),
        parts_of="" if walked is None else f"build {walked.number}: {len(walked.open_lines)} items left",
        parts=() if walked is None else _parts(walked),
        stock=tuple(
            StockRow(line.name, ledger.on_hand.get(line.name, 0), ledger.promised.get(line.name, 0))
            for line in now.stock.lines
        ),
        halted=now.halted,
    )


def _waits_for(asked: str | None) -> str:
    return f"waiting for: {asked.replace('_deg', '')}" if asked else "waiting for the rest of the callout"


def _open(build: OpenBuild, walked: bool) -> str:
    total = sum(int(part["quantity"]) for part in build.plan["parts"])
    state = f"{sum(build.got)} of {total} picked"
    if build.plan["missing"]:
        state += ", SHORT"
    return f"{'>' if walked else ' '} build {build.number}  {state}  {build.plan['title']}"


def _parts(build: OpenBuild) -> tuple[PartRow, ...]:
    at = build.at.index if build.begun and build.at.kind == "item" else None
    return tuple(
        PartRow(
            part["item"],
            part["quantity"],
            got,
            part["name"],
            part["where"],
            "now" if index == at else "done" if got >= part["quantity"] else "",
        )
        for index, (part, got) in enumerate(zip(build.plan["parts"], build.got, strict=True))
    )
