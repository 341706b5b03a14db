"""Shores that stand: "build one is up" is asked and then booked; "take down build one" gives its pieces back."""

from __future__ import annotations

from callout.dialogue import builds, walking, wording
from callout.dialogue.acts import Acts, Cause, folded, said, said_once
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import Piece, PiecesMoved
from callout.dialogue.state import Conversation, Done, OpenBuild, Pending, on_hand
from callout.shoring.relocation import apart
from callout.values import Command

#: More items than this are not booked by one word: nobody can check them in one breath.
MOST_BOOKED = 5


def heard_stands(now: Conversation, cause: Cause, claim: Command) -> Acts:
    """A claim: with a number that the build stands; without one, in the walk of the parts, that all is picked."""
    build = walking.by_number(now, claim.build)
    if build is None and any(shore.number == claim.build for shore in now.standing.values()):
        return (said(cause, "walking.stands_now", "refused", number=wording.count(claim.build or 0)),)
    if build is None:
        return walking.no_list(now, cause) if claim.build is None else (walking.not_open(cause, claim.build),)
    if claim.build is None and build.at.kind in ("item", "total"):
        if not cause.walks:  # what is picked the yard alone can say
            return (said_once(cause, "walking.yard_only", "refused"),)
        return _all_picked(cause, build) if build.open_lines else (walking.next_card(cause, build),)
    return asked_whether_it_stands(cause, build)


def _all_picked(cause: Cause, build: OpenBuild) -> Acts:
    """What is not booked is named: nothing is booked that was not said."""
    if len(build.open_lines) > MOST_BOOKED:
        items = wording.counted(len(build.open_lines), "item")
        return (said(cause, "walking.many_left", "refused", items=items), walking.repeated(cause, build))
    proposal = proposed(cause, "all_picked", build_id=build.build_id)
    return (readback(cause, "confirming.all_picked", proposal, pieces=wording.pieces(_left(build))),)


def _left(build: OpenBuild) -> list[tuple[str, int]]:
    return [(build.build.parts[line].name, build.left(line)) for line in build.open_lines]


def asked_whether_it_stands(cause: Cause, build: OpenBuild, *, books: bool = False) -> Acts:
    """Read the claim back, with what is not booked and whether the checks were gone through. `books`: a few items that
    are left are booked with it."""
    number, left = wording.count(build.number), len(build.open_lines)
    books = books and 0 < left <= MOST_BOOKED
    proposal = proposed(cause, "stands", build_id=build.build_id, books=books)
    short, checks = wording.short_of(build.plan["missing"]), _unchecked(build)
    unchecked = f"{short} {wording.sentence('walking.unchecked') if checks else ''}"
    if not left:
        text = wording.sentence("confirming.stands", number=number, unchecked=unchecked)
    elif books:
        pieces = wording.pieces(_left(build))
        text = wording.sentence("confirming.stands_books", number=number, pieces=pieces, unchecked=unchecked)
    else:
        items = wording.counted(left, "item")
        text = wording.sentence("confirming.stands_without", number=number, items=items, unchecked=unchecked)
    return (readback(cause, "plain.verbatim", proposal, text=" ".join(text.split())),)


def _unchecked(build: OpenBuild) -> bool:
    return build.at.kind != "end" and any(card.kind == "check" for card in build.row)


def affirmed_stands(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    build = now.open.get(confirmed.build_id or 0)
    if build is None:
        return (said(cause, "walking.no_change", "refused"),)
    booked = walking.book(now, cause, build, build.open_lines) if confirmed.shape.books else ()
    after = folded(now, booked)
    return (*booked, *walking.stands(after, cause, after.open[build.build_id]))


def affirmed_all_picked(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    build = now.open.get(confirmed.build_id or 0)
    if build is None:
        return (said(cause, "walking.no_change", "refused"),)
    if not cause.walks:
        return (said_once(cause, "walking.yard_only", "refused"),)
    booked = walking.book(now, cause, build, build.open_lines)
    return (*booked, walking.next_card(cause, folded(now, booked).open[build.build_id]))


def heard_take_down(now: Conversation, cause: Cause, order: Command) -> Acts:
    """Read back which standing shore comes down."""
    shores = [shore for shore in now.standing.values() if order.build in (None, shore.number)]
    if not shores:
        key = "relocating.none" if order.build is None else "walking.not_standing"
        return (said(cause, key, "refused", number=wording.count(order.build or 0)),)
    shore = shores[-1]
    number = wording.count(shore.number)
    if any(build.relocates == shore.build_id for build in now.open.values()):
        return (said(cause, "relocating.moving", "refused", number=number),)
    back, _ = _comes_back(shore)
    pieces = wording.counted(sum(quantity for _, quantity in back), "piece")
    proposal = proposed(cause, "take_down", build_id=shore.build_id)
    return (readback(cause, "confirming.take_down", proposal, number=number, pieces=pieces),)


def affirmed_take_down(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    shore = now.standing.get(confirmed.build_id or 0)
    if shore is None:
        return (said(cause, "relocating.none", "refused"),)
    back, gone = _comes_back(shore)
    return (
        said(
            cause, "walking.taken_down", "returned", to="both", build_id=shore.build_id,
            what=PiecesMoved(pieces=back, gone=gone), number=wording.count(shore.number),
            pieces=wording.counted(sum(quantity for _, quantity in back), "piece"),
        ),
    )  # fmt: skip


def _comes_back(shore: OpenBuild) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """What comes back of a shore, and what never does: nails, and what was sawn."""
    back, gone = apart(shore.build, shore.held)
    return tuple(back.items()), tuple(gone.items())


def undo_take_down(now: Conversation, cause: Cause, done: Done) -> Acts:
    """ "Take down build one" was said too early: read back that it stands. Its pieces must all be there still."""
    shore = done.shore
    if shore is None:
        return ()
    number = wording.count(shore.number)
    back, _ = _comes_back(shore)
    lying = on_hand(now)
    used = [(name, quantity - max(0, lying.get(name, 0))) for name, quantity in back]
    used = [(name, quantity) for name, quantity in used if quantity > 0]
    if any(build.number == shore.number for build in (*now.open.values(), *now.standing.values())):
        return (said(cause, "walking.number_taken", "refused", number=number),)
    if used:
        return (said(cause, "walking.pieces_used", "refused", number=number, pieces=wording.pieces(used)),)
    pieces = wording.counted(sum(shore.held.values()), "piece")
    proposal = proposed(cause, "undo", build_id=shore.build_id, undoes="taken_down")
    return (readback(cause, "confirming.undo_take_down", proposal, number=number, pieces=pieces),)


def not_taken_down(now: Conversation, cause: Cause, done: Done) -> Acts:
    shore = done.shore
    if shore is None:
        return ()
    back, gone = _comes_back(shore)
    lying = on_hand(now)
    if any(quantity > lying.get(name, 0) for name, quantity in back):
        return (said(cause, "walking.no_change", "refused"),)
    again = said(
        cause, "walking.placed", "placed", to="both", build_id=shore.build_id,
        what=PiecesMoved(pieces=back, gone=gone, again=True), number=wording.count(shore.number),
    )  # fmt: skip
    return (again, *builds.after_a_count(folded(now, (again,)), cause))
