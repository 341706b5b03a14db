"""Which kinds, angles and sizes exist together in practice. A refusal names the nearest callout that does.

The callout itself stays understood: this is the planner's word, spoken with the readback.
"""

from __future__ import annotations

from callout.shoring.build import Refused
from callout.shoring.geometry import standard_angle
from callout.shoring.kinds import KINDS
from callout.shoring.kit import Kit
from callout.shoring.request import RAKERS, Site, heel_rise, settle, span_of, writing_of
from callout.shoring.rules import Book
from callout.shoring.strengths import OF_POSTS, crib_tallest, depth, width
from callout.shoring.units import Writing
from callout.values import Callout, Length
from callout.values.length import PER_INCH

_SIZES = {
    "wall_height": (Length.imperial(feet=1), Length.imperial(feet=200)),
    "wall_thickness": (Length.imperial(inches=1), Length.imperial(feet=10)),
    "wall_length": (Length.imperial(feet=1), Length.imperial(feet=120)),
    "span": (Length.imperial(inches=18), Length.imperial(feet=40)),
    "sole_thickness": (Length.imperial(inches=1), Length.imperial(inches=12)),
    "uneven": (Length.imperial(feet=-10), Length.imperial(feet=20)),
    "curb": (Length(0), Length.imperial(feet=4)),
    "curb_at": (Length(0), Length.imperial(feet=60)),
}
#: A row of more rakers is planned in parts.
MOST_IN_A_ROW = 20
_LEAST_HEIGHT = Length.imperial(feet=2)
_TWO_LAYERS = Length.imperial(inches=7)
_HIGHEST = Length.imperial(feet=40)


def refusal(request: Callout, site: Site, book: Book, kit: Kit | None = None) -> Refused | None:
    """Why `request` is not a shore that exists, with the nearest that is; None if it may be planned."""
    name, writing = KINDS[request.kind].name, writing_of(request, site)
    if request.insertion is None:
        return Refused(reason="insertion not said")
    if request.kind in RAKERS:
        if request.angle_deg is None and request.kind == "raker":
            return Refused(reason="angle not said")
        if site.post is not None or site.load_lb is not None:
            return Refused(reason=f"{name} is sized by its height and its wall, not by a post or a load")
        refused = _angle(request, name, book) or _row(request, book, writing)
        if refused:
            return refused
    else:
        if request.angle_deg not in (None, 90):
            return _no(request, f"{name} has no angle", angle_deg=None)
        if request.sole is not None:
            return _no(request, f"{name} has no raker's sole", sole=None)
        if refused := _posts(request, site, name, book):
            return refused
    return (
        _too_wide(request, site, name, book, writing)
        or _strange(request, site, writing) or _height(request, site, name, book, writing)
        or _off_the_wall(request, site, book, kit) or _off_the_ground(request, site, book, writing)
    )  # fmt: skip


def _posts(request: Callout, site: Site, name: str, book: Book) -> Refused | None:
    """A choice of post where there is none, or one that the void has no room for."""
    if site.post is None:
        return None
    if request.kind not in OF_POSTS:
        return Refused(reason=f"{name} has no choice of post")
    low = request.insertion is not None and request.insertion < depth(site.post, book) * 2
    return Refused(reason=f"two layers of {site.post} do not go into that void") if low else None


def _strange(request: Callout, site: Site, writing: Writing) -> Refused | None:
    """Sizes that nobody can mean: a slip of the tongue or of the finger."""
    for name in _SIZES:
        of = site if name in Site.model_fields else request
        size = span_of(request, site) if name == "span" else getattr(of, name)
        if size is not None and (reason := not_meant(name, size, writing)):
            return Refused(reason=reason)
    return None


def not_meant(name: str, size: Length, writing: Writing) -> str:
    """Why nobody can mean this size of `name` (a field of `Callout` or `Site`), "" where somebody can."""
    least, most = _SIZES.get(name, (size, size))
    if least <= size <= most:
        return ""
    said, low, high = (writing.length(one) for one in (size, least, most))
    return f"{name.replace('_', ' ')} {said} cannot be meant: say one from {low} to {high}"


def _no(request: Callout, reason: str, **change: object) -> Refused:
    return Refused(reason=reason, nearest=request.model_copy(update=change))


def _angle(request: Callout, name: str, book: Book) -> Refused | None:
    angle = request.angle_deg
    if angle is None:
        return None
    least, most = book.count("angle_least"), book.count("angle_most")
    standard = [int(known) for known in book.rule("angles_standard").value]
    timber = request.sole is not None or request.kind == "flying_raker"
    if request.kind == "flying_raker" and request.sole is not None:
        return _no(request, "a flying raker has no sole", sole=None)
    if timber and angle not in standard:
        what = f"{name} with {request.sole} sole" if request.sole else name
        nearest = min(standard, key=lambda known: (abs(known - angle), known))
        return _no(request, f"{what} is built at 45 or 60 degrees, not {angle}", angle_deg=nearest)
    if not least <= angle <= most:
        return _no(
            request, f"{name} is built from {least} to {most} degrees, not {angle}",
            angle_deg=max(least, min(most, angle)),
        )  # fmt: skip
    return None


