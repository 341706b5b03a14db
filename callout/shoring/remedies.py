"""What a crew would do when the stock is short, each tried on the stock itself, the least trouble first; nothing is
guessed.

Make the thing from what is there (gussets from sheets, wedges from timber, a header of two, a long tie of two short
ones); fewer rakers now and the rest later; another angle; an insertion a few inches lower; fetch what is lacking;
timber instead of struts; posts of the other size; the pieces of a shore that stands already. Each says what it costs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from callout.shoring.allocation import CutNeed, Need, PieceNeed, SpanNeed
from callout.shoring.build import Missing, Remedy
from callout.shoring.changes import lower, other_angles, other_sole
from callout.shoring.draft import use_of
from callout.shoring.holdings import Holdings
from callout.shoring.request import Site, writing_of
from callout.shoring.strengths import OF_POSTS
from callout.shoring.units import Writing, named_by_size, so_many
from callout.values import Callout, Length

ENOUGH = 6  # remedies offered at most
FEW = 12  # pieces that somebody can be sent for
_SHEET = 96 * 48  # square inches
_LAP = Length.imperial(feet=2)  # of two short ties that serve as a long one
_WEDGE_BLANK = {"2x4": Length.imperial(inches=12), "4x4": Length.imperial(inches=18), "6x6": Length.imperial(inches=24)}
_LONG = ("tie", "lateral", "diagonal", "brace", "lace")
_SIDE_BY_SIDE = {"4x8": ("4x6", 2), "4x10": ("4x6", 3), "4x12": ("4x6", 5)}  # as much section modulus, or more
#: What the height or the angle changes: for anything else lower or steeper is no help.
_BY_SIZE = ("strut", "brace", "lateral", "diagonal", "extension", "coupler", "wall plate", "plate joint", "sheet")


@dataclass(frozen=True)
class Short:
    """A build that the stock cannot make: its request at its place, its needs and what lacks. `post`, `spacing`: see
    `Work`."""

    build_id: int
    request: Callout
    site: Site
    needs: tuple[Need, ...]
    missing: tuple[Missing, ...]
    post: str
    spacing: Length


@dataclass(frozen=True)
class Asking:
    """How a remedy is tried: `needs` gives what a changed request needs (None: there is no such shore), `can_make` says
    whether the stock holds that."""

    needs: Callable[[Callout, Site], Sequence[Need] | None]
    can_make: Callable[[Sequence[Need], Holdings], bool]
    used_up: Container[str] = ()
    any_left: Callable[[str], bool] = lambda part: True  # whether the stock has any of a part to give at all

    def works(self, request: Callout, site: Site, holdings: Holdings) -> bool:
        needs = self.needs(request, site)
        return needs is not None and self.can_make(needs, holdings)


def remedies(short: Short, holdings: Holdings, ask: Asking) -> tuple[Remedy, ...]:
    """At most ENOUGH, the least trouble first."""
    request, site = short.request, short.site

    def first(changes: Iterator[Remedy]) -> list[Remedy]:
        """The nearest of one sort of change that works, if any."""
        tried = ((change, change.callout or request, change.site or site) for change in changes)
        return next(([change] for change, asked, place in tried if ask.works(asked, place, holdings)), [])

    by_size = all(ask.any_left(need.family) for need in short.needs if isinstance(need, SpanNeed))
    by_size = by_size and any(lack.part in _BY_SIZE or "x" in lack.part for lack in short.missing)
    found = [
        *_make(short, holdings, ask),
        *first(_fewer_rakers(request)),
        *(first(_other_angles(request)) if by_size else ()),
        *(first(_lower(request, writing_of(request, site))) if by_size else ()),
        *_fetch(short.missing, writing_of(request, site)),
        *first(_other_material(request if site.force_lb is None else _spaced(request, short.spacing))),
        *first(_other_posts(request, site, short.post)),
        *_standing(short, holdings, ask),
    ]
    return tuple(found[:ENOUGH])


def _make(short: Short, holdings: Holdings, ask: Asking) -> list[Remedy]:
    """Everything that lacks, made from what is there: all of it, or it is no remedy."""
    needs: list[Need] = []
    said: dict[str, int] = {}
    costs: dict[str, None] = {}
    left = {(lack.need, lack.part): 0 for lack in short.missing}
    for lack in short.missing:
        left[lack.need, lack.part] += lack.quantity
    sections = {lack.part for lack in short.missing}
    for need in short.needs:
        kind = need.section if isinstance(need, CutNeed) else need.part if isinstance(need, PieceNeed) else need.family
        lacking = left.get((use_of(need.label), kind), 0)
        if isinstance(need, CutNeed):
            lacking = need.quantity if need.section in sections else 0
        made = _made(need, lacking) if lacking else None
        if made is None:
            needs.append(need)
            continue
        instead, what, cost = made
        needs += instead
        said[what] = said.get(what, 0) + lacking
        costs[cost] = None
    if not said or not ask.can_make(needs, holdings):
        return []
    text = "; ".join(what.replace("{n}", str(number)) for what, number in said.items())
    return [Remedy(text=text, costs=", ".join(costs))]


def _made(need: Need, lacking: int) -> tuple[list[Need], str, str] | None:
    """(what is needed instead, in words with {n} for how many, what it costs), or None where nothing makes it."""
    if isinstance(need, PieceNeed) and need.part == "gusset":
        wide, _, high = (need.variant or "12x12").partition("x")
        area = int(wide) * int(high) if wide.isdigit() and high.isdigit() else 72
        sheets = PieceNeed(f"{need.label}, from sheets", "sheet", math.ceil(lacking * area / _SHEET))
        return [*_rest(need, lacking), sheets], f"saw {{n}} gussets {need.variant} from sheets", "plywood, and time"
    if isinstance(need, PieceNeed) and need.part == "wedge pair" and need.variant in _WEDGE_BLANK:
        blank = CutNeed(f"{need.label}, sawn", need.variant, _WEDGE_BLANK[need.variant], lacking)
        return [*_rest(need, lacking), blank], f"saw {{n}} wedge pairs from {need.variant} timber", "time at the saw"
    if isinstance(need, CutNeed) and need.section in _SIDE_BY_SIDE and need.label == "header":
        section, many = _SIDE_BY_SIDE[need.section]
        instead: list[Need] = [CutNeed(need.label, section, need.length, need.quantity * many)]
        what = f"{many} pieces of {section} side by side, nailed together, instead of a {need.section}"
        return instead, what, "a wider header"
    if isinstance(need, CutNeed) and any(word in need.label for word in _LONG) and need.section in ("2x4", "2x6"):
        half = Length(need.length.eightieths // 2) + Length(_LAP.eightieths // 2)
        short = [CutNeed(need.label, need.section, half, need.quantity * 2)]
        return [*short], f"{{n}} long {need.section} made of two short ones each, lapped by 2 ft", "laps to nail"
    return None


def _rest(need: PieceNeed, lacking: int) -> list[Need]:
    """What the stock has of it."""
    return [replace(need, quantity=need.quantity - lacking)] if need.quantity > lacking else []


def _count(number: int, thing: str) -> str:
    head, of, rest = thing.partition(" of ")
    return f"{number} {thing}" if number == 1 else f"{number} {head}s{of}{rest}"


def _fetch(missing: Iterable[Missing], writing: Writing) -> list[Remedy]:
    """A few pieces that somebody can be sent for."""
    lacking = tuple(missing)
    wanted: dict[str, int] = {}
    for lack in lacking:
        name = lack.name or lack.part + (f" of {writing.length(lack.length)}" if lack.length is not None else "")
        wanted[name] = wanted.get(name, 0) + lack.quantity
    if not wanted or (sum(wanted.values()) > FEW and set(wanted) - {"16d nail", "8d nail"}):
        return []
    fetched = ", ".join((so_many if named_by_size(name) else _count)(number, name) for name, number in wanted.items())
    return [Remedy(text=f"fetch {fetched}", costs="the time to bring them", fetch=lacking)]


def _fewer_rakers(request: Callout) -> Iterator[Remedy]:
    """The first of a row now, the others when there is more: never less than a pair, the spacing as it was."""
    for rakers in range((request.rakers or 2) - 1, 1, -1):
        changed = request.model_copy(update={"rakers": rakers})
        later = (request.rakers or 2) - rakers
        text = f"{rakers} rakers first, {_count(later, 'raker')} more when there is more on hand"
        yield Remedy(text=text, callout=changed, costs="part of the wall waits")


def _other_angles(request: Callout) -> Iterator[Remedy]:
    for changed in other_angles(request):
        text = f"{changed.angle_deg} degrees instead of {request.angle_deg}"
        yield Remedy(text=text, callout=changed, costs="the heel stands elsewhere")


def _lower(request: Callout, writing: Writing) -> Iterator[Remedy]:
    for changed in lower(request, writing):
        assert request.insertion is not None
        assert changed.insertion is not None
        down = writing.length(request.insertion - changed.insertion)
        text = f"insertion {down} lower, at {writing.length(changed.insertion)}"
        yield Remedy(text=text, callout=changed, costs="farther below the floor line")


def _other_material(request: Callout) -> Iterator[Remedy]:
    for changed in other_sole(request):
        if request.sole is None:
            text, costs = f"timber rakers with a {changed.sole} sole instead of struts", "sawing and nailing"
        elif changed.sole is None:
            text, costs = "adjustable struts instead of timber", "struts that others may want"
        else:
            text, costs = f"a {changed.sole} sole instead of a {request.sole} one", "other cuts"
        yield Remedy(text=text, callout=changed, costs=costs)


def _spaced(request: Callout, spacing: Length) -> Callout:
    """A force that was given is of one raker at the spacing of this shore: in another material it keeps that."""
    return request.model_copy(update={"spacing": spacing})


def _other_posts(request: Callout, site: Site, post: str) -> Iterator[Remedy]:
    """`post` is what the build was planned with."""
    carried = site.load_lb is not None and post == "6x6"  # 4x4 would not carry what was said
    if request.kind in OF_POSTS and not carried:
        other = "6x6" if post == "4x4" else "4x4"
        thing = "pieces" if request.kind == "cribbing" else "posts"
        costs = "twice the weight" if other == "6x6" else "it carries less"
        text = f"{other} {thing} instead of {post}"
        yield Remedy(text=text, site=Site(**{**dict(site), "post": other}), costs=costs)


def _standing(short: Short, holdings: Holdings, ask: Asking) -> list[Remedy]:
    """One shore that stands already, with whose pieces this build was planned again and is whole."""
    for other in sorted(holdings.builds):
        held = holdings.builds[other]
        if other == short.build_id or not any(pieces.placed for pieces in held.values()):
            continue
        if ask.works(short.request, short.site, holdings.give_back_all(other, ask.used_up)):
            text = f"take down build {other}: planned again with its pieces this build is whole; first hold its wall"
            return [Remedy(text=f"{text} by other means", relocates=other, costs="that wall loses its shore")]
    return []
