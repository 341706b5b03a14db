"""The stock by voice: "we have four six foot struts", "out of anchors", "two more extensions came in".

A line is read back like a callout, and only its affirmative changes a count.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from callout.dialogue import builds, wording
from callout.dialogue.events import CountChange, StockChanged
from callout.dialogue.readback import act, read_back
from callout.dialogue.state import Conversation, Pending, on_hand
from callout.dialogue.turn import Turn
from callout.shoring.stock import Line, lines_named
from callout.values import Command, Length

#: More names than this in one question are not remembered.
MOST_CHOICES = 6

HOW = {"stock_set": "set", "stock_add": "add", "stock_out": "out"}


def matching(now: Conversation, part: str, length: Length | None) -> tuple[Line, ...]:
    """The stock lines that a part's name (and length) can mean. "timber" means every section; the words by which the
    tool itself names a line mean that line alone."""
    said = wording.named_part(part, length)
    own = tuple(line for line in now.stock.lines if wording.lines(line.name, 2) == said)
    return own or lines_named(now.stock, part, length)


def heard_stock(turn: Turn, said: Command) -> None:
    """Read a stock line back, or ask which part it means."""
    part = said.part or ""
    lines = matching(turn.now, part, said.length)
    how = HOW[said.command]
    turn.give_up_waiting(aloud=True)
    if not lines:
        turn.say("stock.unknown", "refused", part=wording.named_part(part, said.length))
    elif len(lines) > 1 and how != "out":
        ask_which(turn, wording.named_part(part, None), lines)
    elif how != "out" and said.quantity is None:
        turn.say("stock.how_many", "asked", part=wording.lines(lines[0].name, 2))
    else:
        changes = tuple({"item": line.name, "how": how, "quantity": said.quantity} for line in lines)
        read_back(turn, "confirming.stock", act(turn, "stock", changes=changes), lines=_lines(changes))


def ask_which(turn: Turn, part: str, lines: tuple[Line, ...]) -> None:
    """By length where that tells them apart, else by name."""
    sizes = {line.size for line in lines}
    if len(sizes) == len(lines) and all(isinstance(size, Length) for size in sizes):
        turn.say("stock.which", "asked", part=part)
    elif len(lines) <= MOST_CHOICES:
        names = ", ".join(wording.lines(line.name, 2) for line in lines)
        turn.say("stock.which_of", "asked", part=part, choices=names)
    else:
        turn.say("stock.which_full", "asked", part=part)


def _lines(changes: Sequence[dict[str, Any]]) -> str:
    said = []
    for change in changes:
        name, quantity = change["item"], change["quantity"] or 0
        if change["how"] == "add":
            said.append(wording.sentence("stock.add", pieces=wording.some(name, quantity, clearly=True)))
        elif quantity:
            said.append(wording.sentence("stock.set", pieces=wording.some(name, quantity, clearly=True)))
        else:
            said.append(wording.sentence("stock.out", part=wording.lines(name, 2)))
    return wording.things(said)


def apply(turn: Turn, confirmed: Pending) -> None:
    """An affirmed stock line changes the counts, and the builds that this touches are planned again."""
    changed(turn, confirmed.shape.changes)


def changed(turn: Turn, changes: Sequence[dict[str, Any]]) -> None:
    """Write new counts and say them."""
    lying = on_hand(turn.now)
    written = []
    for change in changes:
        before, quantity = lying[change["item"]], change["quantity"]
        after = {"set": quantity, "add": before + (quantity or 0), "out": 0}[change["how"]]
        written.append(CountChange(item=change["item"], delta=after - before, quantity=after))
    turn.say("stock.done", "stock_changed", what=StockChanged(changes=tuple(written)), lines=_lines(changes))
    builds.stock_moved(turn)
