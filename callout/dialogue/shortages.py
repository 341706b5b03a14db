"""What the crew has not got: "short" plans again on the spot with what is left, "substitute" proposes another piece."""

from __future__ import annotations

from callout.dialogue import builds, walking, wording
from callout.dialogue.acts import Act, Acts, Cause, folded, said, said_once, voids, written
from callout.dialogue.readback import answer_first, proposed, readback
from callout.dialogue.records import CountChange, PiecesMoved, StockChanged, WasVoided
from callout.dialogue.state import Conversation, Done, OpenBuild, Pending, on_hand
from callout.dialogue.stock_lines import matching, which
from callout.values import Command

#: Readbacks of the walk: another word of the walk takes their place.
OF_THE_WALK = ("short", "substitute", "lost", "stands", "all_picked")


def _line(now: Conversation, cause: Cause, build: OpenBuild, meant: Command) -> int | Act:
    """The parts line that is meant: the one named, or the one at the cursor; or why there is none."""
    if meant.part is not None:
        names = {line.name for line in matching(now, meant.part, meant.length)}
        for index, line in enumerate(build.build.parts):
            if line.name in names and build.left(index):
                return index
        named, number = wording.named_part(meant.part, meant.length), wording.count(build.number)
        return said(cause, "walking.not_listed", "refused", part=named, number=number)
    if meant.item is not None and 1 <= meant.item <= len(build.got):
        return meant.item - 1
    here = build.at.index if build.at.kind == "item" else None
    if meant.length is not None:  # "no six footers": the line at the cursor if it is so long, else the one that is
        lines = [line for line in build.open_lines if build.build.parts[line].length == meant.length]
        here = here if here in lines else lines[0] if len(lines) == 1 else None
    return said(cause, "walking.needs_item", "refused") if here is None else here


def of_this_item(now: Conversation, build: OpenBuild, meant: Command) -> bool:
    """Whether "got the struts", "item three is good" name what the crew was told to fetch, and all that is left of it.
    Words that name nothing are of this item."""
    if meant.item is None and meant.part is None and meant.quantity is None:
        return True
    if build.at.kind != "item":
        return False
    index = build.at.index
    part = build.build.parts[index]
    named = meant.part is None or part.name in {line.name for line in matching(now, meant.part, meant.length)}
    return named and meant.item in (None, index + 1) and meant.quantity in (None, build.left(index))


def short(now: Conversation, cause: Cause, build: OpenBuild, meant: Command) -> Acts:
    """The crew has not got a part, or `quantity` pieces of it, or all of it but those that it has. Unsure words are
    read back first."""
    index = _line(now, cause, build, meant)
    if isinstance(index, Act):
        return (index,)
    left = build.left(index)
    lacking = min(meant.quantity or left - (meant.have or 0), left)
    if left and lacking <= 0:
        return (said(cause, "walking.all_there", "refused", item=wording.count(index + 1)),)
    if not lacking:
        return (said(cause, "walking.not_short", "refused", item=wording.count(index + 1)),)
    if cause.sure:
        return _short(now, cause, build, index, lacking)
    if first := answer_first(now, cause, *OF_THE_WALK):
        return first
    proposal = proposed(cause, "short", build_id=build.build_id, line=index, quantity=lacking)
    part = wording.part(build.build.parts[index], lacking)
    return (*voids(now, cause), readback(cause, "confirming.short", proposal, part=part))


