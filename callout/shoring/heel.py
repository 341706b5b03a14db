"""What a raker's heel bears on: a pad of planks in crossed layers that spreads the load to what the ground bears.

The bearing is presumptive (IBC); the usual pad is from memory; that planks side by side share the load evenly is our
step. Each layer bends as a cantilever from the edge of what stands on the pad (statics).
"""

from __future__ import annotations

import math

from callout.shoring.draft import Draft
from callout.shoring.loads import inches, pad_side
from callout.shoring.quantity import Quantity, q
from callout.values import Length

_PLANK = "2x6"
PAD_BENDS = "bending of the pad's planks"
_IN_WORDS = {2: "two", 4: "four"}


def heel_pad(draft: Draft, load: Quantity, stands: Quantity, label: str = "heel pad") -> None:
    """Size the pad under each heel for `load`, and put it into the cut list, the nails, the steps and the checks.

    `load` acts square to the pad. `stands`: how wide what bears on the pad is. On pavement a heel needs no pad, unless
    it stands in a trough whose base it is.
    """
    book, work = draft.book, draft.work
    key = "bearing_pavement" if work.ground == "pavement" else _bearing(work.soil)
    draft.quote("presumptive bearing of the ground", key)
    needed = pad_side(load, book.quantity(key))
    draft.figure("pad needed under the heel, square", needed, "in")
    if work.ground == "pavement" and label == "heel pad":
        least = draft.text(_whole(draft, needed))
        draft.say(pavement="")
        draft.before_load.append(f"the heel bears on {least} square or more of sound pavement: look for voids beneath")
        return
    if work.ground == "pavement":
        draft.say(pavement="")
    usual, wide = book.length("pad_side"), q(max(book.rule(f"dressed_{_PLANK}").value), "in")
    side = max(usual, _whole(draft, needed))
    planks = max(book.count("pad_planks"), math.ceil(float(needed**2 / (wide * inches(side))) - 1e-9))
    bearing = planks * wide * inches(side) * book.quantity(key)
    draft.check("ground under the heel pad", load, bearing, by=key)
    layers = work.stronger.pad_layers
    _bending(draft, load / (planks * wide * inches(side)), (inches(side) - stands) / 2)
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


def _bending(draft: Draft, pressure: Quantity, out: Quantity) -> None:
    """A layer of planks that stands out by `out` over ground that presses up against it."""
    book = draft.book
    thick = q(min(book.rule(f"dressed_{_PLANK}").value), "in")
    along = draft.work.stronger.pad_layers // 2  # layers that run the same way share alike
    stress, strength = pressure * out**2 * 3 / thick**2 / along, book.quantity("plank_bending")
    draft.figure("bending of the pad's planks", stress, "psi", "of the strength below; working estimate")
    draft.quote("bending strength of the planks, laid flat", "plank_bending")
    draft.check(PAD_BENDS, stress, strength, "psi", by="plank_bending")


def _whole(draft: Draft, side: Quantity) -> Length:
    """Up to the next inch, or the next centimetre."""
    step = Length.mm(10) if draft.work.writing.metric else Length.imperial(inches=1)
    return Length.nearest(side.to("in")).round_up(step)


def _bearing(soil: str) -> str:
    """The table has no loam, which is part clay and silt: it takes the lowest value, that of clay and silt."""
    return {"sand": "bearing_sand", "gravel": "bearing_gravel"}.get(soil, "bearing_clay")
