"""`Build`: all that a crew must carry, cut, fix, check and watch for one confirmed callout. A value, in stable order.

Its JSON is `build.model_dump(mode="json")`; a length is {"eightieths_mm", "text"}. Weights are pounds, forces pounds.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator

from callout.shoring.geometry import Pair
from callout.shoring.request import Chosen, Site
from callout.shoring.units import Grade, Writing
from callout.values import Callout, Length


class _Value(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Figure(_Value):
    """One calculated or quoted figure. `edition` of the source where one is known."""

    name: str
    value: float
    unit: str
    source: str
    edition: str = "-"
    grade: Grade = "D"
    note: str = "working estimate"


class Part(_Value):
    """One line of the parts list. `name` as in the stock; `use` the labels of the needs it fills."""

    item: int
    quantity: int
    part: str
    name: str
    length: Length | None = None
    variant: str | None = None
    use: str = ""
    where: str = ""
    weight_lb: float = 0.0  # of one piece
    stands_for: str | None = None  # what it substitutes


class Picking(_Value):
    """What to fetch from one place, by item number."""

    where: str
    items: tuple[int, ...]
    weight_lb: float


class Cut(_Value):
    """`quantity` pieces of a nominal `section` cut to `length`; `size` is the true section."""

    label: str
    section: str
    size: str
    quantity: int
    length: Length
    ends: str = "square"


class Nesting(_Value):
    """One timber from stock and what is cut from it, in order."""

    section: str
    name: str
    stock_length: Length
    where: str
    cuts: tuple[Length, ...]
    labels: tuple[str, ...]
    rest: Length


class Fastener(_Value):
    """How one joint is fixed."""

    joint: str
    quantity: int
    what: str


class Position(_Value):
    """Where something sits, in words, with the length that a tape reads (None: counted, not measured)."""

    name: str
    text: str
    at: Length | None = None


class Setting(_Value):
    """How one adjustable member is set. `setting`, `exact`, `closed` and `open` lie between the bearing faces, fittings
    included; `member` is what the tape reads on the member itself at the setting. The adjustable piece is pulled out to
    `lock`, its screw turned out by `screw_out`; `turn_in` and `turn_out` are left either way. Without pieces: None.

    A crew is given one figure to set, `to_set`, and what it is `measured` between."""

    label: str
    setting: Length
    exact: Length
    member: Length
    closed: Length | None = None
    open: Length | None = None
    turn_in: Length | None = None
    turn_out: Length | None = None
    lock: Length | None = None
    screw_out: Length | None = None
    pieces: tuple[str, ...] = ()
    extension_end: str | None = None

    @property
    def between_faces(self) -> bool:
        """A raker is set between its bearing faces, a brace or a tie on the member itself."""
        return self.label.startswith("raker")

    @property
    def to_set(self) -> Length:
        return self.setting if self.between_faces else self.member

    @property
    def measured(self) -> str:
        return "between the bearing faces" if self.between_faces else "on the member"


class EndCuts(_Value):
    """Angles of the raker's two end cuts, in degrees; the return cut of each point."""

    top_deg: float
    bottom_deg: float
    return_cut: Length | None = None
    note: str = ""


class Step(_Value):
    number: int
    who: str
    text: str


class Missing(_Value):
    """What the stock lacks, and for which need of this build."""

    part: str
    quantity: int
    length: Length | None = None
    need: str = ""
    name: str | None = None  # the line of the stock that would do
    text: str = ""


class Remedy(_Value):
    """A change that works, found by the solver. `callout` is the changed request, `site` the changed site, `relocates`
    the standing build whose pieces do it, whichever the change is; without any of these the same shore is built, from
    other pieces or with what is fetched (`fetch`). `costs` says what it costs."""

    text: str
    costs: str = ""
    callout: Callout | None = None
    site: Site | None = None
    relocates: int | None = None
    fetch: tuple[Missing, ...] = ()

    @property
    def on_paper(self) -> str:
        """With what it costs."""
        return f"{self.text} (cost: {self.costs})" if self.costs else self.text


