"""From confirmed callouts to builds: geometry, mechanics, needs, and the pieces that selection chose. Pure and exact.

`ShorePlanner` is the planner; `Planner` is what the conversation asks for. The solver is loaded when it is needed.
`move_reserved` gives pieces of one build to another, when somebody says so; `reach` says what a stock can build before
anybody needs it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal, Protocol

from callout.shoring.allocation import Allocation, Need
from callout.shoring.assemble import assemble, refused_build
from callout.shoring.build import Build, Missing, Refused, Remedy
from callout.shoring.draft import Draft
from callout.shoring.holdings import Holdings, HoldingsRefused
from callout.shoring.on_paper import missing_by_part
from callout.shoring.remedies import Asking, Short, remedies
from callout.shoring.request import Post, Site
from callout.shoring.rules import Rules
from callout.shoring.stock import Stock
from callout.shoring.strengths import OF_POSTS
from callout.shoring.work_out import EVERYDAY, Worked, needs_of, why_not, work_out, worked
from callout.values import Callout, Length

#: Builds of one plan for which remedies are sought, those called first: each is tried some twenty times.
REMEDIED = 4

Allocate = Callable[[Mapping[int, Sequence[Need]], Stock, Holdings], Mapping[int, Allocation]]
#: (build, request, stock, ledger) -> the build: the `plan` of a planner.
Plan = Callable[[int, Callout, Stock, Holdings], Build]
Outcome = Literal["whole", "short", "refused"]

#: Heights of the insertion that a first look goes through, in feet, and the angles of the standard builds.
HEIGHTS = tuple(Length.imperial(feet) for feet in range(3, 21))
ANGLES = (45, 60)


class Planner(Protocol):
    """What works out the build for one request. It never raises for what the stock or practice cannot do. It is a
    dataclass; `sites` says what is known of the place of each build."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def sites(self) -> Mapping[int, Site]: ...

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build: ...


def _post_held(build: int, request: Callout, stock: Stock, holdings: Holdings) -> Post | None:
    """6x6 where a standing shore holds that and no 4x4: planned again it stays what it was."""
    kinds = {stock.by_name[name].kind for name in holdings.held(build) if name in stock.by_name}
    return "6x6" if request.kind in OF_POSTS and "6x6" in kinds and "4x4" not in kinds else None


@dataclass(frozen=True)
class ShorePlanner:
    """`rules`: the packaged figures unless a team gives its own. `sites`: what is known beyond a callout, by build."""

    rules: Rules | None = None
    sites: Mapping[int, Site] = field(default_factory=dict)
    allocate: Allocate | None = None

    def refusal(self, build_id: int, request: Callout, stock: Stock | None = None) -> Refused | None:
        """Why such a shore must not be built, with the nearest that can be; None if it may be planned. Loads no solver.

        `stock`: whose kit a raker of struts is of; without it only its geometry is looked at."""
        kit = None if stock is None else stock.kit
        return why_not(request, self.sites.get(build_id, EVERYDAY), self.rules, kit)

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build:
        """One build from what is free in the stock. It is always a value: what is lacking stands in `missing`."""
        return self.plan_all({build_id: request}, stock, holdings)[build_id]

    def plan_all(self, requests: Mapping[int, Callout], stock: Stock, holdings: Holdings) -> Mapping[int, Build]:
        """All builds together, so that no two are promised the same piece.

        What a build of `requests` was promised stays its own while it suffices; to let others have it, hand in
        `holdings.release(build)`. Picked and placed pieces never move.
        """
        found: dict[int, Worked] = {}
        for build, request in sorted(requests.items()):
            site, post = self.sites.get(build, EVERYDAY), _post_held(build, request, stock, holdings)
            found[build] = worked(request, stock.kit, site, self.rules, post)
        drafts = {build: one.draft for build, one in found.items() if one.draft is not None and one.refused is None}
        drafts, chosen = self._of_larger_posts(requests, drafts, stock, holdings)
        builds: dict[int, Build] = {}
        for build, one in found.items():
            site = self.sites.get(build, EVERYDAY)
            if one.refused is not None:
                builds[build] = refused_build(build, requests[build], site, one.refused, one.draft)
            else:
                builds[build] = assemble(build, requests[build], site, drafts[build], chosen[build], stock.kit)
        short = [build for build, allocation in chosen.items() if not allocation.complete][:REMEDIED]
        for build in short:
            if builds[build].refused is None:
                lacking = builds[build].missing
                ways = self._remedies(build, requests[build], drafts[build], lacking, chosen, stock, holdings)
                builds[build] = builds[build].model_copy(update={"remedies": ways})
        return builds

    def _of_larger_posts(
        self, requests: Mapping[int, Callout], drafts: dict[int, Draft], stock: Stock, holdings: Holdings
    ) -> tuple[dict[int, Draft], Mapping[int, Allocation]]:
        """The drafts and what each gets. A standing shore that the stock has no 4x4 for is of 6x6 where that makes it
        whole and takes nothing from another; not where somebody said its timber."""
        chosen = self._allocate({build: draft.needs for build, draft in drafts.items()}, stock, holdings)
        short = [build for build, draft in drafts.items() if draft.work.post == "4x4" and not chosen[build].complete]
        for build in [one for one in short if requests[one].kind in OF_POSTS][:REMEDIED]:
            site = self.sites.get(build, EVERYDAY)
            larger = work_out(requests[build], stock.kit, site, self.rules, "6x6") if site.post is None else None
            if isinstance(larger, Draft):
                tried = {**drafts, build: larger}
                found = self._allocate({one: draft.needs for one, draft in tried.items()}, stock, holdings)
                if found[build].complete and all(found[one].complete >= chosen[one].complete for one in found):
                    drafts, chosen = tried, found
        return drafts, chosen

    def _remedies(
        self, build: int, request: Callout, draft: Draft, missing: tuple[Missing, ...],
        chosen: Mapping[int, Allocation], stock: Stock, holdings: Holdings,
    ) -> tuple[Remedy, ...]:  # fmt: skip
        """What a crew would do about it, while the other builds keep what this plan gives them."""
        from callout.shoring.selection.allocate import WhatIf

        others = holdings.reserve_all({other: mine for other, mine in chosen.items() if other != build})
        if not isinstance(others, Holdings):
            return ()
        site = self.sites.get(build, EVERYDAY)
        ask = Asking(
            needs=lambda changed, place: needs_of(changed, stock.kit, place, self.rules),
            can_make=WhatIf(stock, build),
            used_up=stock.used_up,
            any_left=lambda part: any(
                others.on_hand.get(line.name, 0) > others.promised.get(line.name, 0)
                for line in stock.lines
                if line.kind == part or part in line.instead_of
            ),
        )
        short = Short(build, request, site, tuple(draft.needs), missing, draft.work.post, draft.work.spacing)
        return remedies(short, others, ask)

    def _allocate(
        self, needs: Mapping[int, Sequence[Need]], stock: Stock, holdings: Holdings
    ) -> Mapping[int, Allocation]:
        if not needs:
            return {}
        if self.allocate is not None:
            return self.allocate(needs, stock, holdings)
        from callout.shoring.selection.allocate import allocate

        return allocate(needs, stock, holdings)


