"""New callouts out of the words of a corpus: many voices in one sentence, so that an ear learns words, not speakers.

`python -m ears_training cut CORPUS` writes beside each pack `X.cuts`: for each utterance its words of the callout
language with their first and last samples, aligned by the encoder ear. When an ear is trained, callouts are laid out
of such words: a person's digits within a voice's units, a child's "nine" after a man's "insertion". The joints are
heard, so these are a share of what is trained on, never all of it.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from ears_training import rivals
from ears_training.align import aligned
from ears_training.corpus import CHOOSING, Corpus, Utterance, speech_bounds
from ears_training.packs import Pcm, pack_files, read_audio
from ears_training.pronounce import split_labels, words_of
from ears_training.text import ONES, TENS, Talker
from ears_training.voices import RATE, Samples

NUMBERS = frozenset(rivals.NUMBERS)
FRAME = 320  # samples of one of the encoder ear's frames
LEAD, TAIL = 3200, 8000  # silence that the encoder ear is given around an utterance
WORDY = 12  # different words that a voice must have to say all but the numbers of a callout
SHORTEST, LONGEST = int(0.08 * RATE), int(1.3 * RATE)

Scorer = Callable[[Samples], Any]


@dataclass(frozen=True)
class Token:
    """One recorded word: samples `start` to `end` of the corpus, and its labels as its voice says it."""

    word: str
    start: int
    end: int
    labels: tuple[int, ...]
    voice: str


@cache
def vocabulary() -> frozenset[str]:
    """The words of the callouts that are laid out: all number words, and those around them."""
    talker = Talker(random.Random(0))
    return NUMBERS.union(w for _ in range(8000) for w in words_of(talker.callout()))


def cuts(x: Pcm, words: Sequence[str], labels: Sequence[int], scores_of: Scorer) -> list[tuple[str, int, int]]:
    """Where each word of an utterance lies, cut at the quietest 10 ms between its neighbours' sounds."""
    said = split_labels(words, labels)
    if said is None or not set(words) & vocabulary():
        return []
    sound = np.concatenate([np.zeros(LEAD, np.float32), x.astype(np.float32) / 32768, np.zeros(TAIL, np.float32)])
    frames = aligned(scores_of(sound), labels)
    if frames is None:
        return []
    level = np.sqrt(np.convolve(sound.astype(np.float64) ** 2, np.ones(160) / 160, "same"))
    first = max(0, frames[0] * FRAME - int(0.15 * RATE))
    edges, done = [first], 0
    for piece in said[:-1]:
        done += len(piece)
        a, b = frames[done - 1] * FRAME, (frames[done] + 1) * FRAME
        edges.append(a + int(level[a:b].argmin()))
    edges.append(min(len(sound), frames[-1] * FRAME + int(0.25 * RATE)))
    out = []
    for word, (a, b) in zip(words, pairwise(edges), strict=True):
        a, b = max(0, a - LEAD), min(len(x), b - LEAD)
        if SHORTEST < b - a < LONGEST:
            out.append((word, a, b))
    return out


def cut_pack(listing: Path, audio: Path, scores_of: Scorer) -> int:
    """Write the cuts of one pack beside it; return the number of words of ours."""
    x, at, out, count = read_audio(audio), 0, [], 0
    for row in json.loads(listing.read_text(encoding="utf-8")):
        words = words_of(row["text"])
        found = cuts(x[at : at + row["n"]], words, row["lab"], scores_of)
        found = [c for c in found if c[0] in vocabulary()]
        out.append(found)
        count += len(found)
        at += row["n"]
    listing.with_suffix(".cuts").write_text(json.dumps(out), encoding="utf-8")
    return count


def tokens(folders: Sequence[Path]) -> Iterator[Token]:
    """The words of all packs that have cuts, in the order in which `corpus.load` joins the packs."""
    import soundfile

    base = 0
    for listing, audio in (pair for folder in folders for pair in pack_files(folder)):
        places = listing.with_suffix(".cuts")
        if places.is_file():
            at = base
            rows = json.loads(listing.read_text(encoding="utf-8"))
            for row, found in zip(rows, json.loads(places.read_text(encoding="utf-8")), strict=True):
                words = words_of(row["text"])
                said = dict(zip(words, split_labels(words, row["lab"]) or [], strict=False))
                for word, a, b in found:
                    if row["voice"] not in CHOOSING and word in said:
                        yield Token(word, at + a, at + b, said[word], row["voice"])
                at += row["n"]
        base += soundfile.info(str(audio)).frames


