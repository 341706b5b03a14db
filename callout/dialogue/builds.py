"""Released builds: releasing, planning again, changing, taking back. What each build holds is told to the planner."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from callout.dialogue import walking, wording
from callout.dialogue.events import PiecesMoved, WasReleased, WasSaid
from callout.dialogue.ports import Build, Holdings, Planner, Site, Stock, knowing
from callout.dialogue.state import Conversation, OpenBuild, Pending, add, holdings
from callout.dialogue.turn import Turn
from callout.shoring.holdings import Held
from callout.shoring.relocation import Relocation, pressing, relocation, used_up
from callout.values import Callout


def plan(
    now: Conversation, build_id: int, request: Callout, without: Iterable[str] = (), *,
    site: Mapping[str, Any] | None = None, ledger: Holdings | None = None,
) -> Build:  # fmt: skip
    """Work out a build; `without` names stock lines that it must not take beyond what it holds already. `site` and
    `ledger` stand in for what is known of its place and for the sums of the stock."""
    ledger = holdings(now) if ledger is None else ledger
    mine = ledger.held(build_id)
    left_out = {name: ledger.promised.get(name, 0) - mine.get(name, Held()).reserved for name in without}
    if left_out:
        ledger = Holdings(on_hand={**ledger.on_hand, **left_out}, builds=ledger.builds)
    before = now.open.get(build_id)
    known = before.build.site if before is not None else Site.model_validate(now.site if site is None else site)
    build = _work_out(now, build_id, request, known, ledger)
    standing = None if before is None else now.standing.get(before.relocates or 0)
    return build if standing is None else in_place_of(standing, build)


@dataclass(frozen=True)
class _Planned:
    """A plan, and what it was worked out from."""

    planner: Planner
    stock: Stock
    asked: tuple[int, Callout, Site, Holdings]
    build: Build


#: The last plans, newest last: what was worked out for a readback is released as it was, in no time.
_PLANNED: deque[_Planned] = deque(maxlen=16)


def _work_out(now: Conversation, build_id: int, request: Callout, site: Site, ledger: Holdings) -> Build:
    asked = (build_id, request, site, ledger)
    for before in reversed(_PLANNED):
        if before.planner is now.planner and before.stock is now.stock and before.asked == asked:
            return before.build
    build = knowing(now.planner, build_id, site).plan(build_id, request, now.stock, ledger)
    _PLANNED.append(_Planned(now.planner, now.stock, asked, build))
    return build


def has_waler(standing: Build) -> bool:
    """Whether timber rakers beside can be pressed to the wall by this shore's waler."""
    beside = standing.site.model_copy(update={"timber_beside": True})
    return bool(pressing(standing.model_copy(update={"site": beside})))


def moved(standing: OpenBuild, build: Build) -> Relocation:
    """The move from where a shore stands to `build`. Without its waler whatever stands beside holds nothing for it."""
    old = standing.build
    if not has_waler(old):
        old = old.model_copy(update={"site": old.site.model_copy(update={"timber_beside": None})})
    return relocation(old, build)


#: Who puts the shore up: the last step of theirs in the order of a move is the shore's own assembly.
PUTS_UP = "shores"


def in_place_of(standing: OpenBuild, build: Build) -> Build:
    """`build` with the order of the move as its steps: its own stand where the crew puts it up, all in one list."""
    order = moved(standing, build).order
    hands = [place for place, step in enumerate(order, 1) if step.who == PUTS_UP]
    at = hands[-1] if hands else len(order)
    steps = (*order[:at], *build.steps, *order[at:])
    numbered = tuple(step.model_copy(update={"number": number}) for number, step in enumerate(steps, 1))
    return build.model_copy(update={"steps": numbered})


