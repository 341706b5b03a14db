"""What holds a timber or strut raker at its two ends: the anchors of its wall plate, its cut and nailed joints, the pad
under its heel.

Anchors: no print was found that gives what one holds in a damaged wall; it depends on the anchor and on the wall. The
value must come from a team, out of the anchor's own data; without one nothing is assumed and nothing called checked.

Joints of timber: NDS 3.10 and its nail values; the published patterns lean on tests, so this is a check beside them and
never proof of a rating. At the top the raker presses square on the wall plate and up on the wall cleat, at the bottom
down on the sole and out on the sole cleat. Cleats and gussets share; of a gusset's two sides the smaller group counts.
Nails hold more for ten minutes than for years: the whole load is set against the former, and what lasts of it against
the latter (NDS 2.3.2); the worse counts.

Pad: planks in crossed layers spread the load to what the ground bears. The bearing is presumptive (IBC); the usual pad
is from memory; that planks side by side share alike is our step. Each layer bends as a cantilever from the edge of
what stands on it (statics).
"""

from __future__ import annotations

import math

from callout.shoring.draft import Draft
from callout.shoring.loads import LASTING, SHOCK, Forces, inches, nail_strength, pad_side, quote_shock
from callout.shoring.mechanics import at_an_angle, crushing, strength_class
from callout.shoring.rules import Book
from callout.shoring.units import Quantity, q
from callout.values import Length

ANCHORS = "wall-plate anchors"
_APART = Length.imperial(feet=1)  # nearer than this, two anchors do not keep a plate from twisting
TOP, BOTTOM = "wall cleat and top gussets", "sole cleat and bottom gussets"
_NO_PROOF, _LASTS = "plausibility only, not proof of the rating", "of what lasts of the load"
_DURATION = (
    "nails hold more for the ten minutes of wind or an aftershock than for what lasts, a lean or a force that was "
    "given: each load is set against its own factor, and columns always against that of ten years (NDS 2.3.2)"
)
_GUSSETS = 2  # one on either side
_PLANK = "2x6"
PAD_BENDS = "bending of the pad's planks"
#: Of a strut whose tube nobody wrote down.
POINT = "the stock file does not give the strut's tube, so the strut is taken for a point"
_IN_WORDS = {2: "two", 4: "four"}