def _row(request: Callout, book: Book, writing: Writing) -> Refused | None:
    most = book.length("spacing_most")
    if request.spacing is not None and request.spacing > most:
        return _no(request, f"rakers stand at no more than {writing.length(most)} on centre", spacing=most)
    least = book.length("spacing_least")
    if request.spacing is not None and request.spacing < least:
        return _no(request, f"rakers {writing.length(request.spacing)} apart cannot be braced", spacing=least)
    if request.rakers is not None and request.rakers < 1:
        return _no(request, "a shore needs a raker", rakers=2)
    if request.rakers is not None and request.rakers > MOST_IN_A_ROW:
        return _no(request, f"a row of over {MOST_IN_A_ROW} rakers is planned in parts", rakers=MOST_IN_A_ROW)
    return None


def _too_wide(request: Callout, site: Site, name: str, book: Book, writing: Writing) -> Refused | None:
    """An opening that no header spans, whoever said its width."""
    span = span_of(request, site)
    widest = max(Length.nearest(w) for w in book.rule("opening_header").value.values())
    if request.kind not in ("window", "door") or span is None or span <= widest:
        return None
    reason = f"{name} takes an opening of {writing.length(widest)} at most, not {writing.length(span)}"
    if request.span is not None:
        return _no(request, reason, span=widest)
    return Refused(reason=reason, nearest_site=site.model_copy(update={"span": widest}))


def _height(request: Callout, site: Site, name: str, book: Book, writing: Writing) -> Refused | None:
    height = request.insertion
    assert height is not None
    low = (site.sole_thickness or book.length("sole_thickness")) if request.sole == "solid" else Length(0)
    rise = height - max(Length(0), site.uneven or Length(0)) - low
    if request.kind != "cribbing" and rise < _LEAST_HEIGHT:
        raised = height + (_LEAST_HEIGHT - rise)
        return _no(request, f"{name} needs at least {writing.length(_LEAST_HEIGHT)} of height", insertion=raised)
    tallest = _HIGHEST
    if request.kind == "raker" and request.sole is not None:
        tallest = book.length("timber_6x6_insertion_most")
    elif request.kind == "cribbing":
        tallest = crib_tallest(book)
        if height < _TWO_LAYERS:
            return _no(request, f"cribbing needs two layers, {writing.length(_TWO_LAYERS)}", insertion=_TWO_LAYERS)
    elif (rule := KINDS[request.kind].tallest) is not None:
        tallest = book.length(rule)
    if height > tallest:
        most, asked = writing.length(tallest), writing.length(height)
        return _no(request, f"{name} is built to {most} at most, not {asked}", insertion=tallest)
    if request.lean is not None and abs(request.lean.eightieths) > book.number("lean_limit") * height.eightieths:
        return Refused(reason="the lean is over a tenth of the height: a structures specialist must design this shore")
    return None


def _off_the_wall(request: Callout, site: Site, book: Book, kit: Kit | None) -> Refused | None:
    """A raker above the wall, a plate past its top, a row longer than the wall."""
    if request.kind not in RAKERS or request.insertion is None:
        return None
    top, writing = request.wall_height, writing_of(request, site)
    if top is not None:
        high, over = writing.length(top), _above_insertion(request, book, kit)
        if request.insertion > top:
            said = writing.length(request.insertion)
            reason = f"insertion {said} is above the wall, which is {high} high"
            return _no(request, reason, insertion=_whole_inch(top - over))
        if request.insertion + over > top:
            reason = f"the wall plate needs {writing.length(over)} above the insertion, and the wall is {high} high"
            return _no(request, reason, insertion=_whole_inch(top - over))
    return _row_on_the_wall(request, site, book, kit)


def _above_insertion(request: Callout, book: Book, kit: Kit | None) -> Length:
    """How far a wall plate must reach above the insertion: its cleat, or what the struts' head asks for."""
    if request.sole is not None or request.kind == "flying_raker":
        return book.length(f"wall_cleat_{standard_angle(request.angle_deg or 45)}")
    return kit.plate_above if kit is not None else Length(0)


def _row_on_the_wall(request: Callout, site: Site, book: Book, kit: Kit | None) -> Refused | None:
    if site.wall_length is None:
        return None
    work, writing = settle(request, site, book, kit), writing_of(request, site)
    room = site.wall_length - width("4x4", book)
    if work.rakers < 2 or work.spacing * (work.rakers - 1) <= room:
        return None
    row = f"{work.rakers} rakers at {writing.length(work.spacing)} are longer than {writing.length(site.wall_length)}"
    step = Length.mm(50) if writing.metric else Length.imperial(inches=6)
    closer = Length(room.eightieths // (work.rakers - 1) // step.eightieths * step.eightieths)
    if closer >= book.length("spacing_least"):
        return _no(request, f"{row} of wall", spacing=closer, rakers=work.rakers)
    fits = 1 + room.eightieths // work.spacing.eightieths
    return _no(request, f"{row} of wall", rakers=fits)


def _off_the_ground(request: Callout, site: Site, book: Book, writing: Writing) -> Refused | None:
    """A solid sole bears all along: on a step or a slope its toe would stand in the air."""
    if request.sole != "solid" or request.insertion is None:
        return None
    rise = heel_rise(request, site)
    if abs(rise.eightieths) <= book.length("sole_level_within").eightieths:
        return None
    off = writing.length(Length(abs(rise.eightieths)))
    side = "higher" if rise > Length(0) else "lower"
    return _no(request, f"a solid sole needs level ground, and the heel is {off} {side} than the wall", sole="split")


def _whole_inch(length: Length) -> Length:
    return max(_LEAST_HEIGHT, length - Length(length.eightieths % PER_INCH))


def clear_zone(wall_height: Length, book: Book) -> Length:
    """How far out people are kept from a wall that stands free: its height and the rule's four feet."""
    return wall_height + book.length("clear_zone_beyond_height")
