"""The ledger of the stock: what lies on hand, and what each build has reserved, picked and placed.

Values only: every change gives a new ledger, or a `Refused` with the reason. No count is ever negative. `on_hand` is
what really lies in its place, the reserved pieces among it; picked and placed pieces are no longer there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

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
class Refused:
    """A change that the ledger does not allow, and why, in words to be said."""

    reason: str


class StockChange(BaseModel):
    """A count that a person gave: `set` to quantity, `add` quantity, or `out`: quantity are gone (None: all)."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    how: Literal["set", "add", "out"]
    name: str
    quantity: int | None = None


class Change(NamedTuple):
    """What separates a new plan from what a build holds: by line, pieces to fetch and pieces to put back."""

    fetch: dict[str, int]
    put_back: dict[str, int]


class Holdings(BaseModel):
    """Start one with `Holdings.of(stock)`; the stock file only seeds it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    on_hand: dict[str, int] = {}
    builds: dict[int, dict[str, Held]] = {}
    #: By line, how much is promised and not yet picked over all builds: a sum of `builds`, kept so that folds are fast.
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

    def free(self, name: str) -> int:
        """How many lie there and are promised to nobody (0 when more are promised than lie there)."""
        return max(0, self.on_hand.get(name, 0) - self.promised.get(name, 0))

    def overpromised(self) -> dict[str, tuple[int, ...]]:
        """Lines of which more is promised than lies there (a count was corrected), with the builds concerned."""
        found: dict[str, tuple[int, ...]] = {}
        for name in sorted({name for held in self.builds.values() for name in held}):
            if self.promised.get(name, 0) > self.on_hand.get(name, 0):
                found[name] = tuple(b for b, mine in sorted(self.builds.items()) if mine.get(name, _NONE).reserved)
        return found

    def difference(self, build: int, allocation: Allocation) -> Change:
        """What a new plan means for the crew: pieces beyond those already picked or placed, and those too many."""
        wanted, held = allocation.counts, self.held(build)
        fetch: dict[str, int] = {}
        put_back: dict[str, int] = {}
        for name in sorted({*wanted, *held}):
            over = wanted.get(name, 0) - held.get(name, _NONE).out
            if over > 0:
                fetch[name] = over
            elif over < 0:
                put_back[name] = -over
        return Change(fetch, put_back)

    def reserve(self, build: int, allocation: Allocation) -> Holdings | Refused:
        """Promise a build what its plan takes, in place of what was promised before. Picked and placed pieces count."""
        held = self.held(build)
        wanted = allocation.counts
        mine: dict[str, Held] = {}
        for name in sorted({*wanted, *held}):
            old = held.get(name, _NONE)
            new = old._replace(reserved=max(0, wanted.get(name, 0) - old.out))
            if new.reserved > old.reserved:
                others = self.promised.get(name, 0) - old.reserved
                left = max(0, self.on_hand.get(name, 0) - others)
                if new.reserved > left:
                    return Refused(f"only {left} of {name} left to promise, {new.reserved} wanted")
            if new.total:
                mine[name] = new
        return self._with(build, mine)

    def reserve_all(self, allocations: Mapping[int, Allocation]) -> Holdings | Refused:
        """Promise each build what one plan gives it; what these builds were promised before is free for it first."""
        ledger = self
        for build in sorted(allocations):
            ledger = ledger.release(build)
        for build in sorted(allocations):
            promised = ledger.reserve(build, allocations[build])
            if isinstance(promised, Refused):
                return promised
            ledger = promised
        return ledger

    def release(self, build: int) -> Holdings:
        """Drop all that is promised to a build and not yet picked (the build was voided)."""
        kept = {name: held._replace(reserved=0) for name, held in self.held(build).items() if held.out}
        return self._with(build, kept)

    def pick(self, build: int, name: str, quantity: int = 1) -> Holdings | Refused:
        """The crew took pieces from their place: promised ones first, else free ones."""
        old = self.held(build).get(name, _NONE)
        lying = self.on_hand.get(name, 0)
        if quantity < 1:
            return Refused("nothing to pick")
        from_promised = min(quantity, old.reserved)
        if quantity > lying or (quantity > from_promised and quantity - from_promised > self.free(name)):
            count = f"{lying} on hand, {old.reserved} its own"
            return Refused(f"{quantity} of {name} cannot be picked for build {build}: {count}")
        new = Held(old.reserved - from_promised, old.picked + quantity, old.placed)
        return self._moved(build, name, new, lying - quantity)

    def place(self, build: int, name: str, quantity: int = 1) -> Holdings | Refused:
        """Picked pieces now stand in the shore."""
        old = self.held(build).get(name, _NONE)
        if not 1 <= quantity <= old.picked:
            return Refused(f"{quantity} of {name} cannot be placed in build {build}: {old.picked} picked")
        new = Held(old.reserved, old.picked - quantity, old.placed + quantity)
        return self._moved(build, name, new)

    def give_back(
        self, build: int, name: str, quantity: int = 1, *, state: Literal["picked", "placed"] = "picked"
    ) -> Holdings | Refused:
        """Pieces picked, or taken down from a standing shore, lie in their place again and are free."""
        old = self.held(build).get(name, _NONE)
        has = old.picked if state == "picked" else old.placed
        if not 1 <= quantity <= has:
            return Refused(f"{quantity} of {name} cannot come back from build {build}: {has} {state}")
        left = (has - quantity, old.placed) if state == "picked" else (old.picked, has - quantity)
        new = Held(old.reserved, *left)
        return self._moved(build, name, new, self.on_hand.get(name, 0) + quantity)

    def place_all(self, build: int) -> Holdings:
        """All that a build has picked now stands in its shore."""
        held = self.held(build)
        return self._with(build, {n: Held(h.reserved, 0, h.picked + h.placed) for n, h in held.items()})

    def give_back_all(self, build: int) -> Holdings:
        """Everything of a build lies in its place again; nothing stays promised to it."""
        on_hand = dict(self.on_hand)
        for name, held in self.held(build).items():
            on_hand[name] = on_hand.get(name, 0) + held.out
        return self._with(build, {}, on_hand)

    def count(self, change: StockChange) -> Holdings | Refused:
        """A count given by a person. It may leave more promised than lies there: see `overpromised`."""
        lying = self.on_hand.get(change.name)
        if lying is None:
            return Refused(f"no {change.name} in the stock")
        quantity = change.quantity
        if quantity is not None and quantity < 0:
            return Refused("a count under zero")
        if change.how == "out":
            if quantity is not None and quantity > lying:
                return Refused(f"only {lying} of {change.name} on hand, {quantity} cannot go out")
            new = 0 if quantity is None else lying - quantity
        elif quantity is None:
            return Refused(f"how many of {change.name}?")
        else:
            new = quantity if change.how == "set" else lying + quantity
        on_hand = {**self.on_hand, change.name: new}
        return _ledger(on_hand, self.builds, self.promised)

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
        return _ledger(lying, builds, promised)

    def _moved(self, build: int, name: str, new: Held, lying: int | None = None) -> Holdings:
        """The ledger with what `build` holds of one line replaced, and the count that lies there if it changed."""
        old = self.builds.get(build, {})
        mine = {**old, name: new}
        if not new.total:
            del mine[name]
        builds = {**self.builds, build: mine}
        if not mine:
            del builds[build]
        promised, more = self.promised, new.reserved - old.get(name, _NONE).reserved
        if more:
            promised = {**promised, name: promised.get(name, 0) + more}
            if not promised[name]:
                del promised[name]
        on_hand = self.on_hand if lying is None else {**self.on_hand, name: lying}
        return _ledger(on_hand, builds, promised)


def _ledger(on_hand: dict[str, int], builds: dict[int, dict[str, Held]], promised: dict[str, int]) -> Holdings:
    """A ledger made of checked parts, at a third of the cost of `model_construct`: a journal folds over 100,000."""
    made = Holdings.__new__(Holdings)
    fields = {"on_hand": on_hand, "builds": builds, "promised": promised}
    object.__setattr__(made, "__dict__", fields)
    object.__setattr__(made, "__pydantic_fields_set__", _FIELDS)
    object.__setattr__(made, "__pydantic_extra__", None)
    object.__setattr__(made, "__pydantic_private__", None)
    return made


_FIELDS = {"on_hand", "builds"}
