"""An invented morning for pictures and tests: five builds, one in the walk, one short, and a readback that waits.

`python -m tests.board_scene` writes the snapshots of the large screen anew (tests/data/screens); look at each.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from functools import lru_cache
from pathlib import Path

from callout.console.frame import EarSign, Face
from callout.console.record_lines import Lines
from callout.console.screen import KEYS, MEASURER_KEYS
from callout.console.themes import plain
from callout.console.views import VIEWS
from callout.dialogue.events import Opened
from callout.dialogue.following import Followed, follow
from callout.dialogue.machine import start
from callout.dialogue.records import Record
from callout.dialogue.settings import load_settings
from callout.journal.memory import MemoryJournal
from callout.language.speak import readback
from callout.shoring.build import Build, Missing, Part
from callout.shoring.holdings import Held, Holdings
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Stock, load_stock, parse_stock
from callout.values import Callout
from tests.dialogue_kit import KIT, FakePlanner, Talk, ft

BEGIN = datetime(2031, 5, 4, 10, 40, 0, tzinfo=timezone(timedelta(hours=2)))


def written(records: Iterable[Record], begin: datetime = BEGIN) -> list[Record]:
    """The lines of a conversation as a journal has them, one second apart."""
    clock = iter(begin + timedelta(seconds=n) for n in range(1_000_000))
    journal = MemoryJournal(clock=lambda: next(clock))
    return [journal.append(record) for record in records]


#: Name, where it lies, how many there are, how many a build takes: a yard that no planner and no kit changes.
YARD = (
    ("eight foot strut", "rack B", 18, 2), ("wall plate", "rack F", 72, 6), ("plate joint", "crate 2", 60, 4),
    ("thirty inch brace", "rack C", 18, 2), ("four foot lateral", "rack D", 36, 3), ("tie clamp", "crate 4", 150, 10),
    ("fifty four inch diagonal", "rack D", 24, 2), ("head fitting", "crate 2", 36, 2), ("base plate", "crate 3", 36, 2),
    ("brace clamp", "crate 4", 48, 2), ("brick anchor", "crate 5", 120, 6), ("picket", "rack G", 38, 8),
    ("16d nail", "crate 8", 24000, 64), ("2x6 timber, 12 ft", "timber bay 2x6", 120, 1),
    ("2x6 timber, 20 ft", "timber bay 2x6", 48, 1),
)  # fmt: skip


Pieces = tuple[tuple[str, str, int, int], ...]


def yard_stock(pieces: Pieces = YARD) -> Stock:
    """What lies in that yard: too few pickets for the last build."""
    lines = "".join(
        f'[[piece]]\nname = "{name}"\npart = "{name}"\nquantity = {count}\nwhere = "{where}"\nweight_lb = 5\n'
        for name, where, count, _ in pieces
    )
    return parse_stock(KIT + lines)


@dataclass(frozen=True)
class YardPlanner(FakePlanner):
    """Every build takes the same, as far as it is free."""

    pieces: Pieces = YARD

    def plan(self, build_id: int, request: Callout, stock: Stock, holdings: Holdings) -> Build:
        held, parts, missing = holdings.held(build_id), [], []
        for name, where, _, wanted in self.pieces:
            mine = held.get(name, Held())
            free = mine.out + holdings.on_hand[name] - holdings.promised.get(name, 0) + mine.reserved
            if take := min(wanted, free):
                parts.append(Part(item=len(parts) + 1, quantity=take, part=name, name=name, where=where))
            if take < wanted:
                text = f"{wanted - take} {name} for bases: {wanted} wanted, {take} left to take"
                missing.append(Missing(part=name, quantity=wanted - take, text=text))
        return Build(
            build_id=build_id, title="pair of rakers", request=request, possible=not missing, parts=tuple(parts),
            missing=tuple(missing), checks=("all tight", "wall watched"),
            cautions=("working estimate, not an approval",),
        )  # fmt: skip


def shed_stock() -> Stock:
    """The packaged stock, with too few pickets for the last build."""
    stock = load_stock()
    return stock.with_quantities({line.name: 3 * line.quantity for line in stock.lines} | {"picket": 38})


@lru_cache(maxsize=2)
def morning(*, planned: bool = False) -> tuple[Record, ...]:
    """The lines of the morning. Build 1 stands, 2 is in the walk at its fourth item, the last is short of pickets.
    `planned`: by the planner proper from the packaged stock, for drawings."""
    settings = load_settings(seconds_a_word=0.0, one_source=False)
    begun = start(shed_stock(), ShorePlanner(), settings) if planned else start(yard_stock(), YardPlanner(), settings)
    talk = Talk(begun).put(Opened(0.0))

    def called(feet: int, angle: int, position: int | None = None, team: str | None = None) -> None:
        request = Callout(insertion=ft(feet), angle_deg=angle, position=position, for_whom=team)
        talk.say(request, "measurer").say("affirm", "measurer")

    called(8, 45, 1, "team alpha")
    for _ in range(120):
        if talk.now.standing:
            break
        talk.key("ready")
        if talk.now.logistics.pending is not None:  # build one stands?
            talk.say("affirm", "logistics")
    called(11, 60, 2, "team alpha")
    called(9, 45, 3, "team bravo")
    called(13, 60, 4, "team bravo")
    called(7, 45, 5)
    talk.key("ready").key("ready").key("ready")
    talk.say(Callout(insertion=ft(12, 6), angle_deg=60, position=6), "measurer")
    return tuple(written(_in_words(record) for record in talk.records))


#: Long names, long places: what must not push anything out.
LONG = (
    ("one hundred and twenty inch heavy adjustable strut", "shelf twelve of the long container by the gate", 18, 2),
    ("plate joint with four bolts and washers", "crate number two under the tarpaulin", 60, 4),
    ("thirty inch telescopic brace", "trailer C", 18, 2), ("picket", "rack G", 38, 8),
)  # fmt: skip


@lru_cache(maxsize=1)
def long_names() -> Followed:
    """Five builds with long names of parts, places and crews, the last one short, and a readback that waits."""
    stock = yard_stock(LONG)
    settings = load_settings(seconds_a_word=0.0, one_source=False)
    talk = Talk(start(stock, YardPlanner(pieces=LONG), settings)).put(Opened(0.0))
    corner = "north east corner of the machine hall"
    for feet, inches, angle, position, team in (
        (8, 0, 45, 1, "rescue company twenty alpha"), (11, 6, 60, 2, "ladder nineteen"),
        (9, 0, 45, 3, "engine company eighteen"), (13, 11, 60, 14, None), (7, 0, 45, 5, None),
    ):  # fmt: skip
        request = Callout(insertion=ft(feet, inches), angle_deg=angle, position=position, for_whom=team, place=corner)
        talk.say(request, "measurer").say("affirm", "measurer")
    talk.key("ready").key("ready")
    request = Callout(
        insertion=ft(12, 6), angle_deg=60, position=16, place="south side of the loading bay", wall_height=ft(24),
        for_whom="rescue company twenty alpha",
    )  # fmt: skip
    talk.say(request, "measurer")
    return follow(written(_in_words(record) for record in talk.records), stock)


def _in_words(record: Record) -> Record:
    """What was heard, in the words in which it may have been said."""
    if record.event != "heard" or record.meaning is None:
        return record
    if "command" in record.meaning:
        return record.model_copy(update={"text": str(record.meaning["command"]).replace("_", " ")})
    feet = readback(Callout.model_validate(record.meaning))
    return record.model_copy(update={"text": feet.replace(":", "").replace(";", "")})


def followed() -> Followed:
    return follow(morning(), yard_stock())


SIZES = ((40, 20), (80, 24), (100, 36), (160, 50))
SCREENS = Path(__file__).with_name("data") / "screens"


def face(name: str = "yard") -> Face:
    """What a console knows beside the board, twelve seconds after the last line."""
    last = datetime.fromisoformat(str(morning()[-1].time))
    lines = Lines()
    log = tuple(filter(None, (lines.line(record) for record in morning())))
    return Face(
        clock=last + timedelta(seconds=12), keys=MEASURER_KEYS if name == "measurer" else KEYS,
        ears=(EarSign("measurer", "mic", -22.0),), log=log[-60:], radio="line 2",
    )  # fmt: skip


def screen(view: str, size: tuple[int, int]) -> str:
    """A view of the morning as text."""
    return plain(VIEWS[view](followed().board(), face(view), *size)) + "\n"


if __name__ == "__main__":
    SCREENS.mkdir(parents=True, exist_ok=True)
    for view in VIEWS:
        for size in SIZES:
            (SCREENS / f"{view}-{size[0]}x{size[1]}.txt").write_text(screen(view, size), encoding="utf-8")
