"""Shores that stand: "build one is up" is asked and then booked; "take down build one" gives its pieces back."""

from __future__ import annotations

from callout.dialogue import builds, walking, wording
from callout.dialogue.events import Piece, PiecesMoved
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import Done, OpenBuild, Pending, on_hand
from callout.dialogue.turn import Turn
from callout.shoring.relocation import used_up
from callout.values import Command

#: More items than this are not booked by one word: nobody can check them in one breath.
MOST_BOOKED = 5


def heard_stands(turn: Turn, said: Command) -> None:
    """A claim: with a number that the build stands; without one, in the walk of the parts, that all is picked."""
    turn.give_up_waiting(aloud=True)
    build = walking.by_number(turn.now, said.build)
    number = wording.count(said.build or 0)
    if build is None and any(shore.number == said.build for shore in turn.now.standing.values()):
        turn.say("walking.stands_now", "refused", number=number)
    elif build is None:
        if said.build is None:
            walking.no_walk(turn)
        else:
            turn.say("walking.no_such_build", "refused", number=number)
    elif said.build is None and build.at.kind in ("item", "total") and build.open_lines:
        _ask_all_picked(turn, build)
    elif said.build is None and build.at.kind in ("item", "total"):
        walking.speak_next(turn, build)
    else:
        ask_stands(turn, build)


def _ask_all_picked(turn: Turn, build: OpenBuild) -> None:
    """What is not booked is named: nothing is booked that was not said."""
    if len(build.open_lines) > MOST_BOOKED:
        turn.say("walking.many_left", "refused", items=wording.counted(len(build.open_lines), "item"))
        walking.repeat(turn, build)
        return
    proposal = act(turn, "all_picked", build_id=build.build_id)
    read_back(turn, "confirming.all_picked", proposal, pieces=wording.pieces(_left(build)))


def _left(build: OpenBuild) -> list[tuple[str, int]]:
    return [(build.build.parts[line].name, build.left(line)) for line in build.open_lines]


def ask_stands(turn: Turn, build: OpenBuild, *, books: bool = False) -> None:
    """Read the claim back, with what is not booked and whether the checks were gone through. `books`: a few items that
    are left are booked with it."""
    number, left = wording.count(build.number), len(build.open_lines)
    books = books and 0 < left <= MOST_BOOKED
    proposal = act(turn, "stands", build_id=build.build_id, books=books)
    unchecked = wording.sentence("walking.unchecked") if _unchecked(build) else ""
    if not left:
        text = wording.sentence("confirming.stands", number=number, unchecked=unchecked)
    elif books:
        pieces = wording.pieces(_left(build))
        text = wording.sentence("confirming.stands_books", number=number, pieces=pieces, unchecked=unchecked)
    else:
        items = wording.counted(left, "item")
        text = wording.sentence("confirming.stands_without", number=number, items=items, unchecked=unchecked)
    read_back(turn, "plain.verbatim", proposal, text=" ".join(text.split()))


def _unchecked(build: OpenBuild) -> bool:
    return build.at.kind != "end" and any(card.kind == "check" for card in build.row)


def affirmed_stands(turn: Turn, confirmed: Pending) -> None:
    build = turn.now.open.get(confirmed.build_id or 0)
    if build is None:
        turn.say("walking.no_change", "refused")
        return
    if confirmed.shape.books:
        walking.book(turn, build, build.open_lines)
    walking.stands(turn, turn.now.open[build.build_id])


def affirmed_all_picked(turn: Turn, confirmed: Pending) -> None:
    build = turn.now.open.get(confirmed.build_id or 0)
    if build is None:
        turn.say("walking.no_change", "refused")
        return
    walking.book(turn, build, build.open_lines)
    walking.speak_next(turn, turn.now.open[build.build_id])


def heard_take_down(turn: Turn, said: Command) -> None:
    """Read back which standing shore comes down."""
    turn.give_up_waiting(aloud=True)
    shores = [shore for shore in turn.now.standing.values() if said.build in (None, shore.number)]
    if not shores:
        turn.say("relocating.none" if said.build is None else "walking.not_standing", "refused",
                 number=wording.count(said.build or 0))  # fmt: skip
        return
    shore = shores[-1]
    number = wording.count(shore.number)
    if any(build.relocates == shore.build_id for build in turn.now.open.values()):
        turn.say("relocating.moving", "refused", number=number)
        return
    back, _ = _comes_back(shore)
    pieces = wording.counted(sum(quantity for _, quantity in back), "piece")
    read_back(
        turn, "confirming.take_down", act(turn, "take_down", build_id=shore.build_id), number=number, pieces=pieces
    )


def affirmed_take_down(turn: Turn, confirmed: Pending) -> None:
    shore = turn.now.standing.get(confirmed.build_id or 0)
    if shore is None:
        turn.say("relocating.none", "refused")
        return
    back, gone = _comes_back(shore)
    turn.say(
        "walking.taken_down", "returned", to="both", build_id=shore.build_id, what=PiecesMoved(pieces=back, gone=gone),
        number=wording.count(shore.number), pieces=wording.counted(sum(quantity for _, quantity in back), "piece"),
    )  # fmt: skip


def _comes_back(shore: OpenBuild) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """What comes back of a shore, and what never does: nails, and what was sawn."""
    sawn = used_up(shore.build)
    back = tuple((name, quantity - sawn[name]) for name, quantity in shore.held.items() if quantity > sawn[name])
    gone = tuple((name, min(quantity, sawn[name])) for name, quantity in shore.held.items() if sawn[name])
    return back, gone


def undo_take_down(turn: Turn, done: Done) -> None:
    """ "Take down build one" was said too early: read back that it stands. Its pieces must all be there still."""
    shore = done.shore
    if shore is None:
        return
    number = wording.count(shore.number)
    back, _ = _comes_back(shore)
    lying = on_hand(turn.now)
    used = [(name, quantity - max(0, lying.get(name, 0))) for name, quantity in back]
    used = [(name, quantity) for name, quantity in used if quantity > 0]
    if any(build.number == shore.number for build in (*turn.now.open.values(), *turn.now.standing.values())):
        turn.say("walking.number_taken", "refused", number=number)
    elif used:
        turn.say("walking.pieces_used", "refused", number=number, pieces=wording.pieces(used))
    else:
        pieces = wording.counted(sum(shore.held.values()), "piece")
        proposal = act(turn, "undo", build_id=shore.build_id, undoes="taken_down")
        read_back(turn, "confirming.undo_take_down", proposal, number=number, pieces=pieces)


def not_taken_down(turn: Turn, done: Done) -> None:
    shore = done.shore
    if shore is None:
        return
    back, gone = _comes_back(shore)
    lying = on_hand(turn.now)
    if any(quantity > lying.get(name, 0) for name, quantity in back):
        turn.say("walking.no_change", "refused")
        return
    turn.say(
        "walking.placed", "placed", to="both", build_id=shore.build_id,
        what=PiecesMoved(pieces=back, gone=gone, again=True), number=wording.count(shore.number),
    )  # fmt: skip
    builds.stock_moved(turn)
