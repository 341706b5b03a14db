"""Which timber a standing shore is built of, 4x4 or 6x6, and what such a shore is taken to carry. Never an approval."""

from __future__ import annotations

from typing import NamedTuple

from callout.shoring.loads import inches, timber
from callout.shoring.quantity import Quantity, q
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.values import Length
from callout.values.meaning import Kind

#: The shores that are built of either.
OF_POSTS: tuple[Kind, ...] = ("t", "double_t", "laced_post", "vertical_post", "cribbing")
SECTIONS = ("4x4", "6x6")
CONTACTS = 4  # of a crib of two pieces a layer
_EIGHT_FEET = Length.imperial(feet=8)
_POSTS = {"t": 1, "double_t": 2, "laced_post": 4}


def post_length(work: Work, book: Book, section: str) -> Length:
    """The void less header, sole and wedges."""
    return work.insertion - book.length(f"post_deduct_{section}")


def depth(section: str, book: Book) -> Length:
    return Length.nearest(max(book.rule(f"dressed_{section}").value))


def vertical_header(work: Work, book: Book) -> Length:
    return max(book.length("vertical_header_usual"), work.span)


def posts_of(work: Work, book: Book) -> int:
    if work.kind != "vertical_post":
        return _POSTS[work.kind]
    between = vertical_header(work, book) - book.length("vertical_overhang") * 2
    return max(2, -(-between.eightieths // book.length("vertical_post_spacing").eightieths) + 1)


def published_load(work: Work, book: Book, section: str) -> str | None:
    """The rule that holds the load of the whole shore, where there is one for its section and height."""
    if work.kind == "laced_post":
        return {"4x4": "laced_load", "6x6": "laced_load_6x6"}[section]
    if section != "4x4" or work.kind not in ("t", "double_t"):
        return None
    if work.kind == "t":
        return "t_load"
    post = post_length(work, book, section)
    if post > book.length("double_t_load_to"):
        return None
    return "double_t_load_low" if post < _EIGHT_FEET else "double_t_load_high"


class Carried(NamedTuple):
    """What a shore is taken to carry: `columns` by the column check of its posts, None for a crib; `load` at most."""

    key: str | None
    columns: Quantity | None
    load: Quantity


def carried(work: Work, book: Book, section: str) -> Carried:
    if work.kind == "cribbing":
        contact = {"4x4": "crib_contact_load", "6x6": "crib_contact_load_6x6"}[section]
        return Carried(contact, None, book.quantity(contact) * CONTACTS)
    post = inches(post_length(work, book, section))
    one = timber(book, section).capacity(post, book.number("load_duration_column"))
    columns, key = one * posts_of(work, book), published_load(work, book, section)
    if key is not None and book.quantity(key) < columns:
        return Carried(key, columns, book.quantity(key))
    return Carried(key, columns, columns)


def section_for(work: Work, book: Book) -> tuple[str, str]:
    """(section, why): the smallest that carries the load where that is known, else 4x4."""
    if work.load_lb is None:
        return SECTIONS[0], "usual; 6x6 can be asked for, or the load said"
    load, tried = q(work.load_lb, "lb"), [one for one in SECTIONS if two_layers(work, book, one)]
    for section in tried:
        if load <= carried(work, book, section).load:
            return section, f"the smallest that is taken to carry {work.writing.force(load)}"
    return tried[-1], f"the largest there is; it is not taken to carry {work.writing.force(load)}"


def two_layers(work: Work, book: Book, section: str) -> bool:
    """Whether a crib of that section fits into the void at all."""
    return work.kind != "cribbing" or work.insertion >= depth(section, book) * 2
