"""What a shore that stands under a load is taken to carry, part by part, and the timber that is enough for a load.

Each part's strength is given as the load on the whole shore at which it is used up; the least governs. Published loads
of whole systems are from tests with the load over the posts, so the header of such a system is not reckoned: it says
so. Never an approval.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

from callout.shoring.loads import inches, timber
from callout.shoring.mechanics import Spread, beam, between_posts, crushing, over_posts, strength_class
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.units import Quantity, q
from callout.values import Length
from callout.values.meaning import Kind

#: The shores that are built of either.
OF_POSTS: tuple[Kind, ...] = ("t", "double_t", "laced_post", "vertical_post", "cribbing")
SECTIONS = ("4x4", "6x6")
#: Deeper headers over 4x4 posts, the next larger first.
HEADERS = ("4x4", "4x6", "4x8", "4x10", "4x12")
CONTACTS = 4  # of a crib of two pieces a layer
MORE_POSTS = 3  # at most so many more than usual under one header, to carry a load
_EIGHT_FEET = Length.imperial(feet=8)
_POSTS = {"t": 1, "double_t": 2, "laced_post": 4, "window": 2, "door": 2, "horizontal": 2}
_FRAMES = {"laced_post": 2}


@dataclass(frozen=True)
class Strength:
    """`part` holds until `load` is on the shore; `by` is the rule whose strength or method that is."""

    part: str
    load: Quantity
    by: str
    note: str = ""


@dataclass(frozen=True)
class Carried:
    """All that was reckoned, and what could not be: (part, why). `published` is the rule of the whole system's load."""

    strengths: tuple[Strength, ...]
    open_questions: tuple[tuple[str, str], ...] = ()
    published: str | None = None

    @property
    def least(self) -> Strength:
        return min(self.strengths, key=lambda one: one.load)

    @property
    def columns(self) -> Quantity | None:
        return next((one.load for one in self.strengths if one.by.startswith("fc_4") or one.by == "fc_6x6"), None)


def header_of(work: Work) -> str:
    """The header's section: of the posts' own unless a load asks for a deeper one."""
    return work.header or work.post


def post_length(work: Work, book: Book, section: str) -> Length:
    """The void less header, sole and wedges."""
    deeper = depth(work.header, book) - depth(section, book) if work.header else Length(0)
    return work.insertion - book.length(f"post_deduct_{section}") - deeper


def depth(section: str, book: Book) -> Length:
    return Length.nearest(max(book.rule(f"dressed_{section}").value))


def width(section: str, book: Book) -> Length:
    return Length.nearest(min(book.rule(f"dressed_{section}").value))


def vertical_header(work: Work, book: Book) -> Length:
    return max(book.length("vertical_header_usual"), work.span)


def header_length(work: Work, book: Book) -> Length:
    if work.kind == "vertical_post":
        return vertical_header(work, book)
    if work.kind in ("window", "door"):
        return work.span - book.length("opening_clear")
    keys = {"t": "t_header", "double_t": "double_t_header", "laced_post": "laced_header"}
    return book.length(keys.get(work.kind, "horizontal_plate_usual"))


