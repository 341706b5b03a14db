"""An invented morning for pictures and tests: five builds, one in the walk, one short, and a readback that waits.

`python -m tests.board_scene` writes the snapshots of the large screen anew (tests/data/screens); look at each.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta, timezone
from functools import lru_cache
from pathlib import Path

from callout.console.lines import Lines
from callout.console.screen import KEYS, MEASURER_KEYS
from callout.console.themes import plain
from callout.console.views import VIEWS, Ear, Face
from callout.dialogue.board import Followed, follow
from callout.dialogue.events import Opened, Record
from callout.dialogue.machine import start
from callout.dialogue.settings import load_settings
from callout.journal.memory import MemoryJournal
from callout.language.speak import readback
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Stock
from callout.shoring.stockfile import load_stock
from callout.values import Callout
from tests.dialogue_kit import Talk, ft

BEGIN = datetime(2031, 5, 4, 10, 40, 0, tzinfo=timezone(timedelta(hours=2)))


def written(records: Iterable[Record], begin: datetime = BEGIN) -> list[Record]:
    """The lines of a conversation as a journal has them, one second apart."""
    clock = iter(begin + timedelta(seconds=n) for n in range(1_000_000))
    journal = MemoryJournal(clock=lambda: next(clock))
    return [journal.append(record) for record in records]


def yard_stock() -> Stock:
    """The packaged stock, with too few pickets for the last build."""
    stock = load_stock()
    return stock.with_quantities({line.name: 3 * line.quantity for line in stock.lines} | {"picket": 38})


@lru_cache(maxsize=1)
def morning() -> tuple[Record, ...]:
    """The lines of the morning. Build 1 stands, 2 is in the walk at its third item, the last is short of pickets."""
    settings = load_settings(seconds_a_word=0.0, one_source=False)
    talk = Talk(start(yard_stock(), ShorePlanner(), settings)).put(Opened(0.0))

    def called(feet: int, angle: int, position: int | None = None, team: str | None = None) -> None:
        request = Callout(insertion=ft(feet), angle_deg=angle, position=position, for_whom=team)
        talk.say(request, "measurer").say("affirm", "measurer")

    called(8, 45, 1, "team alpha")
    for _ in range(120):
        if talk.now.standing:
            break
        talk.key("ready")
    called(11, 60, 2, "team alpha")
    called(9, 45, 3, "team bravo")
    called(13, 60, 4, "team bravo")
    called(7, 45, 5)
    talk.key("ready").key("ready").key("ready")
    talk.say(Callout(insertion=ft(12, 6), angle_deg=60, position=6), "measurer")
    return tuple(written(_in_words(record) for record in talk.records))


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
        ears=(Ear("measurer", "mic", -22.0),), log=log[-60:], radio="line 2",
    )  # fmt: skip


def screen(view: str, size: tuple[int, int]) -> str:
    """A view of the morning as text."""
    return plain(VIEWS[view](followed().board(), face(view), *size)) + "\n"


if __name__ == "__main__":
    SCREENS.mkdir(parents=True, exist_ok=True)
    for view in VIEWS:
        for size in SIZES:
            (SCREENS / f"{view}-{size[0]}x{size[1]}.txt").write_text(screen(view, size), encoding="utf-8")
