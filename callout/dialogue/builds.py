"""Released builds: releasing, planning again, changing, taking back. What each build holds is told to the planner."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from callout.dialogue import speakable, walking, wording
from callout.dialogue.acts import Acts, Cause, folded, said, said_text, written
from callout.dialogue.records import PiecesMoved, WasReleased, WasSaid
from callout.dialogue.state import Conversation, OpenBuild, Pending, add, holdings, on_hand
from callout.shoring.build import Build
from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import Planner
from callout.shoring.relocation import Relocation, apart, pressing, relocation
from callout.shoring.request import Site
from callout.shoring.stock import Stock
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
    planner = replace(now.planner, sites={**now.planner.sites, build_id: site})
    build = planner.plan(build_id, request, now.stock, ledger)
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


def released(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """A confirmed callout becomes a build. The yard is told, and walked through it when it is free."""
    request = confirmed.request
    if request is None:
        return ()
    if refused := twin(now, cause, request) or taken(now, cause, request):  # the other side may have been quicker
        return refused
    build = plan(now, now.next_id, request, site=confirmed.shape.site)
    if build.refused is not None:
        return (said(cause, "confirming.affirmed_refused", "refused", meaning=request),)
    number = request.position or free_number(now, build.build_id)
    what = WasReleased(number=number, role=confirmed.role, name=confirmed.name)
    key = "confirming.affirmed_short" if build.missing else "confirming.affirmed"
    return goes_to_the_yard(now, cause, build, request, what, key=key)


def goes_to_the_yard(
    now: Conversation, cause: Cause, build: Build, request: Callout, what: WasReleased, *, key: str
) -> Acts:
    """A new build is written and told; the walk opens, unless another is walked."""
    build_id, number = build.build_id, wording.count(what.number)
    acts = (
        written(cause, "released", what, build_id=build_id, meaning=request, build=build.to_json()),
        said(cause, key, build_id=build_id, number=number),
    )
    if now.walked is None:
        return (*acts, *walking.opened(now, cause, folded(now, acts).open[build_id], named=True))
    return (*acts, said(cause, "walking.waits", to="yard", build_id=build_id, number=number))


def free_number(now: Conversation, wanted: int, *, instead_of: OpenBuild | None = None) -> int:
    """The number a build without a position is called by: the one `wanted`, or the next that no build goes by (but the
    one that it takes the place of)."""
    every = (*now.open.values(), *now.standing.values())
    taken = {build.number for build in every if build is not instead_of}
    number = wanted
    while number in taken:
        number += 1
    return number


def taken(now: Conversation, cause: Cause, request: Callout, *, apart_from: OpenBuild | None = None) -> Acts:
    """No two open builds go by one number: which build has it already. Nothing where none has."""
    other = None if request.position is None else walking.by_number(now, request.position)
    if other is None or other is apart_from:
        return ()
    number = wording.count(other.number)
    return (said(cause, "confirming.position_taken", "refused", meaning=request, number=number, position=number),)


def twin(now: Conversation, cause: Cause, request: Callout) -> Acts:
    """The same callout, word for word, is the same build: which open build it is. Nothing where it is none."""
    other = next((build for build in now.open.values() if build.request == request), None)
    if other is None:
        return ()
    number = wording.count(other.number)
    return (
        said(cause, "confirming.twin_build", "refused", number=number, meaning=request, build_id=other.build_id),
    )


def changed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """Another request for an open build: a change order that says what to put back and what to fetch."""
    before, request = now.open.get(confirmed.build_id or 0), confirmed.request
    if before is None or request is None:
        return (said(cause, "walking.no_change", "refused"),)
    if refused := taken(now, cause, request, apart_from=before):
        return refused
    build, build_id = plan(now, before.build_id, request, before.without), before.build_id
    if build.refused is not None:
        number = wording.count(before.number)
        return (said(cause, "confirming.changed_refused", "refused", meaning=request, number=number),)
    what = WasReleased(
        number=request.position or before.number, role=before.role, name=before.name, replaces=True,
        got=got_already(build, before.held), without=before.without, relocates=before.relocates,
        undoes=confirmed.shape.undoes is not None,
    )  # fmt: skip
    number, key = wording.count(what.number), "confirming.changed_short" if build.missing else "confirming.changed"
    acts: Acts = (
        written(cause, "released", what, build_id=build_id, meaning=request, build=build.to_json()),
        said(cause, key, build_id=build_id, number=number),
    )
    acts += surplus_back(folded(now, acts), cause, build_id)
    if before.begun:
        after = folded(now, acts)
        difference = walking.difference_text(after, before, after.open[build_id].plan)
        acts += (
            said(cause, "walking.instead", to="yard", build_id=build_id, number=number, difference=difference),
            walking.next_card(cause, after.open[build_id]),
        )
    return acts


def planned_again(now: Conversation, cause: Cause, before: OpenBuild, without: Iterable[str] = ()) -> Acts:
    """Work an open build out again from what is left. Says only the difference; nothing when nothing changes."""
    left_out = tuple(dict.fromkeys((*before.without, *without)))
    build = plan(now, before.build_id, before.request, left_out, ledger=_shortage_to_later(now, before))
    if not before.stale and build.parts == before.build.parts and build.missing == before.build.missing:
        return ()
    return instead(now, cause, before, build, left_out)


def _shortage_to_later(now: Conversation, build: OpenBuild) -> Holdings:
    """The sums of the stock for a build that is planned again: of what is promised and does not lie there, the builds
    after this one go without first. The build in the walk keeps what it has, then those begun, then the older."""
    ledger = holdings(now)
    over = {name: ledger.promised[name] - ledger.on_hand.get(name, 0) for name in ledger.overpromised()}
    after = [other for other in now.open.values() if _turn(now, other) > _turn(now, build)]
    for other in sorted(after, key=lambda other: _turn(now, other), reverse=True):
        for name, reserved in ((name, ledger.held(other.build_id).get(name, Held()).reserved) for name in over):
            less = min(reserved, over[name])
            given = ledger.let_go(other.build_id, name, less) if less else ledger
            ledger = given if isinstance(given, Holdings) else ledger
            over[name] -= less
    return ledger


def _turn(now: Conversation, build: OpenBuild) -> tuple[bool, bool, int]:
    return build is not now.walked, not build.begun, build.build_id


def anew(now: Conversation, build: OpenBuild) -> tuple[Build, list[tuple[str, int]]]:
    """The plan of a build as if nothing were promised to it or picked for it: the one from before a count, once that is
    taken back; and what was picked that this plan has no use for."""
    ledger, lying = holdings(now), on_hand(now)
    back = {name: max(0, lying.get(name, 0)) + count for name, count in build.held.items()}
    others = {key: held for key, held in ledger.builds.items() if key != build.build_id}
    ledger = Holdings(on_hand={**ledger.on_hand, **back}, builds=others)
    again = plan(now, build.build_id, build.request, build.without, ledger=ledger)
    wanted: dict[str, int] = {}
    for line in again.parts:
        wanted = add(wanted, [(line.name, line.quantity)])
    over = ((name, held - wanted.get(name, 0)) for name, held in build.held.items())
    return again, [(name, count) for name, count in over if count > 0]


def instead(now: Conversation, cause: Cause, before: OpenBuild, build: Build, left_out: Iterable[str]) -> Acts:
    """Give an open build a new plan, and say the difference: pieces, and whether anything is to be set or cut anew."""
    shape = build.to_json()
    difference = walking.difference_text(now, before, shape)
    if build.refused is not None:
        difference = speakable.whole(build.refused.reason)
    elif any(shape[field] != before.plan[field] for field in ("setting", "cuts", "positions")):
        difference += " " + wording.sentence("walking.set_anew")
    text = wording.sentence("walking.instead", number=wording.count(before.number), difference=difference)
    what = WasSaid(got=got_already(build, before.held), without=tuple(left_out))
    acts = (said_text(cause, text, to="yard", build_id=before.build_id, build=shape, what=what),)
    return (*acts, *surplus_back(folded(now, acts), cause, before.build_id))


def got_already(build: Build, held: Mapping[str, int]) -> tuple[int, ...]:
    """How much of each line of a new plan the crew holds already."""
    left, got = dict(held), []
    for line in build.parts:
        taken = min(line.quantity, left.get(line.name, 0))
        left[line.name] = left.get(line.name, 0) - taken
        got.append(taken)
    return tuple(got)


def surplus_back(now: Conversation, cause: Cause, build_id: int) -> Acts:
    """What was picked and is no longer wanted goes back to its place."""
    build = now.open[build_id]
    wanted: dict[str, int] = {}
    for line in build.plan["parts"]:
        wanted = add(wanted, [(line["name"], line["quantity"])])
    surplus = [(n, q - wanted.get(n, 0)) for n, q in build.held.items() if q > wanted.get(n, 0)]
    return goes_back(now, cause, build, surplus)


#: Once the walk is at one of these the timber is sawn: it does not come back as it was.
_SAWN = ("offer", "mark", "step", "check", "end")


def goes_back(
    now: Conversation, cause: Cause, build: OpenBuild, pieces: list[tuple[str, int]],
    key: str = "walking.leave_standing",
) -> Acts:  # fmt: skip
    """What was fetched goes back to the stock. What stands at the old place of a relocation holds the wall there: it
    is left alone, and the sentence `key` says so."""
    acts: Acts = ()
    left, gone = apart(build.build, dict(pieces)) if build.at.kind in _SAWN else ({}, {})
    if gone:
        pieces = list(left.items())
        acts = (written(cause, "returned", PiecesMoved(gone=tuple(gone.items())), build_id=build.build_id),)
        build = folded(now, acts).open[build.build_id]
    back = [(name, min(quantity, build.fetched.get(name, 0))) for name, quantity in pieces]
    stand = [(name, quantity - fetched) for (name, quantity), (_, fetched) in zip(pieces, back, strict=True)]
    for key_of, some, stands in (("walking.put_back", back, False), (key, stand, True)):
        if moved := tuple(piece for piece in some if piece[1]):
            acts += (
                said(
                    cause, key_of, "returned", to="yard", build_id=build.build_id, number=wording.count(build.number),
                    what=PiecesMoved(pieces=moved, stands=stands), pieces=wording.pieces(moved),
                ),
            )  # fmt: skip
    return acts


def after_a_count(now: Conversation, cause: Cause) -> Acts:
    """After a count was corrected: builds that were short, or are promised more than there is, are planned again.

    The walk then stands at a card that was spoken: "ready" must never book an item that the crew did not hear.
    """
    acts: Acts = ()
    for build_id, build in now.open.items():
        over = {of for ids in holdings(now).overpromised().values() for of in ids}
        if not (build_id in over or build.plan["missing"] or build.stale):
            continue
        again = planned_again(now, cause, build)
        if again and build.begun and now.focus == build_id:
            again += (walking.next_card(cause, folded(now, again).open[build_id]),)
        acts, now = acts + again, folded(now, again)
    return acts
