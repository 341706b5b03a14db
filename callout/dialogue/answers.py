"""Answers to questions. They change nothing, and go to whoever asked, so that one build does not disturb another."""

from __future__ import annotations

from callout.dialogue import places, walking, wording
from callout.dialogue.asking import next_part, question
from callout.dialogue.state import Conversation, OpenBuild, on_hand, state_name
from callout.dialogue.stock_lines import matching
from callout.dialogue.turn import Turn
from callout.language.cribsheet import spoken_help
from callout.values import Command


def where(turn: Turn, asked: Command) -> None:
    """Where the part at the cursor lies, or the item or part that was named."""
    if asked.part is not None and asked.item is None:
        lines = matching(turn.now, asked.part, asked.length)
        if not lines:
            turn.say("stock.unknown", "refused", part=wording.named_part(asked.part, None))
        else:
            places = ", ".join(dict.fromkeys(wording.text(line.where) for line in lines))
            turn.say("walking.where", part=wording.named_part(asked.part, asked.length), where=places)
        return
    build, line = _item_asked(turn, asked)
    if build is not None and line is not None:
        part = build.build.parts[line]
        key = "walking.where" if part.where else "walking.where_unknown"
        named = wording.lines(part.name, part.quantity)
        turn.say(key, build_id=build.build_id, part=named, where=wording.text(part.where))


def what_size(turn: Turn, asked: Command) -> None:
    """How long the pieces of an item are."""
    build, line = _item_asked(turn, asked)
    if build is not None and line is not None:
        part = build.build.parts[line]
        key = "walking.size" if part.length is not None else "walking.size_unknown"
        turn.say(key, build_id=build.build_id, part=wording.part(part, part.quantity))


def how_heavy(turn: Turn, asked: Command) -> None:
    """What an item weighs, or one piece of a part of the stock; and the whole build."""
    if asked.part is not None:
        lines = matching(turn.now, asked.part, asked.length)
        if not lines:
            turn.say("stock.unknown", "refused", part=wording.named_part(asked.part, None))
        else:
            turn.say("walking.weight_each", lines=wording.weights([(line.name, line.weight_lb) for line in lines]))
        return
    build = walking.by_number(turn.now, asked.build)
    if build is None:
        turn.say("walking.nothing_walked", "refused")
        return
    number, whole = wording.count(build.number), wording.pounds(build.build.weight_lb)
    at_item = build.at.kind == "item" and asked.build is None
    line = asked.item - 1 if asked.item is not None else build.at.index if at_item else None
    if line is None or not 0 <= line < len(build.got):
        turn.say("walking.weight_build", build_id=build.build_id, number=number, weight=whole)
        return
    part = build.build.parts[line]
    turn.say(
        "walking.weight", build_id=build.build_id, item=wording.count(line + 1), number=number, all=whole,
        weight=wording.pounds(part.weight_lb * part.quantity),
    )  # fmt: skip


def _item_asked(turn: Turn, asked: Command) -> tuple[OpenBuild | None, int | None]:
    """The build in question, and the line of its parts that was named or is at the cursor; None after saying why."""
    build = walking.by_number(turn.now, asked.build)
    if build is None:
        turn.say("walking.nothing_walked", "refused")
        return None, None
    line = asked.item - 1 if asked.item is not None else build.at.index if build.at.kind == "item" else None
    if line is None:
        turn.say("walking.needs_item", "refused")
    elif not 0 <= line < len(build.got):
        turn.say("walking.not_an_item", "refused", count=wording.count(len(build.got)))
        line = None
    return build, line


def how_many_left(turn: Turn) -> None:
    build = turn.now.walked
    if build is None:
        turn.say("walking.nothing_walked", "refused")
        return
    items, number = wording.counted(len(build.open_lines), "item"), wording.count(build.number)
    key = "walking.left" if build.open_lines else "walking.list_empty"
    turn.say(key, build_id=build.build_id, items=items, number=number)


def how_many(turn: Turn, asked: Command) -> None:
    """How many of a part lie on hand; without a part, how many items are left."""
    if asked.part is None:
        how_many_left(turn)
        return
    lines, lying = matching(turn.now, asked.part, asked.length), on_hand(turn.now)
    if not lines:
        turn.say("stock.unknown", "refused", part=wording.named_part(asked.part, None))
        return
    there = [(line.name, max(0, lying[line.name])) for line in lines]
    turn.say("stock.on_hand", lines=wording.pieces_on_hand(there))


#: After so many items a list waits to be asked for more.
ONE_LIST = 5


