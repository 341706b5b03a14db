"""Shores that stand under a load: T, double T, laced post, vertical post. The insertion is the height of the void."""

from __future__ import annotations

from dataclasses import dataclass

from callout.shoring.draft import Draft
from callout.shoring.geometry import hypotenuse
from callout.shoring.loads import inches, older_rule, slenderness_check, timber
from callout.shoring.request import Work
from callout.shoring.rules import Book
from callout.values import Length

_SIX_FEET = Length.imperial(feet=6)


@dataclass(frozen=True)
class _Shape:
    """What differs between the standing shores. `posts` and `headers` are counts of one shore."""

    title: str
    header_key: str
    posts: int
    headers: int
    load_key: str | None


_SHAPES = {
    "t": _Shape("T shore", "t_header", 1, 1, "t_load"),
    "double_t": _Shape("double T shore", "double_t_header", 2, 1, "double_t_load_low"),
    "laced_post": _Shape("laced post shore", "laced_header", 4, 2, "laced_load"),
    "vertical_post": _Shape("vertical shore", "vertical_header_usual", 2, 1, None),
}


def upright(work: Work, book: Book) -> Draft:
    shape = _SHAPES[work.kind]
    draft = Draft(work, book, work.kind, shape.title)
    header = book.length(shape.header_key)
    posts = shape.posts
    if work.kind == "vertical_post":
        header = max(header, work.span)
        posts = _posts_under(header, book)
    post = work.insertion - book.length("post_deduct_4x4")
    draft.pair("insertion", exact=work.insertion)
    draft.pair("post", exact=post, rule=post)
    draft.pair("header", exact=header)
    draft.pair("sole", exact=header)
    draft.cut("post", "4x4", post, posts)
    draft.cut("header", "4x4", header, shape.headers)
    draft.cut("sole", "4x4", header, shape.headers)
    draft.piece("under the posts", "wedge pair", posts, variant="4x4")
    draft.piece("wedges", "nail", 2 * posts, variant="16d")
    draft.joint("behind each wedge pair, both sides", 2, "16d toenails")
    _fix(draft, work.kind, post, header, posts)
    _capacity(draft, work.kind, post, posts, shape.load_key)
    draft.say(post=post, header=header, posts=str(posts), void=work.insertion)
    draft.lifted = ("post", "header") if work.kind != "vertical_post" else ("header",)
    draft.lifts = shape.headers
    return draft


def _posts_under(header: Length, book: Book) -> int:
    between = header - book.length("vertical_overhang") * 2
    return max(2, -(-between.eightieths // book.length("vertical_post_spacing").eightieths) + 1)


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
    lace = pair_apart + Length.nearest(3.5)
    bays = middles + 1
    panel = Length(post.eightieths // bays)
    diagonal = hypotenuse(pair_apart, panel)
    draft.pair("lace", exact=lace)
    draft.pair("diagonal", exact=diagonal)
    draft.cut("lace", "2x6", lace, 2 * (bays + 1))
    draft.cut("diagonal", "2x6", diagonal, 2 * bays)
    nails = book.count("nails_brace_end")
    draft.piece("laces and diagonals", "nail", 2 * nails * (2 * (bays + 1) + 2 * bays), variant="16d")
    draft.joint("lace or diagonal, each end", nails, "16d nails")
    draft.place("frames", "apart, on centre", pair_apart)


def _vertical(draft: Draft, post: Length, header: Length, posts: int) -> None:
    book = draft.book
    overhang = book.length("vertical_overhang")
    between = Length((header - overhang * 2).eightieths // (posts - 1))
    diagonal = hypotenuse(header - overhang * 2, post)
    draft.pair("post_spacing", exact=between)
    draft.pair("diagonal", exact=diagonal)
    draft.cut("diagonal", "2x6", diagonal, 2)
    nails = book.count("nails_brace_end")
    draft.piece("diagonals", "nail", 2 * 2 * nails, variant="16d")
    draft.joint("diagonal, each end", nails, "16d nails")
    if post > _SIX_FEET:
        draft.cut("middle tie", "2x6", header, 1)
        draft.piece("middle tie", "nail", nails * posts, variant="16d")
    _gussets(draft, "top and bottom", 2 * posts, "12x12", book.count("nails_gusset"))
    draft.place("posts", f"on centre, the first {draft.text(overhang)} from the end of the header", between)


def _gussets(draft: Draft, where: str, count: int, variant: str, nails: int) -> None:
    draft.piece(f"{where} gussets", "gusset", count, variant=variant)
    draft.piece(f"{where} gussets", "nail", nails * count, variant="8d")
    draft.joint(f"{where} gusset, each", nails, "8d nails")


def _capacity(draft: Draft, kind: str, post: Length, posts: int, load_key: str | None) -> None:
    """The published figure of the system beside the column check of its posts; the load itself is not known."""
    book = draft.book
    wood = timber(draft, "4x4")
    length = inches(post)
    one = wood.capacity(length, book.number("load_duration_column"))
    slender = wood.slenderness(length)
    draft.figure("slenderness L/d of a post, not braced", slender, "1")
    slenderness_check(draft, slender, "4x4")
    many = "1 post" if posts == 1 else f"{posts} posts"
    draft.figure(f"column capacity of {many} 4x4 of {draft.text(post)}", one * posts, "lb", by="fc_4x4")
    older_rule(draft, "4x4", slender, posts)
    if kind == "double_t" and post > book.length("double_t_load_to"):
        load_key = None
        longest = draft.text(book.length("double_t_load_to"))
        draft.checks.append(f"no published load for posts over {longest}: ask the specialist")
    elif kind == "double_t" and post >= Length.imperial(feet=8):
        load_key = "double_t_load_high"
    if load_key is not None:
        published = book.rule(load_key).grade != "M"
        draft.quote("published load of the system" if published else "load of the system", load_key)
    draft.checks.append("the load above is not known here: compare it with the figures before relying on the shore")
