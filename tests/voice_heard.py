"""Whether what the voice says can be heard: its sentences through a noisy radio, by the tool's own encoder ear.

A person who listens knows the sentence and not its figures. So the ear is given the words of a sentence with every
number word left open, and the sentence counts as heard when all of its figures are heard as they were said.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from callout.channel import simulate
from callout.dialogue.events import Opened, Say, Uttered
from callout.dialogue.machine import start, step
from callout.dialogue.records import Record
from callout.dialogue.settings import load_settings
from callout.dialogue.state import context
from callout.hearing.audio import RATE
from callout.hearing.ears import WEIGHTS
from callout.hearing.encoder import EncoderEar
from callout.hearing.graph import phone_graph
from callout.hearing.search import Searcher, squeeze
from callout.language import pronunciation
from callout.language.resolve import resolve_text
from callout.shoring.plan import ShorePlanner
from callout.shoring.stock import load_stock
from callout.speaking.pacing import NUMBER_WORDS, stretches
from callout.speaking.player import to_ear_rate
from callout.speaking.render import RATE as VOICE_RATE
from callout.speaking.render import SpeechSource, pieces, render

#: A shift with two builds, a correction, questions, the stock and a metric crew: every kind of sentence with figures.
SHIFT = (
    "insertion eleven feet sixty", "affirm", *["ready"] * 18, "step by step", *["next"] * 30,
    "insertion nine feet five inches forty five", "correction ten feet", "affirm", "build two", "list", "status",
    "how many left", "where", "short two", "affirm", "say again item one",
    "insertion three point five meters sixty", "negative", "insertion two feet sixty", "disregard",
    "six four by four on hand", "affirm", "undo", "affirm",
)  # fmt: skip

_OPEN = tuple(sorted(word for word in NUMBER_WORDS if pronunciation.prons(word)))


@lru_cache(maxsize=1)
def sentences() -> dict[str, tuple[str, ...]]:
    """What is said in `SHIFT` with at least one figure in it, each once, by the kind of sentence."""
    found: dict[str, dict[str, None]] = {}
    now, effects = step(start(load_stock(None), ShorePlanner(), load_settings()), Opened(0.0))
    for number, line in enumerate(SHIFT):
        now, effects = step(
            now,
            Uttered(resolve_text(line, context(now, "measurer")), line, "measurer", 10.0 * number + 10, certain=True),
        )
        for record, say in _said(effects):
            if figures(say.text):
                found.setdefault(_kind(record, say), {})[say.text] = None
    return {kind: tuple(texts) for kind, texts in sorted(found.items())}


def _said(effects: tuple[object, ...]) -> Iterator[tuple[Record, Say]]:
    for before, effect in pairwise(effects):
        if isinstance(effect, Say) and isinstance(before, Record):
            yield before, effect


def _kind(record: Record, say: Say) -> str:
    first = say.text.split()[0].strip(".,:")
    if record.event != "said":
        return {"readback": "readback", "asked": "question"}.get(record.event, "answer")
    return first if first in ("item", "step", "check", "mark", "cut") else "other"


def figures(text: str) -> tuple[str, ...]:
    """The number words of a sentence, in order."""
    return tuple(word for word in _words(text) if word in NUMBER_WORDS)


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z]+(?:'[a-z]+)?", text.lower().replace("-", " ").replace("’", "'"))


@lru_cache(maxsize=1)
def _ear() -> EncoderEar:
    return EncoderEar(WEIGHTS / "encoder.onnx")


def hearable(text: str) -> bool:
    """Whether each word has a pronunciation; a name from a stock file may have none."""
    return all(pronunciation.prons(word) for word in _words(text))


def figures_heard(text: str, source: SpeechSource, snr_db: float | None, noise: str = "white", seed: int = 0) -> bool:
    """Whether all figures of a sentence come through the radio as they are said. At most 28 s of it are listened to."""
    clean = to_ear_rate(render(text, source).samples)[: 28 * RATE]
    sound = np.pad(clean.astype(np.float64), RATE // 2)
    heard = simulate(sound, RATE, snr_db, noise, seed=seed).astype(np.float32)
    words = _words(text)
    arcs = [
        (at, at + 1, open_word)
        for at, word in enumerate(words)
        for open_word in (_OPEN if word in NUMBER_WORDS else (word,))
    ]
    searcher = Searcher(phone_graph(arcs, 0, [len(words)], pronunciation.prons))
    readings = searcher.readings(squeeze(_ear().scores(heard[: 30 * RATE])), most=1)
    return bool(readings) and tuple(w for w in readings[0].words if w in NUMBER_WORDS) == figures(text)


@dataclass(frozen=True)
class Said:
    """Words in one breath: how many, whether figures, and the seconds of their sound and of the pause after it."""

    words: int
    figures: bool
    seconds: float


def stretches_said(text: str, source: SpeechSource) -> list[Said]:
    """A sentence breath by breath, measured on its sound."""
    _, *made = [samples for samples, _ in pieces(text, source)]  # the first is the lead
    seconds = [(len(sound) + len(pause)) / VOICE_RATE for sound, pause in zip(made[::2], made[1::2], strict=True)]
    found = stretches(text)
    return [Said(len(one.words), one.figures, took) for one, took in zip(found, seconds, strict=True)]
