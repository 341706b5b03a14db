"""What the crew has not got: "short" plans again on the spot with what is left, "substitute" proposes another piece."""

from __future__ import annotations

from callout.dialogue import builds, walking, wording
from callout.dialogue.events import CountChange, PiecesMoved, StockChanged, WasVoided
from callout.dialogue.readback import act, busy, read_back
from callout.dialogue.state import Done, OpenBuild, Pending, on_hand
from callout.dialogue.stock_lines import ask_which, matching
from callout.dialogue.turn import Turn
from callout.values import Command

#: Readbacks of the walk: another word of the walk takes their place.
OF_THE_WALK = ("short", "substitute", "lost", "stands", "all_picked")


def _line(turn: Turn, build: OpenBuild, said: Command) -> int | None:
    """The parts line that is meant: the one named, or the one at the cursor. None after saying why not."""
    if said.part is not None:
        names = {line.name for line in matching(turn.now, said.part, said.length)}
        for index, line in enumerate(build.build.parts):
            if line.name in names and build.left(index):
                return index
        named, number = wording.named_part(said.part, said.length), wording.count(build.number)
        turn.say("walking.not_listed", "refused", part=named, number=number)
        return None
    if said.item is not None and 1 <= said.item <= len(build.got):
        return said.item - 1
    if build.at.kind == "item":
        return build.at.index
    turn.say("walking.needs_item", "refused")
    return None


def short(turn: Turn, build: OpenBuild, said: Command) -> None:
    """The crew has not got a part, or `quantity` pieces of it. Unsure words are read back first."""
    index = _line(turn, build, said)
    if index is None:
        return
    lacking = min(said.quantity or build.left(index), build.left(index))
    if not lacking:
        turn.say("walking.not_short", "refused", item=wording.count(index + 1))
    elif turn.sure:
        _short(turn, build, index, lacking)
    elif not busy(turn, *OF_THE_WALK):
        turn.give_up_waiting()
        read_back(
            turn, "confirming.short", act(turn, "short", build_id=build.build_id, line=index, quantity=lacking),
            part=wording.part(build.build.parts[index], lacking),
        )  # fmt: skip


def affirmed_short(turn: Turn, confirmed: Pending) -> None:
    build, line = turn.now.open.get(confirmed.build_id or 0), confirmed.shape.line or 0
    if build is None or line >= len(build.got) or not build.left(line):
        turn.say("walking.needs_item", "refused")
    else:
        _short(turn, build, line, min(confirmed.shape.quantity or 0, build.left(line)))


def _short(turn: Turn, build: OpenBuild, index: int, lacking: int) -> None:
    """What was looked for and not found is not there: the count becomes what was found."""
    name = build.build.parts[index].name
    lying = on_hand(turn.now)[name]
    found = max(0, min(lying, build.left(index) - lacking))
    if found != lying:
        text = wording.sentence("stock.found", pieces=wording.pieces([(name, found)]))
        turn.write(
            "stock_changed", text, build_id=build.build_id,
            what=StockChanged(changes=(CountChange(item=name, delta=found - lying, quantity=found),)),
        )  # fmt: skip
    if not builds.replan(turn, build):
        turn.say("walking.still_short", to="yard", build_id=build.build_id, missing=wording.lines(name, 2))
    builds.stock_moved(turn)
    walking.speak_next(turn, turn.now.open[build.build_id])


def lost(turn: Turn, said: Command) -> None:
    """ "One is broken": one piece less in the stock, and one short in the walk, of the item at the cursor or of what
    was named. Said for sure at the cursor it counts at once, like "short"; else it is read back."""
    turn.give_up_waiting(aloud=True)
    build, quantity = turn.now.walked, said.quantity or 1
    at_item = said.part is None and build is not None and build.at.kind == "item"
    if said.part is None and not at_item:
        turn.say("walking.needs_item", "refused")
        return
    if at_item and build is not None:
        name = build.build.parts[build.at.index].name
    else:
        named = matching(turn.now, said.part or "", said.length)
        if len(named) != 1:
            if named:
                ask_which(turn, wording.named_part(said.part or "", None), named)
            else:
                turn.say("stock.unknown", "refused", part=wording.named_part(said.part or "", said.length))
            return
        name = named[0].name
    if at_item and turn.sure:
        _lose(turn, name, quantity)
    else:
        read_back(
            turn, "confirming.lost", act(turn, "lost", item=name, quantity=quantity),
            pieces=wording.pieces([(name, quantity)]),
        )  # fmt: skip


