"""Shores that stand under a load: T, double T, laced post, vertical post. The insertion is the height of the void."""

from __future__ import annotations

from dataclasses import dataclass

from callout.shoring.draft import Draft
from callout.shoring.geometry import hypotenuse
from callout.shoring.loads import SHOCK, inches, older_rule, quote_shock, slenderness_check, timber
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.shoring.strengths import Carried, carried, depth, header_of, post_length, posts_of, vertical_header
from callout.shoring.units import Quantity, q
from callout.values import Length
from callout.values.meaning import Kind

_SIX_FEET = Length.imperial(feet=6)
#: Kinds on which a load may be said to come down (or to push).
WITH_LOAD: tuple[Kind, ...] = (
    "t", "double_t", "laced_post", "vertical_post", "cribbing", "horizontal", "window", "door"
)
_DIAGONALS = 2  # that act together: an X, or one on either side


@dataclass(frozen=True)
class _Shape:
    """What differs between the standing shores. `headers` is the count of one shore."""

    title: str
    header_key: str
    headers: int


_SHAPES = {
    "t": _Shape("T shore", "t_header", 1),
    "double_t": _Shape("double T shore", "double_t_header", 1),
    "laced_post": _Shape("laced post shore", "laced_header", 2),
    "vertical_post": _Shape("vertical shore", "vertical_header_usual", 1),
}


def upright(work: Work, book: Book) -> Draft:
    shape, section, header_section = _SHAPES[work.kind], work.post, header_of(work)
    draft = Draft(work, book, work.kind, shape.title if section == "4x4" else f"{shape.title} of {section}")
    header = vertical_header(work, book) if work.kind == "vertical_post" else book.length(shape.header_key)
    posts, post = posts_of(work, book), post_length(work, book, section)
    draft.pair("insertion", exact=work.insertion)
    draft.pair("post", exact=post, rule=post)
    draft.pair("header", exact=header)
    draft.pair("sole", exact=header)
    draft.pair("timber_depth", exact=depth(section, book))
    if work.header:
        draft.pair("header_depth", exact=depth(work.header, book))
    draft.cut("post", section, post, posts)
    draft.cut("header", header_section, header, shape.headers)
    draft.cut("sole", section, header, shape.headers)
    draft.wedges("under the posts", posts, section)
    draft.toenails(posts)
    _fix(draft, work.kind, post, header, posts)
    _capacity(draft, post, posts)
    draft.say(post=post, header=header, posts=str(posts), void=work.insertion, section=section)
    draft.lifted = ("post", "header") if work.kind != "vertical_post" else ("header",)
    draft.lifts = shape.headers
    return draft


