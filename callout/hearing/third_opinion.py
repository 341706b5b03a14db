"""The third opinion: how likely a Whisper's decoder finds each reading of an utterance, and nothing else.

The two ears learned from the same hours of speech and err on the same recordings; this network learned from hundreds
of thousands of hours of people (A. Radford et al., "Robust Speech Recognition via Large-Scale Weak Supervision",
2022). Its free text is no use here. It is asked about readings that the grammar allows: one pass of its encoder over
the utterance, and one batch through its decoder. `ears_training/export_opinion.py` makes the graphs and the tokens.

It is asked only where the two ears are not sure (`ThirdOpinion`), and never waited for long. The network lives in a
process of its own, which starts when the ears do: this module run with the folder of the network. Where it is missing,
dies or does not answer in time, the two ears go on without it, and whoever asks is told why (`absent`).
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from callout.errors import CalloutError
from callout.hearing.audio import Samples
from callout.hearing.encoder import session_options
from callout.hearing.evidence import Asked
from callout.hearing.features import HOP, log_mel
from callout.hearing.helper import Helper, HelperDied, HelperFailed, serve
from callout.hearing.search import SearchReading
from callout.language.numerals import SMALL, TENS

KNOWN_NUMBERS = 100  # figures from 0 to 99 have tokens of their own; hundreds are written as words
#: Frames (10 ms) of silence after the utterance. As good as the 30 s it was trained with, and a fifth of the work.
AFTER, FEWEST_FRAMES, MOST_FRAMES = 60, 200, 3000
PATIENCE = 5.0  # seconds; an answer takes a quarter of one
TRIES = 3  # deaths after which it is not started again

#: What one word of a number says.
_NUMBERS = {word: number for number, word in enumerate(SMALL)} | {"oh": 0, "niner": 9}
_TENS = {word: 10 * number for number, word in enumerate(TENS) if word}

Words = tuple[str, ...]
_SPACE = "Ġ"  # how the tokens write the space before a word


@dataclass(frozen=True)
class Likelihood:
    """The log-probability of a reading's likeliest writing, its end counted, and how many tokens that has."""

    score: float
    tokens: int


def figures(words: Sequence[str]) -> list[str]:
    """The words with their numbers as figures: "sixty five" -> "65", "one two" -> "1", "2"."""
    out: list[str] = []
    at = 0
    while at < len(words):
        word = words[at]
        unit = _NUMBERS.get(words[at + 1], 0) if word in _TENS and at + 1 < len(words) else 0
        if 0 < unit < 10:
            out.append(str(_TENS[word] + unit))
            at += 2
            continue
        number = _TENS.get(word, _NUMBERS.get(word))
        out.append(word if number is None else str(number))
        at += 1
    return out


def in_pieces(text: str, pieces: dict[str, int]) -> list[int]:
    """The tokens of a text by byte-pair encoding: the commonest pair that is a piece becomes one, until none is. Empty
    where a letter is no piece. (R. Sennrich et al., "Neural Machine Translation of Rare Words with Subword Units",
    2016.)"""
    rank = {piece: number for number, piece in enumerate(pieces)}
    parts = list(text)
    while True:
        pairs = [(rank[a + b], at) for at, (a, b) in enumerate(pairwise(parts)) if a + b in rank]
        if not pairs:
            return [pieces[part] for part in parts] if all(part in pieces for part in parts) else []
        at = min(pairs)[1]
        parts[at : at + 2] = [parts[at] + parts[at + 1]]


class Writer:
    """Writes readings in tokens: as words, and as a sentence with figures. A reading is as likely as the likelier."""

    def __init__(self, table: dict[str, Any]) -> None:
        self._plain: dict[str, list[int]] = table["plain"]
        self._capital: dict[str, list[int]] = table["capital"]
        self._numbers: dict[str, list[int]] = table["numbers"]
        self._stop, self._end = table["stop"], table["end"]
        self._pieces: dict[str, int] = table.get("pieces", {})  # commonest first

    def knows(self, words: Sequence[str]) -> bool:
        return all(self._write(word) for word in words)

    def _write(self, word: str) -> list[int]:
        """The tokens of a word; of one that the grammar lacks, a team's own, those of its pieces; empty where it has a
        letter of no piece."""
        if word not in self._plain and word.isascii() and word.isalpha():
            self._plain[word] = in_pieces(_SPACE + word, self._pieces)
            self._capital[word] = in_pieces(_SPACE + word.capitalize(), self._pieces)
        return self._plain.get(word, [])

    def writings(self, words: Sequence[str]) -> list[list[int]]:
        """Each ends with the end of the text, else a reading that stops early would win."""
        plain = [token for word in words for token in self._plain[word]]
        sentence: list[int] = []
        for number, text in enumerate(figures(words)):
            here = self._capital if number == 0 else self._plain
            sentence += self._numbers[text] if text in self._numbers else here[text]
        return [[*plain, self._end], [*sentence, *self._stop, self._end]]