def affirmed_lost(turn: Turn, confirmed: Pending) -> None:
    _lose(turn, confirmed.shape.item or "", confirmed.shape.quantity or 1)


def _lose(turn: Turn, name: str, quantity: int) -> None:
    """A broken piece is in nobody's hands any more: it comes off what lies there, and before that off what the crew in
    the walk holds of it."""
    build = turn.now.walked
    holds = [i for i, line in enumerate(build.build.parts) if line.name == name and build.got[i]] if build else []
    if build is not None and holds and (build.at.kind != "item" or build.at.index in holds):
        line = build.at.index if build.at.index in holds else holds[0]
        held = min(quantity, build.got[line], build.fetched.get(name, 0))
        if held:
            moved = PiecesMoved(line=line, pieces=((name, held),))
            turn.write("returned", speaker=turn.speaker, build_id=build.build_id, what=moved)
    lying = on_hand(turn.now).get(name, 0)
    gone = min(quantity, max(0, lying))
    if not gone:
        turn.say("stock.none_there", "refused", part=wording.lines(name, 2))
        return
    build_id = None if build is None else build.build_id
    turn.say(
        "stock.lost", "stock_changed", to="yard", build_id=build_id,
        what=StockChanged(changes=(CountChange(item=name, delta=-gone, quantity=lying - gone),)),
        pieces=wording.pieces([(name, gone)]), left=wording.pieces_on_hand([(name, lying - gone)]),
    )  # fmt: skip
    if build is not None:
        builds.replan(turn, build)
    builds.stock_moved(turn)
    if build is not None and build.begun:
        walking.speak_next(turn, turn.now.open[build.build_id])


def substitute(turn: Turn, build: OpenBuild, said: Command) -> None:
    """Propose the build without this piece; the answer to the readback decides."""
    index = _line(turn, build, said)
    if index is None or busy(turn, *OF_THE_WALK):
        return
    name = build.build.parts[index].name
    other = builds.plan(turn.now, build.build_id, build.request, (*build.without, name))
    if other.missing or other.refused or other.parts == build.build.parts:
        turn.say("walking.no_substitute", "refused", build_id=build.build_id, part=wording.lines(name, 2))
        return
    turn.give_up_waiting()
    read_back(
        turn, "confirming.substitute", act(turn, "substitute", build_id=build.build_id, item=name),
        number=wording.count(build.number), part=wording.lines(name, 2),
        difference=walking.difference_text(turn.now, build, other.to_json()),
    )  # fmt: skip


def affirmed_substitute(turn: Turn, confirmed: Pending) -> None:
    build = turn.now.open.get(confirmed.build_id or 0)
    if build is None or not builds.replan(turn, build, (confirmed.shape.item or "",)):
        turn.say("walking.no_change", "refused")
        return
    walking.speak_next(turn, turn.now.open[build.build_id])


def undo_substitute(turn: Turn, done: Done) -> None:
    """Read back the build with the piece that it was to do without."""
    build, name = turn.now.open.get(done.build_id or 0), done.item or ""
    if build is None:
        turn.say_once("walking.nothing_to_undo", "refused")
        return
    again = builds.plan(turn.now, build.build_id, build.request, _without_but(build, name))
    read_back(
        turn, "confirming.undo_substitute", act(turn, "undo", build_id=build.build_id, undoes="substituted"),
        number=wording.count(build.number), part=wording.lines(name, 2),
        difference=walking.difference_text(turn.now, build, again.to_json()),
    )  # fmt: skip


def not_substituted(turn: Turn, done: Done) -> None:
    """The build may have that piece again, and is worked out with it."""
    build, name = turn.now.open[done.build_id or 0], done.item or ""
    left_out = _without_but(build, name)
    builds.put_in_place(turn, build, builds.plan(turn.now, build.build_id, build.request, left_out), left_out)
    turn.say(
        "walking.substitute_undone", "voided", to="yard", build_id=build.build_id, what=WasVoided(what="substitute"),
        part=wording.lines(name, 2),
    )  # fmt: skip
    builds.stock_moved(turn)
    walked = turn.now.walked
    if walked is not None and walked.build_id == build.build_id and walked.begun:
        walking.speak_next(turn, walked)


def _without_but(build: OpenBuild, name: str) -> tuple[str, ...]:
    return tuple(other for other in build.without if other != name)