def release(turn: Turn, confirmed: Pending) -> None:
    """A confirmed callout becomes a build. The yard is told, and walked through it when it is free."""
    request = confirmed.request
    if request is None:
        return
    if refuse_twin(turn, request) or refuse_taken(turn, request):  # the other side may have been quicker
        return
    build_id = turn.now.next_id
    build = plan(turn.now, build_id, request, site=confirmed.shape.site)
    if build.refused is not None:
        turn.say("confirming.affirmed_refused", "refused", meaning=request)
        return
    number = request.position or free_number(turn.now, build_id)
    turn.write(
        "released", build_id=build_id, meaning=request, build=build.to_json(),
        what=WasReleased(number=number, role=confirmed.role, name=confirmed.name),
    )  # fmt: skip
    turn.say(_outcome("affirmed", build), build_id=build_id, number=wording.count(number))
    walked = turn.now.walked
    if walked is None or walked.build_id == build_id:
        walking.begin(turn, turn.now.open[build_id], named=True)
    else:
        turn.say("walking.waits", to="yard", build_id=build_id, number=wording.count(number))


def _outcome(done: str, build: Build) -> str:
    """The sentence for a build just "affirmed" or "changed": whole, or short of pieces."""
    return f"confirming.{done}_short" if build.missing else f"confirming.{done}"


def free_number(now: Conversation, wanted: int, *, instead_of: OpenBuild | None = None) -> int:
    """The number a build without a position is called by: the one `wanted`, or the next that no build goes by (but the
    one that it takes the place of)."""
    every = (*now.open.values(), *now.standing.values())
    taken = {build.number for build in every if build is not instead_of}
    number = wanted
    while number in taken:
        number += 1
    return number


def twin_build(now: Conversation, request: Callout) -> OpenBuild | None:
    """The open build that this callout was for already, word for word."""
    return next((build for build in now.open.values() if build.request == request), None)


def at_position(now: Conversation, position: int | None) -> OpenBuild | None:
    return next((build for build in now.open.values() if build.number == position), None)


def refuse_taken(turn: Turn, request: Callout, *, apart_from: OpenBuild | None = None) -> bool:
    """No two open builds go by one number. True after saying which build has it."""
    taken = at_position(turn.now, request.position)
    if taken is None or taken is apart_from:
        return False
    number = wording.count(taken.number)
    turn.say("confirming.position_taken", "refused", meaning=request, number=number, position=number)
    return True


def refuse_twin(turn: Turn, request: Callout) -> bool:
    """The same callout is the same build. True after saying so."""
    twin = twin_build(turn.now, request)
    if twin is None:
        return False
    number = wording.count(twin.number)
    turn.say("confirming.twin_build", "refused", number=number, meaning=request, build_id=twin.build_id)
    return True


def change(turn: Turn, confirmed: Pending) -> None:
    """Another request for an open build: a change order that says what to put back and what to fetch."""
    before, request = turn.now.open.get(confirmed.build_id or 0), confirmed.request
    if before is None or request is None:
        turn.say("walking.no_change", "refused")
        return
    if refuse_taken(turn, request, apart_from=before):
        return
    build = plan(turn.now, before.build_id, request, before.without)
    if build.refused is not None:
        turn.say("confirming.changed_refused", "refused", meaning=request, number=wording.count(before.number))
        return
    turn.write(
        "released", build_id=before.build_id, meaning=request, build=build.to_json(),
        what=WasReleased(
            number=request.position or before.number, role=before.role, name=before.name, replaces=True,
            got=got_already(build, before.held), without=before.without, relocates=before.relocates,
            undoes=confirmed.shape.undoes is not None,
        ),
    )  # fmt: skip
    after = turn.now.open[before.build_id]
    turn.say(_outcome("changed", build), build_id=before.build_id, number=wording.count(after.number))
    put_back_surplus(turn, before.build_id)
    after = turn.now.open[before.build_id]
    if before.begun:
        turn.say(
            "walking.instead", to="yard", build_id=before.build_id, number=wording.count(after.number),
            difference=walking.difference_text(turn.now, before, after.plan),
        )  # fmt: skip
        walking.speak_next(turn, after)


