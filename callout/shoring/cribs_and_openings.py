"""Cribbing, horizontal shores, window and door shores. The insertion is the void, the gap, or the opening's height."""

from __future__ import annotations

from dataclasses import replace

from callout.shoring.draft import Draft
from callout.shoring.geometry import hypotenuse
from callout.shoring.loads import inches, slenderness_check, timber
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.strengths import CONTACTS, carried, crib_tallest, depth
from callout.shoring.units import many
from callout.shoring.uprights import against_load
from callout.values import Length

_LEAST_LAYERS = 2


def cribbing(work: Work, book: Book) -> Draft:
    """A two-member crib of 4x4 or 6x6: whole layers, wedges and shims for the rest."""
    section, layer = work.post, depth(work.post, book)
    draft = Draft(work, book, "cribbing", f"cribbing, two {section} a layer")
    layers, planks, rest = _layers(work.insertion, layer, book)
    overhang = book.length("crib_overhang")
    needed = Length(-(-work.insertion.eightieths // book.count("crib_height_times_width"))) + overhang * 2
    piece = max(book.length("crib_piece_least"), work.writing.whole(needed))
    draft.pair("insertion", exact=work.insertion)
    draft.pair("piece", exact=piece)
    draft.pair("rest", exact=rest)
    draft.pair("tallest", exact=crib_tallest(book))
    draft.pair("timber_depth", exact=layer)
    draft.cut("crib piece", section, piece, 2 * layers)
    if planks:
        draft.cut("packing", "2x6", piece, 2 * planks)
        draft.say(packing=many(planks, "layer"))
    takes = carried(work, book, section)
    draft.quote(f"one contact of {section}", str(takes.published))
    draft.figure(f"published load, {CONTACTS} contacts", takes.strengths[0].load, "lb")
    draft.quote("greatest height over width", "crib_height_times_width")
    draft.place("overhang", "past each crossing, at every corner", overhang)
    against_load(draft, takes)
    if rest < book.length("wedge_least"):
        thin = draft.text(rest) if rest else "nothing"
        draft.before_load.append(f"{thin} is left over the top layer, too thin for wedges: shim it with plywood")
        draft.piece("top of the crib", "sheet", 1)
    else:
        draft.piece("top of the crib", "wedge pair", CONTACTS, variant=section)
        draft.say(wedged="")
    draft.say(layers=str(layers), piece=piece, rest=rest, void=work.insertion)
    draft.lifted, draft.lifts = ("crib piece",), 2 * layers
    return draft


def _layers(void: Length, layer: Length, book: Book) -> tuple[int, int, Length]:
    """Whole layers, layers of planks over them, and what is left for wedges. The last layer gives way to planks where
    it would leave too little for wedges."""
    plank, least = Length.nearest(min(book.rule("dressed_2x6").value)), book.length("wedge_least")
    layers = void.eightieths // layer.eightieths
    rest = void - layer * layers
    if rest < least and layers > _LEAST_LAYERS:
        layers, rest = layers - 1, rest + layer
    planks = max(0, (rest - least).eightieths // plank.eightieths)
    return layers, planks, rest - plank * planks


def horizontal(work: Work, book: Book) -> Draft:
    """Between two walls: plates, two struts, wedges, diagonals. The insertion is the clear gap."""
    draft = Draft(work, book, "horizontal", "horizontal shore")
    plate = book.length("horizontal_plate_usual")
    strut = work.insertion - book.length("post_deduct_4x4")
    setback = book.length("tie_setback")
    draft.pair("insertion", exact=work.insertion)
    draft.pair("strut", exact=strut, rule=strut)
    draft.pair("wall_plate", exact=plate)
    diagonal = hypotenuse(plate - setback * 2, strut)
    draft.pair("diagonal", exact=diagonal)
    draft.pair("setback", exact=setback)
    draft.cut("wall plate", "4x4", plate, 2)
    draft.cut("strut", "4x4", strut, 2)
    draft.cut("diagonal", "2x6", diagonal, 2, loose=True)
    draft.wedges("ends of the struts", 2, "4x4")
    draft.piece("shims behind the wall plates", "wedge pair", 2 * 2, variant="2x4")
    draft.piece("strut gussets", "gusset", 8, variant="12x12")
    gusset, brace = book.count("nails_gusset"), book.count("nails_brace_end")
    draft.piece("strut gussets", "nail", 8 * gusset, variant="8d")
    draft.piece("diagonals", "nail", 4 * brace, variant="16d")
    draft.joint("strut gusset, each", gusset, "8d nails")
    draft.joint("diagonal, each end", brace, "16d nails")
    draft.place("struts", "from each end of the wall plates", setback)
    wood = timber(book, "4x4")
    slenderness_check(draft, wood.slenderness(inches(strut)), "4x4")
    capacity = wood.capacity(inches(strut), book.number("load_duration_column"))
    draft.figure(f"column capacity of one strut 4x4 of {draft.text(strut)}", capacity, "lb", by="fc_4x4")
    against_load(draft, carried(work, book))
    draft.say(strut=strut, plate=plate, gap=work.insertion)
    draft.lifted, draft.lifts = ("wall plate",), 2
    return draft


def usual_header(work: Work, book: Book) -> str:
    """By the width of the opening."""
    headers = {name: Length.nearest(most) for name, most in book.rule("opening_header").value.items()}
    section: str = next(name for name, most in headers.items() if work.span <= most)
    return section


def opening(work: Work, book: Book) -> Draft:
    """Window or door: header by the width, posts, sole, wedges at the bottom and one side; a window is braced too."""
    draft = Draft(work, book, work.kind, f"{work.kind} shore")
    clear = book.length("opening_clear")
    section = work.header or usual_header(work, book)
    high = depth(section, book)
    width = work.span - clear
    post = work.insertion - high - depth("4x4", book) - book.length("wedge_room")
    draft.pair("insertion", exact=work.insertion)
    draft.pair("span", exact=work.span)
    draft.pair("header", exact=width)
    draft.pair("header_depth", exact=high)
    draft.pair("post", exact=post)
    draft.pair("sole", exact=width)
    draft.cut("header", section, width)
    draft.cut("sole", "4x4", width)
    draft.cut("post", "4x4", post, 2)
    draft.wedges("under the posts and at one side", 4, "4x4")
    draft.toenails(2)
    gussets = 4 if work.kind == "door" else 8
    nails = book.count("gusset_nails_half")
    draft.piece("corner gussets", "gusset", gussets, variant="half")
    draft.piece("corner gussets", "nail", gussets * nails, variant="8d")
    draft.joint("corner gusset, each", nails, "8d nails")
    if work.kind == "window":
        diagonal = hypotenuse(width - depth("4x4", book) * 2, post)
        draft.pair("diagonal", exact=diagonal)
        draft.cut("diagonal", "2x6", diagonal, 2, loose=True)
        draft.piece("diagonals", "nail", 4 * book.count("nails_brace_end"), variant="16d")
        draft.joint("diagonal, each end", book.count("nails_brace_end"), "16d nails")
    else:
        draft.notes.append("no diagonals: people pass through a door shore; its corners are braced by the gussets")
    wood = timber(book, "4x4")
    slenderness_check(draft, wood.slenderness(inches(post)), "4x4")
    capacity = wood.capacity(inches(post), book.number("load_duration_column"))
    draft.figure(f"column capacity of two posts 4x4 of {draft.text(post)}", capacity * 2, "lb", by="fc_4x4")
    against_load(draft, carried(replace(work, header=section), book))
    draft.say(header=section, width=width, post=post)
    draft.lifted = ("header",)
    return draft
