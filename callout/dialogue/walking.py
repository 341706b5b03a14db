"""The walk: one card an utterance, silence until the crew answers, then the next.

Parts first ("ready" books what was fetched), the total, the cuts; then the assembly with its marks and steps, and the
checks before load. The crew can go back, skip, ask where, and jump to any item.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from callout.dialogue import speakable, wording
from callout.dialogue.acts import (
    Act,
    Acts,
    Cause,
    folded,
    quiet,
    said,
    said_text,
    voids_about,
    written,
)
from callout.dialogue.readback import readback_again
from callout.dialogue.records import PiecesMoved, WasSaid
from callout.dialogue.state import Card, Conversation, OpenBuild, add, holdings, on_hand
from callout.shoring.build import Build
from callout.shoring.relocation import moves_along, pressing, used_up


def by_number(now: Conversation, number: int | None) -> OpenBuild | None:
    """The open build that goes by `number`; the walked one for None."""
    if number is None:
        return now.walked
    return next((build for build in now.open.values() if build.number == number), None)


def first_open(now: Conversation) -> OpenBuild | None:
    """The open build that was called first."""
    return min(now.open.values(), key=lambda build: build.build_id, default=None)


def other_open(now: Conversation) -> OpenBuild | None:
    """The open build after the one in the walk, by its number, and after the last the first."""
    walked, by_number = now.walked, sorted(now.open.values(), key=lambda build: build.number)
    others = [build for build in by_number if build is not walked]
    later = [build for build in others if walked is not None and build.number > walked.number]
    return next(iter((*later, *others)), None)


def not_open(cause: Cause, number: int | None) -> Act:
    """No open build goes by that number."""
    return said(cause, "walking.no_such_build", "refused", number=wording.count(number or 0))


def no_list(now: Conversation, cause: Cause) -> Acts:
    """A word of the walk while no build is walked: why there is none, and what to say."""
    waits = first_open(now)
    standing = list(now.standing.values())
    if waits is not None:
        return (said(cause, "walking.none_in_walk", "refused", number=wording.count(waits.number)),)
    if now.taken_back is not None:
        return (said(cause, "walking.was_taken_back", "refused", number=wording.count(now.taken_back)),)
    if standing:
        return (said(cause, "walking.stands_already", "refused", number=wording.count(standing[-1].number)),)
    return (said(cause, "walking.status_nothing", "refused"),)


def opened(now: Conversation, cause: Cause, build: OpenBuild, *, named: bool = False) -> Acts:
    """Open the walk of a build: the first item at once, then what else the crew must know. The cautions are said whole
    once a shift, in one clause with every other build. `named`: the sentence before this said which build it is."""
    plan, build_id, number = build.build, build.build_id, wording.count(build.number)
    place = build.open_lines[0] if build.open_lines else len(build.got)
    text = card_text(build, build.row[place])
    if not (named and cause.one_source):
        text = wording.sentence("walking.opened", number=number, card=text)
    acts: Acts = (
        said_text(cause, text, to="yard", build_id=build_id, what=WasSaid(at=(build_id, place))),
        said(cause, "walking.so_many", to="yard", build_id=build_id, items=wording.counted(len(plan.parts), "item")),
        *shortage(cause, plan, build_id),
    )
    if "cautions" in now.said_this_shift:
        acts += (said(cause, "walking.caution", to="yard", build_id=build_id),)
    else:
        acts += cautions(cause, plan)
    if plan.from_memory:
        acts += (said(cause, "walking.from_memory", to="yard", build_id=build_id),)
    return acts


def cautions(cause: Cause, plan: Build) -> Acts:
    """All of them, one sentence each."""
    return tuple(
        said_text(cause, speakable.whole(caution), to="yard", build_id=plan.build_id, once_a_shift="cautions")
        for caution in plan.cautions
    )


def shortage(cause: Cause, plan: Build, build_id: int) -> Acts:
    """What the build lacks, and the nearest change that works."""
    acts: Acts = ()
    if plan.refused is not None:
        acts += (said_text(cause, speakable.whole(plan.refused.reason), to="yard", build_id=build_id),)
        if plan.refused.nearest is not None:
            nearest = wording.callout(plan.refused.nearest)
            acts += (said(cause, "walking.remedy", to="yard", build_id=build_id, remedy=nearest),)
    if plan.missing:
        missing = wording.missing(plan.missing)
        acts += (said(cause, "walking.missing", to="yard", build_id=build_id, missing=missing),)
        if plan.remedies:
            remedy = wording.remedy(plan.remedies[0], missing)
            acts += (said(cause, "walking.remedy", to="yard", build_id=build_id, remedy=remedy),)
    return acts


def card_said(cause: Cause, build: OpenBuild, place: int, *, swept: bool | None = None) -> Act:
    """The card at `place`; the walk stands there from now on."""
    return _said_in_parts(cause, build, place, card_parts(build, build.row[place]), swept)


def _said_in_parts(
    cause: Cause, build: OpenBuild, place: int, parts: tuple[str, ...], swept: bool | None = None
) -> Act:  # fmt: skip
    """What takes too long for one breath is said in several utterances; nobody goes on before all were heard."""
    what = WasSaid(at=(build.build_id, place), swept=swept)
    then = _said_in_parts(cause, build, place, parts[1:], swept) if parts[1:] else None
    return replace(said_text(cause, parts[0], to="yard", build_id=build.build_id, what=what), then=then)


def next_card(cause: Cause, build: OpenBuild) -> Act:
    """The first item that is still to be fetched, or the total."""
    return card_said(cause, build, build.open_lines[0] if build.open_lines else len(build.got))


def repeated(cause: Cause, build: OpenBuild) -> Act:
    """The card again."""
    return card_said(cause, build, build.card)


def come_back(cause: Cause, build: OpenBuild) -> Act:
    """Switch to a build whose walk was begun, and say where it stands."""
    number = wording.count(build.number)
    first, *more = card_parts(build, build.at)
    text = wording.sentence("walking.come_back", number=number, card=first)
    return _said_in_parts(cause, build, build.card, (text, *more))


def card_text(build: OpenBuild, card: Card) -> str:
    """The words of one card."""
    return " ".join(card_parts(build, card))


def card_parts(build: OpenBuild, card: Card) -> tuple[str, ...]:
    """The utterances of one card: one, or up to three of a cut."""
    if card.kind != "cut":
        return (_card_text(build, card),)
    piece, *ends = wording.cut(build.build.cuts[card.index])
    first = wording.sentence("walking.cut", cut=wording.count(card.index + 1), text=piece)
    return (first, *(speakable.whole(one) for one in ends))


def _card_text(build: OpenBuild, card: Card) -> str:
    plan, number = build.build, wording.count(card.index + 1)
    if card.kind == "item":
        line, left = plan.parts[card.index], build.left(card.index)
        some_already = 0 < left < line.quantity
        part = wording.part(line, left or line.quantity)
        said = wording.sentence("walking.item_more" if some_already else "walking.item", item=number, part=part)
        return f"{said} {speakable.whole(line.where)}" if line.where else said
    if card.kind == "total":
        key = "walking.total_short" if build.open_lines else "walking.total"
        lines = len(build.open_lines) or len(plan.parts)
        pieces = wording.counted(sum(build.held.values()), "piece")
        said = wording.sentence(key, pieces=pieces, items=wording.counted(lines, "item"))
        return f"{said} {wording.short_of(build.plan['missing'])}".rstrip()
    if card.kind == "offer":
        return wording.sentence("walking.offer", steps=wording.counted(len(plan.steps), "step"))
    if card.kind == "mark":
        return wording.sentence("walking.mark", text=wording.position(plan.positions[card.index]))
    if card.kind == "step":
        return wording.sentence("walking.step", step=number, text=speakable.in_short(plan.steps[card.index].text))
    if card.kind == "check":
        return wording.sentence("walking.check", check=number, text=speakable.text(plan.before_load[card.index]))
    unbooked = wording.counted(len(build.open_lines), "item")
    return wording.sentence(
        "walking.end_short" if build.open_lines else "walking.end", number=wording.count(build.number), items=unbooked
    )


_NAMED: Mapping[str, str] = {"total": "walking.at_total", "offer": "walking.at_offer", "end": "walking.at_end"}


def card_name(card: Card) -> str:
    """ "item four": where a walk stands, in words."""
    if card.kind in _NAMED:
        return wording.sentence(_NAMED[card.kind])
    return f"{card.kind} {wording.count(card.index + 1)}"


def ready(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    """The crew is ready: book the item that was spoken, and go on."""
    if unheard(now, cause, build):
        return said_now(now, cause, build)
    booked = book(now, cause, build, (build.at.index,)) if build.at.kind == "item" else ()
    return (*booked, *go_on(cause, folded(now, booked).open[build.build_id]))


def unheard(now: Conversation, cause: Cause, build: OpenBuild) -> bool:
    """Whether the voice has not said yet how many of what the crew is to take, or to do: nobody books or ticks off what
    nobody heard. Who types, reads."""
    here = build.build_id, build.card
    return not cause.reads and any(at is not None and at[:2] == here for at in now.unheard.values())


def said_now(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    """The key cut the voice, or came before it got there: what is said next is where the crew is."""
    acts: Acts = (quiet(cause, "yard"), repeated(cause, build))
    waits = now.seat(cause.role).pending
    if cause.one_source and waits is not None and waits.text in now.unheard:
        acts += (readback_again(cause, waits),)  # the silence cut it, too
    return acts


def book(now: Conversation, cause: Cause, build: OpenBuild, lines: Iterable[int]) -> Acts:
    """Book what is left of each line, as far as it lies there by the count."""
    relays = cause.one_source and cause.name is None and not cause.names_side  # one voice for all
    by = "logistics" if relays else cause.speaker
    acts: Acts = ()
    for line in lines:
        name = build.build.parts[line].name
        if left := min(build.left(line), on_hand(folded(now, acts)).get(name, 0)):
            picked = PiecesMoved(line=line, pieces=((name, left),))
            acts += (written(cause, "picked", picked, speaker=by, build_id=build.build_id),)
    return acts


def stands(now: Conversation, cause: Cause, build: OpenBuild) -> Acts:
    old = now.standing.get(build.relocates or 0)
    placed = said(
        cause, "walking.placed", "placed", to="both", build_id=build.build_id,
        what=PiecesMoved(pieces=tuple(build.held.items())), number=wording.count(build.number),
    )  # fmt: skip
    acts: Acts = (placed,) if old is None else (placed, _old_is_down(cause, old))
    acts += voids_about(folded(now, acts), cause, build.build_id)
    return (*acts, *the_next(folded(now, acts), cause))


def finish_moves(now: Conversation, cause: Cause) -> Acts:
    """After a restart: a new shore stands by the journal, and what its old one left over was not booked yet."""
    moved = (now.standing.get(build.relocates or 0) for build in now.standing.values())
    return tuple(_old_is_down(cause, old) for old in moved if old is not None and (_left_over(old) or _gone(old)))


def _old_is_down(cause: Cause, old: OpenBuild) -> Act:
    left = _left_over(old)
    return said(
        cause, "walking.put_back" if left else "walking.gone", "returned", to="yard", build_id=old.build_id,
        what=PiecesMoved(pieces=tuple(left), gone=_gone(old)), pieces=wording.pieces(left),
        number=wording.count(old.number),
    )  # fmt: skip


def _left_over(old: OpenBuild) -> list[tuple[str, int]]:
    """What comes back from a shore that was relocated: not what timber rakers lean on, nor what is used up."""
    back = moves_along(old.build, old.held)
    return [(name, back[name]) for name in old.held if back[name]]


def _gone(old: OpenBuild) -> tuple[tuple[str, int], ...]:
    """Nails and sawn timber of a shore that is down; what timber rakers lean on stays where it is."""
    gone = used_up(old.build) - pressing(old.build)
    return tuple((name, min(quantity, gone[name])) for name, quantity in old.held.items() if gone[name])


def the_next(now: Conversation, cause: Cause) -> Acts:
    """Which build waits for its walk, when none is walked."""
    waits = [other for other in now.open.values() if not other.begun]
    if not waits or now.walked is not None:
        return ()
    number = wording.count(waits[0].number)
    return (said(cause, "walking.waits", to="yard", build_id=waits[0].build_id, number=number),)


def go_on(cause: Cause, build: OpenBuild) -> Acts:
    """What comes next; items that were skipped come round once more."""
    card = build.at
    if card.kind == "offer":
        return (card_said(cause, build, _first(build, "check", "end")),)
    if card.kind != "item":
        return (card_said(cause, build, min(build.card + 1, len(build.row) - 1)),)
    later = [line for line in build.open_lines if line > card.index]
    if later:
        return (card_said(cause, build, later[0]),)
    if build.open_lines and not build.swept:
        again = said(cause, "walking.back_to_skipped", to="yard", build_id=build.build_id)
        return (again, card_said(cause, build, build.open_lines[0], swept=True))
    return (card_said(cause, build, len(build.got)),)


def _first(build: OpenBuild, *kinds: str) -> int:
    """The place of the first card of the first of `kinds` that the row has."""
    for kind in kinds:
        for place, card in enumerate(build.row):
            if card.kind == kind:
                return place
    return len(build.row) - 1


def back(cause: Cause, build: OpenBuild) -> Acts:
    card = card_said(cause, build, max(0, build.card - 1))
    if build.card == 0:
        return (said(cause, "walking.first", to="yard", build_id=build.build_id), card)
    return (card,)


def to_item(cause: Cause, build: OpenBuild, item: int | None) -> Acts:
    if item is None or not 1 <= item <= len(build.got):
        return (said(cause, "walking.not_an_item", "refused", count=wording.count(len(build.got))),)
    return (card_said(cause, build, item - 1),)


def items_again(cause: Cause, build: OpenBuild, command: str, item: int) -> Acts:
    """ "Say again item four", "all before item four", "all after": spoken without going there. Then where the crew is:
    "ready" books that item and not the one just heard."""
    count = len(build.got)
    if not 1 <= item <= count:
        return (said(cause, "walking.not_an_item", "refused", count=wording.count(count)),)
    spans = {"say_again_all_before": range(item - 1), "say_again_all_after": range(item, count)}
    span = spans.get(command, range(item - 1, item))
    if not span:
        return (said(cause, "confirming.nothing_before" if item == 1 else "confirming.nothing_after"),)
    cards = tuple(
        said_text(cause, card_text(build, Card("item", index)), build_id=build.build_id) for index in span
    )
    if build.at == Card("item", span[-1]):
        return cards
    return (*cards, said(cause, "walking.here", build_id=build.build_id, card=card_name(build.at)))


def after_this(cause: Cause, build: OpenBuild) -> Acts:
    """What comes next, told without going there: nothing is booked. Then where the crew is."""
    place = min(build.card + 1, len(build.row) - 1)
    if build.at.kind == "item":
        others = [line for line in build.open_lines if line != build.at.index]
        place = next((line for line in others if line > build.at.index), (*others, len(build.got))[0])
    told = said_text(cause, card_text(build, build.row[place]), build_id=build.build_id)
    return (told, said(cause, "walking.here", build_id=build.build_id, card=card_name(build.at)))


def one_at_a_time(cause: Cause, build: OpenBuild) -> Acts:
    """ "Items two and three are picked", "go back two": nothing is booked, and the crew stays where it is."""
    return (said(cause, "walking.one_at_a_time", "refused"), repeated(cause, build))


def step_by_step(cause: Cause, build: OpenBuild) -> Acts:
    """To the assembly: what to mark, then each step."""
    return (card_said(cause, build, _first(build, "mark", "step", "check", "end")),)


def item_back(cause: Cause, build: OpenBuild) -> Acts:
    """"Negative" at an item that is booked: it was not fetched after all. Nothing where nothing is booked."""
    card = build.at
    return line_back(cause, build, card.index) if card.kind == "item" and build.got[card.index] else ()


def line_back(cause: Cause, build: OpenBuild, line: int) -> Acts:
    """What was booked of a line goes back; what stands at the old place of a relocation stays there."""
    got, name, item = build.got[line], build.build.parts[line].name, wording.count(line + 1)
    fetched = min(got, build.fetched.get(name, 0))
    acts: Acts = ()
    for key, quantity, stands in (("walking.put_back_one", fetched, False), ("walking.leave_one", got - fetched, True)):
        if quantity:
            moved = PiecesMoved(line=line, pieces=((name, quantity),), stands=stands)
            acts += (said(cause, key, "returned", to="yard", build_id=build.build_id, what=moved, item=item),)
    return acts


def difference_text(now: Conversation, before: OpenBuild, after: Mapping[str, Any]) -> str:
    """What a new plan takes that the old one did not, and what is short: all that need be said of it. What does not lie
    there, or is another build's, cannot be left there."""
    old, new = _wanted(before.plan), _wanted(after)
    fetch = [(name, count - old.get(name, 0)) for name, count in new.items() if count > old.get(name, 0)]
    leave = [(name, count - max(new.get(name, 0), before.held.get(name, 0))) for name, count in old.items()]
    still = {name: max(0, count - before.held.get(name, 0)) for name, count in new.items()}
    others = holdings(replace(now, open={k: b for k, b in now.open.items() if k != before.build_id})).promised
    spare = {name: count - still.get(name, 0) - others.get(name, 0) for name, count in on_hand(now).items()}
    leave = [(name, min(count, spare.get(name, 0))) for name, count in leave]
    leave = [(name, count) for name, count in leave if count > 0]
    said = []
    if fetch:
        said.append(wording.sentence("walking.fetch", pieces=wording.pieces(fetch)))
    if leave:
        said.append(wording.sentence("walking.leave", pieces=wording.pieces(leave)))
    if after["missing"]:
        key = "walking.still_short" if after["missing"] == before.plan["missing"] else "walking.now_short"
        said.append(wording.sentence(key, missing=wording.missing_json(after["missing"])))
    return " ".join(said) or wording.sentence("walking.no_change")


def _wanted(plan: Mapping[str, Any]) -> dict[str, int]:
    total: dict[str, int] = {}
    for line in plan["parts"]:
        total = add(total, [(line["name"], line["quantity"])])
    return total
