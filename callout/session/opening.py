"""How a conversation is set up: stock, journal, voices, console, and where it was when it stopped."""

from __future__ import annotations

import contextlib
import hashlib
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from callout.console.record_lines import Console, JsonConsole, PlainConsole
from callout.dialogue.events import Fault, Opened, Resumed
from callout.dialogue.machine import restore, start
from callout.dialogue.settings import load_settings
from callout.journal.database import pausing_collection
from callout.journal.memory import EnduringJournal, JournalTrouble, Store, open_journal
from callout.session.desk import Desk, Mouths
from callout.session.read_only_desk import ReadingDesk
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import Stock, load_stock
from callout.speaking.habits import habits_file, keep_habits, load_habits
from callout.speaking.tones import Tone


@dataclass(frozen=True)
class Choices:
    """What the command line decided. `voice_folder`: where every utterance is kept as WAV."""

    stock: Path | None = None
    journal: Path | None = None
    as_json: bool = False
    mute: bool = False
    play: bool = True
    one_source: bool = True
    voice_folder: Path | None = None
    name_files: bool = True  # tell of each WAV file where it is
    radio_out: str | None = None
    vox_lead: float = 0.0
    guard: str | None = None
    pace: tuple[float, float] = (100, 130)  # words a minute: figures, other words
    voice: str = "plain"  # or "heart", where it is installed
    radio_silence: float = 0.0  # seconds between the lead tone and the first word
    tones: tuple[Tone, ...] | None = None  # which are played before sentences; None: as they were last


def plain_or_json(choices: Choices) -> Console:
    return JsonConsole() if choices.as_json else PlainConsole(sys.stdout)


@contextlib.contextmanager
def open_desk(choices: Choices, console: Console) -> Iterator[Desk]:
    """The desk, ready: a conversation begun or taken up where the journal left it. Closed in order at the end. Where
    another process is writing the journal it is a `ReadingDesk`, without a voice.

    Raises `BadInput` for a stock, journal or folder that cannot be used; a disk that fails later only costs the file.
    """
    stock = load_stock(choices.stock)
    guard = {"guard": choices.guard} if choices.guard else {}
    settings = load_settings(one_source=choices.one_source, voiced=choices.play and not choices.mute, **guard)
    with contextlib.ExitStack() as closing:
        faults: list[str | Fault] = []

        def told(text: str) -> None:
            """Of the journal: on the screen at once, and a record and a sentence as soon as that can be."""
            console.note(text)
            if isinstance(text, JournalTrouble):
                faults.append(Fault(text, 0.0, text.aloud))

        store = open_journal(choices.journal, told)
        closing.callback(store.close)
        if not store.writable:
            reading = ReadingDesk(start(stock, ShorePlanner(), settings), store, console.show, console.note)
            reading.begin()
            yield reading
            return
        mouths = _mouths(choices, closing, faults.append, console.note)
        planner = ShorePlanner()
        with pausing_collection():
            kept = list(store.records())
            conversation = restore(kept, stock, planner, settings) if kept else start(stock, planner, settings)
        desk = Desk(conversation, store, mouths, console.show, console.note)
        desk.faults = faults
        desk.keep_habits = partial(keep_habits, habits_file())
        desk.name_files = choices.name_files
        now = time.monotonic()
        desk.feed(Resumed(now) if kept else Opened(now))
        _compare_stock(store, stock, choices.journal, told)
        tell_faults(desk)
        yield desk
        desk.finish()
        tell_faults(desk)
        desk.all_written()


def tell_faults(desk: Desk) -> None:
    """What broke at the rim since last time becomes a record each."""
    while desk.faults:
        told = desk.faults.pop(0)
        text, aloud = (told.text, told.aloud) if isinstance(told, Fault) else (told, "")
        desk.feed(Fault(text, time.monotonic(), aloud))


def _compare_stock(store: Store, stock: Stock, path: Path | None, told: Callable[[str], None]) -> None:
    """Whether this journal was written with another stock. Said once: afterwards the new one is the journal's own."""
    if not isinstance(store, EnduringJournal):
        return
    mark = f"{hashlib.sha256(stock.model_dump_json().encode()).hexdigest()[:16]} {stock.name}"
    before = store.fact("stock")
    if before == mark:
        return
    if before is not None:
        other = before.partition(" ")[2]
        line = f"{path} was written with the stock {other!r}; what lies on hand is now worked out from {stock.name!r}"
        told(JournalTrouble(line, "other_stock"))
    store.keep_fact("stock", mark)


def _mouths(
    choices: Choices, closing: contextlib.ExitStack, trouble: Callable[[str], None], note: Callable[[str], None]
) -> Mouths:
    if choices.mute:
        return Mouths()
    from callout.speaking import open_process, open_voice

    process = open_process(choices.voice)
    closing.callback(process.close)
    figures, words = choices.pace
    habits = load_habits(habits_file())
    if choices.tones is not None:
        habits = replace(habits, tones=choices.tones)
    yard = closing.enter_context(
        open_voice(
            figures, words, choices.voice_folder, play=choices.play, on_trouble=trouble, process=process,
            habits=habits,
        )
    )
    closing.callback(yard.wait)
    if yard.silent and choices.play:
        note(f"{yard.silent}: the voice goes to WAV files")
    if choices.radio_out is None:
        return Mouths(yard)
    radio = closing.enter_context(
        open_voice(
            figures, words, device=choices.radio_out, vox_lead=choices.vox_lead, hush=choices.radio_silence,
            on_trouble=trouble, process=process, habits=habits,
        )
    )
    closing.callback(radio.wait)
    return Mouths(yard, radio)