@dataclass(frozen=True)
class Move:
    """`moved` pieces of `name` changed hands. `giver` and `receiver` as planned after it, `holdings` as it is then."""

    name: str
    moved: int
    giver: Build
    receiver: Build
    holdings: Holdings


def pieces_of(build: Build) -> Counter[str]:
    """How many of each line of the stock a plan takes."""
    counts: Counter[str] = Counter()
    for part in build.parts:
        counts[part.name] += part.quantity
    return counts


def move_reserved(
    plan: Plan, requests: Mapping[int, Callout], stock: Stock, holdings: Holdings, *, name: str, quantity: int,
    giver: int, receiver: int,
) -> Move | HoldingsRefused:  # fmt: skip
    """Move up to `quantity` pieces of the stock's line `name` that are promised to `giver` and not picked.

    The receiver is planned first and may also use what is free; the giver then keeps the rest and makes up for what it
    gave, if the stock can. Refused, and nothing changes, where the receiver would not take a piece of it: a plan takes
    the best pieces, not those it is offered. `requests` holds both builds.
    """
    if giver == receiver:
        return HoldingsRefused(f"build {giver} has them already")
    lent = holdings.let_go(giver, name, quantity)
    if isinstance(lent, HoldingsRefused):
        return lent
    had = holdings.held(receiver).get(name)
    taking = plan(receiver, requests[receiver], stock, lent)
    moved = min(quantity, pieces_of(taking)[name] - (had.total if had else 0))
    if moved <= 0:
        return HoldingsRefused(f"build {receiver} would take no {name}")
    ledger = lent.promise(receiver, pieces_of(taking))
    if isinstance(ledger, HoldingsRefused):
        return ledger
    giving = plan(giver, requests[giver], stock, ledger)
    ledger = ledger.promise(giver, pieces_of(giving))
    return ledger if isinstance(ledger, HoldingsRefused) else Move(name, moved, giving, taking, ledger)


@dataclass(frozen=True)
class Reach:
    """One pair of rakers from all of a stock. `why`: what is short, or why there is none; empty when whole."""

    insertion: Length
    angle_deg: int
    outcome: Outcome
    why: str = ""


def reach(
    stock: Stock, planner: Planner, heights: Iterable[Length] = HEIGHTS, angles: Sequence[int] = ANGLES
) -> tuple[Reach, ...]:
    """Each pair of rakers planned by itself from all of the stock, lowest first."""
    full = Holdings.of(stock)
    found = []
    for height in heights:
        for angle in angles:
            build = planner.plan(1, Callout(insertion=height, angle_deg=angle), stock, full)
            if build.refused is not None:
                found.append(Reach(height, angle, "refused", build.refused.reason))
            elif build.missing:
                lacking = "; ".join(f"{quantity} x {name}" for quantity, name in missing_by_part(build))
                found.append(Reach(height, angle, "short", lacking))
            else:
                found.append(Reach(height, angle, "whole"))
    return tuple(found)