def is_person(voice: str) -> bool:
    """Whether a voice is a person: the learners of the released corpus, or one whose name says so."""
    return voice.startswith(("so:", "person:"))


class Bank:
    """Words by their spelling, people's apart."""

    def __init__(self, found: Sequence[Token], people: Callable[[str], bool] = is_person) -> None:
        self.all: dict[str, list[Token]] = {}
        self.people: dict[str, list[Token]] = {}
        self.by_voice: dict[str, dict[str, list[Token]]] = {}
        for token in found:
            self.all.setdefault(token.word, []).append(token)
            self.by_voice.setdefault(token.voice, {}).setdefault(token.word, []).append(token)
            if people(token.voice):
                self.people.setdefault(token.word, []).append(token)
        wordy = [said for said in self.by_voice.values() if len(said) >= WORDY]
        self.hosts = wordy or list(self.by_voice.values())

    def pick(self, words: Sequence[str], rng: random.Random) -> list[Token] | None:
        """A token for each word: numbers by people as often as not, the rest by one voice where it has the word."""
        human = rng.random() < 0.6
        host = rng.choice(self.hosts)
        out: list[Token] = []
        speaker: dict[str, list[Token]] = {}
        for word in words:
            own = speaker.get(word) if word in NUMBERS else host.get(word)
            pool = own or (human and self.people.get(word)) or self.all.get(word)
            if not pool:
                return None
            token = rng.choice(pool)
            if word in NUMBERS and not own:
                speaker = self.by_voice[token.voice]
            out.append(token)
        return out


def laid(x: Pcm, chosen: Sequence[Token], rng: random.Random) -> Pcm:
    """The words one after another: levels alike within a few decibels, soft edges, gaps mostly short."""
    out = [np.zeros(800, np.float32)]
    wander = rng.uniform(0, 4)
    for token in chosen:
        piece = x[token.start : token.end].astype(np.float32)
        piece *= 2600 / (np.sqrt(np.square(piece).mean()) + 1) * 10 ** (rng.uniform(-wander, wander) / 20)
        edge = min(rng.choice((40, 80, 160)), len(piece) // 2)
        piece[:edge] *= np.linspace(0, 1, edge)
        piece[len(piece) - edge :] *= np.linspace(1, 0, edge)
        out.append(piece)
        gap = rng.uniform(0, 0.06) if rng.random() < 0.8 else rng.uniform(0.06, 0.3)
        out.append(np.zeros(int(gap * RATE), np.float32))
    out.append(np.zeros(800, np.float32))
    joined = np.concatenate(out)
    return np.clip(joined / max(1.0, np.abs(joined).max() / 30000), -32768, 32767).astype(np.int16)


#: Number words that may stand for each other: digits, what ends at nineteen, and tens.
CLASSES = ((*ONES[:10], "niner"), tuple(ONES[10:]), tuple(t for t in TENS if t))
_CLASS_OF = {word: same for same in CLASSES for word in same}


def evened(words: Sequence[str], rng: random.Random) -> str:
    """Any number word may stand in any place: an ear that only ever heard "angle four five" hears "four seven" so."""
    return " ".join(rng.choice(_CLASS_OF.get(word, (word,))) for word in words)


def drawn(talker: Talker, rng: random.Random) -> str:
    """What to lay out: callouts mostly, numbers, and single digits, which sentences never teach an ear to hear."""
    kind = rng.random()
    if kind < 0.72:
        callout = talker.core_callout() if rng.random() < 0.5 else talker.callout()
        return callout if rng.random() < 0.3 else evened(words_of(callout), rng)
    return talker.numbers() if kind < 0.85 else rng.choice(CLASSES[0])


def enlarged(corpus: Corpus, found: Sequence[Token], count: int, seed: int) -> Corpus:
    """The corpus and `count` callouts laid out of its words (voice "laid")."""
    rng, talker = random.Random(seed), Talker(random.Random(seed + 1))
    bank, end = Bank(found), len(corpus.samples)
    audio, rows = [corpus.samples], list(corpus.utterances)
    while len(rows) < len(corpus.utterances) + count:
        words = words_of(drawn(talker, rng))
        chosen = bank.pick(words, rng) if words else None
        if chosen is None:
            continue
        x = laid(corpus.samples, chosen, rng)
        bounds = speech_bounds(x)
        if bounds is not None:
            labels = tuple(label for token in chosen for label in token.labels)
            rows.append(Utterance(end, *bounds, labels, "laid", " ".join(words)))
            audio.append(x)
            end += len(x)
    return Corpus(np.concatenate(audio), tuple(rows))
