"""The ledger of the stock as the planner asks it: what lies on hand, what each build has reserved, picked and placed.

The conversation sums it up from its records (`callout.dialogue.state`). The changes here are what-if questions of a
plan: each gives a new ledger, or a `Refused` with the reason. `on_hand` is what really lies in its place, the reserved
pieces among it; picked and placed pieces are no longer there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, model_validator

from callout.shoring.allocation import Allocation
from callout.shoring.stock import Stock


class Held(NamedTuple):
    """How many pieces of one line a build holds."""

    reserved: int = 0
    picked: int = 0
    placed: int = 0

    @property
    def out(self) -> int:
        """Picked or placed: no longer on hand."""
        return self.picked + self.placed

    @property
    def total(self) -> int:
        return self.reserved + self.picked + self.placed


_NONE = Held()


@dataclass(frozen=True)
class HoldingsRefused:
    """A change that the ledger does not allow, and why, in words to be said."""

    reason: str


class Holdings(BaseModel):
    """`Holdings.of(stock)` is the stock untouched."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    on_hand: dict[str, int] = {}
    builds: dict[int, dict[str, Held]] = {}
    #: By line, how much is promised and not yet picked over all builds: the sum of `builds`, taken once.
    promised: dict[str, int] = Field(default={}, exclude=True)

    @model_validator(mode="before")
    @classmethod
    def _sum_up(cls, shape: Any) -> Any:
        if not isinstance(shape, dict):
            return shape
        promised: Counter[str] = Counter()
        for held in shape.get("builds", {}).values():
            for name, (reserved, _, _) in held.items():
                promised[name] += reserved
        return {**shape, "promised": {name: n for name, n in promised.items() if n}}

    @classmethod
    def of(cls, stock: Stock) -> Holdings:
        return cls(on_hand={line.name: line.quantity for line in stock.lines})

    def held(self, build: int) -> Mapping[str, Held]:
        """What a build holds, by the name of the stock's line."""
        return self.builds.get(build, {})

    def overpromised(self) -> dict[str, tuple[int, ...]]:
        """Lines of which more is promised than lies there (a count was corrected), with the builds concerned."""
        found: dict[str, tuple[int, ...]] = {}
        for name in sorted({name for held in self.builds.values() for name in held}):
            if self.promised.get(name, 0) > self.on_hand.get(name, 0):
                found[name] = tuple(b for b, mine in sorted(self.builds.items()) if mine.get(name, _NONE).reserved)
        return found

    def reserve(self, build: int, allocation: Allocation) -> Holdings | HoldingsRefused:
        """Promise a build what its plan takes, in place of what was promised before. Picked and placed pieces count."""
        return self.promise(build, allocation.counts)

    def promise(self, build: int, wanted: Mapping[str, int]) -> Holdings | HoldingsRefused:
        """The same by the names of the stock's lines."""
        held = self.held(build)
        mine: dict[str, Held] = {}
        for name in sorted({*wanted, *held}):
            old = held.get(name, _NONE)
            new = old._replace(reserved=max(0, wanted.get(name, 0) - old.out))
            if new.reserved > old.reserved:
                others = self.promised.get(name, 0) - old.reserved
                left = max(0, self.on_hand.get(name, 0) - others)
                if new.reserved > left:
                    return HoldingsRefused(f"{new.reserved} {name} wanted, {left} left to promise")
            if new.total:
                mine[name] = new
        return self._with(build, mine)

    def reserve_all(self, allocations: Mapping[int, Allocation]) -> Holdings | HoldingsRefused:
        """Promise each build what one plan gives it; what these builds were promised before is free for it first."""
        ledger = self
        for build in sorted(allocations):
            ledger = ledger.release(build)
        for build in sorted(allocations):
            promised = ledger.reserve(build, allocations[build])
            if isinstance(promised, HoldingsRefused):
                return promised
            ledger = promised
        return ledger

    def release(self, build: int) -> Holdings:
        """Drop all that is promised to a build and not yet picked: other builds may take it."""
        kept = {name: held._replace(reserved=0) for name, held in self.held(build).items() if held.out}
        return self._with(build, kept)

    def let_go(self, build: int, name: str, quantity: int) -> Holdings | HoldingsRefused:
        """Drop `quantity` pieces of one line that are promised to a build and not yet picked: others may take them."""
        held = self.held(build).get(name, _NONE)
        if not 0 < quantity <= held.reserved:
            return HoldingsRefused(f"build {build} has {held.reserved} {name} to give, {quantity} wanted")
        kept = {**self.held(build), name: held._replace(reserved=held.reserved - quantity)}
        return self._with(build, {name: one for name, one in kept.items() if one.total})

    def give_back_all(self, build: int, used_up: Container[str] = ()) -> Holdings:
        """Everything of a build lies in its place again, but for lines that are used up where they were put (nails,
        sawn timber): those are gone. Nothing stays promised to it."""
        on_hand = dict(self.on_hand)
        for name, held in self.held(build).items():
            on_hand[name] = on_hand.get(name, 0) + (0 if name in used_up else held.out)
        return self._with(build, {}, on_hand)

    def _with(self, build: int, held: dict[str, Held], on_hand: dict[str, int] | None = None) -> Holdings:
        """The ledger with all that `build` holds replaced."""
        old = self.builds.get(build, {})
        promised = dict(self.promised)
        for name in {*old, *held}:
            more = held.get(name, _NONE).reserved - old.get(name, _NONE).reserved
            if more:
                promised[name] = promised.get(name, 0) + more
                if not promised[name]:
                    del promised[name]
        builds = {**self.builds, build: held}
        if not held:
            del builds[build]
        lying = self.on_hand if on_hand is None else on_hand
        return Holdings.model_construct(on_hand=lying, builds=builds, promised=promised)  # of parts that were checked
