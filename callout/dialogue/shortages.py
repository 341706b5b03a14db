"""What the crew has not got: "short" plans again on the spot with what is left, "substitute" proposes another piece."""

from __future__ import annotations

from callout.dialogue import builds, walking, wording
from callout.dialogue.events import CountChange, StockChanged
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import OpenBuild, Pending, on_hand
from callout.dialogue.stock_lines import matching
from callout.dialogue.turn import Turn
from callout.values import Command


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


def _busy(turn: Turn) -> bool:
    """A word of the walk never voids what somebody else is to answer: that comes first. True after saying so."""
    waiting = turn.seat.pending
    if waiting is not None and waiting.kind not in ("short", "substitute"):
        turn.say("confirming.first", "refused")
    elif waiting is None and turn.seat.waits:
        turn.say("asking.first", "refused")
    else:
        return False
    return True


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
    elif not _busy(turn):
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


def substitute(turn: Turn, build: OpenBuild, said: Command) -> None:
    """Propose the build without this piece; the answer to the readback decides."""
    index = _line(turn, build, said)
    if index is None or _busy(turn):
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
