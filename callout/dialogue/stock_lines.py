"""The stock by voice: "we have four six foot struts", "out of anchors", "two more extensions came in".

A line is read back like a callout, and only its affirmative changes a count.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from callout.dialogue import builds, wording
from callout.dialogue.acts import Act, Acts, Cause, folded, said
from callout.dialogue.readback import proposed, readback
from callout.dialogue.records import CountChange, StockChanged
from callout.dialogue.state import Conversation, Pending, on_hand
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


def heard_stock(now: Conversation, cause: Cause, count: Command) -> Acts:
    """Read a stock line back, or ask which part it means."""
    return (_counted(now, cause, count),)


def heard_more(now: Conversation, cause: Cause, count: Command) -> Acts:
    """ "Found two more" is of the item at which the crew is, where no piece is named."""
    build = now.walked
    if count.part is not None or build is None:
        return heard_stock(now, cause, count)
    if build.at.kind != "item":
        return (said(cause, "walking.needs_item", "refused"),)
    line = build.build.parts[build.at.index]
    changes = ({"item": line.name, "how": "add", "quantity": count.quantity},)
    return (readback(cause, "confirming.stock", proposed(cause, "stock", changes=changes), lines=_lines(changes)),)


def _counted(now: Conversation, cause: Cause, count: Command) -> Act:
    part, how = count.part or "", HOW[count.command]
    lines = matching(now, part, count.length)
    if not lines:
        return said(cause, "stock.unknown", "refused", part=wording.named_part(part, count.length))
    if len(lines) > 1 and how != "out":
        return which(cause, wording.named_part(part, None), lines)
    if how != "out" and count.quantity is None:
        return said(cause, "stock.how_many", "asked", part=wording.lines(lines[0].name, 2))
    changes = tuple({"item": line.name, "how": how, "quantity": count.quantity} for line in lines)
    return readback(cause, "confirming.stock", proposed(cause, "stock", changes=changes), lines=_lines(changes))


def which(cause: Cause, part: str, lines: tuple[Line, ...]) -> Act:
    """Ask which of them: by length where that tells them apart, else by name."""
    sizes = {line.size for line in lines}
    if len(sizes) == len(lines) and all(isinstance(size, Length) for size in sizes):
        return said(cause, "stock.which", "asked", part=part)
    if len(lines) <= MOST_CHOICES:
        names = ", ".join(wording.lines(line.name, 2) for line in lines)
        return said(cause, "stock.which_of", "asked", part=part, choices=names)
    return said(cause, "stock.which_full", "asked", part=part)


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


def affirmed(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    """An affirmed stock line changes the counts, and the builds that this touches are planned again."""
    lying, changes = on_hand(now), confirmed.shape.changes
    counts = []
    for change in changes:
        before, quantity = lying[change["item"]], change["quantity"]
        after = {"set": quantity, "add": before + (quantity or 0), "out": 0}[change["how"]]
        counts.append(CountChange(item=change["item"], delta=after - before, quantity=after))
    done = said(
        cause, "stock.done", "stock_changed", what=StockChanged(changes=tuple(counts)), lines=_lines(changes)
    )
    return (done, *builds.after_a_count(folded(now, (done,)), cause))