class Check(_Value):
    """One part set against what comes on it. `share` is how much of its strength is used (over 1: not enough);
    a check that cannot be made has `checked` False, no share, and says why in `note`."""

    name: str
    checked: bool = True
    share: float | None = None
    demand: float | None = None
    strength: float | None = None
    unit: str = "lb"
    source: str = "-"
    edition: str = "-"
    grade: Grade = "D"
    note: str = ""

    @model_validator(mode="after")
    def _a_share_or_none(self) -> Check:
        if self.checked != (self.share is not None):
            raise ValueError("a check has a share, and one that was not made has none")
        return self


class Refused(_Value):
    """Why a shore must not be built: a kind, angle or size that does not exist together with the rest, or a part that
    is not strong enough and cannot be made so. `nearest` is the callout that can be built, `nearest_site` what has to
    be known otherwise of the place for it; `instead` says the change in a few words."""

    reason: str
    nearest: Callout | None = None
    nearest_site: Site | None = None
    instead: str = ""


class Build(_Value):
    """See the module. `possible` is False when `missing` or `refused` says why; `geometry` is there all the same. What
    is `refused` must never be built or released.

    Examples:
        >>> import callout
        >>> build = callout.plan("11 ft", 60)
        >>> build.title, build.possible, build.request.insertion.text
        ('pair of rakers of adjustable struts', True, '11 ft')
    """

    build_id: int
    title: str
    request: Callout
    site: Site = Site()
    chosen: tuple[Chosen, ...] = ()
    possible: bool = True
    refused: Refused | None = None
    geometry: dict[str, Pair] = {}
    end_cuts: EndCuts | None = None
    setting: tuple[Setting, ...] = ()
    parts: tuple[Part, ...] = ()
    pick_list: tuple[Picking, ...] = ()
    cuts: tuple[Cut, ...] = ()
    nesting: tuple[Nesting, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    positions: tuple[Position, ...] = ()
    steps: tuple[Step, ...] = ()
    tools: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()  # the part that governs first; those that were not checked last
    before_load: tuple[str, ...] = ()  # what somebody looks at before the shore takes load
    watch: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    loads: tuple[Figure, ...] = ()
    governs: str | None = None
    missing: tuple[Missing, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    sources: tuple[str, ...] = ()
    from_memory: tuple[str, ...] = ()  # figures of grade M that were used, in plain words
    notes: tuple[str, ...] = ()
    weight_lb: float = 0.0
    lift_people: int = 0

    @model_validator(mode="before")
    @classmethod
    def _written_before(cls, shape: Any) -> Any:
        """A build written when `checks` were words to be said: those are what is looked at before load."""
        if isinstance(shape, dict) and any(isinstance(one, str) for one in shape.get("checks", ())):
            return {**shape, "checks": (), "before_load": shape["checks"]}
        return shape

    def to_json(self) -> dict[str, Any]:
        """The published shape."""
        return self.model_dump(mode="json")


def not_enough(check: Check, writing: Writing) -> str:
    """ "header in bending: it carries 2,290 lb, and 25,000 lb would be on it"."""
    if check.unit == "lb" and check.strength is not None and check.demand is not None:
        carries, on_it = writing.figure(check.strength, "lb"), writing.figure(check.demand, "lb")
        return f"{check.name}: it carries {carries}, and {on_it} would be on it"
    note = f"; {check.note}" if check.note else ""
    note = f"; {check.note}" if check.note else ""
    return f"{check.name}: it would be loaded to {round((check.share or 0) * 100)} percent of its strength{note}"


def feasible(build: Build) -> str | None:
    """Why the build cannot be, in one short clause with the nearest that can; None if it can. To be said before anybody
    affirms: "insertion 11 ft is above the wall, which is 10 ft high; insertion 8 ft 6 in works"."""
    if build.refused is not None:
        works = f"; {build.refused.instead} works" if build.refused.instead else ""
        return f"{build.refused.reason}{works}"
    if not build.missing:
        return None
    short: dict[str, int] = {}
    for lack in build.missing:
        short[lack.part] = short.get(lack.part, 0) + lack.quantity
    said = [f"{count} {part if count == 1 else part + 's'}" for part, count in list(short.items())[:_KINDS_SAID]]
    more = ", and more," if len(short) > _KINDS_SAID else ""
    first = build.remedies[0] if build.remedies else None
    changed = first is not None and (first.callout or first.site)
    works = "" if first is None else f"; {first.text} works" if changed else f"; {first.text}"
    return f"the stock is {' and '.join(said)}{more} short{works}"


#: Kinds of part named when the stock is short: the rest is in the build.
_KINDS_SAID = 2