def _fix(draft: Draft, kind: str, post: Length, header: Length, posts: int) -> None:
    if kind == "t":
        _gussets(draft, "top", 2, "12x12", draft.book.count("nails_gusset"))
        _gussets(draft, "bottom", 2, "half", draft.book.count("gusset_nails_half"))
        draft.place("post", "from the end of the header to the post's centre", Length(header.eightieths // 2))
    elif kind == "double_t":
        _double_t(draft, post)
    elif kind == "laced_post":
        _laced(draft, post)
    else:
        _vertical(draft, post, header, posts)


def _double_t(draft: Draft, post: Length) -> None:
    book = draft.book
    apart = book.length("double_t_posts_out")
    draft.pair("posts_out_to_out", exact=apart)
    top = book.count("gusset_nails_header") + 2 * book.count("gusset_nails_post")
    _gussets(draft, "top", 2, "12x24", top)
    if post > book.length("double_t_mid_gusset_over"):
        draft.say(middle="")
        _gussets(draft, "middle", 2, "12x24", 2 * book.count("gusset_nails_mid"))
    _gussets(draft, "bottom", 4, "half", book.count("gusset_nails_half"))
    draft.place("posts", "out to out, the header past each by a quarter of the rest", apart)


def _laced(draft: Draft, post: Length) -> None:
    """Two plywood-laced frames, tied to one another by 2x6 laces and diagonals."""
    book = draft.book
    apart, pair_apart = book.length("laced_posts_out"), book.length("laced_pair_apart")
    draft.pair("posts_out_to_out", exact=apart)
    draft.pair("frames_apart", exact=pair_apart)
    top = book.count("gusset_nails_header") + 2 * book.count("gusset_nails_post")
    _gussets(draft, "top", 4, "12x24", top)
    middles = 0
    if post > book.length("laced_mid_gusset_over"):
        middles = 2 if post > book.length("laced_two_mid_gussets_over") else 1
        _gussets(draft, "middle", 4 * middles, "24x24", 2 * book.count("gusset_nails_laced"))
    _gussets(draft, "bottom", 8, "half", book.count("gusset_nails_half"))
    lace = pair_apart + depth(draft.work.post, book)
    bays = middles + 1
    panel = Length(post.eightieths // bays)
    diagonal = hypotenuse(pair_apart, panel)
    draft.pair("lace", exact=lace)
    draft.pair("diagonal", exact=diagonal)
    draft.pair("diagonal_run", exact=pair_apart)
    lace = draft.cut("lace", "2x6", lace, 2 * (bays + 1), loose=True)
    diagonal = draft.cut("diagonal", "2x6", diagonal, 2 * bays, loose=True)
    nails = book.count("nails_brace_end")
    draft.piece("laces and diagonals", "nail", 2 * nails * (2 * (bays + 1) + 2 * bays), variant="16d")
    draft.joint("lace or diagonal, each end", nails, "16d nails")
    draft.place("frames", "apart, on centre", pair_apart)
    draft.say(lace=lace, lacing=diagonal)


def _vertical(draft: Draft, post: Length, header: Length, posts: int) -> None:
    book = draft.book
    overhang = book.length("vertical_overhang")
    between = Length((header - overhang * 2).eightieths // (posts - 1))
    diagonal = hypotenuse(header - overhang * 2, post)
    draft.pair("post_spacing", exact=between)
    draft.pair("diagonal", exact=diagonal)
    draft.pair("diagonal_run", exact=header - overhang * 2)
    draft.cut("diagonal", "2x6", diagonal, 2, loose=True)
    nails = book.count("nails_brace_end")
    draft.piece("diagonals", "nail", 2 * 2 * nails, variant="16d")
    draft.joint("diagonal, each end", nails, "16d nails")
    if post > _SIX_FEET:
        draft.cut("middle tie", "2x6", header, 1)
        draft.piece("middle tie", "nail", nails * posts, variant="16d")
        draft.joint("middle tie, each post", nails, "16d nails")
        draft.say(tie=header)
    _gussets(draft, "top and bottom", 2 * posts, "12x12", book.count("nails_gusset"))
    draft.place("posts", f"on centre, the first {draft.text(overhang)} from the end of the header", between)


def _gussets(draft: Draft, where: str, count: int, variant: str, nails: int) -> None:
    draft.piece(f"{where} gussets", "gusset", count, variant=variant)
    draft.piece(f"{where} gussets", "nail", nails * count, variant="8d")
    draft.joint(f"{where} gusset, each", nails, "8d nails")


def _capacity(draft: Draft, post: Length, posts: int) -> None:
    """The published figure of the system beside the column check of its posts."""
    book, work = draft.book, draft.work
    wood = timber(book, work.post)
    slender = wood.slenderness(inches(post))
    found = carried(work, book)
    draft.figure("slenderness L/d of a post, not braced", slender, "1")
    slenderness_check(draft, slender, work.post)
    assert found.columns is not None
    many = "1 post" if posts == 1 else f"{posts} posts"
    name = f"column capacity of {many} {work.post} of {draft.text(post)}"
    draft.figure(name, found.columns, "lb", by=f"fc_{work.post}")
    older_rule(draft, work.post, slender, posts)
    if found.published is not None:
        published = book.rule(found.published).grade != "M"
        draft.quote("published load of the system" if published else "load of the system", found.published)
    elif work.kind == "double_t" and work.post == "4x4":
        longest = draft.text(book.length("double_t_load_to"))
        draft.before_load.append(f"no published load for posts over {longest}: ask the specialist")
    elif work.kind != "vertical_post":
        draft.before_load.append(f"no published load for a {draft.title}: ask the specialist")
    against_load(draft, found)
    least = found.least.load
    _sideways(draft, least if work.load_lb is None else q(work.load_lb, "lb"))


def against_load(draft: Draft, found: Carried) -> None:
    """What comes down on the shore, where somebody said so, against each part that carries it; and what it carries."""
    least = found.least
    for one in found.strengths:
        if one.by not in ("fc_4x4", "fc_6x6") and one.part != "the whole system, as published":
            draft.figure(f"{one.part}: carries", one.load, "lb", one.note or "working estimate", one.by)
    draft.figure("the shore is taken to carry at most", least.load, "lb", f"governed by: {least.part}", least.by)
    if draft.work.load_lb is None:
        most = draft.work.writing.force(least.load)
        draft.not_checked("load on the shore", f"nobody said it; the shore is taken to carry {most} at most")
    else:
        for one in found.strengths:
            draft.check(one.part, q(draft.work.load_lb, "lb"), one.load, by=one.by, note=one.note)
    for part, why in found.open_questions:
        draft.not_checked(part, why)


def _sideways(draft: Draft, vertical: Quantity) -> None:
    """The sideways load to allow for where aftershocks are expected, and what is there to take it."""
    book, work = draft.book, draft.work
    share = book.number("horizontal_load_share")
    draft.quote("share of the vertical load to allow for sideways, with aftershocks", "horizontal_load_share")
    demand = vertical * share
    draft.figure("sideways load to allow for", demand, "lb", "of the load said, else of what the shore carries")
    asked = work.writing.force(demand)
    if "diagonal" not in draft.pairs:
        across = " across its plane" if work.kind == "double_t" else ""
        draft.before_load.append(f"nothing here takes {asked} sideways{across}: tie it to something sound")
        return
    length, run = draft.pairs["diagonal"].best, draft.pairs["diagonal_run"].best
    nails = book.count("nails_brace_end")
    holds = _DIAGONALS * nails * float(run.inches / length.inches) * book.quantity("nail_16d")
    holds = holds * book.number(SHOCK)
    quote_shock(draft)
    note = "plausibility only: two diagonals, the nails of one end each, no gussets"
    draft.figure("nails of the diagonals, sideways", holds, "lb", note, "nail_16d")
    if holds < demand:
        draft.before_load.append(f"the diagonals' nails alone do not take {asked} sideways: more ties must help")