def usual_posts(work: Work, book: Book) -> int:
    if work.kind != "vertical_post":
        return _POSTS[work.kind]
    between = vertical_header(work, book) - book.length("vertical_overhang") * 2
    return max(2, -(-between.eightieths // book.length("vertical_post_spacing").eightieths) + 1)


def posts_of(work: Work, book: Book) -> int:
    return usual_posts(work, book) + work.more_posts


def published_load(work: Work, book: Book, section: str) -> str | None:
    """The rule that holds the load of the whole shore, where there is one for its section and height. Where two prints
    differ, the lesser."""
    if work.kind == "laced_post":
        return {"4x4": "laced_load", "6x6": "laced_load_6x6"}[section]
    if section != "4x4" or work.kind not in ("t", "double_t"):
        return None
    if work.kind == "t":
        return "t_load"
    post = post_length(work, book, section)
    if post > book.length("double_t_load_to"):
        return None
    either = ("double_t_load_low" if post < _EIGHT_FEET else "double_t_load_high", "double_t_load_least")
    return min(either, key=book.quantity)


def _past(work: Work, book: Book, section: str) -> Quantity:
    """From the end of the header to the middle of the outer post."""
    if work.kind == "vertical_post":
        return inches(book.length("vertical_overhang"))
    if work.kind == "horizontal":
        return inches(book.length("tie_setback"))
    out = book.length("laced_posts_out" if work.kind == "laced_post" else "double_t_posts_out")
    return (inches(header_length(work, book) - out) + inches(width(section, book))) / 2


def spread(work: Work, book: Book, section: str) -> Spread:
    """How a load spread evenly along one header bends it and reaches its posts."""
    seat, length = inches(width(section, book)), inches(header_length(work, book))
    if work.kind in ("window", "door"):
        return between_posts(length - 2 * seat, length, seat)
    posts = posts_of(work, book) // _FRAMES.get(work.kind, 1)
    past = length / 2 if posts == 1 else _past(work, book, section)
    return over_posts(length, posts, past, seat)


def carried(work: Work, book: Book, section: str | None = None) -> Carried:
    """What a standing shore, a crib, an opening or a horizontal shore is taken to carry."""
    section = section or work.post
    if work.kind == "cribbing":
        return _crib(book, section)
    frames = _FRAMES.get(work.kind, 1)
    along = spread(work, book, section)
    post = inches(_post(work, book, section))
    found, published = [], published_load(work, book, section)
    one = timber(book, section).capacity(post, book.number("load_duration_column"))
    graded = strength_class(section)
    words = "struts" if work.kind == "horizontal" else "posts"
    pressed = _pressed_from_outside(work, book, along.moment, frames)
    found.append(Strength(f"{words} as columns", frames * one / along.busiest, f"fc_{graded}"))
    seat, to_end = inches(width(section, book)), _to_end(work, book, section)
    header = header_of(work)
    weakest = min((header, section), key=lambda one: book.quantity(f"fc_across_{strength_class(one)}"))
    each = crushing(book, weakest, seat, seat, to_end)
    what = "struts on the wall plates" if work.kind == "horizontal" else "posts on header and sole"
    found.append(
        Strength(what, frames * each / along.busiest, f"fc_across_{strength_class(weakest)}",
                 "crushing across the grain")
    )  # fmt: skip
    if published is not None:
        found.append(Strength("the whole system, as published", book.quantity(published), published))
        over = "it holds if the load comes down over the posts; spread along it"
        along_it = ((one.part, f"{over} {work.writing.force(one.load)}") for one in _header(work, book, along, frames))
        return Carried(tuple(found), (*along_it, *pressed), published)
    found += _header(work, book, along, frames)
    return Carried(tuple(found), pressed)


def _pressed_from_outside(work: Work, book: Book, moment: Quantity, frames: int) -> tuple[tuple[str, str], ...]:
    """What nobody can reckon from here: the ground under a sole, the walls of a gap, and the sole that spreads the
    load. On a hard floor it does not bend at all."""
    if work.kind == "horizontal":
        return (("walls behind the plates", "what they bear is not known"),)
    section = "4x4" if work.kind in ("window", "door") else work.post
    evenly = q(frames * beam(book, section).moment.value / moment.value, "lb")
    bends = f"how the ground presses on it is not known; evenly, it carries {work.writing.force(evenly)}"
    return (("sole in bending", bends), ("ground or floor under the sole", "what it bears is not known"))


def _post(work: Work, book: Book, section: str) -> Length:
    if work.kind in ("window", "door"):
        return work.insertion - depth(header_of(work), book) - depth("4x4", book) - book.length("wedge_room")
    return post_length(work, book, section)


def _to_end(work: Work, book: Book, section: str) -> Quantity:
    """From the end of the header to the nearer face of the outer post."""
    if work.kind in ("window", "door"):
        return q(0, "in")
    length = inches(header_length(work, book))
    middle = length / 2 if posts_of(work, book) == 1 else _past(work, book, section)
    return middle - inches(width(section, book)) / 2


def _header(work: Work, book: Book, along: Spread, frames: int) -> Iterator[Strength]:
    """Bending, shear and sag of the header (of the wall plate of a horizontal shore) under a load spread along it."""
    section = header_of(work)
    strong, graded = beam(book, section), strength_class(section)
    name = "wall plate" if work.kind == "horizontal" else "header"
    bends = strong.moment.value / along.moment.value
    yield Strength(f"{name} in bending", q(frames * bends, "lb"), f"fb_{graded}", "the load spread along it")
    yield Strength(f"{name} in shear", strong.across * frames / along.shear, f"fv_{graded}")
    sags = along.span / book.number("header_sag_most") * (strong.stiffness * strong.inertia).value / along.sag.value
    yield Strength(f"sag of the {name}", q(frames * sags.value, "lb"), "header_sag_most")


def _crib(book: Book, section: str) -> Carried:
    contact = {"4x4": "crib_contact_load", "6x6": "crib_contact_load_6x6"}[section]
    side = inches(width(section, book))
    across = crushing(book, section, side, side, inches(book.length("crib_overhang")))
    return Carried(
        (
            Strength("contacts of the crib, as published", book.quantity(contact) * CONTACTS, contact),
            Strength("contacts across the grain", across * CONTACTS, f"fc_across_{section}"),
        ),
        (("ground under the crib", "its load spreads over the lowest pieces only"),),
        contact,
    )  # fmt: skip


def timbers_for(work: Work, book: Book, post: str | None) -> tuple[Work, str]:
    """The shore with the timber that carries its load, and why: the usual first, then a deeper header, more posts under
    a long header, 6x6. What nothing carries keeps the strongest, and is not enough. `post`: fixed to that section."""
    if work.load_lb is None:
        return work, "usual; 6x6 can be asked for, or the load said"
    load = q(work.load_lb, "lb")
    every = [one for one in _choices(work, book) if post is None or one.post == post]
    tried = every or [work]
    for choice in tried:
        if load <= carried(choice, book).least.load:
            return choice, f"the smallest that is taken to carry {work.writing.force(load)}"
    strongest = max(tried, key=lambda one: carried(one, book).least.load)
    return strongest, f"the strongest there is; it is not taken to carry {work.writing.force(load)}"


def _choices(work: Work, book: Book) -> Iterator[Work]:
    """Ways to build it, the least timber first."""
    of = partial(replace, work)
    if work.kind in ("window", "door"):
        first = HEADERS.index(work.header or "4x4")
        yield from (of(header=header) for header in HEADERS[first:])
    elif work.kind == "vertical_post":
        for section in SECTIONS:
            for more in range(MORE_POSTS + 1):
                for header in HEADERS if section == "4x4" else (None,):
                    deeper = None if header == section else header
                    yield of(post=section, header=deeper, more_posts=more)
    elif work.kind in OF_POSTS:
        yield from (of(post=one) for one in SECTIONS if two_layers(work, book, one))
    else:
        yield work


def two_layers(work: Work, book: Book, section: str) -> bool:
    """Whether a crib of that section fits into the void at all."""
    return work.kind != "cribbing" or work.insertion >= depth(section, book) * 2


def crib_tallest(book: Book) -> Length:
    """Three times the width between the contacts of the longest pieces."""
    width = book.length("crib_piece_most") - book.length("crib_overhang") * 2
    return width * book.count("crib_height_times_width")
