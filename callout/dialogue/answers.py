"""Answers to questions. They change nothing, and go to whoever asked, so that one build does not disturb another."""

from __future__ import annotations

import re

from callout.dialogue import places, speakable, walking, wording
from callout.dialogue.acts import Act, Acts, Cause, said, said_text
from callout.dialogue.asking import next_part, question, question_of_teaching
from callout.dialogue.state import Conversation, OpenBuild, add, on_hand, state_name
from callout.dialogue.stock_lines import matching
from callout.language.cribsheet import spoken_help
from callout.shoring.build import Part
from callout.values import Command


def where(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """Where the part at the cursor lies, or the item or part that was named."""
    if asked.part is not None and asked.item is None:
        lines = matching(now, asked.part, asked.length)
        if not lines:
            return _unknown(cause, asked.part)
        places = ", ".join(dict.fromkeys(speakable.text(line.where) for line in lines))
        return (said(cause, "walking.where", part=wording.named_part(asked.part, asked.length), where=places),)
    item = _item_asked(now, cause, asked)
    if isinstance(item, Act):
        return (item,)
    build, part = item
    key, named = "walking.where" if part.where else "walking.where_unknown", wording.lines(part.name, part.quantity)
    return (said(cause, key, build_id=build.build_id, part=named, where=speakable.text(part.where)),)


def what_size(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """How long the pieces of an item are."""
    item = _item_asked(now, cause, asked)
    if isinstance(item, Act):
        return (item,)
    build, part = item
    key = "walking.size" if part.length is not None else "walking.size_unknown"
    return (said(cause, key, build_id=build.build_id, part=wording.part(part, part.quantity)),)


def set_length(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """How far a strut or a brace is pulled out, in the words of the steps of its build: of the piece that was named, of
    the item at the cursor, or of the rakers."""
    build = now.walked or max((*now.open.values(), *now.standing.values()), key=lambda one: one.build_id, default=None)
    if build is None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    members = _members(now, build, asked)
    steps = [step.text for step in build.build.steps if _SETS.search(step.text) and members & set(step.text.split())]
    number = wording.count(build.number)
    if not steps:
        return (said(cause, "walking.not_worked_out", "refused", build_id=build.build_id, number=number),)
    words = wording.sentence("walking.set_to", number=number, text=". ".join(map(speakable.in_short, steps)))
    return (said_text(cause, words, build_id=build.build_id),)


#: The steps that say how far something is pulled out.
_SETS = re.compile(r"\bset [a-z ]+ to \d|\block at|\bscrew out|: fully in")


def _members(now: Conversation, build: OpenBuild, asked: Command) -> set[str]:
    """What is set of the piece that is meant, by the last word of its name: "raker", "brace"."""
    names: set[str] = set()
    if asked.part is not None:
        names = {line.name for line in matching(now, asked.part, asked.length)}
    elif build.at.kind == "item":
        names = {build.build.parts[build.at.index].name}
    of_them = [one.label for one in build.build.setting if names.intersection(one.pieces)]
    labels = of_them or ([] if asked.part is not None else [one.label for one in build.build.setting[:1]])
    stems = {label.rstrip("0123456789 ").split()[-1] for label in labels}
    return stems | {f"{stem}s" for stem in stems} | {f"{stem}:" for stem in stems} | {f"{stem}s:" for stem in stems}


def how_heavy(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """What an item weighs, or one piece of a part of the stock; and the whole build."""
    if asked.part is not None:
        lines = matching(now, asked.part, asked.length)
        if not lines:
            return _unknown(cause, asked.part)
        each = wording.weights([(line.name, line.weight_lb) for line in lines])
        return (said(cause, "walking.weight_each", lines=each),)
    build = walking.by_number(now, asked.build)
    if build is None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    number, whole = wording.count(build.number), wording.pounds(build.build.weight_lb)
    at_item = build.at.kind == "item" and asked.build is None
    line = asked.item - 1 if asked.item is not None else build.at.index if at_item else None
    if line is None or not 0 <= line < len(build.got):
        return (said(cause, "walking.weight_build", build_id=build.build_id, number=number, weight=whole),)
    part = build.build.parts[line]
    return (
        said(
            cause, "walking.weight", build_id=build.build_id, item=wording.count(line + 1), number=number, all=whole,
            weight=wording.pounds(part.weight_lb * part.quantity),
        ),
    )  # fmt: skip


def _unknown(cause: Cause, part: str) -> Acts:
    return (said(cause, "stock.unknown", "refused", part=wording.named_part(part, None)),)


def _item_asked(now: Conversation, cause: Cause, asked: Command) -> tuple[OpenBuild, Part] | Act:
    """The build in question, and the line of its parts that was named or is at the cursor; or why there is none."""
    build = walking.by_number(now, asked.build)
    if build is None:
        return said(cause, "walking.nothing_walked", "refused")
    line = asked.item - 1 if asked.item is not None else build.at.index if build.at.kind == "item" else None
    if line is None:
        return said(cause, "walking.needs_item", "refused")
    if not 0 <= line < len(build.got):
        return said(cause, "walking.not_an_item", "refused", count=wording.count(len(build.got)))
    return build, build.build.parts[line]


def how_many_left(now: Conversation, cause: Cause) -> Acts:
    build = now.walked
    if build is None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    items, number = wording.counted(len(build.open_lines), "item"), wording.count(build.number)
    key = "walking.left" if build.open_lines else "walking.list_empty"
    return (said(cause, key, build_id=build.build_id, items=items, number=number),)


def how_many(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """How many of a part lie on hand; without a part, how many items are left."""
    if asked.part is None:
        return how_many_left(now, cause)
    if asked.part == "rakers":
        return _rakers(now, cause)
    lines, lying = matching(now, asked.part, asked.length), on_hand(now)
    if not lines:
        return _unknown(cause, asked.part)
    there = [(line.name, max(0, lying[line.name])) for line in lines]
    needs = _needed(now, {line.name for line in lines})
    if now.walked is None or not needs:
        return (said(cause, "stock.on_hand", lines=wording.pieces_on_hand(there)),)
    return (
        said(
            cause, "stock.needed_on_hand", build_id=now.walked.build_id, number=wording.count(now.walked.number),
            pieces=wording.pieces(needs), lines=wording.pieces_on_hand(there),
        ),
    )  # fmt: skip


def _needed(now: Conversation, names: set[str]) -> list[tuple[str, int]]:
    """How many the build in the walk takes of some lines of the stock."""
    needs: dict[str, int] = {}
    for part in () if now.walked is None else now.walked.build.parts:
        if part.name in names:
            needs = add(needs, [(part.name, part.quantity)])
    return list(needs.items())


def what_picked(now: Conversation, cause: Cause, asked: Command) -> Acts:
    """What the crew holds of a build, the last five items of it, and how many are left."""
    build = walking.by_number(now, asked.build)
    if build is None:
        key = "walking.nothing_walked" if asked.build is None else "walking.no_such_build"
        return (said(cause, key, "refused", number=wording.count(asked.build or 0)),)
    got = [line for line, count in enumerate(build.got) if count]
    items = [_listed(build, line, build.got[line]) for line in got[-ONE_LIST:]]
    left, number = wording.counted(len(build.open_lines), "item"), wording.count(build.number)
    key = "walking.none_picked" if not got else "walking.picked" if len(got) <= ONE_LIST else "walking.picked_last"
    key = key if build.open_lines else "walking.list_empty"
    return (
        said(
            cause, key, build_id=build.build_id, number=number, items=left, lines=wording.things(items),
            count=wording.counted(len(got), "item"),
        ),
    )  # fmt: skip


def not_rearranged(now: Conversation, cause: Cause) -> Acts:
    """No build is put on hold or swapped: what there is instead, and where the walk is."""
    build = now.walked
    if build is None or not build.begun:
        return (said(cause, "walking.not_rearranged", "refused"),)
    number, card = wording.count(build.number), walking.card_name(build.at)
    return (said(cause, "walking.not_rearranged_at", "refused", build_id=build.build_id, number=number, card=card),)


def _rakers(now: Conversation, cause: Cause) -> Acts:
    """How many rakers: the measurer means what waits for an answer, the yard the build in hand. Not said, the plan
    tells how many it was made for."""
    seat, build = now.seat(cause.role), now.walked or walking.first_open(now)
    waits = seat.pending.request if seat.pending is not None else None
    if waits is not None and (cause.role == "measurer" or build is None):
        if waits.rakers is None:
            return (said(cause, "confirming.unsaid", part=wording.part_of_callout("rakers")),)
        return (said(cause, "walking.rakers_read_back", rakers=wording.counted(waits.rakers, "raker")),)
    if build is None and seat.asked == "rakers":
        return (said(cause, "asking.rakers"),)
    if build is None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    chosen = (one.value for one in build.build.chosen if one.part == "rakers" and isinstance(one.value, int))
    count, number = build.request.rakers or next(chosen, None), wording.count(build.number)
    if count is None:
        return (said(cause, "walking.no_rakers", build_id=build.build_id, number=number),)
    rakers = wording.counted(count, "raker")
    return (said(cause, "walking.rakers", build_id=build.build_id, number=number, rakers=rakers),)


#: After so many items a list waits to be asked for more.
ONE_LIST = 5


def parts_list(now: Conversation, cause: Cause) -> Acts:
    """What is left to fetch, five items at a time: the same word again goes on. The whole list is on the console."""
    build = now.walked
    if build is None:
        return walking.no_list(now, cause)
    number = wording.count(build.number)
    if not build.open_lines:
        return (said(cause, "walking.list_empty", build_id=build.build_id, number=number),)
    listed = now.seat(cause.role).listed
    since = listed[1] if listed is not None and listed[0] == build.build_id else 0
    lines = [line for line in build.open_lines if line >= since] or list(build.open_lines)
    items = [_listed(build, line, build.left(line)) for line in lines[:ONE_LIST]]
    key = "walking.list" if len(lines) <= ONE_LIST else "walking.list_more"
    more = lines[ONE_LIST] if len(lines) > ONE_LIST else 0
    return (
        said(
            cause, key, build_id=build.build_id, number=number, lines=wording.things(items),
            courtesies={"listed": (build.build_id, more)},
        ),
    )  # fmt: skip


def _listed(build: OpenBuild, line: int, quantity: int) -> str:
    """ "Item one, two struts, twelve feet": so many of an item in a list."""
    part = build.build.parts[line]
    some = wording.some(part.name, quantity, part.length)
    return wording.sentence("walking.listed", item=wording.count(line + 1), part=some)


def cautions(now: Conversation, cause: Cause) -> Acts:
    """The cautions of the build in the walk, or of the one released last, whole."""
    builds = list(now.open.values()) + list(now.standing.values())
    build = now.walked or (max(builds, key=lambda build: build.build_id) if builds else None)
    if build is None:
        return (said(cause, "walking.status_nothing", "refused"),)
    return walking.cautions(cause, build.build)


def status(now: Conversation, cause: Cause) -> Acts:
    lines, seat = status_lines(now), now.seat(cause.role)
    if seat.pending is not None:
        lines.append(wording.sentence("opening.resumed_pending"))
    if seat.parked is not None:
        lines.append(wording.sentence("opening.resumed_parked"))
    if not lines:
        return (said(cause, "walking.status_nothing"),)
    return (said(cause, "walking.status", lines=". ".join(lines)),)


def status_lines(now: Conversation) -> list[str]:
    """Every build and where it stands, one sentence each."""
    standing = list({build.number: build for build in now.standing.values()}.values())[-3:]
    lines = [_status(build) for build in now.open.values()] + [_stands(build) for build in standing]
    return lines + [line for build in (*now.open.values(), *standing) if (line := _short(build))]


def _short(build: OpenBuild) -> str:
    """What the build lacks, where it lacks anything: that is told until it is there, also of a build that stands."""
    if not build.plan["missing"]:
        return ""
    missing = wording.missing_json(build.plan["missing"])
    return wording.sentence("walking.status_short", number=wording.count(build.number), missing=missing)


def _stands(build: OpenBuild) -> str:
    number, callout = wording.count(build.number), wording.brief(build.request)
    return wording.sentence("walking.status_standing", number=number, callout=callout)


def _status(build: OpenBuild) -> str:
    number, callout = wording.count(build.number), wording.brief(build.request)
    if not build.begun:
        return wording.sentence("walking.status_waits", number=number, callout=callout)
    return wording.sentence("walking.status_walk", number=number, callout=callout, card=walking.card_name(build.at))


def repeat_the_build(now: Conversation, cause: Cause, number: int | None) -> Acts:
    """The callout that a build was released for."""
    build = walking.by_number(now, number)
    if build is None and number is None:
        return (said(cause, "walking.nothing_walked", "refused"),)
    if build is None:
        return (walking.not_open(cause, number),)
    return (
        said(
            cause, "confirming.released", build_id=build.build_id, meaning=build.request,
            number=wording.count(build.number), callout=wording.callout(build.request),
        ),
    )  # fmt: skip


def where_we_were(now: Conversation) -> str:
    """Where a conversation stood, for a restart: "we were at item four of build two"."""
    where = []
    if now.halted:
        where.append(wording.sentence("opening.resumed_halted", word=now.halted.replace("_", " ")))
    for seat in (now.measurer, now.logistics):
        if seat.pending is not None:
            where.append(wording.sentence("opening.resumed_pending"))
        if seat.parked is not None:
            where.append(wording.sentence("opening.resumed_parked"))
        if seat.teaching is not None:
            where.append(wording.sentence("opening.resumed_teaching"))
        if seat.half is not None:
            part = next_part(seat.half)
            where.append(wording.sentence("opening.resumed_half", part=wording.part_of_callout(part)))
    walked = now.walked
    if walked is not None:
        number, card = wording.count(walked.number), walking.card_name(walked.at)
        callout = wording.brief(walked.request)
        where.append(wording.sentence("opening.resumed_walk", card=card, number=number, callout=callout))
    others = [build for build in now.open.values() if build is not walked]
    for build in others:
        number, callout = wording.count(build.number), wording.brief(build.request)
        where.append(wording.sentence("opening.resumed_open", number=number, callout=callout))
    if now.seen:
        where.append(wording.sentence("sizing.under_way", pieces=wording.counted(len(now.seen), "thing")))
    if facts := places.spoken(now.site):
        where.append(wording.sentence("opening.resumed_place", facts=facts))
    return ". ".join(where) or wording.sentence("opening.resumed_nothing")


def help_(now: Conversation, cause: Cause) -> Acts:
    """A few sentences that may be said now, from the crib sheet and the grammar. What is asked for comes first."""
    words = ". ".join(spoken_help(state_name(now, cause.role)))
    text = wording.sentence("plain.help", words=words)
    seat = now.seat(cause.role)
    if seat.half is not None and seat.pending is None:
        text = f"{question(seat.asked or next_part(seat.half))} {text}"
    if seat.teaching is not None:
        text = f"{question_of_teaching(seat.teaching)} {text}"
    return (said_text(cause, text),)
