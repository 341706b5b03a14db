"""Callouts whose number words a person spoke and whose other words a voice spoke, pieced together.

People's recordings hold digits but not "insertion", "feet" or "degrees". Their digit strings are cut into words by
aligning them with an ear's phone scores; digit-by-digit callouts are then laid out with a voice's words between.
The joints are heard, so such recordings test and train numbers, not flow.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from callout.training.packs import Spoken
from callout.training.pronounce import labels, pronunciations
from callout.training.text import ONES
from callout.training.voices import RATE, Manner, Samples, Speech

Scores = npt.NDArray[np.float32]
DIGITS = tuple(ONES[:10])


def aligned(scores: Scores, wanted: Sequence[int]) -> list[int] | None:
    """Return the frame at which each label is heard, by the best CTC path; None when there are too few frames."""
    path = [0]
    for label in wanted:
        path += [label, 0]
    t, s = len(scores), len(path)
    best = np.full(s, -np.inf, np.float64)
    best[0] = scores[0, 0]
    if s > 1:
        best[1] = scores[0, path[1]]
    came = np.zeros((t, s), np.int8)
    emitted = scores[:, path].astype(np.float64)
    skip = np.array([i > 1 and path[i] != 0 and path[i] != path[i - 2] for i in range(s)])
    for k in range(1, t):
        one = np.concatenate([[-np.inf], best[:-1]])
        two = np.where(skip, np.concatenate([[-np.inf, -np.inf], best[:-2]]), -np.inf)
        rows = np.stack([best, one, two])
        came[k] = rows.argmax(0)
        best = rows.max(0) + emitted[k]
    at = s - 1 if best[s - 1] >= best[s - 2] else s - 2
    if not np.isfinite(best[at]):
        return None
    frames: dict[int, int] = {}
    for k in range(t - 1, -1, -1):
        if path[at]:
            frames[at // 2] = k
        at -= int(came[k, at])
    return [frames[i] for i in range(len(wanted))] if len(frames) == len(wanted) else None


def cut_words(
    x: Samples, words: Sequence[str], scores: Scores, frame: float = 0.02, trim: bool = True
) -> list[tuple[str, Samples]]:
    """Cut a recording between its words, at the quietest 10 ms between their sounds; `trim`: without the quiet."""
    counts = [len(pronunciations(w)[0]) for w in words]
    wanted = labels(" ".join(words))
    found = aligned(scores, wanted) if wanted else None
    if found is None:
        return []
    level = np.sqrt(np.convolve(x.astype(np.float64) ** 2, np.ones(160) / 160, "same"))
    cuts, done = [0], 0
    for n in counts[:-1]:
        done += n
        a, b = int(found[done - 1] * frame * RATE), int((found[done] + 1) * frame * RATE)
        cuts.append(a + int(level[a:b].argmin()) if b > a else a)
    cuts.append(len(x))
    pieces = [x[a:b] for a, b in pairwise(cuts)]
    return [(w, trimmed(piece) if trim else piece) for w, piece in zip(words, pieces, strict=True)]


def trimmed(x: Samples, floor: float = 0.04, margin: float = 0.03) -> Samples:
    """Take off the quiet at both ends, leaving a little."""
    pieces = np.abs(x[: len(x) // 160 * 160]).reshape(-1, 160).max(1) if len(x) >= 160 else np.zeros(0)
    loud = np.flatnonzero(pieces > floor * (pieces.max() if len(pieces) else 1))
    if not len(loud):
        return x
    m = int(margin * RATE)
    return x[max(0, loud[0] * 160 - m) : min(len(x), (loud[-1] + 1) * 160 + m)]


@dataclass
class Splicer:
    """`said` maps a number word to one person's recordings of it; `voice` says the rest."""

    said: dict[str, list[Samples]]
    voice: str
    rng: random.Random
    speech: Speech = field(default_factory=Speech)
    _carried: dict[str, Samples] = field(default_factory=dict)

    def carrier(self, words: str) -> Samples:
        """A voice's words, said once and kept."""
        if words not in self._carried:
            manner = Manner(self.rng.uniform(0.9, 1.15), 1.0, self.rng.randrange(1 << 30))
            self._carried[words] = trimmed(self.speech.say(self.voice, words, manner))
        return self._carried[words]

    def join(self, parts: Sequence[tuple[str, bool]]) -> tuple[Samples, str]:
        """Lay (words, by the person) parts one after another, levels made equal, short gaps between."""
        out: list[Samples] = [np.zeros(800, np.float32)]
        for words, person in parts:
            pieces = [self.rng.choice(self.said[w]) for w in words.split()] if person else [self.carrier(words)]
            for x in pieces:
                x = x / (np.sqrt((x**2).mean()) + 1e-6) * 0.08
                ramp = np.minimum(np.minimum(np.arange(len(x)), np.arange(len(x))[::-1]) / 80, 1)
                out += [(x * ramp).astype(np.float32), np.zeros(int(self.rng.uniform(0.0, 0.07) * RATE), np.float32)]
        out.append(np.zeros(800, np.float32))
        x = np.concatenate(out)
        return (x / np.abs(x).max() * 0.9).astype(np.float32), " ".join(w for w, _ in parts)

    def number(self, low: int, high: int, spoken_by: Callable[[int], list[str]]) -> str | None:
        """A number in range whose words the person said; None when there is none."""
        fit = [
            forms for n in range(low, high + 1) for forms in spoken_by(n) if all(w in self.said for w in forms.split())
        ]
        return self.rng.choice(fit) if fit else None

    def callout(self, forms: Callable[[int], list[str]]) -> tuple[Samples, str] | None:
        """A callout in the person's number words: height, angle, sometimes inches; None when they lack words."""
        feet, angle = self.number(2, 40, forms), self.rng.choice([30, 45, 60])
        turn = self.number(angle, angle, forms) or self.number(30, 60, lambda n: forms(n) if n in (30, 45, 60) else [])
        if feet is None or turn is None:
            return None
        parts = [(self.rng.choice(["insertion", "insertion point"]), False), (feet, True), ("feet", False)]
        inches = self.number(2, 11, forms) if self.rng.random() < 0.4 else None
        if inches is not None:
            parts += [(inches, True), ("inches", False)]
        if self.rng.random() < 0.3:
            parts.append(("angle", False))
        parts.append((turn, True))
        if self.rng.random() < 0.4:
            parts.append(("degrees", False))
        return self.join(parts)


def digit_forms(n: int) -> list[str]:
    """The digit-by-digit form of a number."""
    return [" ".join(DIGITS[int(c)] for c in str(n))]


def grouped_forms(n: int) -> list[str]:
    """The grouped form and the digit-by-digit form of 0 <= n < 100."""
    tens = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
    if n < 20:
        return list(dict.fromkeys([ONES[n], *digit_forms(n)]))
    grouped = tens[n // 10 - 2] + (" " + ONES[n % 10] if n % 10 else "")
    return [grouped, grouped, *digit_forms(n)]


def spliced(
    people: dict[str, dict[str, list[Samples]]],
    voices: Sequence[str],
    each: int,
    forms: Callable[[int], list[str]],
    seed: int,
) -> Iterator[tuple[str, Spoken]]:
    """Yield (person, callout): up to `each` for every person."""
    rng = random.Random(seed)
    for person, said in sorted(people.items()):
        splicer = Splicer(said, rng.choice(list(voices)), rng)
        for _ in range(each):
            made = splicer.callout(forms)
            if made is None:
                break
            x, text = made
            yield person, Spoken(x, text, tuple(labels(text) or ()), f"{person}+{splicer.voice}")
