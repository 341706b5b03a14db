"""A size-up by voice: pieces of what is seen, the estimate that comes of them, and the callouts that it can become.

A piece is kept and read back; it needs no affirm, for nothing is built of it. "Work it out" gives the estimate. "Take
it" makes callouts that wait in the queue: each is read back, and built by its own affirm alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from callout.dialogue import speakable, wording
from callout.dialogue.acts import Acts, Cause, said, said_text
from callout.dialogue.builds import free_number, plan
from callout.dialogue.readback import answer_first, proposed
from callout.dialogue.records import Proposal, SizeUpTaken, WasSeen, WasSizedUp
from callout.dialogue.state import Conversation
from callout.language.speak import speak_length
from callout.shoring.sizeup import Sized, SizeUpRow, Take, size_up
from callout.values import Callout, Command, Length
from callout.values.sights import Seen

#: Why there is nothing to take, by the topic of the row that says it whole.
NONE = {
    "insertion": "sizing.none_above", "lean": "sizing.none_lean", "rakers": "sizing.none_rakers",
    "no shore": "sizing.none_shore",
}  # fmt: skip
#: What is said once a shift, and whenever the rest is asked for.
ESTIMATE = "estimate"
#: What the estimate says aloud, in this order; all of it is written. First what comes with the answer, then, when it is
#: worked out once more, the rest. Of a shore that can be taken the take says it.
FIRST = ("measure", "clear zone")
REST = ("floors below",)
REST_WITHOUT_TAKE = ("insertion", "lean", "type", "rakers", "floors below", "no shore")
#: So many things that nobody has seen yet are named.
MOST_NAMED = 2


def heard_piece(now: Conversation, cause: Cause, heard: Command) -> Acts:
    """Keep what was seen and read it back; without a piece, say what is known."""
    if heard.seen is not None:
        return _kept(cause, Seen.model_validate(now.seen), heard.seen)
    pieces = known_words(now.seen)
    if not pieces:
        return (said(cause, "sizing.begin"),)
    return (said_text(cause, _short(wording.sentence("sizing.known", pieces=pieces))),)


def known_words(seen: Mapping[str, Any]) -> str:
    """All that is known of a wall, as it is read back."""
    return "; ".join(_words(Seen.model_validate(seen), Seen.model_fields))


def piece_of(now: Conversation, cause: Cause, called: Callout) -> Acts:
    """While a wall is sized up and no callout is under way, "wall twelve feet high" is of that wall, and is kept."""
    seat = now.seat(cause.role)
    others = set(called.said) - {"wall_height", "wall_thickness", "lean", "ground"}
    if not now.seen or not called.said or others or seat.waits or seat.parked is not None:
        return ()
    return _kept(cause, Seen.model_validate(now.seen), Seen(**called.said))


def _kept(cause: Cause, known: Seen, piece: Seen) -> Acts:
    new = {name: value for name in Seen.model_fields if (value := getattr(piece, name)) is not None}
    old = {name: value for name in new if (value := getattr(known, name)) not in (None, new[name])}
    seen = known.model_copy(update=new)
    words = ["; ".join(_words(piece, new))]
    if old:
        words.append(wording.sentence("sizing.instead", pieces="; ".join(_words(known, old))))
    if seen.damage_height and seen.wall_height and seen.damage_height > seen.wall_height:
        words.append(wording.sentence("sizing.above"))
    what = WasSeen(seen=seen.model_dump(mode="json", exclude_none=True))
    return (said_text(cause, _short(*words), "seen", what=what),)


def _short(*words: str) -> str:
    return speakable.whole(". ".join(words))


def another(cause: Cause) -> Acts:
    """Another wall: what was seen is forgotten."""
    return (said(cause, "sizing.another", "seen", what=WasSeen()),)


def worked_out(now: Conversation, cause: Cause) -> Acts:
    """Say the shore alone, or in a few words why there is none, and how far people keep away; write all of it. That it
    is an estimate is said once a shift. Asked once more with nothing new seen, say the reason whole and the rest."""
    if not now.seen:
        return (said(cause, "sizing.nothing", "refused"),)
    found = size_up(Seen.model_validate(now.seen))
    what = WasSizedUp(result=found.model_dump(mode="json"))
    if now.sized == what.result:
        return (said_text(cause, _short(*_rest(found)), once_a_shift=ESTIMATE),)
    words = [_shore(found.takes[0]) if found.takes else _why_none(found), *map(_row, _of(found, FIRST))]
    if ESTIMATE not in now.said_this_shift:
        words.append(wording.sentence("sizing.estimate"))
    if found.takes:
        words.append(wording.sentence("sizing.offer_and_more"))
    elif against(found):
        words.append(wording.sentence("sizing.offer_why"))
    return (said_text(cause, _short(*words), "sized_up", what=what, once_a_shift=ESTIMATE),)


def _rest(found: Sized) -> list[str]:
    reasons = against(found)
    words = [_where(found.takes[0].callout)] if found.takes else [_aloud(row.say) for row in reasons]
    topics = REST if found.takes or reasons else REST_WITHOUT_TAKE
    words += map(_row, _of(found, topics))
    if found.look and not reasons:
        words.append(wording.sentence("sizing.look", things=_first(found.look)))
    words += [wording.sentence("sizing.estimate"), wording.sentence("sizing.rest")]
    return [*words, wording.sentence("sizing.offer")] if found.takes else words


def _of(found: Sized, topics: Iterable[str]) -> list[SizeUpRow]:
    return [row for topic in topics for row in found.rows if row.topic == topic]


def _row(row: SizeUpRow) -> str:
    if row.topic == "clear zone" and isinstance(row.value, Length):
        return wording.sentence("sizing.zone", out=speak_length(row.value)[1])
    if row.topic == "floors below" and isinstance(row.value, int):
        return wording.sentence("sizing.below", floors=wording.counted(row.value, "floor"))
    return _aloud(row.say)


def _aloud(written: str) -> str:
    """What follows a semicolon is read and never spoken."""
    return written.partition(";")[0]


def _shore(one: Take) -> str:
    """ "five timber rakers on a solid sole; eight feet on centre"; then, where it is not what was seen, that it is the
    nearest."""
    called = one.callout
    title, _, nearest = one.title.partition(", ")
    said = [f"{wording.count((called.rakers or 1) * one.rows)} {title}"]
    if called.spacing is not None:
        said.append(wording.sentence("sizing.spacing", spacing=speak_length(called.spacing)[1]))
    return ". ".join(filter(None, ("; ".join(said), nearest)))


def _where(called: Callout) -> str:
    """ "at nine feet, sixty degrees"."""
    angle = f"{wording.count(called.angle_deg or 0)} degrees"
    if called.insertion is None:
        return angle
    return f"{wording.sentence('sizing.at', height=speak_length(called.insertion)[1])}, {angle}"


def _first(things: tuple[str, ...]) -> str:
    return "; ".join(_aloud(one) for one in things[:MOST_NAMED])


def taken(now: Conversation, cause: Cause) -> Acts:
    """Turn the estimate into callouts that wait for their readback. Nothing is released by this."""
    if first := answer_first(now, cause):
        return first
    if now.sized is None:
        return (said(cause, "sizing.first" if now.seen else "sizing.nothing", "refused"),)
    found = Sized.model_validate(now.sized)
    if not found.takes:
        return (said_text(cause, _short(_why_none(found)), "refused"),)
    chosen = next((one for one in found.takes if _from_stock(now, one)), found.takes[0])
    queued = tuple(_proposals(now, cause, chosen))
    callouts = wording.counted(len(queued), "callout")
    words = wording.sentence("sizing.taken", title=chosen.title, callouts=callouts)
    return (said_text(cause, _short(words), "taken", what=SizeUpTaken(queued=queued)),)


def _why_none(found: Sized) -> str:
    """Why there is nothing to take, in a few words: what no shore is made for, else what is not known."""
    if reasons := against(found):
        return wording.sentence(NONE[reasons[0].topic])
    return wording.sentence("sizing.lacks", things=_first(_needed(found.look)))


def _needed(look: tuple[str, ...]) -> tuple[str, ...]:
    """Of what nobody has seen yet, that without which there is no shore."""
    return tuple(one for one in look if one.startswith(("the height to be held", "the wall length"))) or look


def against(found: Sized) -> list[SizeUpRow]:
    """What speaks against any shore."""
    above = [row for row in found.rows if row.topic == "insertion" and "above" in row.say]
    return above + [row for row in found.rows if row.topic == "no shore" or "specialist first" in row.say]


def _from_stock(now: Conversation, one: Take) -> bool:
    """Whether all of it is on hand now."""
    build = plan(now, now.next_id, one.callout, site={**now.site, **_facts(one)})
    return one.rows == 1 and build.refused is None and not build.missing


def _facts(one: Take) -> dict[str, Any]:
    """What is known of its place, as fields of `Site`."""
    return one.site.model_dump(mode="json", exclude_none=True)


def _proposals(now: Conversation, cause: Cause, one: Take) -> Iterable[Proposal]:
    """One callout a row; where there are several, each has its position, or it would be the same build."""
    number = now.next_id
    for _ in range(one.rows):
        request = one.callout
        if one.rows > 1:
            number = free_number(now, number)
            request, number = request.model_copy(update={"position": number}), number + 1
        yield proposed(cause, "callout", request, facts=_facts(one))


def _words(seen: Seen, names: Iterable[str]) -> list[str]:
    """Each piece as it is read back, figures digit by digit: "wall four zero feet long", "lean four inches"."""
    said = []
    for name in names:
        value = getattr(seen, name)
        if value is None or (name == "floor" and "floors" in names and seen.floors is not None):
            continue
        lead, tail = _LEADS[name]
        if isinstance(value, Length):
            middle = speak_length(value)[0]
        elif name in ("openings", "floors"):
            middle = wording.count(value) if value else "no"
            lead = f"{seen.floor} " if name == "floors" and seen.floor is not None and "floor" in names else ""
            middle, lead = f"{middle} {lead}".strip(), ""
        else:
            middle = str(value)
        said.append(" ".join(part for part in (lead, middle, tail) if part))
    return said


#: What is said before and after each piece.
_LEADS: Mapping[str, tuple[str, str]] = {
    "wall_length": ("wall", "long"), "wall_height": ("", "high"), "wall_thickness": ("", "thick"), "wall": ("", "wall"),
    "openings": ("", "openings"), "floor": ("", "floors"), "floors": ("", "floors"), "floor_span": ("span", ""),
    "lean": ("lean", ""), "damage_height": ("damage at", ""), "ground": ("on", ""), "soil": ("ground", ""),
    "before": ("", "in front"), "room": ("room", ""),
}  # fmt: skip
