"""Following a journal: what its lines add up to, one line at a time, and the board that shows it.

    followed = follow(journal.records())
    followed.board().to_json()

It needs no planner and no stock file (without one what lies on hand is not known: None), and asks no clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from callout.dialogue import walking, wording
from callout.dialogue.board import Board, BoardBuild, BoardFigure, BoardItem, BoardStock, BoardWait, BoardWord
from callout.dialogue.evolve import evolve
from callout.dialogue.records import ROLES, Record, Role, WasSaid
from callout.dialogue.settings import load_settings
from callout.dialogue.sizing import known_words
from callout.dialogue.state import Conversation, OpenBuild, Pending, Seat, before_load, holdings
from callout.dialogue.watch import CARE, Watch, watch
from callout.shoring.aftercare import Due
from callout.shoring.build import Build
from callout.shoring.holdings import Holdings
from callout.shoring.on_paper import labels_once
from callout.shoring.plan import Planner
from callout.shoring.request import Site
from callout.shoring.stock import Stock
from callout.values import Callout, Length

#: The parts of a callout as an eye looks for them; the rest is named as the fields are.
_LABELS = {"insertion": "height", "span": "width", "angle_deg": "angle", "for_whom": "for"}
#: Parts of a request that say where it is, and are shown as its place.
_PLACES = ("place", "position", "for_whom")


@dataclass(frozen=True)
class _NoPlanner:
    """A fold plans nothing."""

    sites: Mapping[int, Site] = field(default_factory=dict)

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build:
        raise RuntimeError("a board plans nothing")


@dataclass(frozen=True)
class Followed:
    """What the lines so far add up to, with the times and names that the conversation does not keep. `counted`: the
    stock is a real one."""

    now: Conversation
    counted: bool = False
    seq: int = 0
    time: str | None = None
    heard: Record | None = None
    said: Record | None = None
    halted_since: str | None = None
    since: Mapping[int, str | None] = field(default_factory=dict)  # build -> when it was released, or placed
    walks: Mapping[int, int] = field(default_factory=dict)  # build -> the line that brought its walk where it is
    hands: Mapping[int, tuple[str, ...]] = field(default_factory=dict)  # build -> who picked for it
    care: tuple[Record, ...] = ()  # what tells when the shores that stand are to be looked at
    waits: Mapping[Role, str | None] = field(default_factory=dict)  # seat -> since when something waits there

    def after(self, record: Record) -> Followed:
        """With one more line, as it was written."""
        before, now = self.now, evolve(self.now, record)
        changes: dict[str, Any] = {"now": now, "seq": record.seq or self.seq, "time": record.time or self.time}
        if record.event == "heard":
            changes["heard"] = record if record.text else self.heard
        elif record.text:
            changes["said"] = record
        if now.halted != before.halted:
            changes["halted_since"] = record.time if now.halted else None
        waits = {}
        for role in ROLES:
            old, new = _what_waits(getattr(before, role)), _what_waits(getattr(now, role))
            if new is not None:
                waits[role] = self.waits.get(role) if new == old else record.time
        changes["waits"] = waits
        build = record.build_id
        if build is not None:
            if record.event in ("released", "placed"):
                changes["since"] = {**self.since, build: record.time}
            if record.event == "picked" and record.speaker and record.speaker not in self.hands.get(build, ()):
                changes["hands"] = {**self.hands, build: (*self.hands.get(build, ()), record.speaker)}
        card = record.what.at if isinstance(record.what, WasSaid) else None
        if card is not None or now.focus != before.focus or (build is not None and record.build is not None):
            at = build if card is None else card[0]
            if at is not None and record.seq is not None:
                changes["walks"] = {**self.walks, at: record.seq}
        if record.event in CARE:
            changes["care"] = (*self.care, record)
        return replace(self, **changes)

    def board(self, live: bool | None = None) -> Board:
        """The snapshot. `live`: whether somebody writes more lines, which no line tells."""
        now, watched = self.now, watch(self.care)
        return Board(
            seq=self.seq,
            time=self.time,
            live=live,
            halted=now.halted.replace("_", " "),
            halted_since=self.halted_since,
            place=_words_of_place(now.site),
            size_up=_size_up(now),
            waiting=tuple(wait for role in ROLES for wait in self._waiting(role, getattr(now, role))),
            open=tuple(self._build(build, stands=False) for build in now.open.values()),
            standing=tuple(self._standing(build, watched) for build in now.standing.values()),
            stock=self._stock(),
            heard=_word(self.heard),
            said=_word(self.said),
        )

    def _waiting(self, role: Role, seat: Seat) -> list[BoardWait]:
        found = []
        since = self.waits.get(role)
        if seat.pending is not None:
            found.append(self._readback(role, seat.pending, since, parked=False))
        if seat.half is not None:
            half = Callout.model_validate(seat.half)
            asked = wording.part_of_callout(seat.asked) if seat.asked else ""
            say = f"say the {asked}" if asked else "say the rest of the callout"
            found.append(
                BoardWait(
                    role=role, who=role, kind="half", text=seat.last, say=say, asked=asked, since=since,
                    figures=figures(half),
                )
            )  # fmt: skip
        if seat.parked is not None:
            found.append(self._readback(role, seat.parked, since, parked=True))
        return found

    def _readback(self, role: Role, pending: Pending, since: str | None, *, parked: bool) -> BoardWait:
        build = self.now.build(pending.build_id)
        text = pending.text.removeprefix(wording.AGAIN)
        return BoardWait(
            role=role,
            who=pending.name or pending.role,
            kind=pending.kind,
            text=text,
            say="say read back" if parked else wording.answers_to(pending.kind, cannot=pending.shape.cannot),
            build=None if build is None else build.number,
            figures=() if pending.request is None else figures(pending.request),
            since=since,
            parked=parked,
        )

    def _standing(self, build: OpenBuild, watched: Watch) -> BoardBuild:
        shown = self._build(build, stands=True)
        if build.build_id not in watched.shores or self.time is None:
            return shown
        care = watched.after_care(build.build_id, datetime.fromisoformat(self.time))
        due = Due.model_validate(care["due"])
        warnings = [one["say"] for one in care["movements"] if one["level"] != "steady"]
        return shown.model_copy(
            update={
                "next_look": due.at.isoformat(timespec="seconds"),
                "look_why": due.why,
                "last_look": care["last"],
                "signed": care["signed"] or "",
                "warnings": (*warnings, *(["it was not tight"] if care["tight"] is False else [])),
                "look_begun": care["not_signed"],
            }
        )

    def _build(self, build: OpenBuild, *, stands: bool) -> BoardBuild:
        request, card, plan = build.request, build.at, build.plan
        walked = not stands and self.now.focus == build.build_id and build.begun
        at = card.index if build.begun and card.kind == "item" and not stands else None
        checks = list(before_load(plan))
        if card.kind == "check":
            checks = checks[card.index :]
        elif stands or card.kind == "end":
            checks = []
        return BoardBuild(
            build_id=build.build_id,
            number=build.number,
            state="stands" if stands else "walk" if walked else "begun" if build.begun else "waits",
            title=str(plan.get("title", "")),
            kind=request.kind.replace("_", " "),
            height="" if request.insertion is None else request.insertion.text,
            angle=request.angle_deg,
            position=request.position,
            place=place_of(request),
            for_whom=request.for_whom,
            given_by=build.name or build.role,
            picked_by=self.hands.get(build.build_id, ()),
            since=self.since.get(build.build_id),
            items=tuple(
                BoardItem(
                    item=part["item"], quantity=part["quantity"], picked=got, name=part["name"],
                    where=part.get("where", ""), now=index == at,
                )
                for index, (part, got) in enumerate(zip(plan["parts"], build.got, strict=True))
            ),
            pieces=sum(int(part["quantity"]) for part in plan["parts"]),
            pieces_picked=sum(build.got),
            items_left=len(build.open_lines),
            short=() if stands else _short(plan.get("missing", ())),
            remedy="" if stands else next((str(r.get("text", "")) for r in plan.get("remedies", ())), ""),
            card_kind=card.kind if build.begun and not stands else "",
            card=walking.card_name(card) if build.begun and not stands else "",
            says=walking.card_text(build, card) if build.begun and not stands else "",
            walk=None if stands else self.walks.get(build.build_id),
            checks=tuple(checks),
        )  # fmt: skip

    def _stock(self) -> tuple[BoardStock, ...]:
        now, ledger = self.now, holdings(self.now)
        where = {line.name: line.where for line in now.stock.lines}
        where |= {
            part["name"]: part.get("where", "")
            for build in (*now.standing.values(), *now.open.values())
            for part in build.plan["parts"]
        }
        touched = {*now.changes, *(name for held in ledger.builds.values() for name in held)}
        names = [line.name for line in now.stock.lines]
        rows = []
        for name in (*names, *sorted(touched.difference(names))):
            promised = ledger.promised.get(name, 0)
            on_hand = ledger.on_hand.get(name, 0) if self.counted else None
            rows.append(
                BoardStock(
                    name=name, where=where.get(name, ""), on_hand=on_hand, promised=promised,
                    free=None if on_hand is None else max(0, on_hand - promised),
                    out=sum(held[name].out for held in ledger.builds.values() if name in held),
                )
            )  # fmt: skip
        return tuple(rows)


def follow(records: Iterable[Record] = (), stock: Stock | None = None) -> Followed:
    """What `records` add up to; go on with `Followed.after`. `stock` tells what lay on hand before them."""
    planner: Planner = _NoPlanner()
    # Each side's lines name their own seat; one source only ever names the measurer's.
    now = Conversation(load_settings(one_source=False), planner, _no_stock() if stock is None else stock)
    followed = Followed(now, counted=stock is not None)
    for record in records:
        followed = followed.after(record)
    return followed


def board(records: Iterable[Record], stock: Stock | None = None, *, live: bool | None = None) -> Board:
    """The snapshot after `records`; `live` as in `Followed.board`."""
    return follow(records, stock).board(live)


def figures(request: Callout) -> tuple[BoardFigure, ...]:
    """The parts of a callout for the eye, in the order in which they are read back."""
    return tuple(
        BoardFigure(label=_LABELS.get(name, name.replace("_", " ")), text=_text(name, value))
        for name, value in request.said.items()
    )


def place_of(request: Callout) -> str:
    """Where a callout is for, as far as it was said: "position 2"."""
    said = [(name, getattr(request, name, None)) for name in _PLACES]
    return ", ".join(_place(name, value) for name, value in said if value is not None)


def _place(name: str, value: object) -> str:
    return str(value) if name == "place" else f"{_LABELS.get(name, name)} {value}"


def _text(name: str, value: object) -> str:
    if isinstance(value, Length):
        return value.text
    return f"{value}°" if name == "angle_deg" else str(value).replace("_", " ")


def _what_waits(seat: Seat) -> object:
    """What stays equal as long as the same wait goes on: a readback that is said again is the same."""
    if seat.pending is not None:
        return seat.pending.shape
    return seat.half if seat.half is not None else None if seat.parked is None else seat.parked.shape


def _short(lacking: Iterable[Mapping[str, Any]]) -> tuple[str, ...]:
    """What is missing in words, the same thing for several uses once: "2 strut coupler for rakers 1, 2: none left"."""
    sums: dict[tuple[str, str], int] = {}
    uses: dict[tuple[str, str], list[str]] = {}
    for one in lacking:
        text, count, use = _missing(one), one.get("quantity"), f" for {one.get('need')}"
        if not isinstance(count, int) or not text.startswith(f"{count} ") or use not in text:
            key, count, use = (text, ""), 0, ""
        else:
            what, _, why = text.removeprefix(f"{count} ").partition(use)
            key = (what, why)
        sums[key] = sums.get(key, 0) + count
        uses.setdefault(key, []).append(use.removeprefix(" for "))
    return tuple(
        f"{count} {what} for {labels_once(uses[what, why])}{why}" if count else what
        for (what, why), count in sums.items()
    )


def _missing(missing: Mapping[str, Any]) -> str:
    return str(missing.get("text") or f"{missing.get('quantity', '')} {missing.get('name') or missing['part']}".strip())


def _words_of_place(site: Mapping[str, Any]) -> str:
    from callout.dialogue.places import spoken

    return spoken(site) if site else ""


def _size_up(now: Conversation) -> tuple[str, ...]:
    """The pieces as a voice says them; then the estimate, row by row."""
    if not now.seen:
        return ()
    rows = () if now.sized is None else tuple(f"{row['topic']}: {row['say']}" for row in now.sized["rows"])
    return (known_words(now.seen), *rows)


def _word(record: Record | None) -> BoardWord | None:
    if record is None:
        return None
    return BoardWord(time=record.time, speaker=record.speaker or "callout", text=record.text)


def _no_stock() -> Stock:
    return Stock.model_construct(name="")
