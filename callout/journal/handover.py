"""The hand-over sheet: where everything stands, for the shift that takes over. A fold over the journal and no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from callout.dialogue.following import place_of
from callout.dialogue.places import spoken
from callout.dialogue.records import PiecesMoved, Record, WasSeen, WasSizedUp
from callout.dialogue.state import Conversation, OpenBuild, holdings
from callout.dialogue.watch import watch
from callout.shoring.sizeup import Sized, estimate_lines

CAUTION = "Figures here are working estimates. Nothing is approved until the structures specialist says so."


def handover(now: Conversation, records: Iterable[Record], counted: bool) -> dict[str, Any]:
    """Where everything stands, as JSON.

    `counted`: the stock file of this yard was given, so that what lies on hand can be told; without it only what was
    moved is.
    """
    every = list(records)
    seats = (now.measurer, now.logistics)
    return {
        "first": every[0].time if every else None,
        "last": every[-1].time if every else None,
        "lines": len(every),
        "silent_since": now.halted or None,
        "place": spoken(now.site),
        "waiting": [seat.pending.text for seat in seats if seat.pending is not None],
        "set_aside": [seat.parked.text for seat in seats if seat.parked is not None],
        "open": [_build(build) for build in now.open.values()],
        "standing": [_build(build) for build in now.standing.values()],
        "aftercare": _aftercare(now, every),
        "size_ups": _size_ups(every),
        "stock": _stock(now, every, counted),
        "alarms": [[record.time, record.text] for record in every if record.event == "alarm"],
        "errors": [[record.time, record.text] for record in every if record.event == "error"],
        "caution": CAUTION,
    }


def _aftercare(now: Conversation, records: list[Record]) -> list[dict[str, Any]]:
    """Of every shore that stands: who looked last, what has moved, when the next look is, as of the last line."""
    watched = watch(records)
    timed = [record.time for record in records if record.time is not None]
    return [
        {"build": build.number, **watched.after_care(build_id, datetime.fromisoformat(timed[-1]))}
        for build_id, build in now.standing.items()
        if build_id in watched.shores
    ]


def _size_ups(records: list[Record]) -> list[dict[str, Any]]:
    """The last estimate of every wall that was sized up, with what was seen, and the source of every rule."""
    found: list[dict[str, Any]] = []
    same_wall = False
    for record in records:
        if isinstance(record.what, WasSeen) and not record.what.seen:
            same_wall = False
        elif isinstance(record.what, WasSizedUp):
            found = [*(found[:-1] if same_wall else found), {"time": record.time, **record.what.result}]
            same_wall = True
    return found


def _build(build: OpenBuild) -> dict[str, Any]:
    return {
        "build": build.number,
        "title": build.plan["title"],
        "height": None if build.request.insertion is None else build.request.insertion.text,
        "angle": build.request.angle_deg,
        "place": place_of(build.request),
        "given_by": build.name or build.role,
        "parts": [
            {"name": part["name"], "wanted": part["quantity"], "picked": got, "where": part["where"]}
            for part, got in zip(build.plan["parts"], build.got, strict=True)
        ],
        "short_of": [missing["text"] or missing["part"] for missing in build.plan["missing"]],
    }


def called(build: dict[str, Any]) -> str:
    """ "pair of rakers, 11 ft @ 60°, east wall, position 3, for team two"."""
    angle = "" if build["angle"] is None else f" @ {build['angle']}°"
    figures = f"{build['height'] or ''}{angle}".strip()
    return ", ".join(words for words in (build["title"], figures, build["place"]) if words)


def _stock(now: Conversation, records: list[Record], counted: bool) -> list[dict[str, Any]]:
    """Lines of the stock that somebody touched, all of them when counted."""
    ledger = holdings(now)
    returned: Counter[str] = Counter()
    for record in records:
        if record.event == "returned" and not (isinstance(record.what, PiecesMoved) and record.what.stands):
            returned.update(dict(record.pieces))
    rows = []
    names = {line.name for line in now.stock.lines} if counted else set()
    for name in sorted({*names, *now.changes, *returned, *(n for held in ledger.builds.values() for n in held)}):
        held = [mine[name] for mine in ledger.builds.values() if name in mine]
        rows.append(
            {
                "name": name,
                "on_hand": ledger.on_hand.get(name, 0) if counted else None,
                "reserved": sum(each.reserved for each in held),
                "picked": sum(each.picked for each in held),
                "placed": sum(each.placed for each in held),
                "returned": returned[name],
                "counted_since": now.changes.get(name, 0),
            }
        )
    return rows


def as_text(sheet: dict[str, Any], source: str) -> str:
    """The sheet as plain lines that print."""
    lines = [f"HAND-OVER  {source}", f"{sheet['lines']} lines, {sheet['first'] or '-'} to {sheet['last'] or '-'}", ""]
    if sheet["silent_since"]:
        lines += [f"SILENT SINCE: {sheet['silent_since']}", ""]
    lines += _section("KNOWN OF THE PLACE", [sheet["place"]] if sheet["place"] else [])
    lines += _section("WAITING FOR AN ANSWER", sheet["waiting"]) + _section("SET ASIDE", sheet["set_aside"])
    for name, title in (("open", "OPEN BUILDS"), ("standing", "STANDING")):
        lines.append(title)
        for build in sheet[name]:
            lines.append(f"  build {build['build']}: {called(build)} (given by {build['given_by']})")
            if name == "open":
                lines += [
                    f"    {part['picked']:>3} of {part['wanted']:>3}  {part['name']}  {part['where']}".rstrip()
                    for part in build["parts"]
                ]
            lines += [f"    SHORT: {text}" for text in build["short_of"]]
        lines += [*([] if sheet[name] else ["  none"]), ""]
    if sheet["aftercare"]:
        lines += ["AFTER THEY STAND", *(line for shore in sheet["aftercare"] for line in looks(shore)), ""]
    for estimate in sheet["size_ups"]:
        lines += [f"SIZE-UP, {(estimate['time'] or '-')[:16].replace('T', ' ')}", *size_up_lines(estimate), ""]
    lines += ["STOCK   on hand  promised  picked  placed  returned  counted since"]
    for row in sheet["stock"]:
        on_hand = "-" if row["on_hand"] is None else row["on_hand"]
        lines.append(
            f"        {on_hand:>7}  {row['reserved']:>8}  {row['picked']:>6}  {row['placed']:>6}  "
            f"{row['returned']:>8}  {row['counted_since']:>+13d}  {row['name']}"
        )
    if any(row["on_hand"] is None for row in sheet["stock"]):
        lines.append("        what lies on hand is told with --stock FILE, the yard's stock file")
    lines.append("")
    for name in ("alarms", "errors"):
        lines += _section(name.upper(), [f"{time}  {text}" for time, text in sheet[name]])
    return "\n".join([*lines, sheet["caution"]])


def size_up_lines(estimate: dict[str, Any]) -> list[str]:
    """An estimate with its caution, as lines."""
    found = Sized.model_validate({name: value for name, value in estimate.items() if name != "time"})
    return [f"  {line}".rstrip() for line in (found.caution, *estimate_lines(found))]


def looks(shore: dict[str, Any]) -> list[str]:
    """What is known of one shore that stands: who looked last, what has moved, when the next look is."""
    signed = f", signed {shore['signed']}" if shore["signed"] else ""
    last = f"last look {shore['last'][:16].replace('T', ' ')}{signed}" if shore["last"] else "nobody has looked yet"
    lines = [f"  build {shore['build']}: {last}; {shore['due']['say']}"]
    if shore["not_signed"]:
        lines.append("    a look is begun, and not signed")
    if shore["tight"] is False:
        lines.append("    NOT TIGHT at the last look")
    return [*lines, *(f"    {one['level'].upper():<7}{one['say']}" for one in shore["movements"])]


def _section(title: str, texts: list[str]) -> list[str]:
    return [title, *(f"  {text}" for text in texts), ""] if texts else []
