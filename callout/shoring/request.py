"""What is asked for: the callout as said, the site as far as it is known, and what the planner chose for the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from callout.shoring.geometry import base_exact
from callout.shoring.kit import Kit
from callout.shoring.rules import Book
from callout.shoring.units import Writing
from callout.values import Callout, Length
from callout.values.length import WrittenLength
from callout.values.meaning import Kind, Sole
from callout.values.sights import Ground, Soil, Wall

MadeOf = Literal["struts", "timber"]
Post = Literal["4x4", "6x6"]

RAKERS: tuple[Kind, ...] = ("raker", "flying_raker")


class Site(BaseModel):
    """What is known of the place beyond the callout. Unsaid parts are None and then chosen, or left out.

    `uneven`: how much higher (lower when negative) the ground is at the heel than at the wall. `curb`: a drop of that
    height, `curb_at` from the wall. `span`: the width of an opening, or of the gap that a horizontal shore fills.
    `units`: what the build is written in; None: as the callout was given. `post`: the timber of a shore of posts or of
    a crib. `load_lb`: what comes down on a standing shore, in pounds.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    sole_thickness: WrittenLength | None = None
    uneven: WrittenLength | None = None
    curb: WrittenLength | None = None
    curb_at: WrittenLength | None = None
    wall: Wall | None = None
    wall_length: WrittenLength | None = None
    soil: Soil | None = None
    span: WrittenLength | None = None
    timber_beside: bool | None = None
    units: Literal["feet", "metres"] | None = None
    post: Post | None = None
    load_lb: float | None = Field(default=None, gt=0, le=1_000_000, allow_inf_nan=False)
    force_lb: float | None = Field(default=None, gt=0, le=1_000_000, allow_inf_nan=False)
    force_by: str | None = Field(default=None, max_length=80)


class Chosen(BaseModel):
    """One part that nobody said, and why the planner took this value."""

    model_config = ConfigDict(frozen=True)

    part: str
    value: Length | int | str | bool
    why: str


@dataclass(frozen=True)
class Stronger:
    """What a timber raker gets beyond its usual pattern because a check asked for it."""

    mid_brace: bool = False  # with a middle tie, under the usual length
    six_by_six: bool = False
    pad_layers: int = 2
    cleat_nails: int = 0  # more in each wall cleat, which is longer for it
    anchors: int = 0  # more in each wall plate


@dataclass(frozen=True)
class Work:
    """A request with every part filled in. Heights are measured from the grade at the wall."""

    kind: Kind
    made_of: MadeOf
    sole: Sole | None
    insertion: Length
    angle: int  # degrees from level; 90 for shores that stand or lie without an angle
    rakers: int
    spacing: Length
    lean: Length
    heel_rise: Length
    sole_thickness: Length
    ground: Ground
    soil: Soil
    wall: Wall
    wall_height: Length | None
    wall_thickness: Length | None
    wall_length: Length | None
    span: Length
    timber_beside: bool
    post: str  # section of the posts of a standing shore
    load_lb: float | None
    force_lb: float | None
    force_by: str | None
    position: int | None
    for_whom: str | None
    writing: Writing
    chosen: tuple[Chosen, ...]
    header: str | None = None  # section of the header where it is not that of the posts
    more_posts: int = 0  # under the header, beyond the usual
    stronger: Stronger = Stronger()


def writing_of(request: Callout, site: Site) -> Writing:
    """As the site says; else metric as soon as one length was given that no sixteenth of an inch can say.

    A metric length that is also a whole sixteenth (5 in are 127 mm) does not show what it was given in."""
    if site.units is not None:
        return Writing(site.units == "metres")
    given = (*request.said.values(), *(getattr(site, name) for name in Site.model_fields))
    return Writing.of(one for one in given if isinstance(one, Length))


def span_of(request: Callout, site: Site) -> Length | None:
    """The width of the opening, or of the gap: as called, else as it is known of the place; None if nobody said it."""
    return request.span if request.span is not None else site.span


