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

from ears_training.align import Scores, aligned
from ears_training.forms import Bags, meant
from ears_training.packs import Spoken
from ears_training.pronounce import labels, pronunciations
from ears_training.text import ONES
from ears_training.voices import RATE, Manner, Samples, Speech

Made = tuple[Samples, str]
DIGITS = tuple(ONES[:10])
LOUD = 0.12


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


def loudness(x: Samples) -> float:
    """The level of the loud part: the 90th percentile of 20 ms RMS levels."""
    pieces = x[: len(x) // 320 * 320].reshape(-1, 320)
    return float(np.percentile(np.sqrt((pieces**2).mean(1)), 90)) if len(pieces) else 0.0


def seamless(x: Samples, fade: float = 0.005) -> Samples:
    """Begin and end at a zero crossing within `fade` seconds, and fade in and out over as long."""
    n = int(fade * RATE)
    crossing = np.flatnonzero(np.signbit(x[:-1]) != np.signbit(x[1:])) + 1
    early, late = crossing[crossing <= n], crossing[crossing >= len(x) - n]
    y = x[int(early[0]) if len(early) else 0 : int(late[-1]) if len(late) else len(x)].copy()
    n = min(n, len(y) // 2)
    ramp = (0.5 - 0.5 * np.cos(np.pi * (np.arange(n) + 0.5) / max(n, 1))).astype(np.float32)
    y[:n] *= ramp
    y[len(y) - n :] *= ramp[::-1]
    return y


def room_tone(pieces: Sequence[Samples], n: int, rng: random.Random) -> Samples:
    """Return n samples of noise with the spectrum and level of the quietest 2 % of the pieces' 32 ms windows.

    At most 34 dB below the speech: of recordings cut tight the quietest windows are speech, too.
    """
    windows = [x[k : k + 512] for x in pieces for k in range(0, len(x) - 511, 256)]
    quiet = sorted(windows, key=lambda w: float((w**2).sum()))[: max(1, len(windows) // 50)]
    if not quiet:
        return np.zeros(n, np.float32)
    power = np.mean([np.abs(np.fft.rfft(w * np.hanning(512))) ** 2 for w in quiet], axis=0)
    level = min(np.sqrt(np.mean([float((w**2).mean()) for w in quiet])), 0.02 * LOUD)
    white = np.random.default_rng(rng.randrange(1 << 30)).standard_normal(n)
    shape = np.interp(np.fft.rfftfreq(n), np.fft.rfftfreq(512), np.sqrt(power))
    noise = np.fft.irfft(np.fft.rfft(white) * shape, n)
    return (noise / (noise.std() + 1e-12) * level).astype(np.float32)


@dataclass(frozen=True)
class Part:
    """Some words of a callout: who says them, and the pause before them in seconds."""

    words: str
    person: bool = False
    pause: tuple[float, float] = (0.02, 0.09)


PHRASE = (0.12, 0.35)
"""The pause before a new thing is said: the angle, the shores."""


@dataclass
class Splicer:
    """`said` maps a number word, or a run of them, to one person's recordings of it; `voice` says the rest."""

    said: dict[str, list[Samples]]
    voice: str
    rng: random.Random
    speech: Speech = field(default_factory=Speech)
    _carried: dict[str, Samples] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.said = {w: [x * (LOUD / (loudness(x) + 1e-6)) for x in pieces] for w, pieces in self.said.items()}
        self.bags = Bags(self.rng)
        self._all = [x for pieces in self.said.values() for x in pieces]

    def carrier(self, words: str) -> Samples:
        """A voice's words, said once and kept."""
        if words not in self._carried:
            manner = Manner(self.rng.uniform(0.9, 1.15), 1.0, self.rng.randrange(1 << 30))
            x = trimmed(self.speech.say(self.voice, words, manner), 0.008)  # the f of "feet" is soft
            self._carried[words] = x * (LOUD / (loudness(x) + 1e-6))
        return self._carried[words]

    def runs(self, words: Sequence[str]) -> list[str] | None:
        """Cut words into the longest runs that the person said; None when one was never said."""
        if not words:
            return []
        for n in range(len(words), 0, -1):
            rest = self.runs(words[n:]) if " ".join(words[:n]) in self.said else None
            if rest is not None:
                return [" ".join(words[:n]), *rest]
        return None

    def join(self, parts: Sequence[Part], quiet: tuple[float, float] = (0.05, 0.05)) -> tuple[Samples, str]:
        """Lay the parts one after another, loudness made equal, over the person's own room tone.

        `quiet`: seconds of the tone before and after. Pieces begin and end at zero crossings with 5 ms fades.
        """
        laid: list[tuple[int, Samples]] = []
        at = int(quiet[0] * RATE)
        for part in parts:
            runs = self.runs(part.words.split()) if part.person else None
            pieces = [self.bags.draw(run, self.said[run]) for run in runs] if runs else [self.carrier(part.words)]
            gap = part.pause if laid else (0.0, 0.0)
            for x in pieces:
                at += int(self.rng.uniform(*gap) * RATE)
                laid.append((at, seamless(x) * self.rng.uniform(0.9, 1.1)))
                at += len(laid[-1][1])
                gap = (0.0, 0.06)
        total = at + int(quiet[1] * RATE)
        out = room_tone(self._all, total, self.rng)
        for start, x in laid:
            out[start : start + len(x)] += x
        return (out / np.abs(out).max() * 0.9).astype(np.float32), " ".join(p.words for p in parts)

    def number(self, name: str, numbers: Sequence[int], spoken_by: Callable[[int], list[str]]) -> str | None:
        """One of `numbers`, in words that the person said, all of them equally often; None when they lack words."""
        fit = [said for n in numbers for said in spoken_by(n) if self.runs(said.split())]
        return str(self.bags.draw(name, fit)) if fit else None

    def height(self, forms: Callable[[int], list[str]]) -> list[Part] | None:
        """A height: feet, or feet and inches, or (one in eight, for who can say hundreds or digits) inches alone."""
        if self.bags.draw("height", [True] + [False] * 7):
            inches = self.number("inches alone", range(24, 481), forms)
            return [Part(inches, True), Part("inches")] if inches else None
        feet = self.number("feet", range(1, 41), forms)
        if feet is None:
            return None
        parts = [Part(feet, True), Part("foot" if feet == "one" else "feet")]
        if self.bags.draw("with inches", [True, True, False, False, False]):
            inches = self.number("inches", range(2, 12), forms)
            return [*parts, Part(inches, True), Part("inches")] if inches else parts
        return [parts[0], Part("feet even")] if self.rng.random() < 0.1 else parts

    def angle(self, forms: Callable[[int], list[str]]) -> list[Part] | None:
        """One of the trade's angles, four times in five; any other with "angle". (A lone "at" is no word to hear.)"""
        lead = self.bags.draw("angle lead", ["", "", "", "angle", "any"])
        numbers = range(30, 61) if lead == "any" else (30, 45, 60)
        turn = self.number("any angle" if lead == "any" else "angle", numbers, forms)
        if turn is None:
            return None
        parts = [Part("angle" if lead == "any" else lead, pause=PHRASE)] if lead else []
        parts.append(Part(turn, True, Part.pause if lead else PHRASE))
        return [*parts, Part("degrees")] if self.bags.draw("degrees", [True, False, False]) else parts

    def callout(self, forms: Callable[[int], list[str]], quiet: tuple[float, float] = (0.05, 0.05)) -> Made | None:
        """A callout with one meaning in the person's number words; None when they lack words."""
        for _ in range(50):
            height, turn = self.height(forms), self.angle(forms)
            if height is None or turn is None:
                continue
            parts = [Part(self.bags.draw("lead", ["insertion", "insertion", "insertion point"])), *height, *turn]
            shores = (
                self.number("rakers", range(2, 10), forms) if self.bags.draw("tail", [True] + [False] * 3) else None
            )
            if shores is not None:
                parts += [Part(shores, True, PHRASE), Part("rakers")]
                apart = self.number("spacing", range(2, 10), forms)
                parts += [Part(apart, True), Part("feet on center")] if apart and self.rng.random() < 0.6 else []
            if meant(" ".join(p.words for p in parts)):
                return self.join(parts, quiet)
        return None


def digit_forms(n: int) -> list[str]:
    """The digit-by-digit form of a number."""
    return [" ".join(DIGITS[int(c)] for c in str(n))]


def grouped_forms(n: int) -> list[str]:
    """The grouped form and the digit-by-digit form of 0 <= n < 1000."""
    tens = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
    if n < 20:
        return list(dict.fromkeys([ONES[n], *digit_forms(n)]))
    if n > 99:
        rest = " " + grouped_forms(n % 100)[0] if n % 100 else ""
        return [f"{ONES[n // 100]} hundred{rest}", *digit_forms(n)]
    return [tens[n // 10 - 2] + (" " + ONES[n % 10] if n % 10 else ""), *digit_forms(n)]


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