def place_anchors(draft: Draft, seat: Length, each_raker: int, where: str) -> None:
    """One anchor low, one higher, on a plate that carries the raker at `seat` up from its foot; more between them."""
    low = draft.book.length("anchor_low")
    high = seat - draft.book.length("anchor_high_below_insertion")
    if high - low < _APART:  # a short plate: a quarter of it from either end
        low, high = Length(seat.eightieths // 4), Length(seat.eightieths * 3 // 4)
    draft.place("lower anchor", where, low)
    draft.place("upper anchor", where, high)
    if each_raker > 2:
        draft.place("further anchors", f"{each_raker - 2} between them, one at least in every piece of the wall plate")


def plate_anchors(draft: Draft, uplift: Quantity, each_raker: int) -> None:
    """Put the anchors of all wall plates on the list, and set the uplift against what a team says that one holds.

    The anchors are taken to share the whole uplift alike (statics); friction, cleats and gussets are left out."""
    book, work = draft.book, draft.work
    kind = str(book.rule("anchor_by_wall").value[work.wall])
    draft.piece("wall plates", "anchor", each_raker * work.rakers, variant=kind)
    draft.say(anchors=str(each_raker))
    each = uplift / each_raker
    draft.figure(f"uplift on one wall-plate anchor, {each_raker} a raker", each, "lb", "as if the anchors took it all")
    key = f"anchor_allowable_{kind}"
    if not book.has(key):
        why = f"{work.writing.force(each)} of uplift each; your rules file may give it"
        draft.not_checked(ANCHORS, why)
        return
    draft.quote(f"allowable load of a {kind} anchor, as your rules file gives it", key)
    draft.check(ANCHORS, each, book.quantity(key), by=key)


def _along(book: Book, section: str) -> Quantity:
    """Bearing along the grain, Fc*."""
    graded = strength_class(section)
    factor = book.number(f"size_factor_{graded}") * book.number("load_duration_column")
    return book.quantity(f"fc_{graded}") * factor


def _at(book: Book, section: str, degrees: float) -> Quantity:
    return at_an_angle(_along(book, section), book.quantity(f"fc_across_{strength_class(section)}"), degrees)


def _gussets(book: Book, duration: str) -> Quantity:
    """Both gussets of one joint."""
    nails = min(book.count("nails_bottom_gusset"), book.count("nails_bottom_gusset_sole"))
    return nail_strength(book, _GUSSETS * nails, "nail_8d_gusset", duration)


def _nailed(draft: Draft, name: str, forces: Forces, load: Quantity, seat: Quantity, nails: int) -> None:
    """A cleat of so many nails at its seat, and the gussets, against `load`: whole, and as much of it as lasts."""
    book = draft.book

    def holds(duration: str) -> Quantity:
        return min(seat, nail_strength(book, nails, duration=duration)) + _gussets(book, duration)

    lasts = q(0, "1") if draft.lasting is None else draft.lasting / forces.thrust
    shock, lasting = (load, holds(SHOCK), _NO_PROOF), (load * lasts, holds(LASTING), f"{_NO_PROOF}; {_LASTS}")
    demand, strength, note = max(shock, lasting, key=lambda one: float(one[0] / one[1]))
    draft.check(name, demand, strength, by="nail_16d", note=note)


def top_joint(draft: Draft, forces: Forces, section: str, nails: int, top_cut: float) -> None:
    """The raker's top on the wall plate (`top_cut` degrees between them), and what keeps it from sliding up."""
    book = draft.book
    side, back = q(min(book.rule(f"dressed_{section}").value), "in"), inches(book.length("return_cut"))
    angle = math.radians(top_cut)
    face = side / max(math.cos(angle), 0.05) - back * math.tan(angle)
    across = f"fc_across_{strength_class(section)}"
    press = min(_at(book, section, top_cut), book.quantity(across))
    draft.check("raker on the wall plate", forces.thrust, press * side * face, by=across)
    seat = _at(book, section, 90 - top_cut) * side * back
    quote_shock(draft)
    draft.quote("load duration of columns, and of nails against what lasts", LASTING)
    draft.notes.append(_DURATION)
    draft.figure(f"wall cleat, {nails} nails 16d", nail_strength(book, nails), "lb", _NO_PROOF, "nail_16d")
    _nailed(draft, TOP, forces, forces.uplift, seat, nails)


def bottom_joint(draft: Draft, forces: Forces, section: str) -> None:
    """The heel on a solid sole, and the cleat and gussets that hold it in."""
    book, angle = draft.book, float(draft.work.angle)
    side, back = q(min(book.rule(f"dressed_{section}").value), "in"), inches(book.length("return_cut"))
    slope = math.radians(angle)
    face = side / math.sin(slope) - back / math.tan(slope)
    across = book.quantity(f"fc_across_{strength_class(section)}")
    press = min(_at(book, section, 90 - angle), across)
    draft.check("raker on the sole", forces.uplift, press * side * face, by=f"fc_across_{strength_class(section)}")
    seat = _at(book, section, angle) * side * back
    _nailed(draft, BOTTOM, forces, forces.thrust, seat, book.count("nails_sole_cleat"))


def trough_seat(draft: Draft, forces: Forces, section: str) -> None:
    """A raker cut square on the planks of its trough, across their grain."""
    book = draft.book
    side = q(min(book.rule(f"dressed_{section}").value), "in")
    draft.check(
        "raker on the trough", forces.axial, crushing(book, "2x6", side, side, q(0, "in")), by="fc_across_4x4"
    )


def bent_by_wall_and_ground(draft: Draft) -> None:
    """What nobody can reckon without knowing how wall, pickets and ground share. Called when all is cut."""
    draft.not_checked("wall plate in bending", "how the wall presses on it is not known")
    cut = {one.label for one in draft.cuts}
    if "sole anchor" in cut:
        draft.not_checked("sole anchor in bending", "how its pickets share is not known")
    if "sole plate" in cut:
        draft.not_checked("sole plate in bending", "how the ground beside the pad presses on it is not known")


def heel_pad(draft: Draft, load: Quantity, stands: Quantity, label: str = "heel pad") -> None:
    """Size the pad under each heel for `load`, and put it into the cut list, the nails, the steps and the checks.

    `load` acts square to the pad. `stands`: how wide what bears on the pad is. On pavement a heel needs no pad, unless
    it stands in a trough whose base it is: that lies square to the raker, in the ground, and the pavement is broken.
    """
    book, work = draft.book, draft.work
    paved = work.ground == "pavement"
    key = "bearing_pavement" if paved and label == "heel pad" else _bearing(work.soil)
    draft.quote("presumptive bearing of the ground", key)
    needed = pad_side(load, book.quantity(key))
    draft.figure("pad needed under the heel, square", needed, "in")
    if paved and label == "heel pad":
        least = draft.text(_whole(draft, needed))
        draft.say(pavement="")
        draft.before_load.append(f"the heel bears on {least} square or more of sound pavement: look for voids beneath")
        return
    if paved:
        draft.say(pavement="")
    usual, wide = book.length("pad_side"), q(max(book.rule(f"dressed_{_PLANK}").value), "in")
    side = max(usual, _whole(draft, needed))
    planks = max(book.count("pad_planks"), math.ceil(float(needed**2 / (wide * inches(side))) - 1e-9))
    bearing = planks * wide * inches(side) * book.quantity(key)
    draft.check("ground under the heel pad", load, bearing, by=key)
    layers = work.stronger.pad_layers
    note = "" if stands.value else POINT
    _bending(draft, load / (planks * wide * inches(side)), (inches(side) - stands) / 2, note)
    draft.pair("heel_pad", exact=side)
    each, pads = planks * layers, work.rakers
    draft.cut(label, _PLANK, side, each * pads)
    nails = book.count("pad_nails")
    draft.piece(f"{label}s", "nail", nails * each * pads, variant="16d")
    draft.joint(f"{label}, each plank", nails, "16d nails")
    size = f"{draft.text(side)} square, {_IN_WORDS[layers]} crossed layers of {planks} planks {_PLANK}"
    draft.place(label, f"{size}, its middle under the heel")
    draft.say(
        pad=size, pad_side=side, pad_layers=_IN_WORDS[layers], pad_planks=str(planks), spade="",
        heels="each trough base" if label == "trough base" else "each heel pad",
    )  # fmt: skip
    if side > usual:
        draft.before_load.append(f"the usual {draft.text(usual)} pad is too small: {draft.text(side)} square")


def _bending(draft: Draft, pressure: Quantity, out: Quantity, note: str) -> None:
    """A layer of planks that stands out by `out` over ground that presses up against it."""
    book = draft.book
    thick = q(min(book.rule(f"dressed_{_PLANK}").value), "in")
    along = draft.work.stronger.pad_layers // 2  # layers that run the same way share alike
    stress, strength = pressure * out**2 * 3 / thick**2 / along, book.quantity("plank_bending")
    draft.figure(PAD_BENDS, stress, "psi", "of the strength below; working estimate")
    draft.quote("bending strength of the planks, laid flat", "plank_bending")
    draft.check(PAD_BENDS, stress, strength, "psi", by="plank_bending", note=note)


def _whole(draft: Draft, side: Quantity) -> Length:
    return draft.work.writing.whole(Length.nearest(side.to("in")))


def _bearing(soil: str) -> str:
    """The table has no loam, which is part clay and silt: it takes the lowest value, that of clay and silt."""
    return {"sand": "bearing_sand", "gravel": "bearing_gravel"}.get(soil, "bearing_clay")