class OpinionNetwork:
    """The two graphs, on one thread. Raises CalloutError where they are missing or cannot be loaded."""

    def __init__(self, folder: Path) -> None:
        import onnxruntime

        options = session_options(threads=1)
        try:
            table = json.loads((folder / "tokens.json").read_text(encoding="utf-8"))
            self._listen, self._ask = (
                onnxruntime.InferenceSession(str(folder / f"{name}.onnx"), options, providers=["CPUExecutionProvider"])
                for name in ("listen", "ask")
            )
        except Exception as wrong:
            raise CalloutError(f"the third opinion in {folder} is missing or damaged; install callout again") from wrong
        self.writer = Writer(table)
        self._start = np.array([table["start"]], np.int64)
        self._row = {token: number for number, token in enumerate(table["outputs"])}
        self._end = int(table["end"])
        past = next(i for i in self._ask.get_inputs() if i.name == "past").shape
        self._nothing = np.zeros((past[0], 2, 1, past[3], 0, past[5]), np.float32)

    def likelihoods(self, samples: Samples, readings: Sequence[Words]) -> list[Likelihood | None]:
        """One for each reading; None where it has a word without tokens. Samples at 16 kHz within -1 to 1."""
        known = [reading for reading in readings if reading and self.writer.knows(reading)]
        frames = max(FEWEST_FRAMES, (len(samples) // HOP + AFTER) // 2 * 2)
        if not known or frames > MOST_FRAMES:
            return [None] * len(readings)
        sound = self._listen.run(None, {"mel": log_mel(np.pad(samples, (0, frames * HOP - len(samples))))[None]})[0]
        written = [writing for reading in known for writing in self.writer.writings(reading)]
        scores = self._scores(sound, written)
        found: dict[Words, Likelihood] = {}
        for number, reading in enumerate(known):
            pair = [(scores[2 * number + way], len(written[2 * number + way])) for way in (0, 1)]
            found[tuple(reading)] = Likelihood(*max(pair))
        return [found.get(tuple(reading)) for reading in readings]

    def _scores(self, sound: NDArray[np.float32], written: list[list[int]]) -> list[float]:
        first, kept = self._ask.run(None, {"ids": self._start, "sound": sound, "past": self._nothing})
        longest = max(map(len, written)) - 1
        ids = np.array([[*text[:-1], *[self._end] * (longest - len(text) + 1)] for text in written], np.int64)
        logp, _ = self._ask.run(None, {"ids": ids, "sound": sound, "past": kept})
        out = []
        for number, text in enumerate(written):
            rows = [self._row[token] for token in text]
            out.append(float(first[0, -1, rows[0]]) + float(logp[number, np.arange(len(rows) - 1), rows[1:]].sum()))
        return out


class ThirdOpinion:
    """`absent` is empty while it can be asked, and else says why it cannot. `helper` is the process."""

    def __init__(self, folder: Path) -> None:
        self.helper = Helper("callout.hearing.third_opinion", str(folder))
        self._failures = 0
        self.absent = ""
        if (folder / "ask.onnx").is_file() and (folder / "listen.onnx").is_file():
            self.helper.start()
        else:
            self.absent = "the third opinion is missing from this installation; install callout again"

    def ready(self) -> bool:
        """Wait until it is loaded; False where it cannot be asked."""
        if self.absent:
            return False
        try:
            return bool(self.helper.ask(("ready",), PATIENCE))
        except (HelperDied, HelperFailed):
            self._failed()
            return False

    def ask(self, samples: Samples, readings: Sequence[SearchReading]) -> tuple[Asked, ...]:
        """The readings that it knows all words of, each with how likely it finds it; empty where it did not answer."""
        if self.absent or not readings:
            return ()
        try:
            answers = self.helper.ask(("ask", samples, [reading.words for reading in readings]), PATIENCE)
        except (HelperDied, HelperFailed):
            self._failed()
            return ()
        self._failures = 0
        return tuple(Asked(r, *found) for r, found in zip(readings, answers, strict=True) if found is not None)

    def _failed(self) -> None:
        self._failures += 1
        if self._failures >= TRIES:
            self.absent = "the third opinion ended several times and is left alone; the two ears decide"

    def close(self) -> None:
        self.helper.close()


def main() -> None:
    """The far side. Messages, each answered once (see `helper`):

    ("ready",)                     -> True
    ("ask", samples, [words, ...]) -> [(score, tokens) or None, ...]
    """
    os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")
    network = OpinionNetwork(Path(sys.argv[1]))

    def answer(message: tuple[Any, ...]) -> Any:
        if message[0] == "ready":
            return True
        likely = network.likelihoods(message[1], message[2])
        return [None if one is None else (one.score, one.tokens) for one in likely]

    serve(answer)


if __name__ == "__main__":
    main()