def parts_list(turn: Turn) -> None:
    """What is left to fetch, five items at a time: the same word again goes on. The whole list is on the console."""
    build = turn.now.walked
    if build is None:
        walking.no_walk(turn)
        return
    number = wording.count(build.number)
    if not build.open_lines:
        turn.say("walking.list_empty", build_id=build.build_id, number=number)
        return
    listed = turn.seat.listed
    since = listed[1] if listed is not None and listed[0] == build.build_id else 0
    lines = [line for line in build.open_lines if line >= since] or list(build.open_lines)
    said = []
    for line in lines[:ONE_LIST]:
        part = wording.some(build.build.parts[line].name, build.left(line), build.build.parts[line].length)
        said.append(wording.sentence("walking.listed", item=wording.count(line + 1), part=part))
    key = "walking.list" if len(lines) <= ONE_LIST else "walking.list_more"
    turn.say(key, build_id=build.build_id, number=number, lines=wording.things(said))
    more = lines[ONE_LIST] if len(lines) > ONE_LIST else 0
    turn.set_seat(listed=(build.build_id, more))


def cautions(turn: Turn) -> None:
    """The cautions of the build in the walk, or of the one released last, whole."""
    builds = list(turn.now.open.values()) + list(turn.now.standing.values())
    build = turn.now.walked or (max(builds, key=lambda build: build.build_id) if builds else None)
    if build is None:
        turn.say("walking.status_nothing", "refused")
    else:
        walking.cautions(turn, build.build)


def status(turn: Turn) -> None:
    lines = status_lines(turn.now)
    if turn.seat.pending is not None:
        lines.append(wording.sentence("opening.resumed_pending"))
    if turn.seat.parked is not None:
        lines.append(wording.sentence("opening.resumed_parked"))
    if lines:
        turn.say("walking.status", lines=". ".join(lines))
    else:
        turn.say("walking.status_nothing")


def status_lines(now: Conversation) -> list[str]:
    """Every build and where it stands, one sentence each."""
    standing = list({build.number: build for build in now.standing.values()}.values())
    return [_status(build) for build in now.open.values()] + [_stands(build) for build in standing[-3:]]


def _stands(build: OpenBuild) -> str:
    number, callout = wording.count(build.number), wording.brief(build.request)
    return wording.sentence("walking.status_standing", number=number, callout=callout)


def _status(build: OpenBuild) -> str:
    number, callout = wording.count(build.number), wording.brief(build.request)
    if not build.begun:
        return wording.sentence("walking.status_waits", number=number, callout=callout)
    return wording.sentence("walking.status_walk", number=number, callout=callout, card=walking.card_name(build.at))


def repeat_the_build(turn: Turn, number: int | None) -> None:
    """The callout that a build was released for."""
    build = walking.by_number(turn.now, number)
    if build is None:
        missing = wording.count(number) if number is not None else ""
        turn.say("walking.no_such_build" if missing else "walking.nothing_walked", "refused", number=missing)
        return
    turn.say(
        "confirming.released", build_id=build.build_id, meaning=build.request, number=wording.count(build.number),
        callout=wording.callout(build.request),
    )  # fmt: skip


def where_we_were(now: Conversation) -> str:
    """Where a conversation stood, for a restart: "we were at item four of build two"."""
    said = []
    if now.halted:
        said.append(wording.sentence("opening.resumed_halted", word=now.halted.replace("_", " ")))
    for seat in (now.measurer, now.logistics):
        if seat.pending is not None:
            said.append(wording.sentence("opening.resumed_pending"))
        if seat.parked is not None:
            said.append(wording.sentence("opening.resumed_parked"))
        if seat.half is not None:
            part = next_part(seat.half)
            said.append(wording.sentence("opening.resumed_half", part=wording.part_of_callout(part)))
    walked = now.walked
    if walked is not None:
        number, card = wording.count(walked.number), walking.card_name(walked.at)
        callout = wording.brief(walked.request)
        said.append(wording.sentence("opening.resumed_walk", card=card, number=number, callout=callout))
    others = [build for build in now.open.values() if build is not walked]
    for build in others:
        number, callout = wording.count(build.number), wording.brief(build.request)
        said.append(wording.sentence("opening.resumed_open", number=number, callout=callout))
    if now.seen:
        said.append(wording.sentence("sizing.under_way", pieces=wording.counted(len(now.seen), "thing")))
    if facts := places.spoken(now.site):
        said.append(wording.sentence("opening.resumed_place", facts=facts))
    return ". ".join(said) or wording.sentence("opening.resumed_nothing")


def help_(turn: Turn) -> None:
    """A few sentences that may be said now, from the crib sheet and the grammar. What is asked for comes first."""
    words = ". ".join(spoken_help(state_name(turn.now, turn.role)))
    text = wording.sentence("plain.help", words=words)
    seat = turn.seat
    if seat.half is not None and seat.pending is None:
        text = f"{question(seat.asked or next_part(seat.half))} {text}"
    turn.say_text(text)