def replan(turn: Turn, before: OpenBuild, without: Iterable[str] = ()) -> bool:
    """Work an open build out again from what is left. Says only the difference; False when nothing changes."""
    left_out = tuple(dict.fromkeys((*before.without, *without)))
    build = plan(turn.now, before.build_id, before.request, left_out)
    if not before.stale and build.parts == before.build.parts and build.missing == before.build.missing:
        return False
    put_in_place(turn, before, build, left_out)
    return True


def put_in_place(turn: Turn, before: OpenBuild, build: Build, left_out: Iterable[str]) -> None:
    """Give an open build a new plan, and say the difference: pieces, and whether anything is to be set or cut anew."""
    shape = build.to_json()
    difference = walking.difference_text(turn.now, before, shape)
    if build.refused is not None:
        difference = wording.whole(build.refused.reason)
    elif any(shape[field] != before.plan[field] for field in ("setting", "cuts", "positions")):
        difference += " " + wording.sentence("walking.set_anew")
    text = wording.sentence("walking.instead", number=wording.count(before.number), difference=difference)
    turn.say_text(
        text, to="yard", build_id=before.build_id, build=shape,
        what=WasSaid(got=got_already(build, before.held), without=tuple(left_out)),
    )  # fmt: skip
    put_back_surplus(turn, before.build_id)


def got_already(build: Build, held: Mapping[str, int]) -> tuple[int, ...]:
    """How much of each line of a new plan the crew holds already."""
    left, got = dict(held), []
    for line in build.parts:
        taken = min(line.quantity, left.get(line.name, 0))
        left[line.name] = left.get(line.name, 0) - taken
        got.append(taken)
    return tuple(got)


def put_back_surplus(turn: Turn, build_id: int) -> None:
    """What was picked and is no longer wanted goes back to its place."""
    build = turn.now.open[build_id]
    wanted: dict[str, int] = {}
    for line in build.plan["parts"]:
        wanted = add(wanted, [(line["name"], line["quantity"])])
    surplus = [(n, q - wanted.get(n, 0)) for n, q in build.held.items() if q > wanted.get(n, 0)]
    put_back(turn, build, surplus)


#: Once the walk is at one of these the timber is sawn: it does not come back as it was.
_SAWN = ("offer", "mark", "step", "check", "end")


def put_back(turn: Turn, build: OpenBuild, pieces: list[tuple[str, int]], key: str = "walking.leave_standing") -> None:
    """What was fetched goes back to the stock. What stands at the old place of a relocation holds the wall there: it
    is left alone, and the sentence `key` says so."""
    gone = used_up(build.build) if build.at.kind in _SAWN else Counter[str]()
    driven = tuple((name, min(quantity, gone[name])) for name, quantity in pieces if gone[name])
    if driven:
        pieces = [(name, quantity - gone[name]) for name, quantity in pieces if quantity > gone[name]]
        turn.write("returned", build_id=build.build_id, what=PiecesMoved(gone=driven))
        build = turn.now.open[build.build_id]
    back = [(name, min(quantity, build.fetched.get(name, 0))) for name, quantity in pieces]
    stand = [(name, quantity - fetched) for (name, quantity), (_, fetched) in zip(pieces, back, strict=True)]
    for key_of, some, stands in (("walking.put_back", back, False), (key, stand, True)):
        if moved := tuple(piece for piece in some if piece[1]):
            turn.say(
                key_of, "returned", to="yard", build_id=build.build_id, number=wording.count(build.number),
                what=PiecesMoved(pieces=moved, stands=stands), pieces=wording.pieces(moved),
            )  # fmt: skip


def stock_moved(turn: Turn) -> None:
    """After a count was corrected: builds that were short, or are promised more than there is, are planned again.

    The walk then stands at a card that was spoken: "ready" must never book an item that the crew did not hear.
    """
    for build in list(turn.now.open.values()):
        over = {build_id for ids in holdings(turn.now).overpromised().values() for build_id in ids}
        changed = (build.build_id in over or build.plan["missing"] or build.stale) and replan(turn, build)
        if changed and build.begun and turn.now.focus == build.build_id:
            walking.speak_next(turn, turn.now.open[build.build_id])