def settle(request: Callout, site: Site, book: Book, kit: Kit | None = None) -> Work:
    """Fill in what was not said, each with its reason. `request.insertion` must be said (ValueError). `kit`: whose own
    spacing a raker of struts takes."""
    if request.insertion is None:
        raise ValueError("a build needs an insertion")
    chosen: list[Chosen] = []
    writing = writing_of(request, site)

    def choose(part: str, value: Length | int | str | bool, why: str) -> None:
        chosen.append(Chosen(part=part, value=value, why=why))

    made_of: MadeOf = "struts" if request.kind == "raker" and request.sole is None else "timber"
    if request.kind == "raker" and request.sole is None:
        choose("made_of", made_of, "no sole said: adjustable struts")
    angle = request.angle_deg or (45 if request.kind == "flying_raker" else 90)
    if request.kind == "flying_raker" and request.angle_deg is None:
        choose("angle_deg", angle, "usual for a flying raker")
    spacing = request.spacing
    if spacing is None:
        spacing = book.length("timber_spacing")
        own = kit if made_of == "struts" else None
        given = None if own is None else (writing.metric and own.spacing_metric) or own.spacing
        if given:
            spacing = given
        if request.kind in RAKERS:
            choose("spacing", spacing, "of this kit, on centre" if given else "usual on centre")
    rakers = request.rakers
    if request.kind not in RAKERS:
        rakers = rakers or 1
    elif rakers is None:
        rakers, why = _row(site.wall_length, spacing, book, writing)
        if request.kind == "flying_raker" and site.wall_length is None:
            rakers, why = 1, "a flying raker is set alone, for a short time"
        choose("rakers", rakers, why)
    ground: Ground = request.ground or "soil"
    if request.ground is None and request.kind in RAKERS:
        choose("ground", ground, "not said: soil needs more, so it is the safe guess")
    soil: Soil = site.soil or "loam"
    if site.soil is None and ground == "soil" and request.kind in RAKERS:
        choose("soil", soil, "not said: undisturbed loam; look at it")
    wall: Wall = site.wall or "brick"
    if site.wall is None and request.kind in RAKERS:
        choose("wall", wall, "not said: the anchors follow the wall, so look at it")
    said_span = span_of(request, site)
    span = said_span if said_span is not None else Length.mm(900) if writing.metric else Length.imperial(feet=3)
    if said_span is None and request.kind in ("window", "door"):
        choose("span", span, "width of the opening not said")
    sole_thickness = Length(0)
    if request.sole == "solid":
        sole_thickness = site.sole_thickness or book.length("sole_thickness")
        if site.sole_thickness is None:
            choose("sole_thickness", sole_thickness, "a 4x sole")
    beside = site.timber_beside if site.timber_beside is not None else False
    if site.timber_beside is None and made_of == "struts":
        choose("timber_beside", beside, "no timber rakers said to stand beside")
    return Work(
        kind=request.kind, made_of=made_of, sole=request.sole, insertion=request.insertion, angle=angle,
        rakers=rakers, spacing=spacing, lean=request.lean or Length(0), heel_rise=heel_rise(request, site),
        sole_thickness=sole_thickness, ground=ground, soil=soil, wall=wall, wall_height=request.wall_height,
        wall_thickness=request.wall_thickness, wall_length=site.wall_length, span=span, timber_beside=beside,
        post=site.post or "4x4", load_lb=site.load_lb, force_lb=site.force_lb,
        force_by=site.force_by, position=request.position, for_whom=request.for_whom,
        writing=writing, chosen=tuple(chosen),
    )  # fmt: skip


def _row(wall_length: Length | None, spacing: Length, book: Book, writing: Writing) -> tuple[int, str]:
    """How many rakers a wall takes: an end raker within half a spacing of the end (our convention, not published)."""
    least = book.count("rakers_least")
    if wall_length is None:
        return least, "a braced pair is the least"
    why = f"for {writing.length(wall_length)} of wall at {writing.length(spacing)}"
    return max(least, -(-wall_length.eightieths // spacing.eightieths)), why


def heel_rise(request: Callout, site: Site) -> Length:
    """Height of the ground at the heel above the grade at the wall: unevenness, less a curb that the base passes."""
    rise = site.uneven or Length(0)
    if site.curb is None:
        return rise
    if site.curb_at is not None and request.angle_deg and request.insertion:
        reach = base_exact(request.insertion - rise, request.angle_deg) + (request.lean or Length(0))
        if reach <= site.curb_at:
            return rise
    return rise - site.curb