def affirmed_short(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    build, line = now.open.get(confirmed.build_id or 0), confirmed.shape.line or 0
    if build is None or line >= len(build.got) or not build.left(line):
        return (said(cause, "walking.needs_item", "refused"),)
    return _short(now, cause, build, line, min(confirmed.shape.quantity or 0, build.left(line)))


def _short(now: Conversation, cause: Cause, build: OpenBuild, index: int, lacking: int) -> Acts:
    """What was looked for and not found is not there: the count becomes what was found."""
    name = build.build.parts[index].name
    lying = on_hand(now)[name]
    found = max(0, min(lying, build.left(index) - lacking))
    acts: Acts = ()
    if found != lying:
        counted = StockChanged(changes=(CountChange(item=name, delta=found - lying, quantity=found),))
        text = wording.sentence("stock.found", pieces=wording.pieces([(name, found)]))
        acts += (written(cause, "stock_changed", counted, text, build_id=build.build_id),)
    still = said(cause, "walking.still_short", to="yard", build_id=build.build_id, missing=wording.lines(name, 2))
    acts += builds.planned_again(folded(now, acts), cause, build) or (still,)
    return (*acts, *_others_and_here(folded(now, acts), cause, build))


def _others_and_here(now: Conversation, cause: Cause, before: OpenBuild) -> Acts:
    """The builds that a count touches, and the card of this one: where the crew is, while something is left of it."""
    acts = builds.after_a_count(now, cause)
    after = folded(now, acts).open[before.build_id]
    name = before.build.parts[before.at.index].name if before.at.kind == "item" else ""
    here = [line for line in after.open_lines if after.build.parts[line].name == name]
    return (*acts, walking.card_said(cause, after, here[0]) if here else walking.next_card(cause, after))


def lost(now: Conversation, cause: Cause, meant: Command) -> Acts:
    """ "One is broken": one piece less in the stock, and one short in the walk, of the item at the cursor or of what
    was named. Said for sure at the cursor it counts at once, like "short"; else it is read back."""
    build = now.walked
    at_item = meant.part is None and build is not None and build.at.kind == "item"
    if meant.part is None and not at_item:
        return (said(cause, "walking.needs_item", "refused"),)
    if at_item and build is not None:
        name = build.build.parts[build.at.index].name
    else:
        named = matching(now, meant.part or "", meant.length)
        if not named:
            part = wording.named_part(meant.part or "", meant.length)
            return (said(cause, "stock.unknown", "refused", part=part),)
        if len(named) != 1:
            return (which(cause, wording.named_part(meant.part or "", None), named),)
        name = named[0].name
    quantity = _all_of_it(now, build, name) if meant.have == 0 else meant.quantity or 1
    if at_item and cause.sure:
        return _lose(now, cause, name, quantity)
    proposal = proposed(cause, "lost", item=name, quantity=quantity)
    return (readback(cause, "confirming.lost", proposal, pieces=wording.pieces([(name, quantity)])),)


def _all_of_it(now: Conversation, build: OpenBuild | None, name: str) -> int:
    """ "All bent": as many as the item asks for at which the crew is; of another piece, all that lie there."""
    if build is not None and build.at.kind == "item" and build.build.parts[build.at.index].name == name:
        return build.build.parts[build.at.index].quantity
    return max(1, on_hand(now).get(name, 0))


def affirmed_lost(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    return _lose(now, cause, confirmed.shape.item or "", confirmed.shape.quantity or 1)


def _lose(now: Conversation, cause: Cause, name: str, quantity: int) -> Acts:
    """A broken piece is in nobody's hands any more: it comes off what lies there, and before that off what the crew in
    the walk holds of it."""
    build = now.walked
    acts = () if build is None else _out_of_hand(cause, build, name, quantity)
    lying = on_hand(folded(now, acts)).get(name, 0)
    gone = min(quantity, max(0, lying))
    if not gone:
        return (*acts, said(cause, "stock.none_there", "refused", part=wording.lines(name, 2)))
    acts += (
        said(
            cause, "stock.lost", "stock_changed", to="yard", build_id=None if build is None else build.build_id,
            what=StockChanged(changes=(CountChange(item=name, delta=-gone, quantity=lying - gone),)),
            pieces=wording.pieces([(name, gone)]), left=wording.pieces_on_hand([(name, lying - gone)]),
        ),
    )  # fmt: skip
    if build is not None:
        acts += builds.planned_again(folded(now, acts), cause, build)
    if build is None or not build.begun:
        return (*acts, *builds.after_a_count(folded(now, acts), cause))
    return (*acts, *_others_and_here(folded(now, acts), cause, build))


def _out_of_hand(cause: Cause, build: OpenBuild, name: str, quantity: int) -> Acts:
    """What the crew in the walk holds of a piece goes back first; at an item of another piece it holds none."""
    holds = [index for index, line in enumerate(build.build.parts) if line.name == name and build.got[index]]
    if not holds or (build.at.kind == "item" and build.at.index not in holds):
        return ()
    line = build.at.index if build.at.index in holds else holds[0]
    held = min(quantity, build.got[line], build.fetched.get(name, 0))
    if not held:
        return ()
    moved = PiecesMoved(line=line, pieces=((name, held),))
    return (written(cause, "returned", moved, speaker=cause.speaker, build_id=build.build_id),)


def substitute(now: Conversation, cause: Cause, build: OpenBuild, meant: Command) -> Acts:
    """Propose the build without this piece; the answer to the readback decides."""
    index = _line(now, cause, build, meant)
    if isinstance(index, Act):
        return (index,)
    if first := answer_first(now, cause, *OF_THE_WALK):
        return first
    name = build.build.parts[index].name
    other = builds.plan(now, build.build_id, build.request, (*build.without, name))
    if other.missing or other.refused or other.parts == build.build.parts:
        part = wording.lines(name, 2)
        return (said(cause, "walking.no_substitute", "refused", build_id=build.build_id, part=part),)
    proposal = proposed(cause, "substitute", build_id=build.build_id, item=name)
    asked = readback(
        cause, "confirming.substitute", proposal, number=wording.count(build.number), part=wording.lines(name, 2),
        difference=walking.difference_text(now, build, other.to_json()),
    )  # fmt: skip
    return (*voids(now, cause), asked)


def affirmed_substitute(now: Conversation, cause: Cause, confirmed: Pending) -> Acts:
    build = now.open.get(confirmed.build_id or 0)
    again = () if build is None else builds.planned_again(now, cause, build, (confirmed.shape.item or "",))
    if build is None or not again:
        return (said(cause, "walking.no_change", "refused"),)
    return (*again, walking.next_card(cause, folded(now, again).open[build.build_id]))


def undo_substitute(now: Conversation, cause: Cause, done: Done) -> Acts:
    """Read back the build with the piece that it was to do without."""
    build, name = now.open.get(done.build_id or 0), done.item or ""
    if build is None:
        return (said_once(cause, "walking.nothing_to_undo", "refused"),)
    again = builds.plan(now, build.build_id, build.request, _without_but(build, name))
    proposal = proposed(cause, "undo", build_id=build.build_id, undoes="substituted")
    return (
        readback(
            cause, "confirming.undo_substitute", proposal, number=wording.count(build.number),
            part=wording.lines(name, 2), difference=walking.difference_text(now, build, again.to_json()),
        ),
    )  # fmt: skip


def not_substituted(now: Conversation, cause: Cause, done: Done) -> Acts:
    """The build may have that piece again, and is worked out with it."""
    build, name = now.open[done.build_id or 0], done.item or ""
    left_out = _without_but(build, name)
    again = builds.plan(now, build.build_id, build.request, left_out)
    undone = said(
        cause, "walking.substitute_undone", "voided", to="yard", build_id=build.build_id,
        what=WasVoided(what="substitute"), part=wording.lines(name, 2),
    )  # fmt: skip
    acts = (*builds.instead(now, cause, build, again, left_out), undone)
    acts += builds.after_a_count(folded(now, acts), cause)
    walked = folded(now, acts).walked
    if walked is not None and walked.build_id == build.build_id and walked.begun:
        acts += (walking.next_card(cause, walked),)
    return acts


def _without_but(build: OpenBuild, name: str) -> tuple[str, ...]:
    return tuple(other for other in build.without if other != name)
