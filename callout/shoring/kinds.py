"""Every kind of shore as one row: what it is called, how high it is built, and who works it out.

A new `Kind` needs a row here and an order of work in `rules/procedures.toml`; a test names what is lacking.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from callout.shoring.cribs_and_openings import cribbing, horizontal, opening
from callout.shoring.draft import Draft
from callout.shoring.kit import Kit
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.strut_raker import strut_raker
from callout.shoring.timber_raker import timber_raker
from callout.shoring.uprights import upright
from callout.values.meaning import Kind

Drafts = Callable[[Work, Book], Draft]


@dataclass(frozen=True)
class KindOfShore:
    """`name` with its article. `tallest` is the rule that holds its greatest height, None where it depends on what it
    is made of. `of_struts` works it out where it is built of the kit's struts. `procedures`: its orders of work."""

    name: str
    of_timber: Drafts
    tallest: str | None = None
    of_struts: Callable[[Work, Book, Kit], Draft] | None = None
    procedures: tuple[str, ...] = ()


KINDS: dict[Kind, KindOfShore] = {
    "raker": KindOfShore(
        "a raker", timber_raker, of_struts=strut_raker, procedures=("strut_raker", "solid_raker", "split_raker")
    ),
    "flying_raker": KindOfShore("a flying raker", timber_raker, "flying_insertion_most", None, ("flying_raker",)),
    "t": KindOfShore("a T shore", upright, "t_height_most", None, ("t",)),
    "double_t": KindOfShore("a double T shore", upright, "double_t_height_most", None, ("double_t",)),
    "laced_post": KindOfShore("a laced post", upright, "laced_height_most", None, ("laced_post",)),
    "vertical_post": KindOfShore("a vertical post", upright, "vertical_height_most", None, ("vertical_post",)),
    "cribbing": KindOfShore("cribbing", cribbing, None, None, ("cribbing",)),
    "horizontal": KindOfShore("a horizontal shore", horizontal, "horizontal_span_most", None, ("horizontal",)),
    "window": KindOfShore("a window shore", opening, "opening_height_most", None, ("window",)),
    "door": KindOfShore("a door shore", opening, "opening_height_most", None, ("door",)),
}


def draft_of(work: Work, book: Book, kit: Kit | None) -> Draft:
    """What the shore needs and says. Only struts need the kit."""
    row = KINDS[work.kind]
    if work.made_of == "struts" and row.of_struts is not None:
        assert kit is not None, "a raker of struts needs the kit"
        return row.of_struts(work, book, kit)
    return row.of_timber(work, book)
